"""A system's uptake, its forecasts, and what the readings cannot explain."""

from dataclasses import dataclass, replace
from datetime import datetime

from generator.reckon.finding import CannotTell, Finding
from generator.reckon.water.findings import Forecast, Trend, WaterFindings
from generator.render.blocks import Figure
from generator.render.forecast_words import forecast_words
from generator.render.inline import Cannot
from generator.render.numbers import (
    Moment,
    Shown,
    decimals,
    plain,
    say_day,
    say_deviation,
    say_difference,
    say_level,
    say_moment,
    say_reading,
    with_unit,
)
from generator.render.pages.desk import Desk
from generator.render.pages.why import Evidence, amount_figure, cannot, per_day_figure
from generator.units.kinds import WATER_KINDS

TAKEN_UP = ("alkalinity", "calcium", "magnesium")
DAYS_OF_MONTH = 30.0


@dataclass(frozen=True, slots=True)
class Outlook:
    """When a quantity leaves its band if nothing changes; `uptake` names the figure it is based on.

    `if_poured` says that this goes on with what is dosed by habit, `if_not` what comes without.
    """

    quantity: str
    text: str
    when: str
    cannot: Cannot | None
    uptake: str = ""
    if_poured: str = ""
    if_not: str = ""


@dataclass(frozen=True, slots=True)
class Doubt:
    """A reading that the others cannot explain."""

    at: Moment
    quantity: str
    value: str
    expected: str
    surprise: str
    source: str


@dataclass(frozen=True, slots=True)
class Shift:
    """Alkalinity that came or went without a line in the log."""

    between: str
    size: str
    interval: str
    sources: tuple[str, ...]


def uptake_figures(desk: Desk, findings: WaterFindings, told: Evidence) -> tuple[Figure, ...]:
    """Daily uptake of each quantity."""
    return tuple(
        replace(
            per_day_figure(
                desk,
                desk.words(f"quantities.{kind}"),
                kind,
                found.per_day,
                told,
                desk.words("uptake.readings", n=found.readings, error=_kit_error(desk, kind, found.kit_error.value))
                if found.readings
                else "",
            ),
            id=f"uptake-{kind}",
        )
        for kind in TAKEN_UP
        if (found := findings.uptake.get(kind)) and (found.readings or kind == "alkalinity")
    )


def _kit_error(desk: Desk, kind: str, standard: float) -> str:
    return say_deviation(desk.words, desk.display.change(kind, standard), desk.words.unit(desk.display.unit(kind)))


def calcification_figures(desk: Desk, findings: WaterFindings, told: Evidence) -> tuple[Figure, ...]:
    """Grams of CaCO3 a day, and the alkalinity that calcification does not account for."""
    words, found = desk.words, findings.calcification
    if isinstance(found.grams_per_day, CannotTell):
        return (amount_figure(desk, words("calcification.grams"), found.grams_per_day, told),)
    by_both, alone = isinstance(found.unexplained, Finding), found.from_alkalinity_alone
    note = words("calcification.both" if by_both else "calcification.alkalinity_only")
    return (
        amount_figure(desk, words("calcification.grams"), found.grams_per_day, told, note),
        *(
            [amount_figure(desk, words("calcification.alone"), alone, told, words("calcification.alone_note"))]
            if by_both and alone
            else []
        ),
        per_day_figure(
            desk,
            words("calcification.unexplained"),
            "alkalinity",
            found.unexplained,
            told,
            words("calcification.unexplained_note"),
        ),
    )


def outlooks(desk: Desk, findings: WaterFindings) -> tuple[Outlook, ...]:
    """Each forecast in words."""
    return tuple(
        _going_on(desk, findings, kind) for kind in TAKEN_UP if kind in findings.forecasts and kind in findings.latest
    )


def _going_on(desk: Desk, findings: WaterFindings, kind: str) -> Outlook:
    """A forecast with what it goes on, and what comes without it where something is dosed by habit."""
    found = replace(outlook(desk, kind, findings.forecasts[kind]), uptake=f"uptake-{kind}")
    without = findings.if_nothing_given.get(kind)
    if without is None:
        return found
    text = ", ".join(filter(None, forecast_words(desk.display, desk.words, without)))
    if_not = desk.words("forecast.if_not", forecast=text)
    return replace(found, if_poured=desk.words("forecast.if_poured"), if_not=if_not)


def outlook(desk: Desk, kind: str, forecast: Forecast | CannotTell) -> Outlook:
    """One forecast in words."""
    words, name = desk.words, desk.words(f"quantities.{kind}")
    if isinstance(forecast, CannotTell):
        return Outlook(name, "", "", cannot(words, forecast))
    return Outlook(name, *forecast_words(desk.display, words, forecast), None)


def _day(desk: Desk, at: datetime) -> str:
    return say_day(desk.display, desk.words, at.astimezone(desk.display.zone).date()).text


def trend_figures(desk: Desk, findings: WaterFindings, told: Evidence) -> tuple[Figure, ...]:
    """The daily change of every quantity that is tested but not dosed."""
    return tuple(
        _steady(
            desk,
            kind,
            trend,
            replace(
                per_day_figure(
                    desk,
                    desk.words(f"quantities.{kind}"),
                    kind,
                    trend.per_day,
                    told,
                    desk.words("trend.readings", n=trend.readings, days=f"{trend.days:.0f}"),
                ),
                id=f"trend-{kind}",
            ),
        )
        for kind in WATER_KINDS
        if (trend := findings.trends.get(kind))
    )


def _steady(desk: Desk, kind: str, trend: Trend, figure: Figure) -> Figure:
    """A trend without change, in words: a zero with four decimals says nothing."""
    if isinstance(trend.per_day, CannotTell) or trend.per_day.estimate.value != 0.0:
        return figure
    found = trend.per_day.estimate
    most = desk.display.change(kind, DAYS_OF_MONTH * max(-found.low, found.high))
    shown = with_unit(plain(desk.words, most, decimals(most)), desk.words.unit(desk.display.unit(kind)))
    return replace(figure, shown=Shown(desk.words("trend.steady"), desk.words("trend.within", most=shown)))


def doubts(desk: Desk, findings: WaterFindings) -> tuple[Doubt, ...]:
    """Readings worth repeating, newest first."""
    found = [doubt for uptake in findings.uptake.values() for doubt in uptake.doubtful]
    return tuple(
        Doubt(
            say_moment(desk.display, desk.words, doubt.reading.at),
            desk.words(f"quantities.{doubt.reading.kind}"),
            say_reading(desk.display, desk.words, doubt.reading, doubt.value),
            say_level(desk.display, desk.words, doubt.reading.kind, doubt.expected).interval,
            desk.words("doubt.surprise", errors=plain(desk.words, abs(doubt.surprise), 1)),
            str(doubt.reading.source),
        )
        for doubt in sorted(found, key=lambda doubt: doubt.reading.at, reverse=True)
    )


def shifts(desk: Desk, findings: WaterFindings) -> tuple[Shift, ...]:
    """Alkalinity that came or went unlogged, newest first."""
    return tuple(
        Shift(
            desk.words("shift.between", after=_day(desk, shift.after), before=_day(desk, shift.before)),
            (said := say_difference(desk.display, desk.words, "alkalinity", shift.size)).value,
            said.interval,
            tuple(str(source) for source in shift.inputs[:4]),
        )
        for shift in sorted(findings.calcification.shifts, key=lambda shift: shift.before, reverse=True)
    )
