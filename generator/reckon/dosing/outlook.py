"""What is believed of a level, how far it may stray, what that allows; what is needed every day, and for a target."""

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime
from math import hypot, inf, prod

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from generator.reckon.estimate.uncertainty import Array
from generator.reckon.finding import CannotTell, Finding, UncertaintyPart, scaled_parts
from generator.reckon.water.canonical import band, canonical_value
from generator.reckon.water.deliveries import CALCIUM_PER_MEQ, GRAMS_PER_MEQ
from generator.reckon.water.demand_events import PER_MEQ
from generator.reckon.water.findings import Forecast, WaterFindings
from generator.reckon.water.forecast import FAR, days_ahead, renews
from generator.reckon.water.health import measured_with_error
from generator.reckon.water.uptake import interval
from generator.reckon.water.when_to_test import STEADY_INFLOWS, set_last
from generator.records.source import Source
from generator.records.system import System
from generator.units.kinds import KINDS, MEQ_PER_DKH
from generator.units.quantity import Estimate, coverage_factor, sum_of_estimates

# No faster than this a day, up or down, in the canonical unit a litre: 1 dKH of alkalinity, 20 mg/L of
# calcium, 100 mg/L of magnesium. Common practice, no source.
MOST_A_DAY = {"alkalinity": MEQ_PER_DKH, "calcium": 20.0, "magnesium": 100.0}
# What takes a level from the middle of its band to an end in so many days is worth telling of and worth a dose; less is
# not, for by then tests have shown it. Where there is no band, `MOST_A_DAY` in so many days. A choice of ours.
WORTH_DAYS = 30.0
# Calcium that goes with each gram of CaCO3, mg.
CALCIUM_PER_GRAM = CALCIUM_PER_MEQ / GRAMS_PER_MEQ


class Need(Struct, frozen=True):
    """What the corals take of a kind in the whole system, meq or mg a day, and the method that found it."""

    kind: str
    per_day: Estimate
    method: str
    inputs: tuple[Source, ...]
    parts: tuple[UncertaintyPart, ...] = ()


def levels_to_hold(system: System) -> dict[str, float]:
    """The target of each kind that has one or has a band (then its middle), in the canonical unit."""
    found = {}
    for kind in MOST_A_DAY:
        target, (low, high) = system.target.of(kind) if system.target else None, band(system, kind)
        if target is not None:
            found[kind] = canonical_value(target)
        elif low is not None and high is not None:
            found[kind] = (low + high) / 2.0
    return found


def worth_a_dose(system: System) -> dict[str, float]:
    """The least of each kind, meq or mg a day, that is worth a dose, or to be told as missing: see `WORTH_DAYS`."""
    found, litres = {}, system.water.volume.canonical()
    for kind, most in MOST_A_DAY.items():
        low, high = band(system, kind)
        room = most if low is None or high is None else (high - low) / 2.0
        found[kind] = room * litres / WORTH_DAYS
    return found


def demand(water: WaterFindings) -> tuple[Need, ...]:
    """Alkalinity from its own uptake, calcium from the calcification both tell, magnesium where it is clearly taken.

    Calcium's own readings are too coarse to dose by: its demand follows from alkalinity by the proportions of CaCO3.
    Empty where readings do not tell the uptake of alkalinity.
    """
    alkalinity = water.uptake["alkalinity"].amount
    if isinstance(alkalinity, CannotTell):
        return ()
    needs = [Need("alkalinity", alkalinity.estimate, alkalinity.method, alkalinity.inputs, alkalinity.parts)]
    grams = water.calcification.grams_per_day
    if isinstance(grams, Finding):
        calcium = grams.estimate.scaled(CALCIUM_PER_GRAM, "mg/day")
        needs.append(Need("calcium", calcium, grams.method, grams.inputs, scaled_parts(grams.parts, CALCIUM_PER_GRAM)))
    magnesium = water.uptake["magnesium"].amount
    if isinstance(magnesium, Finding) and magnesium.estimate.low > 0.0:
        needs.append(Need("magnesium", magnesium.estimate, magnesium.method, magnesium.inputs, magnesium.parts))
    return tuple(needs)


