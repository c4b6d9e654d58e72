"""The uptake of a colony, before it is in a system."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from math import exp, log, sqrt
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from generator.nature.constants import BETWEEN_WATERS, UNKNOWN_FACTOR_SPREAD
from generator.reckon.arrivals.colony import NOTHING_RECORDED, UNKNOWN, Colony, LightAndFlow, OfPlace, of_place
from generator.reckon.arrivals.published import Published, published
from generator.reckon.estimate.uncertainty import LogNormal, from_estimate
from generator.reckon.finding import (
    Answer,
    CannotTell,
    Finding,
    UncertaintyPart,
    one_cause,
    scaled_parts,
    uncertainty_parts,
)
from generator.reckon.water.deliveries import CALCIUM_PER_MEQ, GRAMS_PER_MEQ, relative_volume_error
from generator.records.source import Source
from generator.records.system import Water
from generator.units.quantity import Estimate, coverage_factor


def alkalinity_of(grams: Estimate, water: Water) -> Estimate:
    """Alkalinity (meq/L/day) that calcification of so many g CaCO3/day takes from the water.

    Source: two equivalents a mole of CaCO3, see `water.deliveries`.
    """
    return grams.scaled(1.0 / GRAMS_PER_MEQ / water.volume.canonical(), "meq/L/day")


def calcium_of(grams: Estimate, water: Water) -> Estimate:
    """Calcium (mg/L/day) that calcification of so many g CaCO3/day takes from the water.

    Source: one mole a mole of CaCO3, see `water.deliveries`.
    """
    return alkalinity_of(grams, water).scaled(CALCIUM_PER_MEQ, "mg/L/day")


# Before a system has taught its own: as published, give or take a factor of 2.3 (9 in 10). An assumption of ours.
UNKNOWN_FACTOR = LogNormal(1.0, UNKNOWN_FACTOR_SPREAD.value)


class PublishedSum(Struct, frozen=True):
    """Several corals' published calcification in all, g/day.

    `by_kind` tells for every kind (genus and form) how much of the sum's error of method its corals
    carry: their part of the sum times their own spread.
    """

    sum: LogNormal
    by_kind: tuple[tuple[str, float], ...]

    def shared_with(self, other: Published) -> float:
        """Covariance of the logarithms of the sum and of a coral that is not in it: errors of method they share."""
        return other.of_method * dict(self.by_kind).get(other.kind, 0.0)


class SystemFactor(Struct, frozen=True):
    """Measured calcification over the published one of the corals present.

    `followed`: that of one coral alone, by what it was known to take in the water it came from.

    `ratio` is the factor; `present` the corals' published sum (None: none is known); `measured` the
    system's calcification, g/day.
    """

    ratio: LogNormal
    known: Literal["learned", "assumed", "followed"]
    present: PublishedSum | None
    measured: Answer
    inputs: tuple[Source, ...] = ()

    def shared_with(self, coral: Published) -> float:
        """Covariance of the logarithms of the factor and of a coral's published rate: the error cancels in part."""
        return 0.0 if self.known != "learned" or self.present is None else -self.present.shared_with(coral)


def published_together(corals: Sequence[Published]) -> PublishedSum | None:
    """The published calcification of several corals in all; None of none.

    Errors of method go together within a genus and form, each coral's own go apart.
    Source: propagation to first order in the logarithms, JCGM 100:2008 (GUM), 5.2.2.
    """
    total = sum(coral.median for coral in corals)
    if total <= 0.0:
        return None
    by_kind: dict[str, float] = defaultdict(float)
    own = 0.0
    for coral in corals:
        part = coral.median / total
        by_kind[coral.kind] += part * coral.of_method
        own += (part * coral.of_colony) ** 2
    spread = sqrt(own + sum(error**2 for error in by_kind.values()))
    return PublishedSum(LogNormal(total, spread), tuple(sorted(by_kind.items())))


def factor_of_system(present: Mapping[str, Published], measured: Answer) -> SystemFactor:
    """The factor that this system's corals show; the assumed one if they or the measurement are not known.

    `measured` is the calcification of the whole system in g CaCO3/day; it must be clearly above nothing.
    """
    all_present = published_together(list(present.values()))
    inputs = measured.inputs
    whole = from_estimate(measured.estimate) if isinstance(measured, Finding) else None
    if all_present is None or whole is None:
        return SystemFactor(UNKNOWN_FACTOR, "assumed", all_present, measured, inputs)
    ratio = LogNormal(whole.median / all_present.sum.median, sqrt(whole.spread**2 + all_present.sum.spread**2))
    return SystemFactor(ratio, "learned", all_present, measured, inputs)


