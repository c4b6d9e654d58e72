"""Every coral's share of its system's demand, and what the demand would be without a part of one."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from math import exp, log, sqrt
from statistics import median

from generator.reckon.arrivals.colony import colony_of
from generator.reckon.arrivals.expected import grams_in_system, share_against
from generator.reckon.arrivals.factor import Factor, factor, together
from generator.reckon.arrivals.published import Published, published, without_skeleton
from generator.reckon.constants import CALCIFICATION_SIZE_EXPONENT
from generator.reckon.estimate.lognormal import LogNormal, from_estimate
from generator.reckon.finding import Answer, CannotTell, Finding
from generator.reckon.water.stoichiometry import CALCIUM_PER_MEQ, GRAMS_PER_MEQ
from generator.records.coral import Coral
from generator.records.system import Water
from generator.records.taxa import genus_name
from generator.units.quantity import Estimate

# A coral nobody measured counts as the middle of those that were, within a factor of four or so. An assumption of ours.
UNMEASURED_SPREAD = 0.8


@dataclass(frozen=True, slots=True)
class CoralShare:
    """One coral's part of the demand: `share` of the whole, g CaCO3/day, alkalinity meq/L/day, calcium mg/L/day.

    `assumed` marks a coral that nobody measured.
    """

    coral: str
    share: Estimate
    grams_per_day: Estimate
    alkalinity: Estimate
    calcium: Estimate
    assumed: bool


@dataclass(frozen=True, slots=True)
class Shares:
    """The measured calcification of a system, shared out among its corals, largest first.

    The values of the shares add up to the whole exactly. `factor` is how these corals do against
    published rates; `known` their published rates by id.
    """

    system: str
    whole: Finding
    corals: tuple[CoralShare, ...]
    factor: Factor
    known: tuple[tuple[str, Published], ...]

    def of(self, coral: str) -> CoralShare | None:
        """A coral's share, if it stands in this system."""
        return next((each for each in self.corals if each.coral == coral), None)


@dataclass(frozen=True, slots=True)
class Demand:
    """A system's demand before and after a change: g CaCO3/day and alkalinity, meq/L/day."""

    system: str
    before: Estimate
    after: Estimate
    alkalinity_before: Estimate
    alkalinity_after: Estimate


def published_of(corals: Iterable[Coral], system: str, day: date) -> tuple[dict[str, Published], tuple[str, ...]]:
    """The published calcification of every coral standing in a system on a day, and the ids of the unmeasured.

    The unmeasured count as the middle of the measured; animals without a skeleton do not count.
    """
    known: dict[str, Published] = {}
    unmeasured: list[Coral] = []
    for coral in corals:
        standing = coral.placement_on(day)
        if standing is None or standing.system != system:
            continue
        found = published(colony_of(coral, day))
        if isinstance(found, Published):
            known[coral.id] = found
        elif not without_skeleton(found):
            unmeasured.append(coral)
    if known:
        usual = median(each.median for each in known.values())
        for coral in unmeasured:
            known[coral.id] = Published(genus_name(coral.species), coral.form, (), 0, usual, 0.0, UNMEASURED_SPREAD)
    return dict(sorted(known.items())), tuple(coral.id for coral in unmeasured)


def present_factor(
    corals: Iterable[Coral], system: str, day: date, measured: Answer, without: str | None = None
) -> Factor:
    """How a system's corals on a day do against published rates, given their measured g CaCO3/day.

    `without` leaves out one coral: the newcomer, whose part is not in what was measured before it came.
    """
    return factor(published_of([c for c in corals if c.id != without], system, day)[0], measured)


def shares(system: str, water: Water, corals: Iterable[Coral], measured: Answer, day: date) -> Shares | CannotTell:
    """The measured calcification (g CaCO3/day) shared out by the corals' published rates.

    All that calcifies is taken to be in the files: what rock and glass grow is counted with the corals.
    Answers `CannotTell` where the calcification itself cannot be told, or no coral here was measured.
    """
    if isinstance(measured, CannotTell):
        return measured
    known, unmeasured = published_of(corals, system, day)
    if not known:
        return CannotTell("no-measured-corals", "measure-or-weigh", inputs=measured.inputs)
    total = sum(each.median for each in known.values())
    found = [
        _share(coral, {k: v for k, v in known.items() if k != coral}, each, measured.estimate, total, water)
        for coral, each in known.items()
    ]
    found = [replace(each, assumed=each.coral in unmeasured) for each in found]
    ordered = sorted(found, key=lambda each: (-each.share.value, each.coral))
    return Shares(system, measured, tuple(ordered), factor(known, measured), tuple(known.items()))


