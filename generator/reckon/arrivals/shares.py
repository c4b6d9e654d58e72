"""Every coral's share of its system's uptake today, and by how much single corals take otherwise than published.

What an event was predicted to do stays the coral's own: what came by it is its share of the whole from then on, and the
others keep theirs.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta
from math import exp, hypot, log, sqrt
from statistics import median
from types import MappingProxyType

from msgspec import Struct
from msgspec.structs import replace

from generator.nature.constants import UNMEASURED_SPREAD
from generator.nature.genera import genus_name
from generator.reckon.arrivals.colony import colony_of
from generator.reckon.arrivals.expected import (
    SystemFactor,
    alkalinity_of,
    factor_of_system,
    published_together,
    share_against,
    share_parts,
)
from generator.reckon.arrivals.published import Published, published, without_skeleton
from generator.reckon.estimate.uncertainty import LogNormal
from generator.reckon.finding import Answer, CannotTell, Finding, UncertaintyPart, scaled_parts
from generator.reckon.water.demand_events import DemandEvent
from generator.records.coral import Coral, standing_in
from generator.records.source import Source
from generator.records.system import Water
from generator.units.quantity import Estimate, coverage_factor, spread_of_range

# No coral is known to do otherwise than published.
NONE_OWN: Mapping[str, float] = MappingProxyType({})


class CoralShare(Struct, frozen=True):
    """One coral's part of the demand: `share` of the whole, g CaCO3/day, alkalinity meq/L/day.

    `assumed` marks a coral that nobody measured. `parts` are those of the share's uncertainty, `inputs` the
    lines that say how large the coral is.
    """

    coral: str
    share: Estimate
    grams_per_day: Estimate
    alkalinity: Estimate
    assumed: bool
    parts: tuple[UncertaintyPart, ...] = ()
    inputs: tuple[Source, ...] = ()


class Shares(Struct, frozen=True):
    """The measured calcification of a system, shared out among its corals by id, largest first.

    The values of the shares add up to the whole exactly. `factor` is how these corals do against
    published rates; `known` their published rates by id.
    """

    system: str
    whole: Finding
    corals: Mapping[str, CoralShare]
    factor: SystemFactor
    known: tuple[tuple[str, Published], ...]


class PartOfWhole(Struct, frozen=True):
    """What part of its system's uptake a coral takes. Sizes and rates decide that, not each reading."""

    system: str
    share: Answer
    assumed: bool = False


def part_of_whole(coral: str, system: str, found: Mapping[str, Shares | CannotTell]) -> PartOfWhole | None:
    """What part (%) a coral takes of its system's uptake, by what was found there; None where it has none."""
    here = found.get(system)
    if here is None:
        return None
    if isinstance(here, CannotTell):
        return PartOfWhole(system, replace(here, inputs=()))
    if (share := here.corals.get(coral)) is None:
        return None
    percent = Finding(share.share.scaled(100.0, "%"), "shares", share.inputs, scaled_parts(share.parts, 100.0))
    return PartOfWhole(system, percent, share.assumed)


def published_of(
    standing: Iterable[Coral], day: date, own: Mapping[str, float] = NONE_OWN
) -> tuple[dict[str, Published], tuple[str, ...]]:
    """The published calcification of corals that stand together on a day, and the ids of the unmeasured.

    The unmeasured count as the middle of the measured; animals without a skeleton do not count. `own` is how
    many times as much as published some corals are known to take beside the others (see `own`).
    """
    known: dict[str, Published] = {}
    unmeasured: list[Coral] = []
    for coral in standing:
        found = published(colony_of(coral, day))
        if isinstance(found, Published):
            known[coral.id] = found
        elif not without_skeleton(found):
            unmeasured.append(coral)
    if known:
        usual = median(each.median for each in known.values())
        for coral in unmeasured:
            known[coral.id] = Published(
                genus_name(coral.species), coral.form, (), 0, usual, 0.0, UNMEASURED_SPREAD.value
            )
    with_own = {id: replace(each, median=each.median * own.get(id, 1.0)) for id, each in sorted(known.items())}
    return with_own, tuple(coral.id for coral in unmeasured)


def present_factor(
    corals: Iterable[Coral], system: str, day: date, measured: Answer, own: Mapping[str, float] = NONE_OWN
) -> SystemFactor:
    """A system's factor on a day: the measured g CaCO3/day of its corals against published rates."""
    return factor_of_system(published_of(standing_in(corals, system, day), day, own)[0], measured)


