"""When two neighbours will touch, and when a coral outgrows its place."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import combinations
from math import hypot
from statistics import NormalDist
from typing import Literal

from generator.reckon.estimate.propagate import coverage_factor
from generator.reckon.finding import CannotTell
from generator.reckon.growth.forecast import Spread, spread_of
from generator.reckon.growth.safe_distance import SafeDistance, gap_between, safe_distance
from generator.reckon.growth.survey import Growth
from generator.records.coral import Coral
from generator.records.source import Source
from generator.records.system import Place, System
from generator.units.quantity import Estimate, Quantity

# Farther ahead than five years nothing that is said of living coral is worth saying.
HORIZON_DAYS = 1826
Side = Literal["left", "right", "front", "back"]

_LEVEL = 0.90
_ODDS = (0.05, 0.50, 0.95)


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a coral stands, in cm from the front left corner of its part of the system, and how it spreads.

    `level` is the height of its place (cm; None: not written). `known` is false where its own file does
    not say where in the place it stands; then it counts as standing in the middle.
    """

    coral: Coral
    place: str
    part: str | None
    level: float | None
    x: float
    y: float
    known: bool
    spread: Spread


@dataclass(frozen=True, slots=True)
class Dates:
    """The days by which 5, 50 and 95 of 100 have come to pass; None: not within five years."""

    earliest: date | None
    likely: date | None
    latest: date | None


@dataclass(frozen=True, slots=True)
class Meeting:
    """Two neighbours: the gap (cm) between them today, when it is less than safe, and when they touch."""

    one: str
    other: str
    gap: Estimate
    safe: SafeDistance
    too_near: Dates
    touch: Dates
    inputs: tuple[Source, ...]


@dataclass(frozen=True, slots=True)
class Leaving:
    """A coral that outgrows its place: the room left (cm) to the nearest edge, and when it reaches over it.

    `position_known` is false where it was taken to stand in the middle of the place.
    """

    coral: str
    place: str
    side: Side
    room: Estimate
    leaves: Dates
    position_known: bool
    inputs: tuple[Source, ...]


@dataclass(frozen=True, slots=True)
class RoomFindings:
    """What is found about the room in one system; pairs and edges in the order in which they run out.

    `cannot_tell` names corals that were never measured, and corals whose place is not written.
    """

    system: str
    as_of: date
    standing: tuple[Standing, ...]
    meetings: tuple[Meeting, ...]
    leaving: tuple[Leaving, ...]
    cannot_tell: tuple[tuple[str, CannotTell], ...]


def survey_room(
    system: System, corals: Iterable[Coral], growths: Mapping[str, Growth], own: Mapping[str, Quantity], as_of: date
) -> RoomFindings:
    """Room in a system on a day: `growths` by coral, `own` the journal's safe distances by genus."""
    here, unknown = stand(system, corals, growths, as_of)
    leaving = [_leaving(each, system.places[each.place], as_of) for each in here]
    meetings = [
        meeting
        for one, other in combinations(here, 2)
        if one.known and other.known and side_by_side(one, other)
        if (meeting := _meeting(one, other, own, as_of)) is not None
    ]
    return RoomFindings(
        system.id,
        as_of,
        tuple(here),
        tuple(sorted(meetings, key=lambda m: (_order(m.touch), m.gap.value, m.one, m.other))),
        tuple(sorted(leaving, key=lambda each: (_order(each.leaves), each.room.value, each.coral))),
        tuple(unknown),
    )


def stand(
    system: System, corals: Iterable[Coral], growths: Mapping[str, Growth], as_of: date
) -> tuple[list[Standing], list[tuple[str, CannotTell]]]:
    """Where each coral of a system stands on a day, and those of which that, or their size, is not known."""
    here: list[Standing] = []
    unknown: list[tuple[str, CannotTell]] = []
    for coral in corals:
        placement = coral.placement_on(as_of)
        if placement is None or placement.system != system.id:
            continue
        place = system.places.get(placement.place or "")
        if place is None or placement.place is None:
            unknown.append((coral.id, CannotTell("no-place", "write-its-place", inputs=(placement.source,))))
            continue
        spread = spread_of(coral, growths[coral.id])
        if isinstance(spread, CannotTell):
            unknown.append((coral.id, spread))
            continue
        x = placement.x.canonical() if placement.x else place.width.canonical() / 2.0
        y = placement.y.canonical() if placement.y else place.depth.canonical() / 2.0
        known = placement.x is not None and placement.y is not None
        x, y = place.x.canonical() + x, place.y.canonical() + y
        level = place.height.canonical() if place.height else None
        here.append(Standing(coral, placement.place, place.part, level, x, y, known, spread))
    return here, unknown


def _order(dates: Dates) -> date:
    return dates.likely or dates.latest or date.max