def as_it_runs(system: System, water: WaterFindings, per_day: Mapping[str, Estimate]) -> tuple[Need, ...]:
    """What runs now in place of a demand that readings do not tell: `per_day` by kind, in the level's unit a day."""
    litres = system.water.volume.canonical()
    inputs = tuple(reading.source for reading, _ in water.readings if reading.kind == "alkalinity")
    units = {kind: f"{KINDS[kind].canonical.removesuffix('/L')}/day" for kind in per_day}
    return tuple(Need(kind, each.scaled(litres, units[kind]), "dosing", inputs) for kind, each in per_day.items())


# What was read no longer ago than so many days stands for the level beside what all readings tell. A choice of ours.
FRESH_DAYS = 1.0
# All readings together tell a level that was just read no better than by so much of one kit's error. An assumption.
SUREST = 0.5
# How much wider the interval is by which plans are trusted (39 in 40) than one of 90 %, of a normal distribution.
WIDER = coverage_factor(FAR) / coverage_factor()


class Outlook(Struct, frozen=True):
    """A kind's level now and uptake a day (canonical unit), and how far the level may stray from its likeliest course.

    `strays` (T, 3): days from now, and how far below and above its course the level's 90 % interval then reaches,
    whatever the dose; `far` (T, 2) the same with odds of 39 in 40. `low` and `high` are the band's ends, `read` is
    what was read last. `told` is false where readings do not tell the uptake
    yet: then it is taken to be what runs now, or anything from nothing to twice that, and what is predicted of corals
    that `came` since that was set. `when_read` is the level as it was at its last reading, by all readings. `brought`
    is what the water changes to come bring a day in the mean (negative: take away); how they come one by one is among
    what strays.
    """

    kind: str
    level: Estimate
    per_day: Estimate
    strays: tuple[tuple[float, float, float], ...]
    far: tuple[tuple[float, float], ...]
    low: float | None
    high: float | None
    read: float
    when_read: Estimate
    told: bool = True
    brought: float = 0.0
    came: Estimate | None = None

    @property
    def standard(self) -> float:
        """The level's standard uncertainty."""
        return self.level.standard

    @property
    def is_above(self) -> bool:
        """Whether the level more likely than not stands above its band, or was read there last."""
        return self.high is not None and max(self.level.value, self.read) > self.high

    @property
    def is_outside(self) -> bool:
        """Whether it stands or was read outside its band."""
        return self.is_above or (self.low is not None and min(self.level.value, self.read) < self.low)

    @property
    def is_surely_above(self) -> bool:
        """Whether the level stands above its band by all that is believed of it."""
        return self.high is not None and self.level.low > self.high

    @property
    def is_surely_outside(self) -> bool:
        """Whether it stands outside its band by all that is believed of it."""
        return self.is_surely_above or (self.low is not None and self.level.high < self.low)

    @property
    def was_surely_outside(self) -> bool:
        """Whether it stood outside its band when it was read last, by all that is believed of that."""
        read = self.when_read
        return (self.high is not None and read.low > self.high) or (self.low is not None and read.high < self.low)

    def moved(self, least: Array, most: Array, error: Array | float = 0.0) -> "Outlook":
        """The same with a level that lies between `least` and `most` beyond the course it has without (T,).

        What moves it does so with a standard deviation `error`.
        """
        half = np.broadcast_to(coverage_factor() * error, least.shape).tolist()
        every = zip(self.strays, self.far, half, least.tolist(), most.tolist(), strict=True)
        strays, far = [], []
        for (day, below, above), (far_below, far_above), each, low, high in every:
            strays.append((day, hypot(below, each) - low, hypot(above, each) + high))
            far.append((hypot(far_below, WIDER * each) - low, hypot(far_above, WIDER * each) + high))
        return replace(self, strays=tuple(strays), far=tuple(far))

    def safe_rate(self, start: float, days: float) -> float:
        """The most to give a day (level's unit) so that from `start` it stays under its band's top for so many days.

        In 19 of 20 futures: the upper end of the level's 90 % interval is what must stay under it.
        """
        if self.high is None:
            return inf
        days_ahead, _, above = zip(*self.strays, strict=True)
        return self.per_day.value + (self.high - start - float(np.interp(days, days_ahead, above))) / days

    def least_rate(self, start: float, days: float) -> float:
        """The least to give a day so that from `start` it stays over its band's low end for so many days, likewise."""
        if self.low is None:
            return -inf
        days_ahead, below, _ = zip(*self.strays, strict=True)
        return self.per_day.value + (self.low - start + float(np.interp(days, days_ahead, below))) / days

    def holds_for(self, start: float, fallen: Callable[[float], float]) -> float:
        """Days for which the level stays in its band with odds of 39 in 40, from `start`, at most the horizon.

        `fallen` tells by how much it is lower after so many days for what is not given of what is taken up.
        """
        margins = self._margins(start, fallen, self.far)
        left = next((i for i, margin in enumerate(margins) if margin < 0.0), len(margins))
        return self.strays[max(left - 1, 0)][0]

    def may_leave(self, start: float, fallen: Callable[[float], float]) -> float:
        """Days after which one in 20 futures has left the band at one of its ends, at most the horizon.

        Where one has already: after which it may be further out by as much as the level is unsure now.
        """
        margins = self._margins(start, fallen, [(below, above) for _, below, above in self.strays])
        if margins[0] < 0.0:
            margins = [each - margins[0] + self.standard for each in margins]
        left = next((i for i, margin in enumerate(margins) if margin < 0.0), None)
        if left is None:
            return self.strays[-1][0]
        (day, *_), (then, *_) = self.strays[max(left - 1, 0)], self.strays[left]
        return day + (then - day) * margins[left - 1] / (margins[left - 1] - margins[left]) if left else 0.0

    def _margins(
        self, start: float, fallen: Callable[[float], float], ends: Sequence[tuple[float, float]]
    ) -> list[float]:
        """How far inside its band the level's interval ends at each of the days that `strays` tells of."""
        low, high = (-inf if self.low is None else self.low), (inf if self.high is None else self.high)
        means = [start - fallen(day) for day, _, _ in self.strays]
        return [min(mean - below - low, high - mean - above) for mean, (below, above) in zip(means, ends, strict=True)]


