"""The light of a day at a place, and how a coral gets used to more of it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from math import sqrt

from generator.nature.constants import LIGHT_RISE_PER_WEEK
from generator.reckon.finding import Answer, CannotTell, Finding, UncertaintyPart
from generator.records.coral import Coral, Placement
from generator.records.source import Source
from generator.records.system import System
from generator.units.quantity import Estimate

WEEK = timedelta(days=7)
# A coral is used to a light it has had for so long; common practice, no source.
USED_AFTER = timedelta(days=28)

_PER_HOUR = 3600.0 / 1e6


def daily_light(par: float, hours: float) -> float:
    """Daily light integral (mol/m²/day) of an even light: PAR in µmol/m²/s, hours of light a day.

    Source: definition; e.g. Faust & Logan 2018, HortScience 53:1250 (from memory).
    """
    return par * hours * _PER_HOUR


def light_between(below: tuple[float, float], above: tuple[float, float], height: float) -> float | None:
    """PAR at a height (cm) between two places, each its height and the PAR measured there.

    None outside of them, and where the lower one has more light: it is not the water then that dims it.

    Source: light falls exponentially with depth (Beer and Lambert), Kirk 2011, Light and Photosynthesis in Aquatic
    Ecosystems (from memory). So between two places it is even on a scale of logarithms.
    """
    (low, dim), (high, bright) = below, above
    if not low <= height <= high or low == high or not 0.0 < dim <= bright:
        return None
    return float(dim * (bright / dim) ** ((height - low) / (high - low)))


@dataclass(frozen=True, slots=True)
class LightStep:
    """From a day on: the light of a day (mol/m²/day), and the PAR that gives it in the new photoperiod."""

    since: date
    daily: float
    par: float


@dataclass(frozen=True, slots=True)
class LightMove:
    """A coral's move to other light: what it was used to, what it gets (mol/m²/day), and the steps between.

    No steps: the light is less, or no more than a week may bring.
    """

    coral: str
    at: date
    before: Estimate
    after: Estimate
    steps: tuple[LightStep, ...]
    inputs: tuple[Source, ...] = ()


def step_up(
    used_to: float, wanted: float, hours: float, since: date, cap: float = LIGHT_RISE_PER_WEEK.value
) -> tuple[LightStep, ...]:
    """Weekly steps from the light of a day a coral is used to up to the light wanted (mol/m²/day).

    Each rises by the share `cap` at most, the last one reaches what is wanted; none where it is no more
    than what a week may bring. `hours` is the photoperiod of the new place.
    Source: common practice, no source.
    """
    if used_to <= 0.0 or wanted <= used_to * (1.0 + cap):
        return ()
    steps = []
    level, day = used_to, since
    while level < wanted:
        level = min(wanted, level * (1.0 + cap))
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
        ends = [light.canonical() for light in (place.light, place.light_to) if light is not None]
        dim, bright = min(ends), max(ends)
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

    That of its first place; to more light it gets used by the share `cap` a week, to less in four weeks.
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
