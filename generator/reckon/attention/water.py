"""Readings, bands, forecasts, uptake and trends that need the keeper."""

from collections.abc import Iterator
from datetime import datetime, timedelta, tzinfo

from generator.reckon.attention.alert import Alert, alert
from generator.reckon.dosing.outlook import FRESH_DAYS
from generator.reckon.dosing.plan import Plan
from generator.reckon.finding import Finding
from generator.reckon.water.canonical import canonical_value
from generator.reckon.water.deliveries import per_litre
from generator.reckon.water.findings import Forecast, Latest, Trend, Uptake, WaterFindings
from generator.reckon.water.when_to_test import STEADY_INFLOWS, beyond_band, is_old, rhythm, set_last
from generator.records.system import System
from generator.units.quantity import Estimate, Quantity

# When an alert is worth the keeper's time; our own choices, the same for every system.
LEAVES_WITHIN = timedelta(days=7)
TREND_LEAVES_WITHIN_DAYS = 30.0
DOUBTFUL_FOR = timedelta(days=10)
# Explanations call for a person where one of them is likelier than none.
EXPLAINED = 0.5
# A pump is said to wear where that is likelier than this: of good pumps fewer than one in 100 months.
WORN_FROM = 0.8
SHIFT_FOR = timedelta(days=30)
DEMAND_LOOKS_BACK = timedelta(days=30)
DEMAND_CHANGED_BY = 0.25
SUPPLIES = ("dose", *STEADY_INFLOWS)
UNEXPLAINED_SHARE = 0.1
# What a solution is dosed for: the first of these that it contains.
DOSED_FOR = ("alkalinity", "calcium", "magnesium")


def of_water(system: System, water: WaterFindings, as_of: datetime, zone: tzinfo) -> Iterator[Alert]:
    """The alerts of a water's readings, bands, forecasts, uptake and trends."""
    for latest in water.latest.values():
        yield from _out_of_band(system, water, latest)
        yield from _too_old(water, latest)
    for forecast in water.forecasts.values():
        if isinstance(forecast, Forecast) and (last := water.latest.get(forecast.kind)):
            yield from _leaving(water, forecast, last, as_of, zone)
    for uptake in water.uptake.values():
        yield from _doubtful(water, uptake, as_of)
        yield from _two_explanations(water, uptake, as_of)
        yield from _uptake_changed(system, water, uptake, as_of, zone)
    for trend in water.trends.values():
        yield from _trend(water, trend)
    yield from _unexplained(water, as_of)
    yield from _missed_doses(system, water, zone)


def _out_of_band(system: System, water: WaterFindings, latest: Latest) -> Iterator[Alert]:
    """The last reading beyond an end of its band: how far, with the error of its kit."""
    reading, beyond = latest.reading, beyond_band(system, latest)
    if beyond is None:
        return
    # Near the end of the band readings scatter around it: less than a tenth of its width is the same alert.
    width = latest.high - latest.low if latest.low is not None and latest.high is not None else 0.0
    yield alert(
        "out-of-band",
        water,
        reading.kind,
        f"{latest.standing}-{_outside_since(water, latest):%Y-%m-%d}",
        beyond,
        (reading.source,),
        max(abs(beyond.value), 0.1 * width),
        side=latest.standing,
        at=reading.at,
    )


def _outside_since(water: WaterFindings, latest: Latest) -> datetime:
    """The first of the unbroken run of readings beyond the same end of the band, up to the last reading."""
    doubtful = {doubt.reading for uptake in water.uptake.values() for doubt in uptake.doubtful}
    since = latest.reading.at
    for reading, value in reversed(water.readings):
        if reading.kind == latest.reading.kind and reading not in doubtful:
            low = latest.low is not None and value < latest.low
            high = latest.high is not None and value > latest.high
            if not (low if latest.standing == "low" else high):
                break
            since = reading.at
    return since


def _too_old(water: WaterFindings, latest: Latest) -> Iterator[Alert]:
    """A quantity with a band that was last read too long ago to tell how the water is today."""
    if is_old(latest):
        yield alert(
            "no-reading",
            water,
            latest.reading.kind,
            f"{latest.reading.at:%Y-%m-%d}",
            None,
            (latest.reading.source,),
            days=round(latest.age_days),
            usual=round(rhythm(latest.reading.kind).calm),
            at=latest.reading.at,
        )