def outlook(system: System, water: WaterFindings, kind: str) -> Outlook | None:
    """What is believed of a kind by its uptake and its forecast; of alkalinity by its last reading alone, at least.

    What is taken up of calcium is what calcification takes. None: too little is known.
    """
    latest, per_day = water.latest.get(kind), _per_day(system, water, kind)
    # The uncertainty of what is poured by habit does not count: a plan says what to pour.
    forecast = water.if_nothing_given.get(kind) or water.forecasts.get(kind)
    if latest is None:
        return None
    low, high = band(system, kind)
    fresh = latest.age_days <= FRESH_DAYS
    if isinstance(forecast, Forecast) and per_day is not None:
        start, level = forecast.track[0]
        strays = tuple(
            ((at - start).total_seconds() / 86400.0, each.value - each.low, each.high - each.value)
            for at, each in forecast.track
        )
        far = tuple(
            (each.value - below, above - each.value)
            for (_, each), (below, above) in zip(forecast.track, forecast.far or _scaled(forecast), strict=True)
        )
        read = latest.value if fresh else level.value
        found = Outlook(kind, level, per_day, strays, far, low, high, read, _when_read(water, kind, level, per_day))
        return _with_water_changes(system, water, found)
    if kind != "alkalinity":
        return None
    unit, told = KINDS[kind].canonical, per_day is not None
    level = interval(latest.value, measured_with_error(system, latest.reading, latest.value).standard, unit)
    came = None if told else came_since(water, kind)
    if per_day is None:
        runs = max(running(water, kind), 0.0)
        per_day = Estimate(runs, 0.0, max(2.0 * runs, MOST_A_DAY[kind]), f"{unit}/day")
        per_day = sum_of_estimates((per_day, came)) if came else per_day
    half, faster, slower = level.high - level.value, per_day.high - per_day.value, per_day.value - per_day.low
    days = days_ahead()
    since = days + latest.age_days
    strays = tuple(
        (float(day), hypot(half, faster * ago), hypot(half, slower * ago)) for day, ago in zip(days, since, strict=True)
    )
    far = tuple((WIDER * below, WIDER * above) for _, below, above in strays)
    found = Outlook(kind, level, per_day, strays, far, low, high, latest.value, level, told, came=came)
    return _with_water_changes(system, water, found)


