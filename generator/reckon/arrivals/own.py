"""By how much single corals take otherwise than their published rates say beside those they stand with.

What an event was predicted to do stays the coral's own: what came by it is its share of the whole from then on, and the
others keep theirs.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta

from generator.reckon.arrivals.published import Published
from generator.reckon.arrivals.shares import published_of, standing_in
from generator.reckon.finding import Answer, Finding
from generator.reckon.water.demand_events import DemandEvent
from generator.records.coral import Coral

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
    """Whether what an event made a coral's own still holds: a cut counts until the coral is measured again."""
    measured = [*(size.at for size in coral.sizes), *(weighing.at for weighing in coral.weighings)]
    return event.what != "cutting" or not any(event.day < at <= day for at in measured)


def _alone(coral: Coral, day: date) -> Published | None:
    return published_of([coral], day)[0].get(coral.id)
