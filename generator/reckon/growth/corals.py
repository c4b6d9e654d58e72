"""Every coral's growth, room, light, health and cutting on a day, how much to cut, and how predictions of it held."""

from collections.abc import Iterator, Mapping
from datetime import date, timedelta
from math import ceil, pi
from statistics import median

from msgspec import Struct

from generator.nature.constants import CALCIFICATION_SIZE_EXPONENT, CUTTING_YIELD, RULER_REPEATS_TO
from generator.nature.genera import Caution, cautions
from generator.reckon.finding import Answer, CannotTell, Finding, Held, UncertaintyPart, one_cause
from generator.reckon.growth.analysis import AHEAD_DAYS, Growth, spreading
from generator.reckon.growth.forecast import (
    Dates,
    SizeForecast,
    Spread,
    accepted_genus,
    extension_of,
    gone_by,
    size_forecast,
    spread_of,
)
from generator.reckon.growth.health import HealthState, health_state
from generator.reckon.growth.measurements import expected_mass, segments
from generator.reckon.growth.places import Suggestion, where_could_it_go, wish_of
from generator.reckon.growth.room import RoomFindings, Standing, nearing, stand
from generator.reckon.growth.spots import LightMove, light_move, light_on
from generator.records.coral import Coral
from generator.records.source import Source
from generator.records.system import System
from generator.units.quantity import Estimate, Quantity, coverage_factor


class CuttingPlan(Struct, frozen=True):
    """How much to remove so that a colony stays within a radius until a day.

    `remove` is the share of its footprint (%), `mass` that share of its mass (g), `pieces` about how many cuttings that
    yields, `demand` what the cut does to its own demand (%, negative). `healed_after` is in days, by its own last
    cuttings. `nothing` where no cut is needed. `parts` are those of the share's uncertainty.
    """

    coral: str
    until: date
    remove: Estimate
    mass: Answer
    pieces: Estimate
    demand: Estimate
    healed_after: Answer
    cautions: tuple[Caution, ...]
    nothing: bool
    inputs: tuple[Source, ...] = ()
    parts: tuple[UncertaintyPart, ...] = ()


def cutting_plan(
    coral: Coral, spread: Spread, room: float, mass: Answer, piece: float, as_of: date, until: date
) -> CuttingPlan | CannotTell:
    """How much to cut today so that the radius stays within `room` (cm) until a day, in pieces of `piece` cm across.

    By the fast end of the colony's growth, so that the room lasts in 19 of 20 cases.
    `CannotTell` where the room is so small that nothing of the colony could stay.
    """
    radius, error = spread.reach(as_of)
    k = coverage_factor()
    days = max(0, (until - as_of).days)
    fast = max(0.0, spread.rate * days + k * spread.grown_error(days))
    allowed = room - spread.turned - fast
    if allowed <= piece / 2.0:
        numbers = (("room", f"{room:.1f}"), ("growth", f"{fast:.1f}"))
        return CannotTell("outgrows-any-cut", "find-more-room", numbers, spread.inputs)
    ends = [max(0.0, radius + turn * k * error) for turn in (-1.0, 0.0, 1.0)]
    low, value, high = (1.0 - min(1.0, allowed / end) ** 2 if end > 0.0 else 0.0 for end in ends)
    removed = Estimate(value, low, high, "1")
    return CuttingPlan(
        coral=coral.id,
        until=until,
        remove=removed.scaled(100.0, "%"),
        mass=_part_of(mass, removed),
        pieces=_pieces(radius, removed, piece),
        demand=demand_after(removed),
        healed_after=healing_time(coral, as_of),
        cautions=cautions(coral.species),
        nothing=value <= 0.0,
        inputs=spread.inputs,
        parts=_parts(spread, allowed, as_of) if value > 0.0 else (),
    )


def _parts(spread: Spread, allowed: float, as_of: date) -> tuple[UncertaintyPart, ...]:
    """To first order, in %: how well its radius is measured, and how far it has spread since."""
    slope = 200.0 * allowed**2 / spread.reach(as_of)[0] ** 3
    return (
        UncertaintyPart("ruler", slope * spread.radius_error),
        UncertaintyPart("extension", slope * spread.grown_error((as_of - spread.at).days)),
    )


def demand_after(removed: Estimate) -> Estimate:
    """How a colony's uptake changes (%) when a share of it is removed: what stays calcifies by size**b.

    Source: exponent b by Carlot et al. 2022 (constants).
    """
    b = CALCIFICATION_SIZE_EXPONENT
    low, typical, high = (b.low or b.value), b.value, (b.high or b.value)
    value = ((1.0 - removed.value) ** typical - 1.0) * 100.0
    most = ((1.0 - removed.high) ** high - 1.0) * 100.0
    least = ((1.0 - removed.low) ** low - 1.0) * 100.0
    return Estimate(value, most, least, "%")


