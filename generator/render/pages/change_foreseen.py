"""What a change was predicted to do, and when a test can show it: the part of its report known beforehand."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from functools import partial

from generator.reckon.arrivals.expected import ExpectedUptake
from generator.reckon.finding import Answer
from generator.reckon.water.findings import ReadingPlan
from generator.render.base.blocks import Drawn, Figure
from generator.render.base.context import PageContext
from generator.render.base.numbers import Moment, Shown, hundredths
from generator.render.base.scale import Look, Row, ranges
from generator.render.base.why import Evidence, amount_figure, figure_of, per_day_figure
from generator.units.quantity import Estimate

# Days ahead in the picture of odds.
_DAYS_SHOWN = 14


@dataclass(frozen=True, slots=True)
class OddsDay:
    """The odds that one reading, some days later, shows the change, as a bar from the top, in per cent."""

    day: str
    top: str
    height: str
    odds: str
    planned: bool


def foreseen_figures(ctx: PageContext, found: ExpectedUptake, told: Evidence) -> Iterator[Figure]:
    """The coral's uptake as predicted the day before, and its share of the whole uptake."""
    words = ctx.words
    yield amount_figure(ctx, words("changes.grams"), found.grams_per_day, told, _factor(ctx, found))
    yield per_day_figure(ctx, words("quantities.alkalinity"), "alkalinity", found.alkalinity, told)
    yield per_day_figure(ctx, words("quantities.calcium"), "calcium", found.calcium, told)
    yield share_figure(ctx, words("changes.share"), found.share, told)


def share_figure(ctx: PageContext, label: str, answer: Answer, told: Evidence) -> Figure:
    """A share of the uptake in per cent."""
    return figure_of(ctx, label, answer, partial(say_share, ctx), told, "%", 100.0)


def say_share(ctx: PageContext, found: Estimate) -> Shown:
    """A share or a ratio in per cent, with its interval; of a coral that is the only one known, in words."""
    if found.low == found.high == 1.0:
        return Shown(ctx.words("changes.all_of_it"), ctx.words("changes.none_beside"))
    return ctx.say.estimate(found.scaled(100.0, "%"))


def ways_of(ctx: PageContext, found: ExpectedUptake) -> Drawn:
    """The published methods side by side, all combined, and the result times the system's factor."""
    words = ctx.words
    told: list[tuple[str, Estimate, Look]] = [
        (
            words("changes.way", basis=words(f"changes.basis.{way.basis}"), study=words(f"changes.study.{way.study}")),
            way.grams_per_day,
            "way",
        )
        for way in found.published.ways
    ]
    told.append((words("changes.row.published"), found.published.combined.estimate("g/day"), "both"))
    told.append((words("changes.row.here"), found.grams_per_day.estimate, "measured"))
    shown = ctx.say.amounts([amount for _, amount, _ in told])
    rows = [Row(label, said, amount, look) for (label, amount, look), said in zip(told, shown, strict=True)]
    unit = ctx.say.a_day("g")
    return Drawn("ranges", ranges(words, words("changes.ways_title"), unit, rows))


def readings_lead(ctx: PageContext, plan: ReadingPlan) -> str:
    """Whether a reading can show the change, as planned at the moment of the change."""
    size = Estimate(abs(plan.size), abs(plan.size), abs(plan.size), "meq/L/day")
    said = ctx.say.per_day("alkalinity", size).value
    return ctx.words("changes.plan.lead" if plan.readings else "changes.plan.none", size=said)


def odds_picture(ctx: PageContext, plan: ReadingPlan) -> Drawn:
    """The odds of each day that one reading shows the change, as bars."""
    planned = {reading.at for reading in plan.readings}
    soon = [(at, odds) for at, odds in plan.alone if _days(plan, at) <= _DAYS_SHOWN]
    return Drawn("odds", tuple(_odds(ctx, plan, at, odds, at in planned) for at, odds in soon))


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


def _factor(ctx: PageContext, found: ExpectedUptake) -> str:
    said = say_share(ctx, found.factor.ratio.estimate(""))
    return ctx.words(f"changes.factor.{found.factor.known}", value=said.value, interval=said.interval)


def _days(plan: ReadingPlan, at: datetime) -> int:
    return round((at - plan.since).total_seconds() / 86400.0)


def _odds(ctx: PageContext, plan: ReadingPlan, at: datetime, odds: float, planned: bool) -> OddsDay:
    said = ctx.words("changes.plan.odds_of_day", day=ctx.say.date(at), n=hundredths(odds))
    return OddsDay(str(_days(plan, at)), f"{100.0 * (1.0 - odds):.1f}%", f"{100.0 * odds:.1f}%", said, planned)