def times_there(here: SystemFactor, there: SystemFactor, place: OfPlace = NOTHING_RECORDED) -> LogNormal:
    """The uptake of a coral `there`, as a multiple of its uptake `here`; `place` is what light and flow do to it.

    The ratio of the two systems' factors, where both were measured, weighed against two waters doing alike: the less
    sure the ratio, the nearer to 1. Errors of method that corals of one genus and form share in both waters cancel.
    Source: weighted mean of two, weights 1/s², JCGM 100:2008 (GUM), 5.1.2.
    """
    if (here.known, there.known) != ("learned", "learned") or here.present is None or there.present is None:
        return LogNormal(1.0, BETWEEN_WATERS.value).times(place.whole)
    of_there = dict(there.present.by_kind)
    shared = sum(error * of_there.get(kind, 0.0) for kind, error in here.present.by_kind)
    of_ratio = max(here.ratio.spread**2 + there.ratio.spread**2 - 2.0 * shared, 0.0)
    weight = BETWEEN_WATERS.value**2 / (BETWEEN_WATERS.value**2 + of_ratio)
    median = (there.ratio.median / here.ratio.median) ** weight
    return LogNormal(median, sqrt(weight * of_ratio)).times(place.whole)


# A colony that takes so much of the whole demand is large for its system, and gets a page of its own.
LARGE_SHARE = 0.15


class Taken(Struct, frozen=True):
    """The known uptake of a coral in the water it comes from: g CaCO3/day, that system's factor, and where it stood."""

    grams_per_day: Estimate
    factor: SystemFactor
    inputs: tuple[Source, ...]
    spot: LightAndFlow = UNKNOWN


class ExpectedUptake(Struct, frozen=True):
    """What a colony will take.

    `published` is what it lays down by published rates; the others have the system's `factor` in them:
    `grams_per_day` of CaCO3; `alkalinity` (meq/L/day) and `calcium` (mg/L/day) out of the system's
    water; `share` of the whole demand once it is in (CannotTell where no other coral is known).
    """

    published: Published
    factor: SystemFactor
    grams_per_day: Finding
    alkalinity: Finding
    calcium: Finding
    share: Finding | CannotTell

    @property
    def large(self) -> bool:
        """Whether its share of the whole uptake is at least `LARGE_SHARE`, or nothing else is known to take up any."""
        return isinstance(self.share, CannotTell) or self.share.estimate.value >= LARGE_SHARE


def expected(colony: Colony, water: Water, found: SystemFactor) -> ExpectedUptake | CannotTell:
    """A colony's calcification and uptake in a system, from published rates times the system's factor.

    Where the factor was learned from corals of the same genus and form, the errors of method cancel as
    far as they are shared. Answers `CannotTell` without a size or a mass, or for animals with no skeleton.
    """
    of_rates = published(colony)
    if isinstance(of_rates, CannotTell):
        return of_rates
    return expected_of(of_rates, colony.inputs, water, found)


def expected_of(of_rates: Published, lines: tuple[Source, ...], water: Water, found: SystemFactor) -> ExpectedUptake:
    """The same of a coral whose published calcification is known; `lines` say how large it is."""
    grams = grams_in_system(of_rates, found)
    inputs = tuple(dict.fromkeys([*lines, *found.inputs]))
    return _uptake(of_rates, found, grams, grams_parts(of_rates, found, grams), water, inputs)


def followed(
    here: Taken, colony: Colony, water: Water, found: SystemFactor, spot: LightAndFlow = UNKNOWN
) -> ExpectedUptake | CannotTell:
    """The uptake of a coral from another of the keeper's waters: its uptake there, times how the two waters compare.

    `found` is the factor of the water it comes into, `spot` where it stands there. Answers as `expected` where it is
    not known what it took.
    """
    of_rates, took = published(colony), here.grams_per_day
    if isinstance(of_rates, CannotTell) or took.value <= 0.0:
        return expected(colony, water, found)
    inputs = tuple(dict.fromkeys([*colony.inputs, *here.inputs, *found.inputs]))
    times = times_there(here.factor, found, of_place(here.spot, spot))
    # The upper end alone tells how unsure it is: the lower one may be nothing.
    spread = log(took.high / took.value) / coverage_factor()
    grams = LogNormal(took.value, spread).times(times)
    parts = (
        UncertaintyPart("share-before", grams.median * spread),
        UncertaintyPart("two-waters", grams.median * times.spread),
    )
    as_published = LogNormal(grams.median / of_rates.median, grams.spread)
    known = replace(found, ratio=as_published, known="followed")
    return _uptake(of_rates, known, grams, parts, water, inputs)