def _when_read(water: WaterFindings, kind: str, level: Estimate, per_day: Estimate) -> Estimate:
    """A level as it was when it was read last: less what was given since, and with what was taken up since.

    It was as much surer than now as the demand since is unsure, but no surer than `SUREST` of a kit error. Water that
    was changed since is not counted back.
    """
    latest = water.latest[kind]
    begin, age = latest.reading.at, latest.age_days
    given = 0.0
    for line in water.ledger:
        if line.kind == kind and line.cause in ("dose", *STEADY_INFLOWS) and line.until > begin:
            whole = (line.until - line.at).total_seconds()
            since = (line.until - max(line.at, begin)).total_seconds()
            given += line.change * (since / whole if whole else 1.0)
    sure = max(level.standard - per_day.standard * age, SUREST * water.uptake[kind].kit_error.value)
    return Estimate.normal(level.value - given + per_day.value * age, sure, level.unit)


def brought(system: System, water: WaterFindings, kind: str, level: float) -> float:
    """What water changes by habit bring a day of a kind to water held at a level, in the level's unit."""
    litres = system.water.volume.canonical()
    return sum(habit.per_day / litres * (mix - level) for habit, mix in renews(system, water.changing, kind))


def _with_water_changes(system: System, water: WaterFindings, found: Outlook) -> Outlook:
    """An outlook with the water changes to come: what they bring in the mean, and how far they stray from that."""
    days, litres = np.array([day for day, _, _ in found.strays]), system.water.volume.canonical()
    level = levels_to_hold(system).get(found.kind, found.level.value)
    a_day = brought(system, water, found.kind, level)
    beyond, variance = -a_day * days, np.zeros(len(days))
    for habit, mix in renews(system, water.changing, found.kind):
        each, stray = habit.ahead(water.as_of, days)
        beyond += (mix - level) * each / litres
        variance += ((mix - level) * stray / litres) ** 2
    return replace(found.moved(beyond, beyond, np.sqrt(variance)), brought=a_day)


def _scaled(forecast: Forecast) -> Iterator[tuple[float, float]]:
    """The far ends of a forecast that has a 90 % interval only, by the normal distribution."""
    for _, each in forecast.track:
        yield each.value - WIDER * (each.value - each.low), each.value + WIDER * (each.high - each.value)


def _per_day(system: System, water: WaterFindings, kind: str) -> Estimate | None:
    need = next((need for need in demand(water) if need.kind == kind), None)
    return (
        None
        if need is None
        else need.per_day.scaled(1.0 / system.water.volume.canonical(), f"{KINDS[kind].canonical}/day")
    )


def running(water: WaterFindings, kind: str) -> float:
    """What runs into the water of a kind now by itself, in its canonical unit a day, for the corals that are left."""
    lines = (line for line in water.ledger if line.kind == kind and line.cause in STEADY_INFLOWS)
    return share_left(water, set_last(water, kind)) * sum(
        line.change / ((line.until - line.at).total_seconds() / 86400.0) for line in lines if line.until == water.as_of
    )


def came_since(water: WaterFindings, kind: str) -> Estimate | None:
    """What corals are predicted to take of a kind that came since what supplies it was set, in its unit a day."""
    since, times = set_last(water, kind), PER_MEQ.get(kind)
    steps = [step for at, step in water.came if since is None or at > since]
    return sum_of_estimates(steps).scaled(times, f"{KINDS[kind].canonical}/day") if steps and times else None


def share_left(water: WaterFindings, since: datetime | None) -> float:
    """The share of the corals, by what they cover, that has not gone or been cut away since a moment (0 to 1)."""
    gone: dict[datetime, float] = defaultdict(float)
    for at, share in water.gone:
        if since is None or at > since:
            gone[at] += share / (1.0 - share) if share < 1.0 else inf
    return prod(1.0 / (1.0 + each) for each in gone.values())
