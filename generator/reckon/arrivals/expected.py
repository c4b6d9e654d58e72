"""What a colony will take out of a system's water, before it is in."""

from collections.abc import Iterable
from dataclasses import dataclass
from math import exp, sqrt

from generator.reckon.arrivals.colony import Colony
from generator.reckon.arrivals.demand import alkalinity_of, calcium_of
from generator.reckon.arrivals.factor import Factor
from generator.reckon.arrivals.published import Published, published
from generator.reckon.estimate.lognormal import LogNormal, from_estimate
from generator.reckon.finding import CannotTell, Finding, UncertaintyPart, scaled_parts
from generator.reckon.water.deliveries import relative_volume_error
from generator.records.source import Source
from generator.records.system import Water
from generator.units.quantity import Estimate, coverage_factor

# A colony that takes so much of the whole demand is large for its system, and gets a page of its own.
LARGE_SHARE = 0.15


@dataclass(frozen=True, slots=True)
class ExpectedUptake:
    """What a colony will take.

    `published` is what it lays down by published rates; the others have the system's `factor` in them:
    `grams_per_day` of CaCO3; `alkalinity` (meq/L/day) and `calcium` (mg/L/day) out of the system's
    water; `share` of the whole demand once it is in (CannotTell where no other coral is known).
    """

    published: Published
    factor: Factor
    grams_per_day: Finding
    alkalinity: Finding
    calcium: Finding
    share: Finding | CannotTell

    @property
    def large(self) -> bool:
        """Whether it takes at least `LARGE_SHARE` of the whole demand; also when nothing else is known to."""
        return isinstance(self.share, CannotTell) or self.share.estimate.value >= LARGE_SHARE


def expected(colony: Colony, water: Water, found: Factor) -> ExpectedUptake | CannotTell:
    """A colony's calcification and uptake in a system, from published rates times the system's factor.

    Where the factor was learned from corals of the same genus and form, the errors of method cancel as
    far as they are shared. Answers `CannotTell` without a size or a mass, or for animals with no skeleton.
    """
    of_rates = published(colony)
    if isinstance(of_rates, CannotTell):
        return of_rates
    inputs = tuple(dict.fromkeys([*colony.inputs, *found.inputs]))
    grams = grams_in_system(of_rates, found)
    of_volume = relative_volume_error(water)
    in_volume = grams.times(LogNormal(1.0, of_volume)).estimate("g/day")
    alkalinity, calcium = alkalinity_of(in_volume, water), calcium_of(in_volume, water)
    parts = (*grams_parts(of_rates, found, grams), UncertaintyPart("water-volume", grams.median * of_volume))
    return ExpectedUptake(
        of_rates,
        found,
        Finding(grams.estimate("g/day"), "expected-uptake", inputs, grams_parts(of_rates, found, grams)),
        Finding(alkalinity, "expected-uptake", inputs, scaled_parts(parts, alkalinity.value / grams.median)),
        Finding(calcium, "expected-uptake", inputs, scaled_parts(parts, calcium.value / grams.median)),
        _share(of_rates, found, grams, inputs),
    )


def grams_in_system(of_rates: Published, found: Factor) -> LogNormal:
    """Published calcification times the system's factor, g/day, less the error the two share."""
    free = of_rates.of_method**2 + of_rates.of_colony**2 + found.ratio.spread**2
    spread = sqrt(max(free + 2.0 * found.shared_with(of_rates), of_rates.of_colony**2))
    return LogNormal(of_rates.median * found.ratio.median, spread)


def share_against(odds: LogNormal) -> Estimate:
    """The share of the whole that odds against the rest give, with its 90 % interval."""
    width = exp(coverage_factor() * odds.spread)
    value, low, high = (o / (1.0 + o) for o in (odds.median, odds.median / width, odds.median * width))
    return Estimate(value, low, high, "share")


def _share(of_rates: Published, found: Factor, grams: LogNormal, inputs: tuple[Source, ...]) -> Finding | CannotTell:
    """Against what the others lay down: by the same rates where they are known, so that the factor drops out."""
    if found.present is not None:
        others = found.present.sum
        causes = (*_own(of_rates), ("other-corals", others.spread))
        free = of_rates.of_method**2 + of_rates.of_colony**2 + others.spread**2
        spread = sqrt(max(free - 2.0 * found.present.shared_with(of_rates), of_rates.of_colony**2))
        odds = LogNormal(of_rates.median / others.median, spread)
    else:
        whole = from_estimate(found.measured.estimate) if isinstance(found.measured, Finding) else None
        if whole is None:
            return CannotTell("uptake-not-known", "read-alkalinity", inputs=inputs)
        causes = (*_own(of_rates), ("system-factor", found.ratio.spread), ("uptake", whole.spread))
        odds = LogNormal(grams.median / whole.median, sqrt(grams.spread**2 + whole.spread**2))
    return Finding(share_against(odds), "expected-uptake", inputs, share_parts(odds, causes))


def share_parts(odds: LogNormal, causes: Iterable[tuple[str, float]]) -> tuple[UncertaintyPart, ...]:
    """What each cause's spread (of the logarithm of the odds) alone gives to a share, to first order."""
    slope = odds.median / (1.0 + odds.median) ** 2
    return tuple(UncertaintyPart(cause, slope * spread) for cause, spread in causes if spread > 0.0)


def _own(of_rates: Published) -> tuple[tuple[str, float], ...]:
    return ("published-rates", of_rates.of_method), ("colony-by-itself", of_rates.of_colony)


def grams_parts(of_rates: Published, found: Factor, grams: LogNormal) -> tuple[UncertaintyPart, ...]:
    """To first order, in g/day: the ways of reckoning, the colony by itself, the system's factor."""
    return (
        UncertaintyPart("published-rates", grams.median * of_rates.of_method),
        UncertaintyPart("colony-by-itself", grams.median * of_rates.of_colony),
        UncertaintyPart("system-factor", grams.median * found.ratio.spread),
    )
