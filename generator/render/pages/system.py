"""A system's page, and what several of its readings show together."""

from collections.abc import Iterator
from functools import partial

from msgspec.structs import replace

from generator.reckon.finding import Answer, CannotTell, Finding
from generator.reckon.water.findings import WaterFindings
from generator.reckon.water.health import Nutrients, WaterHealth
from generator.reckon.water.seawater import SaltBalance
from generator.records.system import System
from generator.render.base import links
from generator.render.base.blocks import (
    Block,
    Drawn,
    Facts,
    Figure,
    Fold,
    Paragraph,
    Picture,
    Section,
    Table,
    facts,
    figures,
    folded,
    group,
    items,
    row,
    section,
)
from generator.render.base.context import PageContext, frame, predicted, section_crumb
from generator.render.base.links import Inline, Link, Span, joined, small
from generator.render.base.numbers import Shown, listed, plain, shortened
from generator.render.base.page import Page
from generator.render.base.scale import Row, drawn_ranges
from generator.render.base.why import LogInWords, evidence, figure_of, to_method, told_once
from generator.render.charts.water import uptake_spark, water_chart
from generator.render.pages.alert_words import blanks_of
from generator.render.pages.attention import Matter, matters
from generator.render.pages.change import change_links
from generator.render.pages.doses import has_dosing
from generator.render.pages.journal import entry_list, newest_first
from generator.render.pages.next_tests import (
    ReadingCard,
    calendar_link,
    charted,
    due,
    is_due,
    next_due,
    reading_cards,
    sheet_link,
)
from generator.render.pages.room import plan_link
from generator.render.pages.track_record import applied, record_sentence
from generator.render.pages.travel import coming_to
from generator.render.pages.uptake import (
    calcification_checks,
    calcification_figure,
    changing,
    doubts,
    explanations,
    kit_words,
    ledger,
    outlooks,
    shifts,
    trend_figures,
    uptake_figures,
    volume_figure,
)
from generator.render.pages.writing import write_link
from generator.units.kinds import WATER_KINDS

_NEWEST_ENTRIES = 5
# More than a keeper can do in a day unfolds.
MOST_MATTERS = 7
_MATTERS_SHOWN = 4
# Whose uptake the first screen tells: it moves fastest (common practice, no source).
_FIRST = "alkalinity"


def system_page(ctx: PageContext, system: System, findings: WaterFindings) -> Page:
    """Everything known about one system's water: in the first screen how it is, what it uses and what to do."""
    words, id = ctx.words, system.id
    told = evidence(ctx, id)
    started = words("system.started", day=ctx.say.on(system.started)) if system.started else ""
    cards = reading_cards(ctx, system, findings)
    spark = uptake_spark(system, findings, _FIRST, ctx.say)
    needed = matters(ctx, id)
    picture = Picture(spark[0], keys=spark[1]) if spark else None
    first = group("glance", _answers(ctx, findings, cards, needed), picture)
    head = frame(
        ctx, system.name, words("system.description", system=system.name), "systems", section_crumb(ctx, "systems")
    )
    return Page(
        ctx.url,
        "system",
        replace(head, predicted=predicted(ctx, id)),
        (
            first,
            *told_once(
                words, (*_water(ctx, system, findings, told, cards, needed), *_grounds(ctx, system, findings, told))
            ),
        ),
        over=joined(volume_words(ctx, system), started, by=", "),
        lead=system.about or "",
        text=" ".join(words(f"quantities.{kind}") for kind in findings.latest),
    )


def _answers(
    ctx: PageContext, findings: WaterFindings, cards: tuple[ReadingCard, ...], needed: tuple[Matter, ...]
) -> Facts:
    """Is it in band, what is used and is that changing, what to do next and when to test."""
    words = ctx.words
    outside, edge = (_said(ctx, cards, standings) for standings in (("low", "high"), ("edge",)))
    standings = standings_of(cards)
    said = words("system.answers.outside", n=len(outside), all=len(standings), which=listed(ctx, outside))
    old = [words(f"quantities_within.{card.id}") for card in cards if card.standing == "old"]
    too_old = words("system.answers.old", n=len(old), which=shortened(ctx, old)) if old else ""
    rest = len(cards) - len(standings)
    state = joined(
        Span(said, "b", "off") if outside else within(ctx, "system.answers", cards),
        listed(ctx, edge),
        *leaving(ctx, findings.system),
        too_old,
        words("system.answers.no_band", n=rest) if rest and standings else "",
        by="; ",
    )
    uptake = findings.uptake.get(_FIRST)
    due_now = next_due(ctx, findings.system)
    nothing = "tests" if is_due(ctx, findings.system) else "nothing"
    do = Link(needed[0].title, "#needs") if needed else words(f"system.answers.{nothing}")
    how = small(needed[0].how) if needed and needed[0].how else ""
    others = small(words("system.more", n=len(needed) - 1)) if len(needed) > 1 else ""
    return facts(
        (words("system.answers.band"), state or words("system.no_readings")),
        (words("system.answers.uptake"), changing(ctx, findings, uptake) if uptake else ""),
        (words("system.answers.next"), joined(do, how, others) if ctx.view.shows_tasks else ""),
        (words("system.answers.test"), due_now),
        (words("system.answers.coming"), coming_to(ctx, findings.system) if ctx.view.shows_tasks else ""),
        look="answers",
    )