def demand_of_all_after(own: Estimate, share: Estimate) -> Estimate:
    """How a system's whole uptake changes (%) with that of a coral (%, negative) whose share of it (0 to 1) is known.

    The ends of both intervals are combined, so that this one holds at least as often as they do.
    """
    return Estimate(own.value * share.value, own.low * share.high, own.high * share.low, "%", own.level)


def healing_time(coral: Coral, as_of: date) -> Answer:
    """Days that this coral's earlier cuttings took to heal: the median, from the fastest to the slowest."""
    told = [cut for cut in coral.cuttings if cut.healed is not None and cut.healed <= as_of]
    days = [float((cut.healed - cut.at).days) for cut in told if cut.healed is not None]
    if not days:
        return CannotTell("never-seen-healing", "write-when-healed", inputs=tuple(cut.source for cut in coral.cuttings))
    # So few cuttings tell no more than their span.
    estimate = Estimate(float(median(days)), min(days), max(days), "days")
    return Finding(estimate, "cutting-plan", tuple(cut.source for cut in told), one_cause("healing", estimate))


def _part_of(mass: Answer, removed: Estimate) -> Answer:
    if isinstance(mass, CannotTell):
        return mass
    whole = mass.estimate
    taken = Estimate(whole.value * removed.value, whole.low * removed.low, whole.high * removed.high, "g")
    return Finding(taken, "cutting-plan", mass.inputs, one_cause("cut-mass", taken))


def _pieces(radius: float, removed: Estimate, piece: float) -> Estimate:
    """About how many pieces of a size (cm across) the removed part yields: whole numbers."""
    each = pi / 4.0 * piece**2
    area = pi * radius**2
    least, most = CUTTING_YIELD.ends
    low, typical, high = (
        area * share / each * kept
        for share, kept in ((removed.low, least), (removed.value, CUTTING_YIELD.value), (removed.high, most))
    )
    return Estimate(float(round(typical)), float(int(low)), float(ceil(high)), "1")


# A cut is planned to last so long, in pieces so many cm across; common practice, no source.
CUT_LASTS = timedelta(days=AHEAD_DAYS)
CUT_MONTHS = 6
PIECE_CM = 3.0
# A coral whose room runs out within so long is shown where else it could go.
SOON_FULL = timedelta(days=365)
MOST_MOVERS = 8


class CoralFindings(Struct, frozen=True):
    """What is found about one coral on a day.

    `extension` (cm/year) is how fast it will spread, `ahead` its size half a year on if nothing is cut, `light`
    that of a day where it stands, `cutting` what keeps it within its room for so long. `mass` is the last weighing,
    or what a colony of its size and form weighs. None: there is nothing to say, for it is not here or did not move.
    """

    growth: Growth
    spread: Spread | CannotTell
    extension: Finding
    ahead: SizeForecast | CannotTell | None
    mass: Answer
    light: Answer | None
    move: LightMove | CannotTell | None
    health: HealthState
    cutting: CuttingPlan | CannotTell | None


def could_go(
    found: Mapping[str, CoralFindings],
    rooms: Mapping[str, RoomFindings],
    systems: Mapping[str, System],
    own: Mapping[str, Quantity],
    today: date,
) -> dict[str, tuple[Suggestion, ...]]:
    """Other places for each coral that outgrows its place within a year or is in quarantine; the best place first.

    In each system the corals whose room ends first, no more than can be moved in a season.
    Looks for about the light they have now, and the same flow. Skips the place where they are.
    """
    standing = {id: room.standing for id, room in rooms.items()}
    suggested = {}
    for room in rooms.values():
        crowded = _crowded(room, today + SOON_FULL)
        waiting = [each.coral.id for each in room.standing if found[each.coral.id].health.quarantine]
        movers = [*waiting, *(id for id in crowded if id not in waiting)][:MOST_MOVERS]
        for each in room.standing:
            id = each.coral.id
            if id not in movers:
                continue
            others = {of: tuple(one for one in every if one.coral.id != id) for of, every in standing.items()}
            wish = wish_of(each, room.system, systems, own, today)
            places = where_could_it_go(wish, systems.values(), others, own, today)
            suggested[id] = tuple(
                s for s in places if not s.too_tall and (s.spot.system, s.spot.place) != (room.system, each.place)
            )
    return suggested


