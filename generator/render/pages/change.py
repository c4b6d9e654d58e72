"""The report of a coral that came, was cut or left: the prediction, when to test, what it did, what to dose."""

from collections.abc import Iterable, Iterator
from datetime import datetime

from msgspec import Struct
from msgspec.structs import replace

from generator.reckon.arrivals.expected import LARGE_SHARE, ExpectedUptake
from generator.reckon.arrivals.observed import MATTERS, Observed
from generator.reckon.arrivals.story import Change, CoralChange
from generator.reckon.dosing.stocks import of_phases
from generator.reckon.finding import CannotTell, Finding
from generator.reckon.water.demand_events import DemandEvent
from generator.reckon.water.findings import ReadingPlan
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
from generator.render.base.context import PageContext, page_of_system
from generator.render.base.links import Inline, Link, bold, joined
from generator.render.base.numbers import Moment, hundredths, listed
from generator.render.base.page import Page
from generator.render.base.why import LogInWords, cannot, evidence, per_day_figure, to_method
from generator.render.charts.change import change_chart
from generator.render.pages.doses import caution_words, doses, has_dosing, unmet_words
from generator.render.pages.shares import drawn_uptakes, foreseen_figures, uptake_row, ways_of
from generator.render.pages.uptake import say_outlook
from generator.units.quantity import Estimate


def change_title(ctx: PageContext, change: Change) -> str:
    """A change in a few words."""
    return ctx.words(
        f"changes.title.{change.what}",
        coral=ctx.ties.coral_names[change.coral],
        system=ctx.view.systems[change.system].name,
    )


def change_address(change: Change) -> str:
    """Where the report of a change is."""
    return links.change_of(change.system, change.day, change.coral, change.what)


def change_links(ctx: PageContext, changes: Iterable[Change]) -> tuple[Link, ...]:
    """The reports of changes, newest first."""
    found = sorted(changes, key=lambda change: (change.at, change.coral), reverse=True)
    return tuple(
        ctx.link(
            change_address(change),
            ctx.words("changes.link", title=change_title(ctx, change), day=ctx.say.on(change.day)),
        )
        for change in found
    )


def change_page(ctx: PageContext, system: System, change: CoralChange) -> Page:
    """The report of one change of a system's corals, from the prediction to what it did."""
    words, title = ctx.words, change_title(ctx, change)
    told = evidence(ctx, system.id)
    seen = change.observed if isinstance(change.observed, Observed) else None
    return page_of_system(
        ctx,
        system.id,
        "change",
        title,
        words("changes.description", title=title),
        _effect(ctx, change, told),
        _foreseen(ctx, change, told),
        _readings(ctx, change),
        section(
            words("changes.unchanged"),
            Paragraph(_unchanged(ctx, change)),
            id="unchanged",
            method=to_method(ctx, "forecast"),
        ),
        _doses(ctx, system, change),
        row(*_onward(ctx, system)),
        Paragraph(words("changes.threshold", share=f"{100 * LARGE_SHARE:.0f}"), "note"),
        over=joined(ctx.say.day(change.day), ctx.to_coral(change.coral), by=" · "),
        lead=_verdict(ctx, change, seen),
    )


def _effect(ctx: PageContext, change: CoralChange, told: LogInWords) -> Section:
    """What it did, as far as the readings tell."""
    words, name = ctx.words, ctx.ties.coral_names[change.coral]
    chart = change_chart(change, name, ctx.say)
    shown: tuple[Block, ...] = ()
    if isinstance(change.observed, CannotTell):
        shown = (cannot(words, change.observed),)
    elif seen := change.observed:
        shown = (
            items(*_together(ctx, seen)),
            _before_and_after(ctx, change, seen),
            Paragraph(_others(ctx, seen), "note"),
            figures(*_told(ctx, seen, told, change), look="small spaced"),
        )
    return section(words("changes.effect"), *shown, group("anchor spaced", chart), id="told")


def _foreseen(ctx: PageContext, change: CoralChange, told: LogInWords) -> Section:
    """What was predicted the day before."""
    words, found = ctx.words, change.foreseen
    shown: tuple[Block, ...] = ()
    if isinstance(found, CannotTell):
        shown = (cannot(words, found),)
    elif found:
        notes = (Paragraph(note, "note") for note in _foreseen_notes(ctx, change, found))
        shown = (figures(*foreseen_figures(ctx, found, told), look="small spaced"), ways_of(ctx, found), *notes)
    return section(words("changes.predicted"), *shown, id="predicted", lead=words("changes.predicted_lead"))


