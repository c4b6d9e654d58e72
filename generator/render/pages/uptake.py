"""A system's uptake, forecasts and ledger, what may explain the readings, and what they cannot explain."""

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from msgspec.structs import replace

from generator.reckon.attention.water import DEMAND_LOOKS_BACK, uptake_change
from generator.reckon.finding import Answer, CannotTell, Finding
from generator.reckon.water.findings import Cause, Forecast, Story, Trend, Uptake, WaterFindings
from generator.reckon.water.replay import PAID, Balance, balance
from generator.records.system import System
from generator.render.base.blocks import Figure, Items, Paragraph, Section, Table, items, section
from generator.render.base.context import PageContext
from generator.render.base.links import Inline, Link, Phrase, Span, bold, code, joined, small
from generator.render.base.numbers import Shown, decimals, forecast_words, plain, with_unit
from generator.render.base.why import (
    Ground,
    LogInWords,
    Parts,
    amount_figure,
    behind,
    cannot,
    figure_of,
    per_day_figure,
)
from generator.render.pages.next_tests import day_due, say_when
from generator.units.kinds import TAKEN_UP, WATER_KINDS

DAYS_OF_MONTH = 30.0
LEDGER_DAYS = 30
_HALF_A_YEAR = timedelta(days=182)


def uptake_figures(ctx: PageContext, findings: WaterFindings, told: LogInWords) -> Iterator[Figure]:
    """Daily uptake of each quantity."""
    words, say = ctx.words, ctx.say
    for kind in TAKEN_UP:
        if (found := findings.uptake.get(kind)) and (found.readings or kind == "alkalinity"):
            error = say.deviation(ctx.display.change(kind, found.kit_error.value), say.unit(kind))
            note = words("uptake.readings", n=found.readings, error=error) if found.readings else ""
            figure = per_day_figure(ctx, words(f"quantities.{kind}"), kind, found.per_day, told, note)
            yield replace(figure, id=f"uptake-{kind}")


def changing(ctx: PageContext, findings: WaterFindings, uptake: Uptake) -> Inline:
    """What is taken up a day, and whether that changed over the last month and half a year, or since no coral is in."""
    words, now = ctx.words, uptake.per_day
    if isinstance(now, CannotTell):
        return cannot(words, now)
    said = joined(ctx.say.per_day(uptake.kind, now.estimate), Link(words("why.title"), f"#why-uptake-{uptake.kind}"))
    if ctx.is_empty(findings.system) and findings.gone:
        return joined(
            said, small(_empty(ctx, findings.gone[-1][0], ctx.whole_waters[findings.system].uptake[uptake.kind]))
        )
    for back in (DEMAND_LOOKS_BACK, _HALF_A_YEAR):
        if (changed := uptake_change(uptake, ctx.as_of, back)) is not None:
            since, size = changed
            shown = ctx.say.per_day(uptake.kind, size)
            side = "steady" if not size.is_clear else "more" if size.value > 0.0 else "less"
            told = {"since": ctx.say.date(since), "size": shown.value, "interval": shown.interval}
            said = joined(said, small(words(f"uptake.change.{side}", **told)))
    return said


def _empty(ctx: PageContext, since: datetime, uptake: Uptake) -> str:
    """Since when no coral is in a system, and what was taken up before."""
    said = ctx.words("uptake.change.empty", since=ctx.say.date(since))
    before = [point for point in uptake.track if point.at <= since]
    if not before:
        return said
    was = ctx.say.per_day(uptake.kind, before[-1].per_day.at_least_zero())
    day = ctx.say.date(before[-1].at)
    return f"{said}; {ctx.words('uptake.change.was', day=day, size=was.value, interval=was.interval)}"


def calcification_figure(ctx: PageContext, findings: WaterFindings, told: LogInWords) -> Figure:
    """Grams of CaCO3 a day."""
    words, found = ctx.words, findings.calcification
    by = "both" if isinstance(found.unexplained, Finding) else "alkalinity_only"
    note = "" if isinstance(found.grams_per_day, CannotTell) else words(f"calcification.{by}")
    return amount_figure(ctx, words("calcification.grams"), found.grams_per_day, told, note)


def calcification_checks(ctx: PageContext, findings: WaterFindings, told: LogInWords) -> Iterator[Figure]:
    """The same grams by another way, and the alkalinity that calcification does not account for."""
    words, found = ctx.words, findings.calcification
    alone, rest = found.from_alkalinity_alone, found.unexplained
    if isinstance(found.grams_per_day, CannotTell):
        return
    if isinstance(rest, Finding) and alone:
        yield amount_figure(ctx, words("calcification.alone"), alone, told, words("calcification.alone_note"))
    label, note = words.each("calcification.unexplained", "calcification.unexplained_note")
    yield per_day_figure(ctx, label, "alkalinity", rest, told, note)


