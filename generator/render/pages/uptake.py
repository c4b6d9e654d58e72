"""A system's uptake, its forecasts, and what the readings cannot explain."""

from dataclasses import replace
from datetime import datetime

from generator.reckon.finding import CannotTell, Finding
from generator.reckon.water.findings import Forecast, Trend, WaterFindings
from generator.render.blocks import Figure, Items, Table, items
from generator.render.forecast_words import forecast_words
from generator.render.inline import Inline, Link, Phrase, Span, bold, code, joined, small
from generator.render.numbers import Shown, decimals, plain, say_deviation, with_unit
from generator.render.pages.desk import Desk
from generator.render.pages.why import Evidence, amount_figure, cannot, per_day_figure
from generator.units.kinds import WATER_KINDS

TAKEN_UP = ("alkalinity", "calcium", "magnesium")
DAYS_OF_MONTH = 30.0


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


def outlooks(desk: Desk, findings: WaterFindings) -> Items:
    """When each quantity leaves its band if nothing changes, with what that is based on."""
    kinds = [kind for kind in TAKEN_UP if kind in findings.forecasts and kind in findings.latest]
    return items(*(_going_on(desk, findings, kind) for kind in kinds), look="outlooks")


def _going_on(desk: Desk, findings: WaterFindings, kind: str) -> Inline:
    """A forecast with what it goes on, and what comes without it where something is dosed by habit."""
    words, without = desk.words, findings.if_nothing_given.get(kind)
    forecast = findings.forecasts[kind]
    why = Link(words("why.title"), f"#why-uptake-{kind}")
    if_poured = if_not = ""
    if without is not None:
        if_poured = f"({words('forecast.if_poured')})"
        text = ", ".join(filter(None, forecast_words(desk.display, words, without)))
        if_not = words("forecast.if_not", forecast=text)
    name = joined(bold(words(f"quantities.{kind}")), if_poured)
    said = outlook(desk, forecast)
    return joined(name, said, why if isinstance(forecast, Forecast) else "", small(if_not) if if_not else "")


def outlook(desk: Desk, forecast: Forecast | CannotTell) -> Inline:
    """One forecast in words."""
    if isinstance(forecast, CannotTell):
        return cannot(desk.words, forecast)
    text, when = forecast_words(desk.display, desk.words, forecast)
    return Phrase((joined(text, Span(when, look="interval") if when else "", by=", "), "."))


def _day(desk: Desk, at: datetime) -> str:
    return desk.say.date(at)


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


def doubts(desk: Desk, findings: WaterFindings) -> Table:
    """Readings that the others cannot explain, newest first."""
    words = desk.words
    found = [doubt for uptake in findings.uptake.values() for doubt in uptake.doubtful]
    rows = tuple(
        (
            desk.say.moment(doubt.reading.at),
            words(f"quantities.{doubt.reading.kind}"),
            desk.say.reading(doubt.reading, doubt.value),
            desk.say.level(doubt.reading.kind, doubt.expected).interval,
            words("doubt.surprise", errors=plain(words, abs(doubt.surprise), 1)),
            code(doubt.reading.source),
        )
        for doubt in sorted(found, key=lambda doubt: doubt.reading.at, reverse=True)
    )
    heads = ("system.at", "system.quantity", "system.value", "system.expected", "system.surprise", "system.source")
    return Table(words("system.doubts"), words.each(*heads), rows, "tall")


def shifts(desk: Desk, findings: WaterFindings) -> Table:
    """Alkalinity that came or went without a line in the log, newest first."""
    words = desk.words
    rows: list[tuple[Inline, ...]] = []
    for shift in sorted(findings.calcification.shifts, key=lambda shift: shift.before, reverse=True):
        said = desk.say.difference("alkalinity", shift.size)
        between = words("shift.between", after=_day(desk, shift.after), before=_day(desk, shift.before))
        rows.append((between, joined(bold(said.value), said.interval, by=", "), joined(*map(code, shift.inputs[:4]))))
    heads = words.each("system.between", "system.size", "system.source")
    return Table(words("system.shifts"), heads, tuple(rows), "tall")
