"""What calls for a person today, and why."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from statistics import median
from typing import Literal

from generator.reckon.finding import Finding
from generator.reckon.water.findings import Forecast, Latest, Trend, Uptake, WaterFindings
from generator.records.journal import Journal
from generator.records.source import Source
from generator.units.quantity import Estimate

ItemKind = Literal[
    "out-of-band",
    "leaving-band",
    "doubtful-reading",
    "unexplained-shift",
    "unexplained-uptake",
    "no-reading",
    "trend",
    "demand-changed",
]

# When a matter is worth a person's time; choices of ours, the same for every system.
LEAVES_WITHIN = timedelta(days=7)
TREND_LEAVES_WITHIN_DAYS = 30.0
DOUBTFUL_FOR = timedelta(days=10)
SHIFT_FOR = timedelta(days=30)
DEMAND_LOOKS_BACK = timedelta(days=30)
DEMAND_CHANGED_BY = 0.25
UNEXPLAINED_SHARE = 0.1
# A quantity is overdue when it was not read for so many of its usual gaps, and for so many days at least.
OVERDUE_GAPS = 3.0
OVERDUE_DAYS = 7.0
# What is at stake, highest first; alkalinity moves fastest and harms soonest (common practice, no source).
STAKES: dict[ItemKind, float] = {
    "out-of-band": 8,
    "leaving-band": 7,
    "demand-changed": 6,
    "unexplained-shift": 5,
    "unexplained-uptake": 4,
    "doubtful-reading": 3,
    "trend": 2,
    "no-reading": 1,
}
WEIGHTS = {"alkalinity": 0.9, "salinity": 0.8, "temperature": 0.7, "calcium": 0.5}


@dataclass(frozen=True, slots=True)
class Item:
    """One thing for the day's page. `id` stays while the matter is the same, so that it can be dismissed.

    `size` is the number behind it, in the quantity's canonical unit (or per day); `numbers` fill its
    words: dates in ISO form, counts, which side of the band.
    """

    id: str
    kind: ItemKind
    system: str
    quantity: str
    stake: float
    size: Estimate | None
    numbers: tuple[tuple[str, str], ...] = ()
    inputs: tuple[Source, ...] = ()


def items(journal: Journal, findings: Mapping[str, WaterFindings], as_of: datetime) -> tuple[Item, ...]:
    """What calls for a person in any system, most at stake first; what the log dismisses is left out."""
    found: list[Item] = []
    for system, water in sorted(findings.items()):
        dismissed = {d.item for d in journal.log_of(system).dismissals if d.at <= as_of}
        found += [item for item in _of_system(water, as_of) if item.id not in dismissed]
    return tuple(sorted(found, key=lambda item: (-item.stake, item.id)))


def _of_system(water: WaterFindings, as_of: datetime) -> Iterator[Item]:
    for latest in water.latest.values():
        yield from _out_of_band(water, latest)
        yield from _overdue(water, latest)
    for forecast in water.forecasts.values():
        if isinstance(forecast, Forecast) and (last := water.latest.get(forecast.kind)):
            yield from _leaving(water, forecast, last, as_of)
    for uptake in water.uptake.values():
        yield from _doubtful(water, uptake, as_of)
        yield from _demand_changed(water, uptake, as_of)
    for trend in water.trends.values():
        yield from _trend(water, trend)
    yield from _unexplained(water, as_of)


def _item(
    kind: ItemKind,
    water: WaterFindings,
    quantity: str,
    mark: str,
    size: Estimate | None,
    inputs: tuple[Source, ...],
    **numbers: str,
) -> Item:
    stake = STAKES[kind] + WEIGHTS.get(quantity, 0.0)
    return Item(
        f"{kind}/{water.system}/{quantity}/{mark}",
        kind,
        water.system,
        quantity,
        stake,
        size,
        tuple(sorted(numbers.items())),
        inputs,
    )


def _out_of_band(water: WaterFindings, latest: Latest) -> Iterator[Item]:
    if latest.standing in ("low", "high") and not latest.doubtful:
        reading = latest.reading
        size = Estimate(latest.value, latest.value, latest.value, reading.value.unit, 0.0)
        yield _item(
            "out-of-band",
            water,
            reading.kind,
            f"{reading.at:%Y-%m-%d}",
            size,
            (reading.source,),
            side=latest.standing,
            at=reading.at.isoformat(),
        )


def _overdue(water: WaterFindings, latest: Latest) -> Iterator[Item]:
    at = [reading.at for reading, _ in water.readings if reading.kind == latest.reading.kind]
    gaps = [(later - earlier).total_seconds() / 86400 for earlier, later in pairwise(at)]
    if len(gaps) >= 3 and latest.age_days > max(OVERDUE_DAYS, OVERDUE_GAPS * median(gaps)):
        yield _item(
            "no-reading",
            water,
            latest.reading.kind,
            f"{at[-1]:%Y-%m-%d}",
            None,
            (latest.reading.source,),
            days=f"{latest.age_days:.0f}",
            usual=f"{median(gaps):.0f}",
            at=at[-1].isoformat(),
        )


def _leaving(water: WaterFindings, forecast: Forecast, latest: Latest, as_of: datetime) -> Iterator[Item]:
    soon = forecast.likely is not None and forecast.likely - as_of <= LEAVES_WITHIN
    uptake = water.uptake[forecast.kind].per_day
    if soon and forecast.likely and forecast.leaves and latest.standing == "within" and isinstance(uptake, Finding):
        earliest = (forecast.earliest or forecast.likely).isoformat()
        yield _item(
            "leaving-band",
            water,
            forecast.kind,
            forecast.leaves,
            uptake.estimate,
            uptake.inputs,
            side=forecast.leaves,
            likely=forecast.likely.isoformat(),
            earliest=earliest,
            latest=forecast.latest.isoformat() if forecast.latest else "",
        )


def _doubtful(water: WaterFindings, uptake: Uptake, as_of: datetime) -> Iterator[Item]:
    for doubt in uptake.doubtful:
        if doubt.reading.at >= as_of - DOUBTFUL_FOR:
            yield _item(
                "doubtful-reading",
                water,
                uptake.kind,
                f"{doubt.reading.at:%Y-%m-%d}",
                doubt.expected,
                (doubt.reading.source,),
                at=doubt.reading.at.isoformat(),
                value=str(doubt.value),
                surprise=f"{abs(doubt.surprise):.1f}",
            )


def _demand_changed(water: WaterFindings, uptake: Uptake, as_of: datetime) -> Iterator[Item]:
    """Uptake now against a month ago. Neighbouring estimates lean the same way, so this errs towards silence."""
    now = uptake.per_day
    before = [point for point in uptake.track if point.at <= as_of - DEMAND_LOOKS_BACK]
    if not isinstance(now, Finding) or not before:
        return
    then = before[-1].per_day
    change = now.estimate.value - then.value
    half = ((now.estimate.high - now.estimate.low) ** 2 + (then.high - then.low) ** 2) ** 0.5 / 2.0
    if abs(change) > half and abs(change) > DEMAND_CHANGED_BY * abs(then.value):
        size = Estimate(change, change - half, change + half, now.estimate.unit)
        yield _item(
            "demand-changed",
            water,
            uptake.kind,
            f"{before[-1].at:%Y-%m}",
            size,
            now.inputs,
            since=before[-1].at.isoformat(),
            side="more" if change > 0 else "less",
        )


def _trend(water: WaterFindings, trend: Trend) -> Iterator[Item]:
    latest = water.latest.get(trend.kind)
    if not isinstance(trend.per_day, Finding) or latest is None or latest.standing != "within":
        return
    slope = trend.per_day.estimate
    end = latest.high if slope.value > 0 else latest.low
    if end is None or slope.low <= 0.0 <= slope.high:
        return
    days = (end - latest.value) / slope.value
    if days <= TREND_LEAVES_WITHIN_DAYS:
        yield _item(
            "trend",
            water,
            trend.kind,
            "high" if slope.value > 0 else "low",
            slope,
            trend.per_day.inputs,
            side="high" if slope.value > 0 else "low",
            days=f"{days:.0f}",
        )


def _unexplained(water: WaterFindings, as_of: datetime) -> Iterator[Item]:
    found = water.calcification
    for shift in found.shifts:
        if shift.before >= as_of - SHIFT_FOR:
            yield _item(
                "unexplained-shift",
                water,
                "alkalinity",
                f"{shift.before:%Y-%m-%d}",
                shift.size,
                shift.inputs,
                after=shift.after.isoformat(),
                before=shift.before.isoformat(),
                side="more" if shift.size.value > 0 else "less",
            )
    uptake = water.uptake["alkalinity"].per_day
    if isinstance(found.unexplained, Finding) and isinstance(uptake, Finding):
        part = found.unexplained.estimate
        if not part.low <= 0.0 <= part.high and abs(part.value) > UNEXPLAINED_SHARE * abs(uptake.estimate.value):
            yield _item(
                "unexplained-uptake",
                water,
                "alkalinity",
                f"{as_of:%Y-%m}",
                part,
                found.unexplained.inputs,
                side="more" if part.value > 0 else "less",
            )