def outlooks(ctx: PageContext, findings: WaterFindings) -> Items:
    """When each quantity leaves its band if nothing changes, with what that is based on."""
    kinds = [kind for kind in TAKEN_UP if kind in findings.forecasts and kind in findings.latest]
    return items(*(_going_on(ctx, findings, kind) for kind in kinds), look="outlooks")


def _going_on(ctx: PageContext, findings: WaterFindings, kind: str) -> Inline:
    """A forecast with what it goes on, and what comes without it where something is dosed by habit."""
    words, without = ctx.words, findings.if_nothing_given.get(kind)
    forecast = findings.forecasts[kind]
    why = Link(words("why.title"), f"#why-uptake-{kind}")
    if_poured = if_not = ""
    if without is not None:
        if_poured = f"({words('forecast.if_poured')})"
        text = ", ".join(filter(None, forecast_words(ctx.say, without)))
        if_not = words("forecast.if_not", forecast=text)
    name = joined(bold(words(f"quantities.{kind}")), if_poured)
    standing = findings.latest[kind].standing
    if isinstance(forecast, Forecast) and standing == forecast.leaves:
        said: Inline = words("forecast.already", side=words(f"forecast.{standing}"))
    else:
        said = say_outlook(ctx, forecast)
    return joined(name, said, why if isinstance(forecast, Forecast) else "", small(if_not) if if_not else "")


def say_outlook(ctx: PageContext, forecast: Forecast | CannotTell) -> Inline:
    """One forecast in words."""
    if isinstance(forecast, CannotTell):
        return cannot(ctx.words, forecast)
    text, when = forecast_words(ctx.say, forecast)
    return Phrase((joined(text, Span(when, look="interval") if when else "", by=", "), "."))


def trend_figures(ctx: PageContext, findings: WaterFindings, told: LogInWords) -> Iterator[Figure]:
    """The daily change of every quantity that is tested but not dosed."""
    for kind in WATER_KINDS:
        if trend := findings.trends.get(kind):
            note = ctx.words("trend.readings", n=trend.readings, days=f"{trend.days:.0f}")
            figure = per_day_figure(ctx, ctx.words(f"quantities.{kind}"), kind, trend.per_day, told, note)
            yield _steady(ctx, kind, trend, replace(figure, id=f"trend-{kind}"))


def _steady(ctx: PageContext, kind: str, trend: Trend, figure: Figure) -> Figure:
    """A trend without change, in words: a zero with four decimals says nothing."""
    if isinstance(trend.per_day, CannotTell) or trend.per_day.estimate.is_clear:
        return figure
    if trend.per_day.estimate.value != 0.0:
        return replace(figure, note=f"{ctx.words('since.no_change')}; {figure.note}")
    found = trend.per_day.estimate
    most = ctx.display.change(kind, DAYS_OF_MONTH * max(-found.low, found.high))
    shown = ctx.say.number(most, decimals(most), ctx.display.unit(kind))
    return replace(figure, shown=Shown(ctx.words("trend.steady"), ctx.words("trend.within", most=shown)))


def doubts(ctx: PageContext, findings: WaterFindings) -> Table:
    """Readings that the others cannot explain, newest first."""
    words = ctx.words
    found = [doubt for uptake in findings.uptake.values() for doubt in uptake.doubtful]
    rows = tuple(
        (
            ctx.say.moment(doubt.reading.at),
            words(f"quantities.{doubt.reading.kind}"),
            ctx.say.reading(doubt.reading, doubt.value),
            ctx.say.level(doubt.reading.kind, doubt.expected).interval,
            words("doubt.surprise", errors=plain(words, abs(doubt.surprise), 1)),
            code(doubt.reading.source),
        )
        for doubt in sorted(found, key=lambda doubt: doubt.reading.at, reverse=True)
    )
    heads = ("system.at", "system.quantity", "system.value", "system.expected", "system.surprise", "system.source")
    return Table(words("system.doubts"), words.each(*heads), rows, "tall")


