"""The report of a coral that came, was cut or left: the prediction, when to test, what it did, what to dose."""

from collections.abc import Iterator

from generator.reckon.arrivals.changes import CoralChange
from generator.reckon.arrivals.expected import LARGE_SHARE, ExpectedUptake
from generator.reckon.arrivals.observed import MATTERS, Observed
from generator.reckon.dosing.cautions import of_phases
from generator.reckon.finding import CannotTell, Finding
from generator.reckon.water.demand_events import DemandEvent
from generator.records.system import System
from generator.render.base import links
from generator.render.base.blocks import (
    Block,
    Drawn,
    Figure,
    Paragraph,
    Section,
    Table,
    figures,
    group,
    items,
    row,
    section,
)
from generator.render.base.context import Desk, page_of_system
from generator.render.base.inline import Inline, Link, bold, joined
from generator.render.base.numbers import Shown, hundredths
from generator.render.base.page import Page
from generator.render.base.ranges import Look, Ranges, Row, ranges
from generator.render.base.why import Evidence, cannot, evidence, per_day_figure, to_method
from generator.render.charts.change import change_chart
from generator.render.pages.change_foreseen import (
    day_of,
    foreseen_figures,
    odds_picture,
    planned_readings,
    readings_lead,
    ways_of,
)
from generator.render.pages.doses import caution_words, doses, has_dosing, unmet_words
from generator.render.pages.next_tests import listed
from generator.render.pages.uptake import outlook
from generator.units.quantity import Estimate


def change_title(desk: Desk, change: CoralChange) -> str:
    """A change in a few words."""
    return desk.words(
        f"changes.title.{change.what}",
        coral=desk.view.corals[change.coral].name,
        system=desk.view.systems[change.system].name,
    )


def change_address(change: CoralChange) -> str:
    """Where the report of a change is."""
    return links.change_of(change.system, change.day, change.coral, change.what)


def change_links(desk: Desk, system: str | None = None, coral: str | None = None) -> tuple[Link, ...]:
    """The reports of a system's changes, or of a coral's, newest first; only of corals this audience may see."""
    found = [
        change
        for id, changes in desk.found.changes.items()
        for change in changes
        if id in desk.view.systems and change.coral in desk.view.corals
        if (system is None or id == system) and (coral is None or change.coral == coral)
    ]
    found.sort(key=lambda change: (change.at, change.coral), reverse=True)
    return tuple(
        desk.link(
            change_address(change),
            desk.words("changes.link", title=change_title(desk, change), day=desk.say.on(change.day)),
        )
        for change in found
    )


def change_page(desk: Desk, system: System, change: CoralChange) -> Page:
    """The report of one change of a system's corals, from the prediction to what it did."""
    words, title = desk.words, change_title(desk, change)
    told = evidence(desk, system.id)
    seen = change.observed if isinstance(change.observed, Observed) else None
    return page_of_system(
        desk,
        system.id,
        "change",
        title,
        words("changes.description", title=title),
        _effect(desk, change, told),
        _foreseen(desk, change, told),
        _readings(desk, change),
        section(
            words("changes.unchanged"),
            Paragraph(_unchanged(desk, change)),
            id="unchanged",
            method=to_method(desk, "forecast"),
        ),
        _doses(desk, system, change),
        row(*_onward(desk, system)),
        Paragraph(words("changes.threshold", share=f"{100 * LARGE_SHARE:.0f}"), "note"),
        over=joined(desk.say.day(change.day), desk.to_coral(change.coral), by=" · "),
        lead=_verdict(desk, change, seen),
    )


def _effect(desk: Desk, change: CoralChange, told: Evidence) -> Section:
    """What it did, as far as the readings tell."""
    words, name = desk.words, desk.view.corals[change.coral].name
    chart = change_chart(change, name, desk.display, words)
    shown: tuple[Block, ...] = ()
    if isinstance(change.observed, CannotTell):
        shown = (cannot(words, change.observed),)
    elif seen := change.observed:
        shown = (
            items(*_together(desk, seen)),
            Drawn("ranges", _before_and_after(desk, change, seen)),
            figures(*_told(desk, seen, told, change), look="small spaced"),
        )
    return section(words("changes.effect"), *shown, group("anchor spaced", chart), id="told")


