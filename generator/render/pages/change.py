"""The report of a coral that came, was cut or left: the prediction, when to test, what it did, what to dose."""

from collections.abc import Iterator
from dataclasses import dataclass

from generator.reckon.arrivals.changes import CoralChange
from generator.reckon.arrivals.expected import LARGE_SHARE, ExpectedUptake
from generator.reckon.arrivals.observed import MATTERS, Observed
from generator.reckon.dosing.cautions import of_phases
from generator.reckon.finding import CannotTell, Finding
from generator.reckon.water.demand_events import DemandEvent
from generator.records.system import System
from generator.render import links
from generator.render.blocks import Block, Figure
from generator.render.charts.change import change_chart
from generator.render.charts.chart import Chart
from generator.render.inline import Cannot, Inline, Link, bold, joined
from generator.render.numbers import Moment, Shown, hundredths, say_day, say_per_day, say_written
from generator.render.page import Frame
from generator.render.pages.change_foreseen import (
    ReadingsAhead,
    day_of,
    foreseen_figures,
    readings_of,
    ways_of,
)
from generator.render.pages.desk import Desk
from generator.render.pages.doses import caution_words, doses, has_dosing, unmet_words
from generator.render.pages.next_tests import listed
from generator.render.pages.predicted import system_frame
from generator.render.pages.uptake import outlook
from generator.render.pages.why import Evidence, cannot, evidence, per_day_figure
from generator.render.ranges import Look, Ranges, Row, ranges
from generator.units.quantity import Estimate


@dataclass(frozen=True, slots=True)
class ChangePage:
    """One change, from the prediction to what it did."""

    frame: Frame
    title: str
    day: Moment
    coral: Link
    verdict: str
    told: tuple[Figure, ...]
    uptake: Ranges | None
    chart: Chart | None
    cannot: Cannot | None
    together: tuple[str, ...]
    foreseen: tuple[Figure, ...]
    unforeseen: Cannot | None
    ways: Ranges | None
    foreseen_notes: tuple[str, ...]
    readings: ReadingsAhead | None
    unchanged: Inline
    doses: tuple[Block, ...]
    dose_notes: tuple[str, ...]
    cautions: tuple[str, ...]
    onward: tuple[Link, ...]
    threshold: str


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
            desk.words(
                "changes.link",
                title=change_title(desk, change),
                day=say_day(desk.display, desk.words, change.day).text,
            ),
        )
        for change in found
    )


def change_page(desk: Desk, system: System, change: CoralChange) -> ChangePage:
    """The report of one change of a system's corals."""
    words, name = desk.words, desk.view.corals[change.coral].name
    told = evidence(desk.view.log_of(system.id), desk.display, words)
    seen = change.observed if isinstance(change.observed, Observed) else None
    foreseen = change.foreseen if isinstance(change.foreseen, ExpectedUptake) else None
    title = change_title(desk, change)
    return ChangePage(
        frame=system_frame(desk, system.id, title, words("changes.description", title=title)),
        title=title,
        day=say_day(desk.display, words, change.day),
        coral=desk.to_coral(change.coral),
        verdict=_verdict(desk, change, seen),
        told=tuple(_told(desk, seen, told, change)) if seen else (),
        uptake=_before_and_after(desk, change, seen) if seen else None,
        chart=change_chart(change, name, desk.display, words),
        cannot=cannot(words, change.observed) if isinstance(change.observed, CannotTell) else None,
        together=tuple(_together(desk, seen)) if seen else (),
        foreseen=tuple(foreseen_figures(desk, foreseen, told)) if foreseen else (),
        unforeseen=cannot(words, change.foreseen) if isinstance(change.foreseen, CannotTell) else None,
        ways=ways_of(desk, foreseen) if foreseen else None,
        foreseen_notes=tuple(_foreseen_notes(desk, change, foreseen)) if foreseen else (),
        readings=readings_of(desk, change.plan) if change.plan else None,
        unchanged=_unchanged(desk, change),
        doses=doses(desk, system, (change.added,), (desk.words("changes.added"),), now=False) if change.added else (),
        dose_notes=tuple(unmet_words(desk, system, change.added.unmet)) if change.added else (),
        cautions=caution_words(desk, of_phases((change.added,), system)) if change.added and change.added.doses else (),
        onward=tuple(_onward(desk, system)),
        threshold=words("changes.threshold", share=f"{100 * LARGE_SHARE:.0f}"),
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
    return say_per_day(desk.display, desk.words, "alkalinity", found)


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
        return desk.words("numbers.per_day", unit=say_written(desk.words, declared.alkalinity))
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
