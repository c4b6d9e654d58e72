"""A system's page, and the index of systems."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from generator.reckon.finding import Finding
from generator.reckon.water.findings import WaterFindings
from generator.records.system import System
from generator.render.base import links
from generator.render.base.blocks import (
    Block,
    Drawn,
    Figure,
    Fold,
    Group,
    Paragraph,
    Section,
    Table,
    figures,
    group,
    items,
    row,
    section,
)
from generator.render.base.context import PageContext, frame, page, predicted, section_crumb
from generator.render.base.inline import Inline, Link, joined, plain_text
from generator.render.base.numbers import Shown
from generator.render.base.page import Page
from generator.render.base.why import Evidence, evidence, to_method
from generator.render.charts.water import water_chart
from generator.render.pages.attention import matters
from generator.render.pages.change import change_links
from generator.render.pages.doses import has_dosing
from generator.render.pages.journal import entry_list, newest_first
from generator.render.pages.ledger import ledger
from generator.render.pages.log_sheet import sheet_link
from generator.render.pages.next_tests import calendar_link, due
from generator.render.pages.plan import plan_link
from generator.render.pages.readings import ReadingCard, charted, reading_cards
from generator.render.pages.track_record import applied, record_sentence
from generator.render.pages.uptake import (
    calcification_figures,
    doubts,
    explanations,
    kit_words,
    outlooks,
    shifts,
    trend_figures,
    uptake_figures,
    volume_figure,
)
from generator.render.pages.water_health import water_health
from generator.units.kinds import WATER_KINDS

_NEWEST_ENTRIES = 5
# More than a keeper can do in a day unfolds.
MOST_MATTERS = 7
# The sections that the top of the page leads to.
_HERE = ("needs", "tests", "now", "uptake", "changes", "ahead", "charts", "health", "corals")


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


def system_page(ctx: PageContext, system: System, findings: WaterFindings) -> Page:
    """Everything known about one system's water."""
    words = ctx.words
    told = evidence(ctx, system.id)
    uptake = uptake_figures(ctx, findings, told)
    sections = (*_water(ctx, system, findings, told, uptake), *_grounds(ctx, system, findings, told, uptake))
    here = items(
        *(Link(plain_text(each.title), f"#{each.id}") for each in sections if each and each.id in _HERE), look="wide"
    )
    started = words("system.started", day=ctx.say.on(system.started)) if system.started else ""
    return Page(
        ctx.url,
        "system",
        replace(
            frame(
                ctx,
                system.name,
                words("system.description", system=system.name),
                "systems",
                section_crumb(ctx, "systems"),
            ),
            predicted=predicted(ctx, system.id),
        ),
        (Drawn("here", here) if "charts" in {each.id for each in sections if each} else None, *sections),
        over=joined(_volume(ctx, system), started, by=", "),
        lead=system.about or "",
    )


def _water(
    ctx: PageContext, system: System, findings: WaterFindings, told: Evidence, uptake: tuple[Figure, ...]
) -> Iterator[Section]:
    """What a keeper asks first: what to do, how the water is, what the corals take up, and what comes of it."""
    words, id = ctx.words, system.id
    needed, kits = matters(ctx, id), items(*kit_words(ctx, system, findings), look="plain")
    yield section(
        words("system.matters"),
        Drawn("matters", needed[:MOST_MATTERS]),
        Fold(words("system.more", n=len(needed) - MOST_MATTERS), (Drawn("matters", needed[MOST_MATTERS:]),)),
        id="needs",
    )
    yield section(
        words("next_tests.heading"), due(ctx, id), row(calendar_link(ctx, id), sheet_link(ctx, id)), id="tests"
    )
    cards = reading_cards(ctx, system, findings)
    read = Drawn("readings", cards) if cards else Paragraph(words("system.no_readings"))
    yield section(words("system.readings"), read, id="now")
    rivals = explanations(ctx, findings)
    yield section(
        words("system.uptake"),
        figures(volume_figure(ctx, ctx.found.dosing.get(id), told), look="small spaced"),
        figures(*uptake, look=""),
        Fold(words("kits.heading"), (kits,)),
        section(words("stories.heading"), rivals, id="explanations", method=to_method(ctx, "rivals")),
        id="uptake",
        lead=words("system.uptake_lead"),
    )
    record = " ".join(filter(None, (record_sentence(ctx, findings.replayed), applied(ctx, id))))
    to_record = ctx.link(f"{links.TRACK_RECORD}#{id}", words("track_record.link"))
    yield section(
        words("system.calcification"),
        figures(*calcification_figures(ctx, findings, told), look=""),
        row(*_demand(ctx, system)),
        Paragraph(joined(record, to_record) if record else ""),
    )
    changes = items(*change_links(ctx, system=id), look="plain")
    yield section(words("changes.heading"), changes, id="changes", look="onward")
    ahead = outlooks(ctx, findings)
    yield section(words("system.outlook"), ahead, id="ahead", method=to_method(ctx, "forecast"))