def _readings(ctx: PageContext, change: CoralChange) -> Section | None:
    """When a reading can show it."""
    if change.plan is None:
        return None
    words = ctx.words
    title = words("changes.readings")
    heads = words.each("system.at", "changes.plan.purpose", "changes.plan.odds_head")
    return section(
        title,
        Paragraph(readings_lead(ctx, change.plan)),
        odds_picture(ctx, change.plan),
        Table(title, heads, planned_readings(ctx, change.plan), "tall"),
        id="readings",
    )


def _doses(ctx: PageContext, system: System, change: CoralChange) -> Section | None:
    """What to give in addition."""
    words, added = ctx.words, change.added
    given = doses(ctx, system, (added,), (words("changes.added"),), now="") if added else ()
    if added is None or not given:
        return None
    return section(
        words("changes.doses"),
        *given,
        items(*unmet_words(ctx, system, added.to_tell), look="plan-notes"),
        items(*caution_words(ctx, of_phases((added,), system)), look="cautions"),
        id="doses",
        lead=words("changes.doses_lead"),
    )


def _unchanged(ctx: PageContext, change: CoralChange) -> Inline:
    """What comes of alkalinity if nothing changes."""
    if change.unchanged is None:
        return ""
    return joined(bold(ctx.words("quantities.alkalinity")), say_outlook(ctx, change.unchanged))


def _foreseen_notes(ctx: PageContext, change: CoralChange, foreseen: ExpectedUptake) -> Iterator[str]:
    yield ctx.words("changes.ways_note", n=foreseen.published.independent)
    if change.what == "arrival" or change.step is None:
        return
    step = ctx.say.per_day("alkalinity", change.step.size)
    key = "changes.predicted_cut" if change.what == "cutting" else "changes.predicted_loss"
    yield ctx.words(key, **step.blanks("step"))
    if change.part_assumed:
        yield ctx.words("changes.part_assumed")


def _onward(ctx: PageContext, system: System) -> Iterator[Link]:
    if has_dosing(ctx, system.id):
        yield ctx.link(links.dosing_of(system.id), ctx.words("changes.to_plan"))
    yield ctx.link(links.shares_of(system.id), ctx.words("shares.link"))
    yield ctx.link(f"data/systems/{system.id}/changes.csv", ctx.words("data.tables.changes.name"))


def _verdict(ctx: PageContext, change: CoralChange, seen: Observed | None) -> str:
    """What is known by now in one sentence."""
    if seen is None or not seen.days:
        if change.step is None:
            return ctx.words("changes.verdict.nothing_known")
        step = ctx.say.per_day("alkalinity", change.step.size)
        known = "predicted_only" if seen else "cannot_tell"
        return ctx.words(f"changes.verdict.{known}", **step.blanks("step"))
    best = seen.combined or seen.rise
    if seen.together is not None or not isinstance(best, Finding):
        return ctx.words("changes.verdict.together")
    found = best.estimate
    side = "unclear" if not found.is_clear else "more" if found.value > 0.0 else "less"
    said = ctx.say.per_day("alkalinity", found.size if found.is_clear else found)
    return ctx.words(
        f"changes.verdict.{side}", **said.blanks("size"), odds=_odds(ctx, change, seen), day=ctx.say.date(change.until)
    )


def _odds(ctx: PageContext, change: CoralChange, seen: Observed) -> str:
    """The odds that uptake changed in the expected direction, whatever the readings show."""
    amount = _matters(ctx, change.system, seen.matters)
    return ctx.words(f"changes.odds.{change.what}", amount=amount, chance=hundredths(seen.chance))


def _matters(ctx: PageContext, system: str, matters: float) -> str:
    """The change a day that matters: as the keeper wrote it, or the share that counts where nothing is written."""
    declared = ctx.view.systems[system].smallest_change
    if declared is not None and declared.alkalinity is not None:
        return ctx.say.a_day(ctx.say.written(declared.alkalinity))
    share = ctx.words("changes.of_the_uptake", percent=f"{100 * MATTERS:.0f}")
    exactly = Estimate.exact(matters, "meq/L/day")
    return f"{share} ({ctx.say.per_day('alkalinity', exactly).value})"


def _told(ctx: PageContext, seen: Observed, told: LogInWords, change: CoralChange) -> Iterator[Figure]:
    words = ctx.words
    yield per_day_figure(ctx, words("changes.before"), "alkalinity", _taken(seen.before), told)
    if seen.days:
        label = words("changes.after", day=ctx.say.date(change.until))
        yield per_day_figure(ctx, label, "alkalinity", _taken(seen.after), told)
    note = words(f"changes.rise_note.{change.what}")
    yield per_day_figure(ctx, words("changes.rise"), "alkalinity", seen.rise, told, note)
    if seen.combined:
        yield per_day_figure(ctx, words("changes.combined"), "alkalinity", seen.combined, told)