def shifts(ctx: PageContext, findings: WaterFindings) -> Table:
    """Alkalinity that came or went without a line in the log, newest first."""
    words = ctx.words
    rows: list[tuple[Inline, ...]] = []
    for shift in sorted(findings.calcification.shifts, key=lambda shift: shift.before, reverse=True):
        said = ctx.say.difference("alkalinity", shift.size)
        between = words("shift.between", after=ctx.say.date(shift.after), before=ctx.say.date(shift.before))
        rows.append((between, joined(bold(said.value), said.interval, by=", "), joined(*map(code, shift.inputs[:4]))))
    heads = words.each("system.between", "system.size", "system.source")
    return Table(words("system.shifts"), heads, tuple(rows), "tall")


def volume_figure(ctx: PageContext, system: str, told: LogInWords) -> Figure | None:
    """The volume by dose and the recorded one; None if they agree, or if no dose can show it."""
    by_dose, unit = ctx.found.volumes.get(system), ctx.words.unit("L")
    if by_dose is None or isinstance(by_dose, CannotTell) or not by_dose.disagrees:
        return None
    declared = ctx.say.estimate(by_dose.declared, unit)
    note = ctx.words("dosing.volume_note", n=by_dose.doses, **declared.blanks("declared"))
    return figure_of(ctx, ctx.words("dosing.volume"), by_dose.volume, ctx.say.estimate, told, unit, note=note)


def kit_words(ctx: PageContext, system: System, findings: WaterFindings) -> Iterator[str]:
    """One sentence for each kit beside a quantity's first, and for each quantity that has one kit alone."""
    words = ctx.words
    for uptake in findings.uptake.values():
        quantity = words(f"quantities.{uptake.kind}")
        for offset in uptake.kits:
            size = ctx.say.difference(uptake.kind, offset.size)
            kit, than = (_kit_name(system, id) for id in (offset.kit, offset.than))
            yield words("kits.apart", quantity=quantity, kit=kit, than=than, **size.blanks("size"))
        if uptake.off_by is not None and not uptake.kits:
            yield words(
                "kits.alone", quantity=quantity, interval=ctx.say.difference(uptake.kind, uptake.off_by).interval
            )


def _kit_name(system: System, id: str) -> str:
    kit = system.kits.get(id)
    return kit.name if kit and kit.name else id


# So soon a test is one of the same water, on the spot.
ON_THE_SPOT = timedelta(hours=2)
# Odds of nothing at all below this are not worth a word.
LEAST_ODDS = 0.10
# So many explanations are told one by one. A choice of ours.
MOST_TOLD = 3


def explanations(ctx: PageContext, findings: WaterFindings) -> Items:
    """For every quantity for which explanations compete: what may have happened, and which test tells."""
    return items(
        *(
            joined(
                Phrase((bold(ctx.words(f"quantities.{uptake.kind}")), ":")),
                explained(ctx, uptake),
                bold(which_test(ctx, findings, uptake)),
            )
            for uptake in findings.uptake.values()
            if uptake.stories
        ),
        look="outlooks",
    )


def explained(ctx: PageContext, uptake: Uptake) -> str:
    """The explanations with their odds, as one sentence."""
    words, rivals = ctx.words, uptake.stories
    told = [words("stories.with_odds", what=_story(ctx, uptake, each), odds=_odds(each.odds)) for each in rivals]
    nothing = 1.0 - sum(each.odds for each in rivals)
    if nothing >= LEAST_ODDS:
        told.append(words("stories.with_odds", what=words("stories.nothing"), odds=_odds(nothing)))
    if len(told) == 1:
        return words("stories.one", what=told[0])
    if (left := len(told) - MOST_TOLD) > 1:
        told[MOST_TOLD:] = [words("stories.left", n=left)]
    return words("stories.either", first=told[0], others=words("stories.or").join(told[1:]))


def which_test(ctx: PageContext, findings: WaterFindings, uptake: Uptake) -> str:
    """The test that parts the two likeliest explanations."""
    words, within = ctx.words, ctx.words(f"quantities_within.{uptake.kind}")
    test = findings.next_tests.get(uptake.kind)
    at = test.at if test and test.why == "parts-stories" else uptake.parted_by
    if at is None:
        return words("stories.go_on", quantity=within, when=say_when(ctx, day_due(ctx, test.at) if test else ctx.today))
    if at - findings.as_of <= ON_THE_SPOT:
        return words("stories.test_now", quantity=within)
    return words("stories.test_then", quantity=within, at=ctx.say.moment(at).text)