def _leaving(
    water: WaterFindings, forecast: Forecast, latest: Latest, as_of: datetime, zone: tzinfo
) -> Iterator[Alert]:
    """A level that will leave its band soon. A new setting of a pump or reactor makes it a new alert.

    No earliest day where a test of the last day found it so near an end that it cannot tell on which side it stands.
    """
    soon = forecast.likely is not None and forecast.likely - as_of <= LEAVES_WITHIN
    uptake = water.uptake[forecast.kind].per_day
    if soon and forecast.likely and forecast.leaves and latest.standing == "within" and isinstance(uptake, Finding):
        running = set_last(water, forecast.kind)
        earliest = forecast.earliest or forecast.likely
        cannot_tell = latest.age_days <= FRESH_DAYS and earliest <= as_of
        yield alert(
            "leaving-band",
            water,
            forecast.kind,
            f"{forecast.leaves}-{running:%Y-%m-%d}" if running else forecast.leaves,
            uptake.estimate,
            uptake.inputs,
            _change_per_day(forecast),
            side=forecast.leaves,
            likely=forecast.likely.astimezone(zone).date(),
            earliest=None if cannot_tell else earliest.astimezone(zone).date(),
        )


def _change_per_day(forecast: Forecast) -> float:
    if len(forecast.track) < 2:
        return 0.0
    (first, level), (last, then) = forecast.track[0], forecast.track[-1]
    return abs(then.value - level.value) / ((last - first).total_seconds() / 86400.0)


def _doubtful(water: WaterFindings, uptake: Uptake, as_of: datetime) -> Iterator[Alert]:
    """Readings that do not fit, until one that fits answers the question."""
    open_ = {story.before for story in uptake.stories if story.kind == "wrong-reading"}
    doubtful = {doubt.reading for doubt in uptake.doubtful}
    answered = max(
        (each.at for each, _ in water.readings if each.kind == uptake.kind and each not in doubtful), default=None
    )
    for doubt in uptake.doubtful:
        at = doubt.reading.at
        if at >= as_of - DOUBTFUL_FOR and at not in open_ and (answered is None or answered < at):
            yield alert(
                "doubtful-reading",
                water,
                uptake.kind,
                f"{doubt.reading.at:%Y-%m-%d-%H%M}",
                doubt.expected,
                (doubt.reading.source,),
                at=doubt.reading.at,
            )


def _two_explanations(water: WaterFindings, uptake: Uptake, as_of: datetime) -> Iterator[Alert]:
    """What was read lately and can be explained in more than one way, none of which is as good as sure."""
    if sum(story.odds for story in uptake.stories) < EXPLAINED or uptake.stories[0].kind == "worn-pump":
        return
    if (latest := max(story.before for story in uptake.stories)) >= as_of - DOUBTFUL_FOR:
        likeliest = uptake.stories[0]
        yield alert(
            "two-explanations",
            water,
            uptake.kind,
            f"{latest:%Y-%m-%d-%H%M}",
            likeliest.size if likeliest.kind not in ("wrong-reading", "stop") else None,
            tuple(dict.fromkeys(source for story in uptake.stories for source in story.inputs)),
        )


def _uptake_changed(
    system: System, water: WaterFindings, uptake: Uptake, as_of: datetime, zone: tzinfo
) -> Iterator[Alert]:
    """Uptake now and a month ago, if it changed by the system's smallest change, or by a quarter."""
    changed = uptake_change(uptake, as_of)
    now = uptake.per_day
    if changed is None or not isinstance(now, Finding):
        return
    before, size = changed
    change = size.value
    declared = system.smallest_change.of(uptake.kind) if system.smallest_change else None
    matters = canonical_value(declared) if declared else DEMAND_CHANGED_BY * abs(now.estimate.value - change)
    if size.is_clear and abs(change) > matters:
        side, told = ("more", "rose") if change > 0 else ("less", "fell")
        yield alert(
            "uptake-changed",
            water,
            uptake.kind,
            side,
            size,
            now.inputs,
            abs(change),
            before,
            since=before.astimezone(zone).date(),
            side=side if is_dosed(water, uptake.kind, as_of) else told,
        )


def is_dosed(water: WaterFindings, kind: str, as_of: datetime) -> bool:
    """Whether the log tells of anything that brought a kind lately."""
    lines = (line for line in water.ledger if line.kind == kind and line.cause in SUPPLIES)
    return any(line.until >= as_of - DEMAND_LOOKS_BACK for line in lines)