def standings_of(cards: tuple[ReadingCard, ...]) -> list[str]:
    """How each of the quantities that have a band stands to it."""
    return [card.standing for card in cards if card.standing != "no-band"]


def within(ctx: PageContext, where: str, cards: tuple[ReadingCard, ...]) -> str:
    """How many of the quantities that have a band are in it, in the words of a page."""
    standings = standings_of(cards)
    n, all_of_them = standings.count("within"), len(standings)
    if not standings:
        return ctx.words("standing.no-band") if cards else ""
    return ctx.words(f"{where}.{'within' if n == all_of_them else 'some'}", n=n, all=all_of_them)


def _said(ctx: PageContext, cards: tuple[ReadingCard, ...], standings: tuple[str, ...]) -> list[str]:
    found = [card for card in cards if card.standing in standings]
    return [f"{ctx.words(f'quantities_within.{card.id}')} {card.standing_words}" for card in found]


def leaving(ctx: PageContext, system: str) -> list[str]:
    """The levels of a system that will soon leave their bands, and when."""
    soon = (each for each in ctx.alerts_in(system) if each.kind == "leaving-band")
    return [ctx.words("system.answers.leaving", **blanks_of(ctx, each)) for each in soon]


def _water(
    ctx: PageContext,
    system: System,
    findings: WaterFindings,
    told: LogInWords,
    cards: tuple[ReadingCard, ...],
    needed: tuple[Matter, ...],
) -> Iterator[Section]:
    """What a keeper asks first: how the water is, what to do, what was done and what the corals take up."""
    words, id = ctx.words, system.id
    yield section(words("system.readings"), Drawn("readings", cards), id="now")
    yield section(
        words("system.matters"),
        Drawn("matters", needed[:_MATTERS_SHOWN]),
        Fold(
            words("system.more", n=len(needed) - _MATTERS_SHOWN), (Drawn("matters", needed[_MATTERS_SHOWN:]),), "more"
        ),
        id="needs",
    )
    whole = ctx.whole_waters[id]
    kinds = [kind for kind in WATER_KINDS if charted(whole, kind)]
    chart = water_chart(system, ctx.view.log_of(id), whole, kinds, ctx.say) if kinds else None
    yield section(words("system.charts"), chart, id="charts", method=to_method(ctx, "uptake"))
    uptake = *uptake_figures(ctx, findings, told), calcification_figure(ctx, findings, told)
    yield section(
        words("system.uptake"),
        figures(volume_figure(ctx, id, told), *uptake),
        row(*_demand(ctx, system)),
        id="uptake",
        lead=words("system.uptake_lead"),
    )
    rivals = explanations(ctx, findings)
    yield section(words("stories.heading"), rivals, id="explanations", method=to_method(ctx, "rivals"))


def _grounds(ctx: PageContext, system: System, findings: WaterFindings, told: LogInWords) -> Iterator[Section]:
    """What unfolds: the tests and the level ahead, what that is based on, and what belongs to the system."""
    words, id = ctx.words, system.id
    ways = row(calendar_link(ctx, id), sheet_link(ctx, id), write_link(ctx, f"in-{id}"))
    yield folded(words("next_tests.heading"), due(ctx, id), ways, id="tests")
    yield folded(words("system.outlook"), outlooks(ctx, findings), id="ahead", method=to_method(ctx, "forecast"))
    changes = change_links(ctx, ctx.found.changes.get(id, ()))
    yield folded(words("changes.heading"), items(*changes, look="plain onward"), id="changes")
    health = health_blocks(ctx, findings.health, told) if findings.health else ()
    trends = section(
        words("system.trends"), figures(*trend_figures(ctx, findings, told)), lead=words("system.trends_lead")
    )
    yield folded(words("water_health.heading"), *health, trends, id="health")
    whole = ctx.whole_waters[id]
    record = " ".join(filter(None, (record_sentence(ctx, id), applied(ctx, id))))
    to_record = ctx.link(f"{links.TRACK_RECORD}#{id}", words("track_record.link"))
    yield folded(
        words("system.trust"),
        Paragraph(joined(record, to_record) if record else ""),
        figures(*calcification_checks(ctx, findings, told)),
        items(*kit_words(ctx, system, findings), look="plain"),
        section(words("system.doubts"), doubts(ctx, whole), method=to_method(ctx, "uptake")),
        section(
            words("system.shifts"),
            shifts(ctx, whole),
            lead=words("system.shifts_lead"),
            method=to_method(ctx, "unexplained-shift"),
        ),
        id="trust",
    )
    if kept := ledger(ctx, system, findings):
        yield replace(kept, folded=True)
    yield folded(words("system.solutions"), _solutions(ctx, system), id="solutions")
    corals = row(*map(ctx.to_coral, ctx.ids_in(id)))
    plan = plan_link(ctx, id) if corals and system.places and id in ctx.found.rooms else ""
    yield folded(words("system.corals"), corals, Paragraph(plan, "onward"), id="corals")
    newest = newest_first(ctx.ties.named_in.get(f"system/{id}", ()))[:_NEWEST_ENTRIES]
    yield folded(words("today.entries"), entry_list(ctx, newest))
    names = {name: words(f"data.tables.{name}.name") for name in ("readings", "uptake", "ledger")}
    files = (ctx.link(f"data/systems/{id}/{name}.csv", said) for name, said in names.items())
    yield folded(words("system.downloads"), row(*files))