def shares(
    system: str,
    water: Water,
    corals: Iterable[Coral],
    measured: Answer,
    day: date,
    own: Mapping[str, float] = NONE_OWN,
    within: Mapping[str, float] = NONE_OWN,
) -> Shares | CannotTell:
    """The measured calcification (g CaCO3/day) shared out by the corals' published rates, times their `own` factors.

    `within` is how well readings tell what some take (one standard deviation of the logarithm), better than rates do.
    All that calcifies is taken to be in the files: what rock and glass grow is counted with the corals.
    Answers `CannotTell` where the calcification itself cannot be told, or no coral here was measured.
    """
    if isinstance(measured, CannotTell):
        return measured
    corals = tuple(corals)
    known, unmeasured = published_of(standing_in(corals, system, day), day, own)
    if not known:
        return CannotTell("no-measured-corals", "measure-or-weigh", inputs=measured.inputs)
    total = sum(each.median for each in known.values())
    better = {
        id: replace(each, of_method=0.0, of_colony=within[id])
        for id, each in known.items()
        if id in within and within[id] < hypot(each.of_method, each.of_colony)
    }
    sure = {**known, **better}
    found = [
        _share(id, {k: v for k, v in sure.items() if k != id}, each, measured.estimate, total, water, id in better)
        for id, each in sure.items()
    ]
    lines = {coral.id: colony_of(coral, day).inputs for coral in corals if coral.id in known}
    found = [replace(each, assumed=each.coral in unmeasured, inputs=lines[each.coral]) for each in found]
    ordered = sorted(found, key=lambda each: (-each.share.value, each.coral))
    by_id = {each.coral: each for each in ordered}
    return Shares(system, measured, by_id, factor_of_system(known, measured), tuple(known.items()))


def _share(
    coral: str,
    others: Mapping[str, Published],
    own: Published,
    whole: Estimate,
    total: float,
    water: Water,
    read: bool = False,
) -> CoralShare:
    """A coral's share; what readings told of one by itself (`read`) is as sure as that, whatever the others take."""
    rest = published_together(list(others.values()))
    parts: tuple[UncertaintyPart, ...] = ()
    if rest is None:
        share = Estimate(1.0, 1.0, 1.0, "share", whole.level)
    else:
        variance = own.of_method**2 + own.of_colony**2 + rest.sum.spread**2 - 2.0 * rest.shared_with(own)
        odds = LogNormal(own.median / rest.sum.median, sqrt(max(variance, own.of_colony**2)))
        own_causes = ("published-rates", own.of_method), ("colony-by-itself", own.of_colony)
        causes: tuple[tuple[str, float], ...] = (*own_causes, ("other-corals", rest.sum.spread))
        if read:
            odds = replace(odds, spread=min(odds.spread, own.of_colony / max(1.0 - own.median / total, 1e-6)))
            causes = (("readings-and-drift", own.of_colony),)
        share = replace(share_against(odds), value=own.median / total)
        parts = share_parts(odds, causes)
    grams = part_of(whole, LogNormal(share.value, spread_of_range(share.low, share.high)))
    return CoralShare(coral, share, grams, alkalinity_of(grams, water), False, parts)


def part_of(whole: Estimate, part: LogNormal) -> Estimate:
    """A whole times a positive part; the value is the plain product, so that parts add up.

    The two ends are of the product's logarithm, each side for itself.
    """
    reach, value = coverage_factor() * part.spread, whole.value * part.median
    if whole.low > 0.0:
        below, above = (hypot(log(whole.value / end), reach) for end in (whole.low, whole.high))
        return Estimate(value, value * exp(-below), value * exp(above), whole.unit, whole.level)
    factor_of_part = exp(reach) * part.median
    low, high = sorted((whole.low * factor_of_part, whole.high * factor_of_part))
    return Estimate(value, low, high, whole.unit, whole.level)


# Where next to nothing was taken up before, what came counts as this many times as much. Keeps a division whole.
_MOST_TIMES = 1e4


def present_before(
    system: str, corals: Mapping[str, Coral], event: DemandEvent, before: Iterable[DemandEvent]
) -> list[Coral]:
    """The corals in a system just before an event: those of the day before, and what came and went that day."""
    today = [each for each in before if each.day == event.day and each.at < event.at and each.coral in corals]
    came = {each.coral for each in today if each.what == "arrival"}
    gone = {each.coral for each in today if each.what == "loss"}
    here = {coral.id for coral in standing_in(corals.values(), system, event.day - timedelta(days=1))}
    return [coral for id, coral in corals.items() if id in (here | came) - gone]


def own_factor(
    coral: Coral, event: DemandEvent, takes: float, measured: Answer, present: Sequence[Coral], own: Mapping[str, float]
) -> float | None:
    """What a newcomer takes against its published rate, if all beside it do as published times their `own`.

    It `takes` so many g CaCO3/day; `measured` is the whole just before it came. None where there is nothing to compare.
    """
    if not isinstance(measured, Finding):
        return None
    day_before = event.day - timedelta(days=1)
    known = published_of(present, day_before, own)[0]
    whole, total = max(measured.estimate.value, takes / _MOST_TIMES), sum(each.median for each in known.values())
    now = _alone(coral, event.day)
    if now is None or total <= 0.0:
        return None
    return takes / whole * total / now.median


def own_after_cut(coral: Coral, event: DemandEvent, left: float, own: Mapping[str, float]) -> float | None:
    """The same for a coral of which a share of its calcification is `left` after a cut (0 to 1)."""
    before, now = (_alone(coral, day) for day in (event.day - timedelta(days=1), event.day))
    if before is None or now is None:
        return None
    return own.get(coral.id, 1.0) * left * before.median / now.median


def still_own(coral: Coral, event: DemandEvent, day: date) -> bool:
    """Whether what an event made a coral's own still holds: a cut counts until the coral is measured after it."""
    measured = [*(size.at for size in coral.sizes), *(weighing.at for weighing in coral.weighings)]
    return event.what != "cutting" or not any(event.day <= at <= day for at in measured)


def _alone(coral: Coral, day: date) -> Published | None:
    return published_of([coral], day)[0].get(coral.id)