def _foreseen(desk: Desk, change: CoralChange, told: Evidence) -> Section:
    """What was predicted the day before."""
    words, found = desk.words, change.foreseen
    shown: tuple[Block, ...] = ()
    if isinstance(found, CannotTell):
        shown = (cannot(words, found),)
    elif found:
        notes = (Paragraph(note, "note") for note in _foreseen_notes(desk, change, found))
        shown = (figures(*foreseen_figures(desk, found, told), look="small spaced"), ways_of(desk, found), *notes)
    return section(words("changes.predicted"), *shown, id="predicted", lead=words("changes.predicted_lead"))


def _readings(desk: Desk, change: CoralChange) -> Section | None:
    """When a reading can show it."""
    if change.plan is None:
        return None
    words = desk.words
    title = words("changes.readings")
    heads = words.each("system.at", "changes.plan.purpose", "changes.plan.odds_head")
    return section(
        title,
        Paragraph(readings_lead(desk, change.plan)),
        odds_picture(desk, change.plan),
        Table(title, heads, planned_readings(desk, change.plan), "tall"),
        id="readings",
    )


def _doses(desk: Desk, system: System, change: CoralChange) -> Section | None:
    """What to give in addition."""
    words, added = desk.words, change.added
    given = doses(desk, system, (added,), (words("changes.added"),), now=False) if added else ()
    if added is None or not given:
        return None
    return section(
        words("changes.doses"),
        *given,
        items(*unmet_words(desk, system, added.unmet), look="plan-notes"),
        items(*caution_words(desk, of_phases((added,), system)), look="cautions"),
        id="doses",
        lead=words("changes.doses_lead"),
    )


def _unchanged(desk: Desk, change: CoralChange) -> Inline:
    """What comes of alkalinity if nothing changes."""
    if change.unchanged is None:
        return ""
    return joined(bold(desk.words("quantities.alkalinity")), outlook(desk, change.unchanged))


def _foreseen_notes(desk: Desk, change: CoralChange, foreseen: ExpectedUptake) -> Iterator[str]:
    yield desk.words("changes.ways_note", n=foreseen.published.independent)
    if change.what == "arrival" or change.step is None:
        return
    step = _per_day(desk, _upright(change.step))
    key = "changes.predicted_cut" if change.what == "cutting" else "changes.predicted_loss"
    yield desk.words(key, step=step.value, interval=step.interval)
    if change.part_assumed:
        yield desk.words("changes.part_assumed")


def _onward(desk: Desk, system: System) -> Iterator[Link]:
    if has_dosing(desk, system.id):
        yield desk.link(links.dosing_of(system.id), desk.words("changes.to_plan"))
    yield desk.link(links.shares_of(system.id), desk.words("shares.link"))
    yield desk.link(f"data/systems/{system.id}/changes.csv", desk.words("data.tables.changes.name"))


def _per_day(desk: Desk, found: Estimate) -> Shown:
    return desk.say.per_day("alkalinity", found)


def _verdict(desk: Desk, change: CoralChange, seen: Observed | None) -> str:
    """What is known by now in one sentence."""
    if seen is None or not seen.days:
        if change.step is None:
            return desk.words("changes.verdict.nothing_known")
        step = _per_day(desk, _upright(change.step))
        known = "predicted_only" if seen else "cannot_tell"
        return desk.words(f"changes.verdict.{known}", step=step.value, interval=step.interval)
    best = seen.combined or seen.rise
    if seen.together is not None or not isinstance(best, Finding):
        return desk.words("changes.verdict.together")
    said = _per_day(desk, _upright(best.estimate))
    return desk.words(
        f"changes.verdict.{'more' if best.estimate.value > 0 else 'less'}",
        size=said.value,
        interval=said.interval,
        odds=_odds(desk, change, seen),
        day=day_of(desk, change.until),
    )


