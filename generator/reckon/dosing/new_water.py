"""What water changes do for alkalinity: the way down where coral draws too little, a supply where nothing else is."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import ceil, log

import numpy as np

from generator.reckon.dosing.needs import MOST_A_DAY, levels_to_hold
from generator.reckon.dosing.outlook import Outlook
from generator.reckon.dosing.safe import LEAST_DAYS
from generator.reckon.estimate.mixture import Array
from generator.reckon.water.canonical import canonical_value
from generator.records.system import System

KIND = "alkalinity"
# No more of the water at once, nor oftener than once a day. Common practice, no source.
MOST_AT_ONCE = 0.25
# Nobody changes water by the plan less often than so many days. A choice of ours.
RAREST = 14


@dataclass(frozen=True, slots=True)
class WaterChanges:
    """`litres` of a `mix`, one every so many `days`, `times` in all (None: from now on).

    `reaches` is the level after the last of them; where they go on, the lowest there is, and `gives` what they bring a
    day of each kind about its target, in the level's unit; `meets` is false where that is less than what is needed.
    `first` is in how many days the first is due.
    """

    mix: str
    litres: float
    days: int
    times: int | None
    reaches: float
    gives: Mapping[str, float] = field(default_factory=dict)
    meets: bool = True
    first: float = 0.0

    def beyond(self, days: Array) -> tuple[Array, Array]:
        """By how much the level just before and just after a change at some days (T,) is beyond a steady supply's."""
        each, due = self.gives[KIND] * self.days, (days - self.first) / self.days
        before, after = np.maximum(np.ceil(due - 1e-9), 0.0), np.maximum(np.floor(due + 1e-9) + 1.0, 0.0)
        return before * each - self.gives[KIND] * days, after * each - self.gives[KIND] * days


def way_down(system: System, found: Outlook) -> WaterChanges | None:
    """The water changes that bring a level back into its band which coral alone would not within `LEAST_DAYS`.

    Only a level that stands above its band by all that is believed of it. It is brought under the band's top by its
    own interval, or to the middle of the band if that is higher, within the daily cap and `MOST_AT_ONCE`.
    None: no mix at hand is weak enough. Source: conservation of mass, C <- (1 - f) C + f C_mix.
    """
    if found.high is None or not found.is_surely_above:
        return None
    level, excess = found.level, found.level.value - found.high
    if excess <= max(found.per_day.value, 0.0) * LEAST_DAYS:
        return None
    middle = found.high if found.low is None else (found.low + found.high) / 2.0
    goal = max(found.high - (level.value - level.low), middle)
    weak = {id: mix for id, mix in _mixes(system).items() if mix < goal}
    if not weak:
        return None
    id = min(weak, key=lambda each: (weak[each], each))
    most = min(MOST_AT_ONCE, MOST_A_DAY[KIND] / (level.value - weak[id]))
    left = (goal - weak[id]) / (level.value - weak[id])
    times = ceil(log(left) / log(1.0 - most) - 1e-9)
    return WaterChanges(id, (1.0 - left ** (1.0 / times)) * system.water.volume.canonical(), 1, times, goal)


def upkeep(system: System, found: Outlook, target: float, need: float) -> WaterChanges | None:
    """The water changes that bring `need` (meq/L a day) about a target: the rarest whose swing band and cap allow.

    With a share f every n days the level swings by the fall of n days, u n, and is at its lowest, just before a change,
    `reaches` = mix - u n / f. Where even `MOST_AT_ONCE` every day is too little, that is what is told, with
    what it brings and the level it would reach. None: nothing is needed, or no mix is stronger than the target.
    """
    mixes = {id: level for id, level in _mixes(system).items() if level > target}
    if not mixes or need <= 0.0:
        return None
    id = max(mixes, key=lambda each: (mixes[each], each))
    volume, swing = system.water.volume.canonical(), MOST_A_DAY[KIND]
    if found.low is not None and found.high is not None:
        swing = min(swing, (found.high - found.low) / 2.0)
    for days in range(RAREST, 0, -1):
        fall = need * days
        share = fall / (mixes[id] - target + fall / 2.0)
        if fall <= swing and share <= MOST_AT_ONCE:
            gives, lowest = _calcium(system, id, share / days) | {KIND: need}, target - fall / 2.0
            first = max((found.level.value - lowest) / need, 0.0)
            return WaterChanges(id, share * volume, days, None, lowest, gives, first=first)
    gives = _calcium(system, id, MOST_AT_ONCE) | {KIND: MOST_AT_ONCE * (mixes[id] - target)}
    return WaterChanges(id, MOST_AT_ONCE * volume, 1, None, mixes[id] - need / MOST_AT_ONCE, gives, meets=False)


def _calcium(system: System, mix: str, share_a_day: float) -> dict[str, float]:
    """The calcium that so much of a mix a day brings to water at its target, where both are known."""
    level, target = system.mixes[mix].of("calcium"), levels_to_hold(system).get("calcium")
    if level is None or target is None:
        return {}
    return {"calcium": max(share_a_day * (canonical_value(level) - target), 0.0)}


def _mixes(system: System) -> dict[str, float]:
    """The alkalinity of each mix that says it, canonical."""
    return {id: canonical_value(level) for id, mix in system.mixes.items() if (level := mix.of(KIND)) is not None}