def _grounds(
    ctx: PageContext, system: System, findings: WaterFindings, told: Evidence, uptake: tuple[Figure, ...]
) -> Iterator[Section]:
    """What that is based on, and what belongs to the system."""
    words, id = ctx.words, system.id
    trends = trend_figures(ctx, findings, told)
    why = {each.id for each in (*uptake, *trends) if each.why}
    charts = (_chart(ctx, system, findings, kind, why) for kind in WATER_KINDS if charted(findings, kind))
    yield section(words("system.charts"), *charts, id="charts", method=to_method(ctx, "uptake"))
    health = water_health(ctx, findings.health, told) if findings.health else ()
    yield section(words("water_health.heading"), *health, id="health")
    yield section(words("system.trends"), figures(*trends), lead=words("system.trends_lead"))
    yield section(words("system.doubts"), doubts(ctx, findings), method=to_method(ctx, "uptake"))
    unexplained = to_method(ctx, "unexplained-shift")
    yield section(words("system.shifts"), shifts(ctx, findings), lead=words("system.shifts_lead"), method=unexplained)
    if kept := ledger(ctx, system, findings):
        yield kept
    yield section(words("system.solutions"), _solutions(ctx, system))
    corals = row(*(ctx.to_coral(coral.id) for coral in ctx.corals_of(id)))
    plan = plan_link(ctx, id) if corals and system.places and id in ctx.found.rooms else ""
    yield section(words("system.corals"), corals, Paragraph(plan, "onward"), id="corals")
    newest = newest_first(ctx.ties.named_in.get(("system", id), ()))[:_NEWEST_ENTRIES]
    yield section(words("today.entries"), entry_list(ctx, newest))
    names = {name: words(f"data.tables.{name}.name") for name in ("readings", "uptake", "ledger")}
    files = (ctx.link(f"data/systems/{id}/{name}.csv", said) for name, said in names.items())
    yield section(words("system.downloads"), row(*files))


def _chart(ctx: PageContext, system: System, findings: WaterFindings, kind: str, why: set[str]) -> Group:
    """A quantity in time, with the ways to the evidence of its figures."""
    chart = water_chart(system, ctx.view.log_of(system.id), findings, kind, ctx.display, ctx.words)
    ids = (f"uptake-{kind}", f"trend-{kind}")
    ways = (Paragraph(Link(ctx.words("why.titles"), f"#why-{id}"), "onward") for id in ids if id in why)
    return group("anchor", chart, *ways, id=kind)


def _demand(ctx: PageContext, system: System) -> Iterator[Link]:
    """What follows from uptake: what to dose, and each coral's share."""
    if has_dosing(ctx, system.id):
        yield ctx.link(links.dosing_of(system.id), ctx.words("dosing.link"))
    if system.id in ctx.found.shares:
        yield ctx.link(links.shares_of(system.id), ctx.words("shares.link"))


def _volume(ctx: PageContext, system: System) -> str:
    water = system.water
    return ctx.words(
        "system.volume", volume=ctx.say.written(water.volume), uncertainty=ctx.say.written(water.uncertainty)
    )


def _solutions(ctx: PageContext, system: System) -> Table:
    """Each solution in use, and its rate."""
    words = ctx.words
    running = {pump.solution: pump for pump in ctx.view.log_of(system.id).pumps if pump.at <= ctx.as_of}
    rows: list[tuple[Inline, ...]] = []
    for id, solution in system.solutions.items():
        holds = " ".join(
            part
            for part in (solution.compound or "", ctx.say.written(solution.strength) if solution.strength else "")
            if part
        )
        if solution.declared:
            declared = [(kind, value) for kind in WATER_KINDS if (value := solution.declared.of(kind))]
            holds = ", ".join(f"{words(f'quantities.{kind}')} {ctx.say.written(value)}" for kind, value in declared)
        pump = running.get(id)
        rows.append((id, holds, ctx.say.written(pump.rate) if pump else words("system.by_hand")))
    heads = words.each("system.solution", "system.holds", "system.runs")
    return Table(words("system.solutions"), heads, tuple(rows), "tall")


def systems_page(ctx: PageContext) -> Page:
    """The index of systems."""
    return page(ctx, "systems", "systems", glance(ctx, WATER_KINDS))


def glance(ctx: PageContext, kinds: tuple[str, ...]) -> Block:
    """Every system of the view at a glance, with the readings of some quantities."""
    systems = {id: system for id, system in ctx.view.systems.items() if id in ctx.findings}
    cards = tuple(_card(ctx, system, ctx.findings[id], kinds) for id, system in systems.items())
    return Drawn("systems", cards) if cards else Paragraph(ctx.words("today.no_systems"))


def _card(ctx: PageContext, system: System, findings: WaterFindings, kinds: tuple[str, ...]) -> SystemCard:
    words = ctx.words
    readings = reading_cards(ctx, system, findings)
    outside = [card for card in readings if card.standing in ("low", "high")]
    uptake = findings.uptake.get("alkalinity")
    shown = None
    if uptake and isinstance(uptake.per_day, Finding):
        shown = ctx.say.per_day("alkalinity", uptake.per_day.estimate)
    last = max((reading.at for reading, _ in findings.readings), default=None)
    age = words("systems.never_read")
    if last:
        age = words("systems.last_reading", age=ctx.say.age(last, ctx.as_of))
    state = "outside" if outside else "within" if readings else "unknown"
    return SystemCard(
        ctx.to_system(system.id),
        system.about or "",
        _volume(ctx, system),
        words("systems.corals", n=len(ctx.corals_of(system.id))),
        shown,
        age,
        tuple(card for card in readings if card.id in kinds),
        state,
        words(f"systems.state.{state}", n=len(outside)),
    )