def if_cut(found: Shares, coral: str, part: float, water: Water) -> Demand | CannotTell:
    """The demand once `part` (0 to 1) of a coral is cut away and gone; 1 for the whole coral.

    What stays calcifies by its size to a power below one, so a third less coral takes a little less than
    a third less; that it does less while it heals is not counted.
    Source: Carlot et al. 2022 (exponent), as `growth.cutting.demand_after`.
    """
    share = found.of(coral)
    if share is None:
        return CannotTell("coral-not-here", "name-a-coral-of-this-system")
    lost = 1.0 - (1.0 - part) ** CALCIFICATION_SIZE_EXPONENT.value
    left = 1.0 - lost * share.share.value
    # The share's interval, read as that of the demand that is left.
    lowest, highest = 1.0 - lost * share.share.high, 1.0 - lost * share.share.low
    kept = LogNormal(left, (log(highest) - log(max(lowest, 1e-9))) / 2.0 / _Z90 if highest > lowest else 0.0)
    return _demand(found, _product(found.whole.estimate, kept), water)


def if_moved(
    found: Shares, coral: str, water: Water, other: str, other_factor: Factor, other_water: Water
) -> tuple[Demand, Demand] | CannotTell:
    """The demand of both systems once a coral has moved from one to the other.

    In the other system it does as that system's corals do against published rates; where that is not
    known, as it does here.
    """
    leaving = if_cut(found, coral, 1.0, water)
    if isinstance(leaving, CannotTell):
        return leaving
    share, of_rates = found.of(coral), dict(found.known)[coral]
    assert share is not None
    if isinstance(other_factor.measured, CannotTell):
        return other_factor.measured
    there = other_factor if other_factor.known == "learned" else found.factor
    added = grams_in_system(of_rates, there).estimate("g/day")
    before = other_factor.measured.estimate
    low = before.value + added.value - sqrt((before.value - before.low) ** 2 + (added.value - added.low) ** 2)
    high = before.value + added.value + sqrt((before.high - before.value) ** 2 + (added.high - added.value) ** 2)
    after = Estimate(before.value + added.value, low, high, before.unit, before.level)
    per_meq = 1.0 / GRAMS_PER_MEQ / other_water.volume.canonical()
    arriving = Demand(other, before, after, before.scaled(per_meq, "meq/L/day"), after.scaled(per_meq, "meq/L/day"))
    return leaving, arriving


_Z90 = 1.6448536269514722


def _share(
    coral: str, others: Mapping[str, Published], own: Published, whole: Estimate, total: float, water: Water
) -> CoralShare:
    rest = together(list(others.values()))
    if rest is None:
        share = Estimate(1.0, 1.0, 1.0, "share", whole.level)
    else:
        variance = own.of_method**2 + own.of_colony**2 + rest.sum.spread**2 - 2.0 * rest.shared_with(own)
        odds = LogNormal(own.median / rest.sum.median, sqrt(max(variance, own.of_colony**2)))
        share = replace(share_against(odds), value=own.median / total)
    grams = _product(whole, LogNormal(share.value, log(share.high / share.low) / 2.0 / _Z90))
    per_meq = 1.0 / GRAMS_PER_MEQ / water.volume.canonical()
    alkalinity = grams.scaled(per_meq, "meq/L/day")
    return CoralShare(coral, share, grams, alkalinity, alkalinity.scaled(CALCIUM_PER_MEQ, "mg/L/day"), False)


def _product(whole: Estimate, part: LogNormal) -> Estimate:
    """A measured whole times a positive part; the value is the plain product, so that parts add up."""
    if (positive := from_estimate(whole)) is not None:
        return replace(positive.times(part).estimate(whole.unit), value=whole.value * part.median)
    factor_of_part = exp(_Z90 * part.spread) * part.median
    low, high = sorted((whole.low * factor_of_part, whole.high * factor_of_part))
    return Estimate(whole.value * part.median, low, high, whole.unit, whole.level)


def _demand(found: Shares, after: Estimate, water: Water) -> Demand:
    before = found.whole.estimate
    per_meq = 1.0 / GRAMS_PER_MEQ / water.volume.canonical()
    return Demand(found.system, before, after, before.scaled(per_meq, "meq/L/day"), after.scaled(per_meq, "meq/L/day"))
