"""The light of a place, how a coral gets used to it; and spots: inside a place, in the light, clear of others."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, timedelta
from itertools import pairwise
from math import hypot, sqrt

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from generator.nature.constants import LIGHT_RISE_PER_WEEK
from generator.reckon.estimate.uncertainty import Array
from generator.reckon.finding import Answer, CannotTell, Finding, UncertaintyPart
from generator.reckon.growth.room import Standing, may_touch, one_above_the_other, safe_distance
from generator.records.coral import Coral, Placement
from generator.records.source import Source
from generator.records.system import Flow, Place, System
from generator.records.trade import Newcomer
from generator.units.quantity import Cm, Estimate, Par, Quantity

WEEK = timedelta(days=7)
# A coral is used to a light it has had for so long; common practice, no source.
USED_AFTER = timedelta(days=28)

_PER_HOUR = 3600.0 / 1e6


def daily_light(par: float, hours: float) -> float:
    """Daily light integral (mol/m²/day) of an even light: PAR in µmol/m²/s, hours of light a day.

    Source: definition; e.g. Faust & Logan 2018, HortScience 53:1250 (from memory).
    """
    return par * hours * _PER_HOUR


def light_between(below: tuple[Cm, Par], above: tuple[Cm, Par], height: Cm) -> Par | None:
    """PAR at a height (cm) between two places, each its height and the PAR measured there.

    None outside of them, and where the lower one has more light: it is not the water then that dims it.

    Source: light falls exponentially with depth (Beer and Lambert), Kirk 2011, Light and Photosynthesis in Aquatic
    Ecosystems (from memory). So between two places it is even on a scale of logarithms.
    """
    (low, dim), (high, bright) = below, above
    if not low <= height <= high or low == high or not 0.0 < dim <= bright:
        return None
    return float(dim * (bright / dim) ** ((height - low) / (high - low)))


class LightStep(Struct, frozen=True):
    """From a day on: the light of a day (mol/m²/day), and the PAR that gives it in the new photoperiod."""

    since: date
    daily: float
    par: float


class LightMove(Struct, frozen=True):
    """A coral's move to other light: what it was used to, what it gets (mol/m²/day), and the steps between.

    No steps: the light is less, or no more than a week may bring.
    """

    coral: str
    at: date
    before: Estimate
    after: Estimate
    steps: tuple[LightStep, ...]
    inputs: tuple[Source, ...] = ()


def step_up(used_to: float, wanted: float, hours: float, since: date) -> tuple[LightStep, ...]:
    """Weekly steps from the light of a day a coral is used to up to the light wanted (mol/m²/day).

    Each rises by `LIGHT_RISE_PER_WEEK` at most, the last one reaches what is wanted; none where it is no more
    than what a week may bring. `hours` is the photoperiod of the new place.
    Source: common practice, no source.
    """
    most = 1.0 + LIGHT_RISE_PER_WEEK.value
    if used_to <= 0.0 or wanted <= used_to * most:
        return ()
    steps = []
    level, day = used_to, since
    while level < wanted:
        level = min(wanted, level * most)
        steps.append(LightStep(day, level, level / hours / _PER_HOUR))
        day += WEEK
    return tuple(steps)


def light_on(coral: Coral, systems: Mapping[str, System], day: date) -> Answer:
    """Light of a day (mol/m²/day) where a coral stands; the interval spans the place's lightest and darkest spot."""
    placement = coral.placement_on(day)
    if placement is None:
        return CannotTell("stands-nowhere", "write-its-place", inputs=(coral.source,))
    return light_at(placement, systems)


def light_at(placement: Placement, systems: Mapping[str, System]) -> Answer:
    """Light of a day (mol/m²/day) at a placement: the PAR measured at the coral, else its place's range."""
    system = systems.get(placement.system)
    if system is None or system.photoperiod is None:
        return CannotTell(
            "no-photoperiod", "write-photoperiod", inputs=(system.source if system else placement.source,)
        )
    hours = system.photoperiod.canonical()
    place = system.places.get(placement.place or "")
    if placement.light is not None:
        dim = bright = placement.light.canonical()
        inputs = (placement.source, system.source)
    elif place is not None and place.light is not None:
        ends = light_ends(place)
        dim, bright = ends[0], ends[-1]
        inputs = (placement.source, place.source)
    else:
        return CannotTell("no-light", "measure-light", inputs=(placement.source,))
    low, high = daily_light(dim, hours), daily_light(bright, hours)
    # Anywhere between the two is as likely. Source: JCGM 100:2008 (GUM), 4.3.7.
    parts = (UncertaintyPart("place-light", (high - low) / sqrt(12.0)),) if high > low else ()
    return Finding(Estimate((low + high) / 2.0, low, high, "mol/m²/day"), "daily-light", inputs, parts)


def light_move(coral: Coral, systems: Mapping[str, System], as_of: date) -> LightMove | CannotTell | None:
    """A coral's last move, until it is used to the new light and its step-up is over; None where there was none."""
    placements = sorted((p for p in coral.placements if p.since <= as_of), key=lambda placement: placement.since)
    if len(placements) < 2 or not coral.lives_on(as_of):
        return None
    move = _planned(coral, used_to(placements, systems), placements[-1], systems)
    until = placements[-1].since + USED_AFTER
    if isinstance(move, LightMove) and move.steps:
        until = max(until, move.steps[-1].since + WEEK)
    return move if as_of < until else None


