"""The dose that is safe by all that is still believed of the water, and the changes that bring its levels to target."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import ceil

from generator.reckon.dosing.outlook import MOST_A_DAY, Outlook
from generator.units.quantity import Estimate

# What is given of a demand must be safe for so many days at least: nobody reads twice a day for long.
LEAST_DAYS = 2.0
# A level on its way to target is read again after so many days, if anything is unsure.
READ_AGAIN_AFTER = 1.0
# A level nearer to its target than this share of its band is left there. A choice of ours.
WORTH_CORRECTING = 0.10
# A change that would take longer is none: readings will tell by then where the level went by itself. A choice of ours.
LONGEST_DAYS = 30
# A correction is worth its trouble from this share of the daily cap on; below it a reading comes first.
LEAST_RATE = 0.05


@dataclass(frozen=True, slots=True)
class Correction:
    """A change of level (canonical unit) that brings a kind to its target, over days under the daily cap."""

    kind: str
    change: Estimate
    target: float
    days: int


def safe_share(found: Outlook, target: float | None) -> float:
    """The share of the likeliest demand that may be given (0 to 1), down to the demand's low end and no further.

    What is given must leave the level under its band's top for `LEAST_DAYS` in 19 of 20 futures, from its target,
    to which a level is brought first (without one, from where it stands). Where readings do not tell the demand, what
    runs goes on. While the level stands above its band, what is left of it once the level is let down raises it by
    nothing that is believed of the demand.
    """
    likeliest = found.per_day.value
    if likeliest <= 0.0:
        return 1.0
    low = min(max(found.per_day.low, 0.0), likeliest)
    start = found.level.value if target is None else target
    most = max(found.safe_rate(start, LEAST_DAYS), low) if found.told else likeliest
    if found.is_above:
        most = min(most, low + max(found.level.value - start, 0.0))
    return min(most, likeliest) / likeliest


def corrections(
    outlooks: Mapping[str, Outlook], targets: Mapping[str, float], given: Mapping[str, float]
) -> Iterator[Correction]:
    """The changes that bring to its target each level off by more than `WORTH_CORRECTING` of its band and its error.

    Its error is one standard uncertainty. `given` is what is given a day of each kind's demand, in the level's unit:
    by nothing that is believed of the demand may a level rise faster than the daily cap, nor past its band's top.
    A level falls no faster than the corals draw it down, and one they do not draw on cannot be lowered by dosing. One
    above its band falls by all that is believed of the demand.
    One that has a target and no band is left as it is.
    """
    for kind, found in outlooks.items():
        if found.low is None or found.high is None or kind not in targets:
            continue
        level, target = found.level, targets[kind]
        change = Estimate(target - level.value, target - level.high, target - level.low, level.unit, level.level)
        if abs(change.value) > max(WORTH_CORRECTING * (found.high - found.low), found.standard):
            most = _fastest(found, change.value, given.get(kind, 0.0))
            if most > 0.0:
                days = ceil(abs(change.value) / most - 1e-9)
                unsure = given.get(kind, 0.0) - max(found.per_day.low, 0.0)
                if found.is_above and unsure > 0.0:
                    days = max(min(days, int(-change.value / unsure)), 1)
                if days <= LONGEST_DAYS:
                    yield Correction(kind, change, target, days)


def _fastest(found: Outlook, change: float, given: float) -> float:
    """How fast a level may be changed, a day; 0 where it may not."""
    cap = MOST_A_DAY[found.kind]
    if change < 0.0:
        # Only what is dosed can be left out: water changes go on.
        return min(cap - max(found.per_day.value - given, 0.0), given - found.brought)
    most = cap - max(given - max(found.per_day.low, 0.0), 0.0)
    most = min(most, found.safe_rate(found.level.value, READ_AGAIN_AFTER) - given)
    return most if most >= LEAST_RATE * cap else 0.0
