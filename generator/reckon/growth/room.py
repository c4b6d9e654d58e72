"""When two neighbours will touch, and when a coral outgrows its place."""

from collections.abc import Iterable, Mapping
from datetime import date
from itertools import combinations
from math import hypot
from typing import Literal

from msgspec import Struct

from generator.nature.genera import SAFE_GAPS, genus_of
from generator.reckon.finding import CannotTell, Finding
from generator.reckon.growth.analysis import Growth, Spreading
from generator.reckon.growth.forecast import (
    HORIZON_DAYS,
    Closing,
    Dates,
    Spread,
    accepted_genus,
    closing,
    gone_by,
    spread_of,
)
from generator.records.coral import Coral, Touch
from generator.records.source import Source
from generator.records.system import Place, System
from generator.units.quantity import Cm, Estimate, Quantity


class SafeDistance(Struct, frozen=True):
    """A gap (cm) to keep, and where it comes from: the coral's own file, the journal's settings, or the usual."""

    cm: float
    known: str


def safe_distance(coral: Coral, own: Mapping[str, Quantity]) -> SafeDistance:
    """The gap (cm) a coral needs; `own` are the journal's distances by genus, in lower case."""
    if coral.stings is not None:
        return SafeDistance(coral.stings.canonical(), "declared for the coral")
    return distance_of(accepted_genus(coral.species), own)


def distance_of(genus: str, own: Mapping[str, Quantity]) -> SafeDistance:
    """The gap (cm) a genus needs: the one declared for the journal, else the usual one."""
    if (declared := own.get(genus.casefold())) is not None:
        return SafeDistance(declared.canonical(), "declared for the journal")
    return usual_distance(genus)


def usual_distance(genus: str) -> SafeDistance:
    """The usual gap (cm) for a genus: its own, else its group's, else a careful one."""
    known = genus_of(genus)
    of_group = SAFE_GAPS.groups[known.group] if known else SAFE_GAPS.unknown
    return SafeDistance(SAFE_GAPS.genera.get(genus, of_group), SAFE_GAPS.source)


def gap_between(one: SafeDistance, other: SafeDistance) -> SafeDistance:
    """The gap (cm) two neighbours need: that of the one which reaches farther."""
    return max(one, other, key=lambda distance: distance.cm)


Side = Literal["left", "right", "front", "back"]


class Standing(Struct, frozen=True):
    """Where a coral stands, in cm from the front left corner of its part of the system, and how it spreads.

    `level` is the height of its place (cm; None: not written), `may_touch` whether corals of its place may. `known` is
    false where its own file does not say where in the place it stands; then it counts as standing in the middle.
    """

    coral: Coral
    place: str
    part: str | None
    level: float | None
    may_touch: bool
    x: float
    y: float
    known: bool
    spread: Spread
    source: Source

    @property
    def stings(self) -> bool:
        """Whether its file says how far it stings."""
        return self.coral.stings is not None


class Meeting(Struct, frozen=True):
    """Two neighbours: the gap (cm) between them today, when it is less than safe, and when they touch."""

    one: str
    other: str
    gap: Finding
    safe: SafeDistance
    touch: Dates

    @property
    def short(self) -> Cm:
        """By how much the gap is likely less than the safe one today, cm; 0 where it is wide enough."""
        return max(self.safe.cm - self.gap.estimate.value, 0.0)

    @property
    def surely(self) -> Literal["surely", "perhaps"]:
        """How sure it is that the gap is less than safe today: over all of its likely range, or not."""
        return "surely" if self.gap.estimate.high < self.safe.cm else "perhaps"


class Leaving(Struct, frozen=True):
    """A coral that outgrows its place: the room left (cm) to the nearest edge, and when it reaches over it.

    `position_known` is false where it was taken to stand in the middle of the place.
    """

    coral: str
    place: str
    side: Side
    room: Finding
    leaves: Dates
    position_known: bool


class RoomFindings(Struct, frozen=True):
    """What is found about the room in one system; pairs and edges in the order in which they run out.

    `cannot_tell` names corals that were never measured, and corals whose place is not written.
    """

    system: str
    as_of: date
    standing: tuple[Standing, ...]
    meetings: tuple[Meeting, ...]
    leaving: tuple[Leaving, ...]
    cannot_tell: tuple[tuple[str, CannotTell], ...]


def room_of(room: RoomFindings, coral: str) -> RoomFindings:
    """What is found about the room of one coral, without who stands where."""
    return RoomFindings(
        room.system,
        room.as_of,
        (),
        tuple(meeting for meeting in room.meetings if coral in (meeting.one, meeting.other)),
        tuple(leaving for leaving in room.leaving if leaving.coral == coral),
        tuple(each for each in room.cannot_tell if each[0] == coral),
    )


def analyse_room(
    system: System, corals: Iterable[Coral], growths: Mapping[str, Growth], own: Mapping[str, Quantity], as_of: date
) -> RoomFindings:
    """Room in a system on a day: `growths` by coral, `own` the journal's safe distances by genus."""
    here, unknown = stand(system, corals, growths, as_of)
    leaving = [_leaving(each, system.places[each.place], as_of) for each in here]
    meetings = [
        meeting
        for one, other in combinations(here, 2)
        if one.known and other.known and _must_not_touch(one, other, as_of)
        if (meeting := _meeting(one, other, own, as_of)) is not None
    ]
    return RoomFindings(
        system.id,
        as_of,
        tuple(here),
        tuple(sorted(meetings, key=lambda m: (_order(m.touch), m.gap.estimate.value, m.one, m.other))),
        tuple(sorted(leaving, key=lambda each: (_order(each.leaves), each.room.estimate.value, each.coral))),
        tuple(unknown),
    )