def side_by_side(one: Standing, other: Standing) -> bool:
    """Whether two corals can touch at all: in one part, and neither wholly above the other."""
    if one.part != other.part:
        return False
    if one.place == other.place or one.level is None or other.level is None:
        return True
    lower, upper = (one, other) if one.level <= other.level else (other, one)
    tall = lower.spread.body.height
    return tall is None or (lower.level or 0.0) + tall > (upper.level or 0.0)


def _meeting(one: Standing, other: Standing, own: Mapping[str, Quantity], as_of: date) -> Meeting | None:
    """None for pairs that do not come within a safe distance in the years that count."""
    apart = hypot(one.x - other.x, one.y - other.y)
    gap, error, speed, speed_error = _closing(apart, (one.spread, other.spread), as_of)
    safe = _gap(one, other, own)
    if gap - safe.cm > HORIZON_DAYS * (speed + 2.0 * speed_error) + 2.0 * error:
        return None  # most pairs: spared the search for a day
    too_near = passing(gap - safe.cm, error, speed, speed_error, as_of)
    if too_near.earliest is None:
        return None
    return Meeting(
        one.coral.id,
        other.coral.id,
        _interval(gap, error),
        safe,
        too_near,
        passing(gap, error, speed, speed_error, as_of),
        tuple(dict.fromkeys((*one.spread.inputs, *other.spread.inputs))),
    )


def _edges(standing: Standing, place: Place) -> dict[Side, float]:
    left, front = place.x.canonical(), place.y.canonical()
    return {
        "left": standing.x - left,
        "right": left + place.width.canonical() - standing.x,
        "front": standing.y - front,
        "back": front + place.depth.canonical() - standing.y,
    }


def _gap(one: Standing, other: Standing, own: Mapping[str, Quantity]) -> SafeDistance:
    """The gap two neighbours need; kin of one line may touch."""
    if one.coral.line == other.coral.line:
        return SafeDistance(0.0, "of one line")
    return gap_between(safe_distance(one.coral, own), safe_distance(other.coral, own))


def _leaving(standing: Standing, place: Place, as_of: date) -> Leaving:
    edges = _edges(standing, place)
    side = min(edges, key=lambda name: edges[name])
    room, error, speed, speed_error = _closing(edges[side], (standing.spread,), as_of)
    leaves = passing(room, error, speed, speed_error, as_of)
    return Leaving(
        standing.coral.id,
        standing.place,
        side,
        _interval(room, error),
        leaves,
        standing.known,
        standing.spread.inputs,
    )


def _closing(apart: float, spreads: Sequence[Spread], as_of: date) -> tuple[float, float, float, float]:
    """The gap today (cm) that spreading colonies leave of a distance, its error, and how fast it closes (cm a day)."""
    reaches = [spread.reach(as_of) for spread in spreads]
    gap = apart - sum(radius for radius, _ in reaches)
    error = hypot(*(error for _, error in reaches), *(spread.turned for spread in spreads))
    return gap, error, sum(spread.rate for spread in spreads), hypot(*(spread.rate_error for spread in spreads))


def free_radius(
    standing: Standing, place: Place, others: Iterable[Standing], own: Mapping[str, Quantity], today: date
) -> float:
    """The radius (cm) a coral may have: to its place's edge, and to half of what its neighbours leave free today.

    What is free is the gap beyond the safe one; where there is none, a coral may stay as it is and no more.
    """
    limits = list(_edges(standing, place).values())
    for other in others:
        if other.coral.id != standing.coral.id and other.known and standing.known and side_by_side(standing, other):
            apart = hypot(standing.x - other.x, standing.y - other.y)
            reach = standing.spread.reach(today)[0]
            free = apart - reach - other.spread.reach(today)[0] - _gap(standing, other, own).cm
            limits.append(reach + max(0.0, free) / 2.0)
    return max(0.0, min(limits))


def _interval(value: float, error: float) -> Estimate:
    half = coverage_factor(_LEVEL) * error
    return Estimate(value, value - half, value + half, "cm", _LEVEL)


def passing(gap: float, error: float, speed: float, speed_error: float, as_of: date) -> Dates:
    """When a gap (cm) that closes at a speed (cm a day) is gone, both with standard uncertainties.

    The gap after t days is normal about gap - speed t; the days are those by which the odds of its being
    gone pass 5, 50 and 95 %.
    """

    def gone(days: int) -> float:
        spread = hypot(error, speed_error * days)
        left = gap - speed * days
        return NormalDist().cdf(-left / spread) if spread > 0.0 else float(left <= 0.0)

    return Dates(*(_first(gone, odds, as_of) for odds in _ODDS))


def _first(gone: Callable[[int], float], odds: float, as_of: date) -> date | None:
    if gone(0) >= odds:
        return as_of
    if gone(HORIZON_DAYS) < odds:
        return None
    before, after = 0, HORIZON_DAYS
    while after - before > 1:
        middle = (before + after) // 2
        before, after = (before, middle) if gone(middle) >= odds else (middle, after)
    return as_of + timedelta(days=after)