def _demand(ctx: PageContext, system: System) -> Iterator[Link]:
    """What follows from uptake: what to dose, and each coral's share."""
    if has_dosing(ctx, system.id):
        yield ctx.link(links.dosing_of(system.id), ctx.words("dosing.link"))
    if system.id in ctx.found.shares:
        yield ctx.link(links.shares_of(system.id), ctx.words("shares.link"))


def volume_words(ctx: PageContext, system: System) -> str:
    """How much water a system holds, and how well that is known."""
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


def health_blocks(ctx: PageContext, found: WaterHealth, told: LogInWords) -> tuple[Block, ...]:
    """What several readings show together: figures, and the salts as a picture."""
    words = ctx.words
    saturation = words("water_health.saturation"), found.saturation, told, "Ω", "water_health.saturation_note"
    salts = _salts(ctx, found.salts)
    return (
        figures(
            _figure(ctx, *saturation),
            _ratio(ctx, found.nutrients, told),
            _swing(ctx, "day", found.temperature.day, told),
            _swing(ctx, "week", found.temperature.week, told),
        ),
        salts,
        Paragraph(_salts_note(ctx, found.salts) if salts else "", "note"),
    )


def _figure(ctx: PageContext, label: str, answer: Answer, told: LogInWords, unit: str, note: str) -> Figure:
    return figure_of(ctx, label, answer, lambda found: ctx.say.estimate(found, unit), told, unit, note=ctx.words(note))


def _ratio(ctx: PageContext, found: Nutrients, told: LogInWords) -> Figure:
    """Nitrogen for each phosphorus; only a lower or upper limit if one was below what the kit can show."""
    label, unit = ctx.words("water_health.ratio"), ctx.words("water_health.mol_per_mol")
    bound = found.at_least if found.at_least is not None else found.at_most
    if isinstance(found.ratio, CannotTell) and bound is not None:
        key = "water_health.at_least" if found.at_least is not None else "water_health.at_most"
        shown = Shown(ctx.words(key, value=plain(ctx.words, bound, 0), unit=unit))
        return Figure(label, shown, None, None, ctx.words(f"cannot.{found.ratio.why}"))
    return _figure(ctx, label, found.ratio, told, unit, "water_health.ratio_note")


def _swing(ctx: PageContext, span: str, answer: Answer, told: LogInWords) -> Figure:
    label, say = ctx.words(f"water_health.swing.{span}"), partial(ctx.say.difference, "temperature")
    return figure_of(ctx, label, answer, say, told, ctx.say.unit("temperature"), ctx.display.change("temperature", 1.0))


def _salts(ctx: PageContext, found: SaltBalance) -> Drawn:
    """Each salt as a ratio to the sea's, at a salinity of 35; a mark shows the sea."""
    rows = []
    for salt in found.salts:
        if isinstance(salt.ratio, Finding) and isinstance(salt.normalised, Finding):
            at_35 = ctx.say.level(salt.kind, salt.normalised.estimate)
            name = ctx.words(f"quantities.{salt.kind}")
            rows.append(Row(name, at_35, salt.ratio.estimate.scaled(100.0, "%"), "measured"))
    title, unit = ctx.words.each("water_health.salts", "water_health.of_the_sea")
    return drawn_ranges(ctx.words, title, unit, rows, reference=100.0)


def _salts_note(ctx: PageContext, found: SaltBalance) -> str:
    if found.together and isinstance(found.salinity_error, Finding):
        error = ctx.say.difference("salinity", found.salinity_error.estimate)
        return ctx.words("water_health.together", **error.blanks())
    return ctx.words("water_health.salts_note")
