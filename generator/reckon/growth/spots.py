"""Spots in a place: where a colony would stand wholly inside it, in the light, under water, clear of what is there."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import hypot, sqrt

import numpy as np
from numpy.typing import NDArray

from generator.reckon.growth.light import daily_light
from generator.reckon.growth.room import Standing, safe_distance
from generator.records.system import Flow, Place, System
from generator.units.quantity import Quantity

Array = NDArray[np.float64]

# A spot is tried at every so many cm.
_STEP = 2.0
# For so long nothing there touches a neighbour or grows over the edge of its place: a month before an alert looks three
# months ahead. A choice of ours.
ROOM_FOR = timedelta(days=121)
# Positions are told to a cm and put so, and sizes are written to a mm. What rounding takes from a gap, cm.
_ROUNDING = 0.6


@dataclass(frozen=True, slots=True)
class Wish:
    """A colony that seeks a place: measures in cm, light in PAR, flow (None: any), and the gap it needs (cm).

    A height of None is not known. Neighbours of its own `line` may touch it. Its radius grows by `rate` cm a day. More
    light a day than `most_daily` (mol/m²/day; None: any) it would have to get used to in steps.
    """

    length: float
    width: float
    height: float | None = None
    light_low: float | None = None
    light_high: float | None = None
    flow: Flow | None = None
    safe: float = 0.0
    line: str = ""
    rate: float = 0.0
    most_daily: float | None = None

    @property
    def radius(self) -> float:
        """Its radius (cm) seen from above, today."""
        return sqrt(self.length * self.width) / 2.0

    @property
    def grown(self) -> float:
        """Its radius (cm) at the end of `ROOM_FOR`."""
        return self.radius + max(0.0, self.rate) * ROOM_FOR.days


@dataclass(frozen=True, slots=True)
class Spot:
    """A spot in a place: centre in cm from its part's front left corner; `turned`: its length runs front to back."""

    system: str
    part: str | None
    place: str
    x: float
    y: float
    turned: bool


def light_of(place: Place) -> tuple[float, float] | None:
    """The least and the most light of a place, PAR; None where it is not written."""
    ends = [light.canonical() for light in (place.light, place.light_to) if light is not None]
    return (min(ends), max(ends)) if ends else None


def light_off(wish: Wish, light: tuple[float, float]) -> float:
    """By how much PAR the place's range misses the range wished for: 0 where they overlap."""
    if wish.light_low is not None and light[1] < wish.light_low:
        return light[1] - wish.light_low
    if wish.light_high is not None and light[0] > wish.light_high:
        return light[0] - wish.light_high
    return 0.0


def too_bright(wish: Wish, system: System, place: Place) -> bool:
    """Whether a place has more light a day than the colony takes without steps."""
    light = light_of(place)
    if wish.most_daily is None or light is None or system.photoperiod is None:
        return False
    return daily_light(sum(light) / 2.0, system.photoperiod.canonical()) > wish.most_daily


def too_tall(wish: Wish, system: System, place: Place) -> float | None:
    """By how many cm the colony would stand out of its part at a place; None where a height is not written.

    A place without a height stands on the bottom. Water ends below the rim, so this is the least of it.
    """
    parts = [
        part for part in system.parts if part.name == place.part or (place.part is None and len(system.parts) == 1)
    ]
    if wish.height is None or not parts or (rim := parts[0].height) is None:
        return None
    stands_on = place.height.canonical() if place.height else 0.0
    return max(0.0, stands_on + wish.height - rim.canonical())


def spots(wish: Wish, place: Place) -> Iterator[tuple[bool, Array, Array]]:
    """The middles (x and y, cm) at which the colony stands wholly inside a place, first unturned, then turned.

    It stays inside as it grows for `ROOM_FOR`.
    """
    left, front = place.x.canonical(), place.y.canonical()
    width, depth = place.width.canonical(), place.depth.canonical()
    for turned in (False, True) if wish.length != wish.width else (False,):
        across, along = (wish.width, wish.length) if turned else (wish.length, wish.width)
        dx, dy = (
            _grid(keep, room - keep)
            for side, room in ((across, width), (along, depth))
            for keep in (max(side / 2.0, wish.grown + _ROUNDING),)
        )
        if len(dx) and len(dy):
            x, y = np.meshgrid(left + dx, front + dy, indexing="ij")
            yield turned, x.ravel(), y.ravel()


def _grid(first: float, last: float) -> Array:
    if last < first - 1e-9:
        return np.empty(0)
    steps = int((last - first) / _STEP + 1e-9)
    found = [first + step * _STEP for step in range(steps + 1)]
    return np.array(found if last - found[-1] < 1e-9 else [*found, last])


def clashes(x: Array, y: Array, near: Sequence[tuple[Standing, float]]) -> NDArray[np.bool_]:
    """For each spot (row) and each coral (column), whether the colony would come too near to it."""
    other = np.array([(each.x, each.y, reach) for each, reach in near]).reshape(-1, 3)
    near_by: NDArray[np.bool_] = np.hypot(x[:, None] - other[:, 0], y[:, None] - other[:, 1]) < other[:, 2]
    return near_by


def keep_off(
    wish: Wish, place: Place, here: Iterable[Standing], own: Mapping[str, Quantity], today: date
) -> list[tuple[Standing, float]]:
    """The corals in reach of a place whose spot is known, each with how far (cm) the wish's centre must keep off.

    The gap is kept today, and neither touches the other as both grow for `ROOM_FOR`.
    """
    left, front = place.x.canonical(), place.y.canonical()
    right, back = left + place.width.canonical(), front + place.depth.canonical()
    found = []
    for each in here:
        if each.known and each.part == place.part and not _one_above_the_other(wish, place, each):
            kin = wish.line != "" and wish.line == each.coral.line
            gap = 0.0 if kin else max(wish.safe, safe_distance(each.coral, own).cm) + 2.0 * _ROUNDING
            reach = wish.radius + each.spread.reach(today)[0] + gap
            if not kin:
                reach = max(reach, wish.grown + each.spread.reach(today + ROOM_FOR)[0] + 2.0 * _ROUNDING)
            if left - reach < each.x < right + reach and front - reach < each.y < back + reach:
                found.append((each, reach))
    return found


def _one_above_the_other(wish: Wish, place: Place, other: Standing) -> bool:
    """Whether the lower of the two ends below the place of the upper; within a place they stand side by side."""
    level = place.height.canonical() if place.height else None
    if level is None or other.level is None or level == other.level:
        return False
    tall = wish.height if level < other.level else other.spread.body.height
    return tall is not None and min(level, other.level) + tall <= max(level, other.level)


def crowds(spot: Spot, wish: Wish, other: Spot, others_wish: Wish) -> bool:
    """Whether two colonies at two spots would come too near to each other."""
    if (spot.system, spot.part) != (other.system, other.part):
        return False
    gap = wish.radius + others_wish.radius + max(wish.safe, others_wish.safe)
    keep = max(gap, wish.grown + others_wish.grown) + 2.0 * _ROUNDING
    return hypot(spot.x - other.x, spot.y - other.y) < keep