def _crowded(room: RoomFindings, until: date) -> list[str]:
    """Corals too close now, or by then likely to touch another line or outgrow their place; the earliest first."""
    ends = [(leaving.leaves.likely, leaving.coral) for leaving in room.leaving]
    for meeting in room.meetings:
        if meeting.safe.cm:
            day = room.as_of if meeting.surely == "surely" else meeting.touch.likely
            ends += [(day, id) for id in (meeting.one, meeting.other)]
    return list(dict.fromkeys(id for day, id in sorted((day, id) for day, id in ends if day and day <= until)))


def coral_findings(
    coral: Coral, growth: Growth, systems: Mapping[str, System], here: tuple[Standing, float] | None, today: date
) -> CoralFindings:
    """What is found about a coral on a day; `here` is where it stands, and the radius (cm) it may have there."""
    lives = coral.lives_on(today)
    spread = spread_of(coral, growth)
    mass = _mass(coral, growth, spread)
    return CoralFindings(
        growth=growth,
        spread=spread,
        extension=extension_of(coral, growth).finding(),
        ahead=size_forecast(coral, growth, today + CUT_LASTS) if lives else None,
        mass=mass,
        light=light_on(coral, systems, today) if lives else None,
        move=light_move(coral, systems, today),
        health=health_state(coral, today),
        cutting=cutting_plan(coral, here[0].spread, here[1], mass, PIECE_CM, today, today + CUT_LASTS)
        if here
        else None,
    )


def _mass(coral: Coral, growth: Growth, spread: Spread | CannotTell) -> Answer:
    """The mass by the last weighing in air, else by its size and form."""
    if growth.mass_kind == "drained" or isinstance(spread, CannotTell):
        return growth.mass
    return expected_mass(spread.body, accepted_genus(coral.species), coral.form)


# So many measured days make a prediction of a size: two tell how fast it grew.
MEASURED = 3


class SizeHeld(Held, frozen=True):
    """A coral's length (cm) on the day it was last measured, as predicted from what was measured before."""

    coral: str
    day: date


def size_held(coral: Coral, as_of: date) -> SizeHeld | None:
    """The last size of a coral beside what was predicted of it, unless it was cut or broken since the size before."""
    sizes = coral.measured_until(as_of)
    days = sorted({size.at for size in sizes})
    if len(days) < MEASURED:
        return None
    before, last = days[-2:]
    lost = any(before < part.since <= last and part.began in ("cutting", "breakage") for part in segments(coral, as_of))
    spread = spread_of(coral, spreading(coral, before))
    if lost or isinstance(spread, CannotTell):
        return None
    length = next(size for size in sizes if size.at == last).length.canonical()
    found = Estimate.normal(length, RULER_REPEATS_TO.value * length, "cm")
    return SizeHeld(spread.length(last), found, coral.id, last)


class TouchHeld(Struct, frozen=True):
    """Two corals that were seen to touch: when they were predicted to, by what was known before, and when they did.

    `agree` says whether they did so on one of the days of the 90 % interval.
    """

    coral: str
    other: str
    day: date
    predicted: Dates

    @property
    def agree(self) -> bool:
        """Whether the day lies in the interval; an end that is farther away than any prediction goes is open."""
        first, last = self.predicted.earliest or date.max, self.predicted.latest or date.max
        return first <= self.day <= last


def touches_held(
    coral: Coral, corals: Mapping[str, Coral], systems: Mapping[str, System], as_of: date
) -> Iterator[TouchHeld]:
    """Every touch that a coral's file records, with what was predicted when one of the two was last measured or moved.

    Nothing is told of those of which it was not known where they stood or how large they were, nor of those that were
    cut or broke since they were measured: that nobody can predict.
    """
    for touch in (each for each in coral.touches if each.at <= as_of):
        pair = coral, corals[touch.coral]
        days = [size.at for each in pair for size in each.sizes] + [p.since for each in pair for p in each.placements]
        day = max((day for day in days if day < touch.at), default=None)
        if any(_made_smaller_unseen(each, touch.at) for each in pair):
            continue
        place = coral.placement_on(day) if day else None
        if day and place and place.system in systems:
            growths = {each.id: spreading(each, day) for each in pair}
            here, _ = stand(systems[place.system], pair, growths, day)
            if len(here) == len(pair) and all(each.known for each in here):
                yield TouchHeld(coral.id, touch.coral, touch.at, gone_by(nearing(here[0], here[1], day), day))


def _made_smaller_unseen(coral: Coral, until: date) -> bool:
    """Whether a coral was cut or broke after it was last measured before a day."""
    measured = max((size.at for size in coral.sizes if size.at < until), default=date.min)
    return any(measured < lost < until for lost in coral.made_smaller)
