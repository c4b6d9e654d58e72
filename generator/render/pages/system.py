"""A system's page, and the index of systems."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from generator.reckon.finding import Finding
from generator.reckon.water.findings import WaterFindings
from generator.records.system import System
from generator.render import links
from generator.render.blocks import Block, Drawn, Facts, Figure, Items, Paragraph
from generator.render.charts.chart import Chart
from generator.render.charts.water import water_chart
from generator.render.inline import Link
from generator.render.numbers import Shown, say_age, say_day, say_per_day, say_written
from generator.render.page import Frame, Page
from generator.render.pages.attention import Matter, matters
from generator.render.pages.change import change_links
from generator.render.pages.desk import Desk, frame, page, section_crumb
from generator.render.pages.doses import has_dosing
from generator.render.pages.journal import entry_list, newest_first
from generator.render.pages.kits import kit_words
from generator.render.pages.ledger import Ledger, ledger
from generator.render.pages.log_sheet import sheet_link
from generator.render.pages.next_tests import calendar_link, due
from generator.render.pages.plan import plan_link
from generator.render.pages.predicted import predicted
from generator.render.pages.readings import ReadingCard, charted, reading_cards
from generator.render.pages.stories import Explanations, explanations
from generator.render.pages.track_record import record_sentence
from generator.render.pages.uptake import (
    Doubt,
    Outlook,
    Shift,
    calcification_figures,
    doubts,
    outlooks,
    shifts,
    trend_figures,
    uptake_figures,
)
from generator.render.pages.volume import volume_figure
from generator.render.pages.water_health import HealthPart, health_part
from generator.render.pages.why import evidence
from generator.units.kinds import WATER_KINDS

_NEWEST_ENTRIES = 5


@dataclass(frozen=True, slots=True)
class SolutionRow:
    """A solution in use, and its rate."""

    name: str
    holds: str
    runs: str


@dataclass(frozen=True, slots=True)
class SystemPage:
    """Everything known about one system's water."""

    frame: Frame
    name: str
    about: str
    volume: str
    started: str
    matters: tuple[Matter, ...]
    readings: tuple[ReadingCard, ...]
    volume_by_dose: Figure | None
    uptake: tuple[Figure, ...]
    calcification: tuple[Figure, ...]
    outlooks: tuple[Outlook, ...]
    trends: tuple[Figure, ...]
    charts: tuple[tuple[str, Chart], ...]
    explanations: tuple[Explanations, ...]
    kits: tuple[str, ...]
    doubts: tuple[Doubt, ...]
    shifts: tuple[Shift, ...]
    ledger: Ledger | None
    solutions: tuple[SolutionRow, ...]
    corals: tuple[Link, ...]
    plan: Link | None
    demand: tuple[Link, ...]
    changes: tuple[Link, ...]
    health: HealthPart | None
    record: str
    record_page: Link
    tests: Facts
    calendar: Link
    sheet: Link
    entries: Items
    downloads: tuple[Link, ...]


@dataclass(frozen=True, slots=True)
class SystemCard:
    """One system in a list: its water at a glance."""

    link: Link
    about: str
    volume: str
    corals: str
    uptake: Shown | None
    last_reading: str
    readings: tuple[ReadingCard, ...]
    state: str
    state_words: str