def uptake_change(
    uptake: Uptake, as_of: datetime, back: timedelta = DEMAND_LOOKS_BACK
) -> tuple[datetime, Estimate] | None:
    """Since when, about so far back, uptake changed by how much a day; None if it was not known then or is not now.

    Neighbouring estimates err in the same direction, so the interval is too wide rather than too narrow.
    """
    now = uptake.per_day
    before = [point for point in uptake.track if point.at <= as_of - back]
    if not isinstance(now, Finding) or not before:
        return None
    then = before[-1].per_day
    change = now.estimate.value - then.value
    half = ((now.estimate.high - now.estimate.low) ** 2 + (then.high - then.low) ** 2) ** 0.5 / 2.0
    return before[-1].at, Estimate(change, change - half, change + half, now.estimate.unit)


def _trend(water: WaterFindings, trend: Trend) -> Iterator[Alert]:
    latest = water.latest.get(trend.kind)
    if not isinstance(trend.per_day, Finding) or latest is None or latest.standing != "within":
        return
    slope = trend.per_day.estimate
    end = latest.high if slope.value > 0 else latest.low
    if end is None or not slope.is_clear:
        return
    side = "high" if slope.value > 0 else "low"
    days = (end - latest.value) / slope.value
    if days <= TREND_LEAVES_WITHIN_DAYS:
        yield alert(
            "trend", water, trend.kind, side, slope, trend.per_day.inputs, abs(slope.value), side=side, days=round(days)
        )


def _unexplained(water: WaterFindings, as_of: datetime) -> Iterator[Alert]:
    found = water.calcification
    for shift in found.shifts:
        if shift.before >= as_of - SHIFT_FOR:
            yield alert(
                "unexplained-shift",
                water,
                "alkalinity",
                f"{shift.before:%Y-%m-%d}",
                shift.size,
                shift.inputs,
                abs(shift.size.value),
                after=shift.after,
                before=shift.before,
                side="more" if shift.size.value > 0 else "less",
            )
    for pump in found.pumps:
        if pump.odds >= WORN_FROM:
            yield alert(
                "pump-gives-less",
                water,
                pump.kind,
                pump.solution,
                pump.lacks.scaled(100.0, "%"),
                pump.inputs,
                pump.lacks.value,
                solution=pump.solution,
                odds=min(round(100.0 * pump.odds), 99),
            )
    uptake = water.uptake["alkalinity"].per_day
    if isinstance(found.unexplained, Finding) and isinstance(uptake, Finding):
        part = found.unexplained.estimate
        if part.is_clear and abs(part.value) > UNEXPLAINED_SHARE * abs(uptake.estimate.value):
            side = "more" if part.value > 0 else "less"
            inputs = found.unexplained.inputs
            yield alert("unexplained-uptake", water, "alkalinity", side, part, inputs, abs(part.value), side=side)


def of_pumps(system: System, water: WaterFindings, plan: Plan) -> Iterator[Alert]:
    """A pump that was measured to give far less than it is set to, so that the plan does not make up for it."""
    for each in plan.to_mend:
        gives = [kind for kind in DOSED_FOR if per_litre(system.solutions[each.solution], kind)]
        yield alert(
            "pump-to-mend",
            water,
            gives[0] if gives else "alkalinity",
            f"{each.solution}-{each.gave.at:%Y-%m-%d}",
            None,
            (each.gave.source,),
            solution=each.solution,
            gave=each.gave.rate,
            set_to=each.set_to,
            at=each.gave.at,
        )


def _missed_doses(system: System, water: WaterFindings, zone: tzinfo) -> Iterator[Alert]:
    """A dose by hand that is late beyond its habit, with the line of the last one."""
    for habit in water.habits:
        gives = [kind for kind in DOSED_FOR if per_litre(system.solutions[habit.solution], kind)]
        if gives and habit.is_missed(water.as_of):
            yield alert(
                "missed-dose",
                water,
                gives[0],
                f"{habit.solution}-{habit.last:%Y-%m-%d}",
                None,
                (habit.line,),
                solution=habit.solution,
                amount=Quantity(1000.0 * habit.litres, "mL", "volume"),
                since=(habit.last + timedelta(days=habit.days)).astimezone(zone).date(),
                at=habit.last,
            )