def used_to(
    placements: Sequence[Placement], systems: Mapping[str, System], cap: float = LIGHT_RISE_PER_WEEK.value
) -> Answer:
    """The light (mol/m²/day) a coral is used to when it is put in its last place, in any system.

    It begins with that of its first place. It gets used to more light by the share `cap` a week, to less in four weeks.
    Source: common practice, no source.
    """
    level: Answer = light_at(placements[0], systems)
    for stay, then in pairwise(placements):
        here, days = light_at(stay, systems), then.since - stay.since
        if isinstance(here, CannotTell) or isinstance(level, CannotTell):
            # Of a short stay in light nobody measured, what it was used to before holds.
            level = level if days < USED_AFTER and isinstance(here, CannotTell) else here
        elif here.estimate.value > level.estimate.value:
            reached = level.estimate.scaled((1.0 + cap) ** (days // WEEK), level.estimate.unit)
            level = here if reached.value >= here.estimate.value else Finding(reached, "light-steps", here.inputs)
        elif days >= USED_AFTER:
            level = here
    return level


def _planned(coral: Coral, before: Answer, new: Placement, systems: Mapping[str, System]) -> LightMove | CannotTell:
    """A move from the light a coral is used to, with its step-up plan."""
    after = light_at(new, systems)
    if isinstance(before, CannotTell):
        return before
    if isinstance(after, CannotTell):
        return after
    photoperiod = systems[new.system].photoperiod
    hours = photoperiod.canonical() if photoperiod else 0.0
    steps = step_up(before.estimate.value, after.estimate.value, hours, new.since)
    inputs = tuple(dict.fromkeys((*before.inputs, *after.inputs)))
    return LightMove(coral.id, new.since, before.estimate, after.estimate, steps, inputs)


# A spot is tried at every so many cm.
_STEP = 2.0
# For so long nothing there touches a neighbour or grows over the edge of its place: a month before an alert looks three
# months ahead. A choice of ours.
ROOM_FOR = timedelta(days=121)
# Positions are told to a cm and put so, and sizes are written to a mm. What rounding takes from a gap, cm.
_ROUNDING = 0.6


class Wish(Struct, frozen=True):
    """A colony that seeks a place: measures in cm, light in PAR, flow (None: any), and the gap it needs (cm).

    A height of None is not known. Neighbours of its own `line` may touch it, and all in places whose corals may touch,
    unless it `stings` by its own file. Its radius grows by `rate` cm a day. It
    would have to get used in steps to more light a day than `most_daily` (mol/m²/day; None: any).
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
    stings: bool = False

    @property
    def radius(self) -> Cm:
        """Its radius (cm) seen from above, today."""
        return sqrt(self.length * self.width) / 2.0

    @property
    def grown(self) -> Cm:
        """Its radius (cm) at the end of `ROOM_FOR`."""
        return self.radius + max(0.0, self.rate) * ROOM_FOR.days


class Spot(Struct, frozen=True):
    """A spot in a place: centre in cm from its part's front left corner; `turned`: its length runs front to back."""

    system: str
    part: str | None
    place: str
    x: float
    y: float
    turned: bool


def light_ends(of: Place | Newcomer) -> list[Par]:
    """The one or two ends of a light that is written, PAR, the dimmer first."""
    return sorted(light.canonical() for light in (of.light, of.light_to) if light is not None)


def light_of(place: Place) -> tuple[float, float] | None:
    """The least and the most light of a place, PAR; None where it is not written."""
    ends = light_ends(place)
    return (ends[0], ends[-1]) if ends else None


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
    level, found = place.height.canonical() if place.height else None, []
    for each in here:
        above = one_above_the_other((level, each.level), (wish.height, each.spread.body.height))
        if each.known and each.part == place.part and not above:
            on_purpose = may_touch((place.may_touch, each.may_touch), (wish.stings, each.stings))
            kin = on_purpose or (wish.line != "" and wish.line == each.coral.line)
            gap = 0.0 if kin else max(wish.safe, safe_distance(each.coral, own).cm) + 2.0 * _ROUNDING
            reach = wish.radius + each.spread.reach(today)[0] + gap
            if not kin:
                reach = max(reach, wish.grown + each.spread.reach(today + ROOM_FOR)[0] + 2.0 * _ROUNDING)
            if left - reach < each.x < right + reach and front - reach < each.y < back + reach:
                found.append((each, reach))
    return found


def crowds(spot: Spot, wish: Wish, other: Spot, others_wish: Wish) -> bool:
    """Whether two colonies at two spots would come too near to each other."""
    if (spot.system, spot.part) != (other.system, other.part):
        return False
    gap = wish.radius + others_wish.radius + max(wish.safe, others_wish.safe)
    keep = max(gap, wish.grown + others_wish.grown) + 2.0 * _ROUNDING
    return hypot(spot.x - other.x, spot.y - other.y) < keep
