"""Doses without a pump: by hand at the keeper's own rhythm, by a reactor and its setting, and by water changes."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from math import ceil, inf

import numpy as np
from msgspec import Struct, field
from msgspec.structs import replace

from generator.reckon.dosing.outlook import MOST_A_DAY, Need, Outlook, levels_to_hold
from generator.reckon.dosing.phases import Phase
from generator.reckon.dosing.safe import LEAST_DAYS, LONGEST_DAYS, Correction
from generator.reckon.dosing.supplies import BY_SOLUTION, REACTOR, ToMend, last_to_run
from generator.reckon.estimate.uncertainty import Array
from generator.reckon.water.canonical import band, canonical_value
from generator.reckon.water.deliveries import STRENGTH_ERROR, habits, per_litre
from generator.records.log import SystemLog
from generator.records.system import System
from generator.units.quantity import Estimate, coverage_factor

# Effluents told beside the one expected, as shares of how much stronger than the water it is. A choice of ours.
BESIDE = (0.8, 0.9, 1.0, 1.1, 1.2)
# At a lower flow an effluent is at most so many times as much stronger than the water. An assumption of ours.
MOST_STRONGER = 2.0


class ReactorSetting(Struct, frozen=True):
    """Flows in L/day, alkalinities in meq/L.

    `expected` is what the effluent should read once the flow is set, and `settings` pairs what it may read instead
    with the flow that then brings as much.
    """

    flow_now: float
    flow: float
    expected: Estimate
    settings: tuple[tuple[float, float], ...]


def reactor_setting(
    system: System, log: SystemLog, phase: Phase, level: float, as_of: datetime
) -> ReactorSetting | None:
    """The setting that a phase asks for, in water held at a level.

    None where a solution gives what a reactor does not, or its effluent is no stronger than the water. With a higher
    flow than it was measured at the effluent weakens, with a lower one it gets stronger. It stays as strong where the
    chamber holds enough medium and CO2, and brings as much as before where those are what limits it (`MOST_STRONGER`);
    what it should read lies between the two, and the middle is told, never surer than a strength is known. Source:
    conservation of mass; common practice, no source for where between.
    """
    log = log.until(as_of)
    flow = next((dose.rate.estimate.value for dose in phase.doses if dose.supply == REACTOR), 0.0)
    by_solution = any(
        per_litre(system.solutions[dose.supply], "alkalinity") for dose in phase.doses if dose.how in BY_SOLUTION
    )
    if (last := last_to_run(log)) is None or not flow or by_solution:
        return None
    strength = last.alkalinity.canonical()
    if (over := strength - level) <= 0.0:
        return None
    limited = level + over * min(last.flow.canonical() / flow, MOST_STRONGER)
    middle = (strength + limited) / 2.0
    half = max(abs(strength - limited) / 2.0, coverage_factor() * STRENGTH_ERROR * strength)
    settings = tuple((level + share * over, flow / share) for share in BESIDE)
    expected = Estimate(middle, middle - half, middle + half, "meq/L")
    return ReactorSetting(log.effluents[-1].flow.canonical(), flow, expected, settings)


# A solution poured without a rhythm of its own is poured every day. Common practice, no source.
USUAL_DAYS, LONGEST = 1, 14
# Between two pourings a level falls by no more than this share of its band, and no portion raises it by more than that;
# nobody pours more than so many portions a day. Choices of ours.
MOST_FALL, MOST_RISE, MOST_PORTIONS = 0.5, 0.25, 4


class Pouring(Struct, frozen=True):
    """A solution by hand: `litres` on each day of `at`, one every so many `days`, in `portions` over the day."""

    solution: str
    litres: float
    days: int
    at: tuple[datetime, ...]
    portions: int = 1


def pourings(
    system: System, log: SystemLog, phases: Sequence[Phase], as_of: datetime, until: datetime
) -> tuple[Pouring, ...]:
    """The doses by hand of a plan's phases up to a moment, of each solution so given.

    The rhythm is the keeper's, in whole days, but never so rare that a level falls or rises too far
    (`pouring_rhythm`), nor longer than the phase. A phase that begins later than the moment is not told, nor a dose
    that may be nothing.
    """
    usual = {habit.solution: habit for habit in habits(log, as_of)}
    found, start = [], as_of
    for phase in phases:
        end = start + timedelta(days=phase.days) if phase.days else max(until, start + timedelta(days=1))
        poured = {each.supply: each.rate.estimate.value for each in phase.doses if each.how == "hand"}
        for dose in phase.doses:
            rate = dose.rate.estimate.value
            if dose.how == "hand" and dose.rate.estimate.low:
                habit = usual.get(dose.supply)
                usual_days = min(round(habit.days) if habit else USUAL_DAYS, phase.days or LONGEST)
                days, portions = pouring_rhythm(system, _rises_with_others(system, poured, dose.supply), usual_days)
                # What was poured last is there for as long as it takes to be taken up, and no longer than the rhythm.
                lasts = min(days, habit.last_litres / rate) if habit else 0.0
                due = habit.last + timedelta(days=lasts) if habit and start == as_of else start
                found.append(Pouring(dose.supply, rate * days, days, _moments(max(due, start), end, days), portions))
        if end >= until:
            break
        start = end
    return tuple(found)


def until_mended(system: System, phase: Phase, lacking: ToMend) -> Pouring:
    """What a pump to mend does not give of a phase, to pour every day until it is mended."""
    its = (each for each in phase.doses if each.supply == lacking.solution)
    litres = sum(lacking.not_given(each.rate.estimate.value, each.now) for each in its)
    portions = pouring_rhythm(system, rises(system, lacking.solution, litres), USUAL_DAYS)[1]
    return Pouring(lacking.solution, litres, USUAL_DAYS, (), portions)


def _moments(first: datetime, end: datetime, days: int) -> tuple[datetime, ...]:
    each = timedelta(days=days)
    return tuple(first + n * each for n in range(max(ceil((end - first) / each), 1)))


def rises(system: System, solution: str, rate: float) -> dict[str, float]:
    """By how much so many litres a day of a solution raise each level a day."""
    volume = system.water.volume.canonical()
    return {kind: rate * per_litre(system.solutions[solution], kind) / volume for kind in MOST_A_DAY}


def _rises_with_others(system: System, poured: Mapping[str, float], solution: str) -> dict[str, float]:
    """By how much all that is `poured` (L a day) raises a day each level that a solution raises: days may coincide."""
    every = {each: rises(system, each, rate) for each, rate in poured.items()}
    return {kind: sum(each[kind] for each in every.values()) for kind, own in every[solution].items() if own > 0.0}


def pouring_rhythm(system: System, a_day: Mapping[str, float], usual: int) -> tuple[int, int]:
    """Days between pourings, and the portions of each, for what raises levels by so much `a_day`: `usual` at most.

    The rarest by which no level is raised by more than the daily cap, nor falls by more than `MOST_FALL`.
    """
    days, portions = max(usual, 1), 1
    widths = {}
    for kind in a_day:
        low, high = band(system, kind)
        if low is not None and high is not None:
            widths[kind] = high - low
    for kind, rise in a_day.items():
        if rise > 0.0:
            days = min(days, max(int(min(MOST_A_DAY[kind], MOST_FALL * widths.get(kind, inf)) / rise), 1))
    for kind, width in widths.items():
        portions = max(portions, min(ceil(a_day[kind] * days / (MOST_RISE * width) - 1e-9), MOST_PORTIONS))
    return days, portions


def rise_at_once(system: System, kind: str, a_day: float, usual: int) -> float:
    """By how much a portion raises a level of which so much a day is poured."""
    days, portions = pouring_rhythm(system, {kind: a_day}, usual)
    return a_day * days / portions


KIND = "alkalinity"
# The share of the water to change is sought until it is known this well.
_HALVINGS = 40
# Coral that takes up more than this share of the daily cap lets a level down about as fast as may be. A choice of ours.
DRAWS_ENOUGH = 0.5
# At most this share of the water at once, and at most once a day. Common practice, no source.
MOST_AT_ONCE = 0.25
# A smaller share is no change that the next has to wait for. Common practice, no source.
LEAST_CHANGED = 0.05
# Water that is to be changed again and again is so every so many days: the rarest that do. Common practice, no source.
RHYTHMS = (14, 7, 4, 3, 2, 1)


class WaterChanges(Struct, frozen=True):
    """`litres` of a `mix`, one every so many `days`, `times` in all (None: from now on).

    `reaches` is the level after the last of them; where they go on, the lowest there is, and `gives` what they bring a
    day of each kind about its target, in the level's unit. `meets` is false where that is less than what is needed:
    then the level settles at `reaches` or lower. `first` is in how many days the first is due. Those that bring a level
    up `rise`.
    """

    mix: str
    litres: float
    days: int
    times: int | None
    reaches: float
    gives: Mapping[str, float] = field(default_factory=dict)
    meets: bool = True
    first: float = 0.0
    rise: bool = False

    def beyond(self, days: Array) -> tuple[Array, Array]:
        """How far the level just before and after a change is, at some days (T,), from that of a steady supply."""
        each, due = self.gives[KIND] * self.days, (days - self.first) / self.days
        before, after = np.maximum(np.ceil(due - 1e-9), 0.0), np.maximum(np.floor(due + 1e-9) + 1.0, 0.0)
        return before * each - self.gives[KIND] * days, after * each - self.gives[KIND] * days


def next_change(system: System, log: SystemLog, as_of: datetime) -> float:
    """In how many days water may be changed again: a day after the last time that `LEAST_CHANGED` or more was."""
    least = LEAST_CHANGED * system.water.volume.canonical()
    counted = [each.at for each in log.water_changes if each.at <= as_of and each.volume.canonical() >= least]
    return max(1.0 - min(((as_of - at).total_seconds() / 86400.0 for at in counted), default=1.0), 0.0)


def way_down(system: System, found: Outlook, soonest: float = 0.0) -> WaterChanges | None:
    """The water changes that bring a level back into its band which coral alone would not within `LEAST_DAYS`.

    Only a level that stands above its band by all that is believed of it, and did when it was read. It is brought under
    the band's top by its own interval, or to the middle of the band if that is higher, from `soonest` days on. Nothing
    is given meanwhile. That coral alone would do, and how many changes it takes, is told by the low end of what it
    takes up, for a level that stays high does harm; that it falls by no more than the daily cap, by the high end. No
    change is larger than `MOST_AT_ONCE`. None: no mix is weak enough, or coral may take up so much of the cap that it
    takes more than `LONGEST_DAYS`. Source: conservation of mass, C <- (1 - f) C + f C_mix.
    """
    if found.high is None or not (found.is_surely_above and found.was_surely_outside):
        return None
    level, excess, drawn = found.level, found.level.value - found.high, max(found.per_day.low, 0.0)
    room = MOST_A_DAY[KIND] - max(found.per_day.high, 0.0)
    if excess <= drawn * LEAST_DAYS or drawn > DRAWS_ENOUGH * MOST_A_DAY[KIND] or room <= 0.0:
        return None
    middle = found.high if found.low is None else (found.low + found.high) / 2.0
    goal = max(found.high - (level.value - level.low), middle)
    weak = {id: mix for id, mix in _mixes(system).items() if mix < goal}
    if not weak:
        return None
    id = min(weak, key=lambda each: (weak[each], each))
    most = min(MOST_AT_ONCE, room / (level.value - soonest * drawn - weak[id]))
    return _daily(system, id, weak[id], found, drawn, goal, most, soonest)


def way_up(system: System, found: Outlook, target: float, soonest: float = 0.0) -> WaterChanges | None:
    """The water changes that bring a level up into its band, where nothing that is dosed does.

    Only a level that stands below its band by all that is believed of it, and did when it was read. It is brought over
    the band's low end by its own interval, or to its target if that is lower, from `soonest` days on: how many changes
    that takes is told by what coral likely takes up. No change raises the level by more than the daily cap, even if
    coral takes up the high end until the first, or is larger than `MOST_AT_ONCE`. None: no mix is strong enough, or it
    takes more than `LONGEST_DAYS`.
    """
    level, drawn = found.level, max(found.per_day.value, 0.0)
    if found.low is None or not (level.high < found.low and found.was_surely_outside):
        return None
    goal = min(found.low + (level.high - level.value), target)
    strong = {id: mix for id, mix in _mixes(system).items() if mix > goal}
    if not strong:
        return None
    id = max(strong, key=lambda each: (strong[each], each))
    lowest = level.value - soonest * max(found.per_day.high, 0.0)
    most = min(MOST_AT_ONCE, MOST_A_DAY[KIND] / (strong[id] - lowest))
    return _daily(system, id, strong[id], found, drawn, goal, most, soonest)


def _daily(
    system: System, id: str, mix: float, found: Outlook, drawn: float, goal: float, most: float, soonest: float
) -> WaterChanges | None:
    """The fewest daily changes with a mix, of at most so large a share, that bring a level to a goal, and no more."""
    start, rise = found.level.value - soonest * drawn, goal > found.level.value

    def gets_there(share: float, times: int) -> bool:
        reached = _changed(start, mix, share, times, drawn)
        return reached >= goal - 1e-9 if rise else reached <= goal + 1e-9

    times = next((n for n in range(1, LONGEST_DAYS + 1) if gets_there(most, n)), None)
    if times is None:
        return None
    less, more = 0.0, most
    for _ in range(_HALVINGS):
        share = (less + more) / 2.0
        less, more = (less, share) if gets_there(share, times) else (share, more)
    return WaterChanges(id, more * system.water.volume.canonical(), 1, times, goal, first=soonest, rise=rise)


def with_water(to_correct: Iterable[Correction], level: Estimate, down: WaterChanges | None) -> tuple[Correction, ...]:
    """The corrections, with a way down that water changes make in as many days, in place of one by doses."""
    if down is None:
        return tuple(to_correct)
    reaches = down.reaches
    change = replace(level, value=reaches - level.value, low=reaches - level.high, high=reaches - level.low)
    by_water = Correction(KIND, change, reaches, down.times or 1)
    return by_water, *(each for each in to_correct if each.kind != KIND)


def to_dose_for(
    to_correct: Sequence[Correction], down: WaterChanges | None, to_dose: Sequence[Need], volume: float
) -> tuple[Correction, ...]:
    """The corrections as far as doses make them: where water changes do, nothing of the whole demand is dosed then."""
    if down is None:
        return tuple(to_correct)
    by_water, *others = to_correct
    a_day = sum(need.per_day.high for need in to_dose if need.kind == by_water.kind) / volume
    return replace(by_water, change=replace(by_water.change, value=-a_day * by_water.days)), *others


def _changed(level: float, mix: float, share: float, times: int, drawn: float) -> float:
    """A level after so many daily changes of a share of the water, of which coral takes up so much a day."""
    for each in range(times):
        level = (1.0 - share) * (level - (drawn if each else 0.0)) + share * mix
    return level


def upkeep(system: System, found: Outlook, target: float, need: float, soonest: float = 0.0) -> WaterChanges | None:
    """The water changes that bring `need` (meq/L a day) about a target: the rarest whose swing band and cap allow.

    With a share f every n days the level swings by the fall of n days, u n, and is at its lowest, just before a change,
    `reaches` = mix - u n / f. They begin when it is down there, no sooner than in `soonest` days. Where even the most
    that may be changed every day is too little, that is what is told, with what it brings and the level that it would
    reach, but no lower than the band's low end (or the target less a `swing`): how coral takes up alkalinity further
    down nobody knows. It begins at the target. None: nothing is needed, or no mix is stronger than the target.
    """
    mixes = {id: level for id, level in _mixes(system).items() if level > target}
    if not mixes or need <= 0.0:
        return None
    id = max(mixes, key=lambda each: (mixes[each], each))
    volume, swing = system.water.volume.canonical(), MOST_A_DAY[KIND]
    if found.low is not None and found.high is not None:
        swing = min(swing, (found.high - found.low) / 2.0)
    for days in RHYTHMS:
        fall = need * days
        share = fall / (mixes[id] - target + fall / 2.0)
        if fall <= swing and share <= MOST_AT_ONCE:
            gives, lowest = _calcium(system, id, share / days) | {KIND: need}, target - fall / 2.0
            first = max((found.level.value - lowest) / need, soonest)
            return WaterChanges(id, share * volume, days, None, lowest, gives, first=first)
    most = min(MOST_AT_ONCE, swing / (mixes[id] - target))
    gives = _calcium(system, id, most) | {KIND: most * (mixes[id] - target)}
    first = max((found.level.value - target) / need, soonest)
    known = target - swing if found.low is None else min(found.low, target)
    reaches = max(mixes[id] - need / most, known, 0.0)
    return WaterChanges(id, most * volume, 1, None, reaches, gives, meets=False, first=first)


def _calcium(system: System, mix: str, share_a_day: float) -> dict[str, float]:
    """Calcium (level's unit a day) from so much of a mix a day in water at its target, where both are known."""
    level, target = system.mixes[mix].of("calcium"), levels_to_hold(system).get("calcium")
    if level is None or target is None:
        return {}
    return {"calcium": max(share_a_day * (canonical_value(level) - target), 0.0)}


def _mixes(system: System) -> dict[str, float]:
    """The alkalinity of each mix that says it, canonical."""
    return {id: canonical_value(level) for id, mix in system.mixes.items() if (level := mix.of(KIND)) is not None}