def _uptake(
    of_rates: Published,
    found: SystemFactor,
    grams: LogNormal,
    of_grams: tuple[UncertaintyPart, ...],
    water: Water,
    inputs: tuple[Source, ...],
) -> ExpectedUptake:
    of_volume = relative_volume_error(water)
    in_volume = grams.times(LogNormal(1.0, of_volume)).estimate("g/day")
    alkalinity, calcium = alkalinity_of(in_volume, water), calcium_of(in_volume, water)
    parts = (*of_grams, UncertaintyPart("water-volume", grams.median * of_volume))
    return ExpectedUptake(
        of_rates,
        found,
        Finding(grams.estimate("g/day"), "expected-uptake", inputs, of_grams),
        Finding(alkalinity, "expected-uptake", inputs, scaled_parts(parts, alkalinity.value / grams.median)),
        Finding(calcium, "expected-uptake", inputs, scaled_parts(parts, calcium.value / grams.median)),
        _share(of_rates, found, grams, inputs),
    )


def grams_in_system(of_rates: Published, found: SystemFactor) -> LogNormal:
    """Published calcification times the system's factor, g/day, less the error the two share."""
    free = of_rates.of_method**2 + of_rates.of_colony**2 + found.ratio.spread**2
    spread = sqrt(max(free + 2.0 * found.shared_with(of_rates), of_rates.of_colony**2))
    return LogNormal(of_rates.median * found.ratio.median, spread)


def share_against(odds: LogNormal) -> Estimate:
    """The share of the whole that follows from the odds against the rest, with its 90 % interval."""
    width = exp(coverage_factor() * odds.spread)
    value, low, high = (o / (1.0 + o) for o in (odds.median, odds.median / width, odds.median * width))
    return Estimate(value, low, high, "share")


def _share(
    of_rates: Published, found: SystemFactor, grams: LogNormal, inputs: tuple[Source, ...]
) -> Finding | CannotTell:
    """The share against the others, by the same rates if they are known, so that the factor cancels."""
    if found.present is not None and found.known != "followed":
        others = found.present.sum
        causes = (*_own(of_rates), ("other-corals", others.spread))
        free = of_rates.of_method**2 + of_rates.of_colony**2 + others.spread**2
        spread = sqrt(max(free - 2.0 * found.present.shared_with(of_rates), of_rates.of_colony**2))
        odds = LogNormal(of_rates.median / others.median, spread)
    else:
        if isinstance(found.measured, CannotTell):
            return CannotTell("uptake-not-known", "read-alkalinity", inputs=inputs)
        if (whole := from_estimate(found.measured.estimate)) is None:
            share = _beside(grams.estimate("g/day"), found.measured.estimate)
            return Finding(share, "expected-uptake", inputs, one_cause("uptake", share))
        by_itself = () if found.known == "followed" else _own(of_rates)
        causes = (*by_itself, ("system-factor", found.ratio.spread), ("uptake", whole.spread))
        odds = LogNormal(grams.median / whole.median, sqrt(grams.spread**2 + whole.spread**2))
    return Finding(share_against(odds), "expected-uptake", inputs, share_parts(odds, causes))


def _beside(grams: Estimate, others: Estimate) -> Estimate:
    """The share beside others that may well take nothing at all."""
    middle, most = (max(end, 0.0) for end in (others.value, others.high))
    return Estimate(grams.value / (grams.value + middle), grams.low / (grams.low + most), 1.0, "share")


def share_parts(odds: LogNormal, causes: Iterable[tuple[str, float]]) -> tuple[UncertaintyPart, ...]:
    """What each cause's spread (of the logarithm of the odds) alone gives to a share, to first order."""
    slope = odds.median / (1.0 + odds.median) ** 2
    return uncertainty_parts((cause, slope * spread) for cause, spread in causes)


def _own(of_rates: Published) -> tuple[tuple[str, float], ...]:
    return ("published-rates", of_rates.of_method), ("colony-by-itself", of_rates.of_colony)


def grams_parts(of_rates: Published, found: SystemFactor, grams: LogNormal) -> tuple[UncertaintyPart, ...]:
    """Parts of the uncertainty to first order, g/day: the methods, the colony itself, the system's factor."""
    return (
        UncertaintyPart("published-rates", grams.median * of_rates.of_method),
        UncertaintyPart("colony-by-itself", grams.median * of_rates.of_colony),
        UncertaintyPart("system-factor", grams.median * found.ratio.spread),
    )