def _story(ctx: PageContext, uptake: Uptake, story: Story) -> str:
    words = ctx.words
    if story.kind == "wrong-reading":
        return words("stories.wrong-reading", at=ctx.say.moment(story.before).text)
    after, before = (ctx.say.date(at) for at in (story.after, story.before))
    if story.kind == "worn-pump":
        lacks = f"{max(story.size.value, 0.0):.0f}"
        return words("stories.worn-pump", solution=story.solution, lacks=lacks)
    size, side = story.size.size, "more" if story.size.value >= 0.0 else "less"
    if story.kind == "shift":
        amount = ctx.say.difference(uptake.kind, size).value
        return words(
            f"stories.shift.{side}", quantity=words(f"quantities_within.{uptake.kind}"), size=amount, before=before
        )
    if story.kind == "stop":
        return words("stories.stop", after=after, before=before)
    return words(f"stories.{story.kind}", size=ctx.say.per_day(uptake.kind, size).value, before=before)


def _odds(odds: float) -> str:
    return f"{100.0 * odds:.0f}"


def ledger(ctx: PageContext, system: System, findings: WaterFindings) -> Section | None:
    """What came in and went out over the last days, by cause, and the change; None if no quantity has a ledger."""
    words = ctx.words
    kept = {line.kind for line in findings.ledger}
    kinds = [kind for kind in WATER_KINDS if kind in kept]
    balances = [balance(findings, system.water, kind, LEDGER_DAYS) for kind in kinds]
    if not any(each.paid or isinstance(each.taken_up, Finding) for each in balances):
        return None
    taken = words("ledger.uptake"), *(_told(ctx, each.kind, each.taken_up) for each in balances)
    change = words("ledger.change"), *(_told(ctx, each.kind, each.change) for each in balances)
    title, cause = words("system.ledger", n=LEDGER_DAYS), words("system.cause")
    heads = (cause, *(words(f"quantities.{kind}") for kind in kinds))
    return section(
        title,
        Table(title, heads, (*_paid_rows(ctx, balances), taken, change), "figures"),
        Paragraph(words("ledger.last_read", days=", ".join(_last_read(ctx, findings, kinds))), "note"),
        behind(ctx, cause, "ledger", _grounds(ctx, balances)),
        id="ledger",
        lead=words("system.ledger_lead"),
    )


def _paid_rows(ctx: PageContext, balances: Sequence[Balance]) -> Iterator[tuple[Inline, ...]]:
    for cause in PAID:
        if any(cause in each.paid for each in balances):
            paid = ((each.kind, each.paid.get(cause)) for each in balances)
            cells = ("–" if total is None else _change(ctx, kind, total) for kind, total in paid)
            yield ctx.words(f"ledger.{cause}"), *cells


def _told(ctx: PageContext, kind: str, answer: Answer) -> Inline:
    if isinstance(answer, CannotTell):
        return ctx.words("cannot.label")
    interval = ctx.say.difference(kind, answer.estimate).interval
    return joined(_change(ctx, kind, answer.estimate.value), small(interval))


def _change(ctx: PageContext, kind: str, canonical: float) -> str:
    """A change with its sign. All changes of a quantity have the same number of digits, so that they add up."""
    unit, change = ctx.display.unit(kind), ctx.display.change(kind, canonical)
    digits = 0 if unit.startswith("mg") else 2
    sign = "+" if round(change, digits) > 0.0 else ""
    return with_unit(f"{sign}{plain(ctx.words, change, digits)}", ctx.words.unit(unit))


def _last_read(ctx: PageContext, findings: WaterFindings, kinds: Sequence[str]) -> Iterator[str]:
    for kind in kinds:
        if last := findings.uptake[kind].last_reading:
            day = ctx.say.date(last)
            yield ctx.words("ledger.read_on", quantity=ctx.words(f"quantities.{kind}"), day=day)


def _grounds(ctx: PageContext, balances: Sequence[Balance]) -> Iterator[Ground]:
    """The log lines of each cause; for uptake, also the parts of its uncertainty."""
    causes: tuple[Cause, ...] = (*PAID, "uptake")
    for cause in causes:
        inputs = tuple(dict.fromkeys(source for each in balances for source in each.inputs[cause]))
        if inputs:
            figures = tuple(_balance_parts(ctx, each) for each in balances) if cause == "uptake" else ()
            yield Ground(ctx.words(f"ledger.{cause}"), figures, inputs)


def _balance_parts(ctx: PageContext, found: Balance) -> Parts:
    parts = found.taken_up.parts if isinstance(found.taken_up, Finding) else ()
    return Parts(parts, ctx.say.unit(found.kind), ctx.display.change(found.kind, 1.0))