def _taken(found: Finding) -> Finding:
    return replace(found, estimate=found.estimate.at_least_zero())


def _before_and_after(ctx: PageContext, change: CoralChange, seen: Observed) -> Drawn:
    words = ctx.words
    rows = [uptake_row(ctx, words("changes.row.before"), _taken(seen.before).estimate, "plain")]
    before, step = seen.before.estimate.value, change.step
    # A coral cannot take up more than all together. If it seems to, the rest is not predicted.
    if step is not None and before + step.value > 0.0:
        rows.append(uptake_row(ctx, words("changes.row.predicted"), step.moved(before), "predicted"))
    if seen.days:
        label = words("changes.after", day=ctx.say.date(change.until))
        rows.append(uptake_row(ctx, label, _taken(seen.after).estimate, "measured"))
    return drawn_uptakes(ctx, words("changes.uptake_title"), rows)


def _others(ctx: PageContext, seen: Observed) -> str:
    """How much the uptake changed in all, where that is clearly not what this coral changed."""
    best = seen.combined or seen.rise
    if not seen.days or not isinstance(best, Finding):
        return ""
    total = seen.after.estimate.value - seen.before.estimate.value
    if best.estimate.low <= total <= best.estimate.high:
        return ""
    said = ctx.say.per_day("alkalinity", Estimate.exact(abs(total), best.estimate.unit)).value
    return ctx.words(f"changes.in_all.{'more' if total > 0 else 'less'}", size=said)


def _together(ctx: PageContext, seen: Observed) -> Iterator[str]:
    """The events that cannot be told apart, their sum, and when readings would separate them."""
    if seen.together is None:
        return
    said = ctx.say.per_day("alkalinity", seen.together.sum)
    yield ctx.words("changes.together.what", events=listed(ctx, [_event(ctx, e) for e in seen.together.events]))
    yield ctx.words("changes.together.sum", **said.blanks())
    apart = seen.together.told_apart
    if apart is None:
        yield ctx.words("changes.together.never")
    else:
        yield ctx.words("changes.together.apart", day=ctx.say.date(apart))


def _event(ctx: PageContext, event: DemandEvent) -> str:
    if event.coral:
        return ctx.words(f"changes.event.{event.what}", coral=ctx.ties.coral_names[event.coral])
    return ctx.words(f"events.{event.what}")


# Days ahead in the picture of odds.
_DAYS_SHOWN = 14


class OddsDay(Struct, frozen=True):
    """The odds that one reading, some days later, shows the change, as a bar from the top, in per cent."""

    day: str
    top: str
    height: str
    odds: str
    planned: bool


def readings_lead(ctx: PageContext, plan: ReadingPlan) -> str:
    """Whether a reading can show the change, as planned at the moment of the change."""
    size = Estimate.exact(abs(plan.size), "meq/L/day")
    said = ctx.say.per_day("alkalinity", size).value
    return ctx.words("changes.plan.lead" if plan.readings else "changes.plan.none", size=said)


def odds_picture(ctx: PageContext, plan: ReadingPlan) -> Drawn:
    """The odds of each day that one reading shows the change, as bars."""
    planned = {reading.at for reading in plan.readings}
    soon = [(at, odds) for at, odds in plan.alone if _days(plan, at) <= _DAYS_SHOWN]
    return Drawn("odds", tuple(_day_of_odds(ctx, plan, at, odds, at in planned) for at, odds in soon))


def planned_readings(ctx: PageContext, plan: ReadingPlan) -> tuple[tuple[Moment, str, str], ...]:
    """Each reading of the plan: when, why, and its odds."""
    words = ctx.words
    return tuple(
        (
            ctx.say.moment(reading.at),
            words(f"changes.plan.why.{reading.why}"),
            words("changes.plan.odds", n=hundredths(reading.odds)),
        )
        for reading in plan.readings
    )


def _days(plan: ReadingPlan, at: datetime) -> int:
    return round((at - plan.since).total_seconds() / 86400.0)


def _day_of_odds(ctx: PageContext, plan: ReadingPlan, at: datetime, odds: float, planned: bool) -> OddsDay:
    said = ctx.words("changes.plan.odds_of_day", day=ctx.say.date(at), n=hundredths(odds))
    return OddsDay(str(_days(plan, at)), f"{100.0 * (1.0 - odds):.1f}%", f"{100.0 * odds:.1f}%", said, planned)