def stand(
    system: System, corals: Iterable[Coral], growths: Mapping[str, Growth | Spreading], as_of: date
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
        here.append(
            Standing(coral, placement.place, place.part, level, place.may_touch, x, y, known, spread, placement.source)
        )
    return here, unknown


def _order(dates: Dates) -> date:
    return dates.likely or dates.latest or date.max


def can_touch(one: Standing, other: Standing, day: date) -> bool:
    """Whether two corals can touch on a day: in one part, and neither wholly above the other by its height then."""
    heights = one.spread.tall(day), other.spread.tall(day)
    apart = one.place != other.place and one_above_the_other((one.level, other.level), heights)
    return one.part == other.part and not apart


def one_above_the_other(levels: tuple[float | None, float | None], heights: tuple[float | None, float | None]) -> bool:
    """Whether the lower of two corals ends below the place of the upper; all in cm, None where not known."""
    one, other = levels
    if one is None or other is None or one == other:
        return False
    tall = heights[0] if one < other else heights[1]
    return tall is not None and min(one, other) + tall <= max(one, other)


def may_touch(places_say_so: tuple[bool, bool], sting: tuple[bool, bool]) -> bool:
    """Whether two corals are close on purpose: both places say so, and no file of theirs says how far it stings."""
    return all(places_say_so) and not any(sting)


def _must_not_touch(one: Standing, other: Standing, day: date) -> bool:
    return can_touch(one, other, day) and not may_touch((one.may_touch, other.may_touch), (one.stings, other.stings))


def _meeting(one: Standing, other: Standing, own: Mapping[str, Quantity], as_of: date) -> Meeting | None:
    """None for pairs that do not come within a safe distance in the years that count."""
    found, safe = nearing(one, other, as_of), _gap(one, other, own)
    if (touch := _seen_to_touch(one, other, as_of)) is not None:
        gap = Estimate.exact(0.0, "cm")
        return Meeting(
            one.coral.id, other.coral.id, Finding(gap, "meeting", (touch.source,)), safe, Dates(as_of, as_of, as_of)
        )
    if found.gap - safe.cm > HORIZON_DAYS * (found.speed + 2.0 * found.speed_error) + 2.0 * found.error:
        return None  # most pairs: spared the search for a day
    if gone_by(found, as_of, safe.cm).earliest is None:
        return None
    inputs = tuple(dict.fromkeys((*_written(one), *_written(other))))
    return Meeting(one.coral.id, other.coral.id, _today(found, inputs), safe, gone_by(found, as_of))


def nearing(one: Standing, other: Standing, as_of: date) -> Closing:
    """The gap between two corals on a day, and how it closes."""
    return closing(hypot(one.x - other.x, one.y - other.y), (one.spread, other.spread), as_of)


def _seen_to_touch(one: Standing, other: Standing, as_of: date) -> Touch | None:
    """When two corals were seen to touch as they stand; one of the two files says so.

    It ends where one is moved, cut or breaks: a keeper who sees them touch often cuts them the same day.
    """
    pair = one.coral, other.coral
    placed = [each.since for coral in pair if (each := coral.placement_on(as_of))]
    smaller = [day for coral in pair for day in coral.made_smaller if day <= as_of]
    seen = [each for each in one.coral.touches if each.coral == other.coral.id]
    seen += [each for each in other.coral.touches if each.coral == one.coral.id]
    lately = (each for each in seen if max(placed) <= each.at <= as_of)
    return next((each for each in lately if each.at > max(smaller, default=date.min)), None)


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
    found = closing(edges[side], (standing.spread,), as_of)
    inputs = tuple(dict.fromkeys((*_written(standing), place.source)))
    return Leaving(
        standing.coral.id, standing.place, side, _today(found, inputs), gone_by(found, as_of), standing.known
    )


def _written(standing: Standing) -> tuple[Source, ...]:
    """The lines of the files that say how large a coral is, how it grows, and where it stands."""
    return (*standing.spread.inputs, standing.source)


def free_radius(
    standing: Standing, place: Place, others: Iterable[Standing], own: Mapping[str, Quantity], today: date
) -> float:
    """The radius (cm) a coral may have: to its place's edge, and to half of what its neighbours leave free today.

    Free is the gap beyond the safe one. Where there is none, the coral may keep its radius but not grow.
    """
    limits = list(_edges(standing, place).values())
    for other in others:
        beside = other.coral.id != standing.coral.id and other.known and standing.known
        if beside and _must_not_touch(standing, other, today):
            apart = hypot(standing.x - other.x, standing.y - other.y)
            reach = standing.spread.reach(today)[0]
            free = apart - reach - other.spread.reach(today)[0] - _gap(standing, other, own).cm
            limits.append(reach + max(0.0, free) / 2.0)
    return max(0.0, min(limits))


def _today(found: Closing, inputs: tuple[Source, ...]) -> Finding:
    """A gap as it is today, with its 90 % interval."""
    return Finding(Estimate.normal(found.gap, found.error, "cm"), "meeting", inputs, found.parts)