def _odds(desk: Desk, change: CoralChange, seen: Observed) -> str:
    """The odds that uptake changed in the expected direction, whatever the readings show."""
    amount = _matters(desk, change.system, seen.matters)
    return desk.words(f"changes.odds.{change.what}", amount=amount, chance=hundredths(seen.chance))


def _matters(desk: Desk, system: str, matters: float) -> str:
    """The change a day that matters: as the keeper wrote it, or the share that counts where nothing is written."""
    declared = desk.view.systems[system].smallest_change
    if declared is not None and declared.alkalinity is not None:
        return desk.words("numbers.per_day", unit=desk.say.written(declared.alkalinity))
    share = desk.words("changes.of_the_uptake", percent=f"{100 * MATTERS:.0f}")
    exactly = Estimate(matters, matters, matters, "meq/L/day")
    return f"{share} ({_per_day(desk, exactly).value})"


def _upright(found: Estimate) -> Estimate:
    """The size of a change without its sign; words say its direction."""
    return found if found.value >= 0 else found.scaled(-1.0, found.unit)


def _told(desk: Desk, seen: Observed, told: Evidence, change: CoralChange) -> Iterator[Figure]:
    words = desk.words
    yield per_day_figure(desk, words("changes.before"), "alkalinity", seen.before, told)
    if seen.days:
        label = words("changes.after", day=day_of(desk, change.until))
        yield per_day_figure(desk, label, "alkalinity", seen.after, told)
    note = words(f"changes.rise_note.{change.what}")
    yield per_day_figure(desk, words("changes.rise"), "alkalinity", seen.rise, told, note)
    if seen.combined:
        note = _odds(desk, change, seen)
        yield per_day_figure(desk, words("changes.combined"), "alkalinity", seen.combined, told, note)


def _before_and_after(desk: Desk, change: CoralChange, seen: Observed) -> Ranges:
    words, unit = desk.words, desk.words.unit(desk.display.unit("alkalinity"))

    def row(name: str, found: Estimate, look: Look) -> Row:
        shown = desk.display.estimate("alkalinity", found, of_level=False)
        return Row(words(f"changes.row.{name}"), _per_day(desk, found), shown, look)

    rows = [row("before", seen.before.estimate, "plain")]
    before, step = seen.before.estimate.value, change.step
    # A coral cannot take up more than all together. If it seems to, the rest is not predicted.
    if step is not None and before + step.value > 0.0:
        rows.append(
            row(
                "predicted",
                Estimate(before + step.value, before + step.low, before + step.high, step.unit),
                "predicted",
            )
        )
    if seen.days:
        rows.append(row("after", seen.after.estimate, "measured"))
    return ranges(words, words("changes.uptake_title"), words("numbers.per_day", unit=unit), rows)


def _together(desk: Desk, seen: Observed) -> Iterator[str]:
    """The events that cannot be told apart, their sum, and when readings would separate them."""
    if seen.together is None:
        return
    said = _per_day(desk, seen.together.sum)
    yield desk.words("changes.together.what", events=listed(desk, [_event(desk, e) for e in seen.together.events]))
    yield desk.words("changes.together.sum", value=said.value, interval=said.interval)
    apart = seen.together.told_apart
    if apart is None:
        yield desk.words("changes.together.never")
    else:
        yield desk.words("changes.together.apart", day=day_of(desk, apart))


def _event(desk: Desk, event: DemandEvent) -> str:
    # A coral that this audience may not see is shown only as an event.
    if event.coral in desk.view.corals:
        return desk.words(f"changes.event.{event.what}", coral=desk.view.corals[str(event.coral)].name)
    return desk.words(f"events.{event.what}")