def system_page(desk: Desk, system: System, findings: WaterFindings) -> SystemPage:
    """The page of one system."""
    words, display = desk.words, desk.display
    log = desk.view.log_of(system.id)
    told = evidence(log, display, words)
    shown = [kind for kind in WATER_KINDS if charted(findings, kind)]
    return SystemPage(
        frame=replace(
            frame(
                desk,
                system.name,
                words("system.description", system=system.name),
                "systems",
                section_crumb(desk, "systems"),
            ),
            predicted=predicted(desk, system.id),
        ),
        name=system.name,
        about=system.about or "",
        volume=_volume(desk, system),
        started=words("system.started", day=say_day(display, words, system.started).text) if system.started else "",
        matters=matters(desk, system.id),
        readings=reading_cards(desk, system, findings),
        volume_by_dose=volume_figure(desk, desk.found.dosing.get(system.id), told),
        uptake=uptake_figures(desk, findings, told),
        calcification=calcification_figures(desk, findings, told),
        outlooks=outlooks(desk, findings),
        trends=trend_figures(desk, findings, told),
        charts=tuple((kind, water_chart(system, log, findings, kind, display, words)) for kind in shown),
        explanations=explanations(desk, findings),
        kits=kit_words(desk, system, findings),
        doubts=doubts(desk, findings),
        shifts=shifts(desk, findings),
        ledger=ledger(desk, system, findings),
        solutions=tuple(_solutions(desk, system)),
        corals=tuple(desk.to_coral(coral.id) for coral in desk.corals_of(system.id)),
        plan=plan_link(desk, system.id) if system.places and system.id in desk.found.rooms else None,
        demand=tuple(_demand(desk, system)),
        changes=change_links(desk, system=system.id),
        health=health_part(desk, findings.health, told) if findings.health else None,
        record=record_sentence(desk, findings.replayed),
        record_page=desk.link(f"{links.TRACK_RECORD}#{system.id}", words("track_record.link")),
        tests=due(desk, system.id),
        calendar=calendar_link(desk, system.id),
        sheet=sheet_link(desk, system.id),
        entries=entry_list(desk, newest_first(desk.ties.named_in.get(("system", system.id), ()))[:_NEWEST_ENTRIES]),
        downloads=tuple(
            desk.link(f"data/systems/{system.id}/{name}.csv", words(f"data.tables.{name}.name"))
            for name in ("readings", "uptake", "ledger")
        ),
    )


def _demand(desk: Desk, system: System) -> Iterator[Link]:
    """What follows from uptake: what to dose, and each coral's share."""
    if has_dosing(desk, system.id):
        yield desk.link(links.dosing_of(system.id), desk.words("dosing.link"))
    if system.id in desk.found.shares:
        yield desk.link(links.shares_of(system.id), desk.words("shares.link"))


def _volume(desk: Desk, system: System) -> str:
    water = system.water
    return desk.words(
        "system.volume",
        volume=say_written(desk.words, water.volume),
        uncertainty=say_written(desk.words, water.uncertainty),
    )


def _solutions(desk: Desk, system: System) -> list[SolutionRow]:
    words = desk.words
    running = {pump.solution: pump for pump in desk.view.log_of(system.id).pumps if pump.at <= desk.as_of}
    rows = []
    for id, solution in system.solutions.items():
        holds = " ".join(
            part
            for part in (solution.compound or "", say_written(words, solution.strength) if solution.strength else "")
            if part
        )
        if solution.declared:
            declared = [(kind, value) for kind in WATER_KINDS if (value := solution.declared.of(kind))]
            holds = ", ".join(f"{words(f'quantities.{kind}')} {say_written(words, value)}" for kind, value in declared)
        pump = running.get(id)
        rows.append(SolutionRow(id, holds, say_written(words, pump.rate) if pump else words("system.by_hand")))
    return rows


def systems_page(desk: Desk) -> Page:
    """The index of systems."""
    return page(desk, "systems", "systems", glance(desk, WATER_KINDS))


def glance(desk: Desk, kinds: tuple[str, ...]) -> Block:
    """Every system of the view at a glance, with the readings of some quantities."""
    systems = {id: system for id, system in desk.view.systems.items() if id in desk.findings}
    cards = tuple(_card(desk, system, desk.findings[id], kinds) for id, system in systems.items())
    return Drawn("systems", cards) if cards else Paragraph(desk.words("today.no_systems"))


def _card(desk: Desk, system: System, findings: WaterFindings, kinds: tuple[str, ...]) -> SystemCard:
    words = desk.words
    readings = reading_cards(desk, system, findings)
    outside = [card for card in readings if card.standing in ("low", "high")]
    uptake = findings.uptake.get("alkalinity")
    shown = None
    if uptake and isinstance(uptake.per_day, Finding):
        shown = say_per_day(desk.display, words, "alkalinity", uptake.per_day.estimate)
    last = max((reading.at for reading, _ in findings.readings), default=None)
    age = words("systems.never_read")
    if last:
        age = words("systems.last_reading", age=say_age(desk.display, words, last, desk.as_of))
    state = "outside" if outside else "within" if readings else "unknown"
    return SystemCard(
        desk.to_system(system.id),
        system.about or "",
        _volume(desk, system),
        words("systems.corals", n=len(desk.corals_of(system.id))),
        shown,
        age,
        tuple(card for card in readings if card.id in kinds),
        state,
        words(f"systems.state.{state}", n=len(outside)),
    )
