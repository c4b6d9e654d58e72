"""How a system's corals do against published rates: the factor that makes a published rate this system's own."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Literal

from generator.reckon.arrivals.published import Published
from generator.reckon.estimate.lognormal import LogNormal, from_estimate
from generator.reckon.finding import Answer, Finding
from generator.records.source import Source

# Before a system has taught its own: as published, give or take a factor of 2.3 (9 in 10). An assumption of ours.
UNKNOWN_FACTOR = LogNormal(1.0, 0.5)


@dataclass(frozen=True, slots=True)
class Together:
    """Several corals' published calcification in all, g/day.

    `by_kind` tells for every kind (genus and form) how much of the sum's error of method its corals
    carry: their part of the sum times their own spread.
    """

    sum: LogNormal
    by_kind: tuple[tuple[str, float], ...]

    def shared_with(self, other: Published) -> float:
        """Covariance of the logarithms of the sum and of a coral that is not in it: errors of method they share."""
        return other.of_method * dict(self.by_kind).get(other.kind, 0.0)


@dataclass(frozen=True, slots=True)
class Factor:
    """Measured calcification over the published one of the corals present.

    `ratio` is the factor; `present` the corals' published sum (None: none is known); `measured` the
    system's calcification, g/day.
    """

    ratio: LogNormal
    known: Literal["learned", "assumed"]
    present: Together | None
    measured: Answer
    inputs: tuple[Source, ...] = ()

    def shared_with(self, coral: Published) -> float:
        """Covariance of the logarithms of the factor and of a coral's published rate: the error cancels in part."""
        return 0.0 if self.known == "assumed" or self.present is None else -self.present.shared_with(coral)


def together(corals: Sequence[Published]) -> Together | None:
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
    return Together(LogNormal(total, spread), tuple(sorted(by_kind.items())))


def factor(present: Mapping[str, Published], measured: Answer) -> Factor:
    """The factor this system's corals teach; the assumed one where they or the measurement are not known.

    `measured` is the calcification of the whole system in g CaCO3/day; it must be clearly above nothing.
    """
    all_present = together(list(present.values()))
    inputs = measured.inputs
    whole = from_estimate(measured.estimate) if isinstance(measured, Finding) else None
    if all_present is None or whole is None:
        return Factor(UNKNOWN_FACTOR, "assumed", all_present, measured, inputs)
    ratio = LogNormal(whole.median / all_present.sum.median, sqrt(whole.spread**2 + all_present.sum.spread**2))
    return Factor(ratio, "learned", all_present, measured, inputs)
