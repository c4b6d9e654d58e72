"""Which stories compete to explain what was read lately, and which test parts them."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from generator.reckon.estimate.uncertainty import Array, Mixture
from generator.reckon.water.dynamics import JUMP, STEP, STOP, STRAY
from generator.reckon.water.findings import Story, StoryKind
from generator.reckon.water.ledger import Evidence, in_days
from generator.reckon.water.state_estimate import StateEstimate, Told
from generator.units.kinds import KINDS
from generator.units.quantity import Estimate, coverage_factor

# Stories of so many days compete; one told with odds below the least is not worth a word, and one with the
# highest is as good as sure.
COMPETE_FOR = timedelta(days=21)
LEAST_ODDS = 0.10
SURE = 0.95
# Where it is likelier than this that nothing happened at all, nothing is said.
QUIET = 0.70
# Two stories are parted by a reading that they expect so many of its standard errors apart: 1 in 10 is told wrongly.
PARTED = 2.5
# When a test may part them, days from now: within the hour, tonight, tomorrow and so on.
WHEN: Array = np.array([1.0 / 24.0, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 7.0, 10.0, 14.0])

_NAMES: dict[int, StoryKind] = {STRAY: "wrong-reading", JUMP: "shift", STOP: "stop"}


@dataclass(frozen=True, slots=True)
class Competing:
    """The stories that compete, the likeliest first, and when a reading parts the two likeliest (None: none soon)."""

    stories: tuple[Story, ...]
    parted_by: datetime | None


def competing(evidence: Evidence, found: StateEstimate, as_of: datetime) -> Competing:
    """What competes to explain the last weeks; nothing where what happened is as good as sure."""
    groups: defaultdict[tuple[StoryKind, int], list[Told]] = defaultdict(list)
    for each in found.told((STRAY, JUMP, STEP, STOP), in_days(as_of - COMPETE_FOR), LEAST_ODDS / 10.0):
        name = _NAMES.get(each.kind) or ("more" if each.size > 0.0 else "less")
        # A reading and a shift are each their own; when a demand changed is part of the same story.
        groups[name, each.index if each.kind in (STRAY, JUMP) else -1].append(each)
    told = [(_story(evidence, found, name, each), _told_by(found, each)) for (name, _), each in groups.items()]
    told += _worn(evidence, found)
    told = sorted((pair for pair in told if pair[0].odds >= LEAST_ODDS), key=lambda pair: -pair[0].odds)
    happened = np.any([who for _, who in told], axis=0) if told else np.zeros(1, dtype=bool)
    quiet = not told or 1.0 - float(found.now.weights[happened].sum()) > QUIET
    if quiet or all(story.odds >= SURE for story, _ in told):
        return Competing((), None)
    return Competing(tuple(story for story, _ in told), _parted_by(found, [who for _, who in told], as_of))


def _story(evidence: Evidence, found: StateEstimate, name: StoryKind, told: list[Told]) -> Story:
    """One story of what differs only in when it happened."""
    best = max(told, key=lambda each: each.odds)
    unit = KINDS[evidence.kind].canonical
    size, error = best.size, best.error
    if name == "wrong-reading":
        expected, errors, _ = found.expected()
        size, error = float(evidence.values[best.index] - expected[best.index]), float(errors[best.index])
    elif name != "shift":
        unit = f"{unit}/day"
    first, last = min(each.index for each in told), max(each.index for each in told)
    ends = evidence.readings[max(first - 1, 0)], evidence.readings[last]
    odds = min(sum(each.odds for each in told), 1.0)
    half = coverage_factor() * error
    return Story(
        name,
        ends[0].at,
        ends[1].at,
        odds,
        Estimate(size, size - half, size + half, unit),
        tuple(e.source for e in ends),
    )


def _worn(evidence: Evidence, found: StateEstimate) -> Iterator[tuple[Story, NDArray[np.bool_]]]:
    """Of each pump for the quantity that may wear the story that it does, and which of the stories tell it."""
    for place in range(len(found.laid.layout.lacking)):
        pump, who = evidence.deliveries.pumps[place], found.worn(place)
        given = evidence.pumped(pump.solution)
        if given and who.any():
            first, weights = evidence.readings[0].at, found.now.weights[who]
            lacks = found.lacks(place)
            ends = Mixture(weights / weights.sum(), lacks.mean[who], lacks.sd[who]).interval()
            value, low, high = (100.0 * float(each) for each in ends)
            size = Estimate(value, low, high, "%")
            yield Story("worn-pump", first, first, float(weights.sum()), size, (given[-1],), pump.solution), who


def _told_by(found: StateEstimate, told: list[Told]) -> NDArray[np.bool_]:
    """Which of the stories at the end tell any of some things (H,)."""
    rows = [found.followed.kinds[found.readings[each.index]] == each.kind for each in told]
    return np.asarray(np.any(rows, axis=0))


def _parted_by(found: StateEstimate, told_by: list[NDArray[np.bool_]], as_of: datetime) -> datetime | None:
    """The first of `WHEN` at which the two likeliest, or the one and none of it, expect readings far enough apart."""
    ahead, weights = found.ahead(WHEN), found.now.weights
    first = told_by[0]
    second = told_by[1] & ~first if len(told_by) > 1 else ~first
    if not second.any() or not first.any():
        return None
    middles, spreads = [], []
    for who in (first, second):
        share = np.where(who, weights, 0.0) / weights[who].sum()
        middle = ahead.mean @ share
        middles.append(middle)
        spreads.append((ahead.sd**2 + (ahead.mean - middle[:, None]) ** 2) @ share)
    apart = np.abs(middles[0] - middles[1]) / np.sqrt((spreads[0] + spreads[1]) / 2.0 + found.kit_error**2)
    parted = np.flatnonzero(apart >= PARTED)
    return as_of + timedelta(days=float(WHEN[parted[0]])) if len(parted) else None
