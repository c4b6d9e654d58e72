"""How pumps are set in steps where uptake is to rise or fall, each step safe by what is known then."""

from collections.abc import Iterator, Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from generator.reckon.dosing.outlook import CALCIUM_PER_GRAM, MOST_A_DAY, Need
from generator.reckon.dosing.phases import Phase, given_a_day, phase
from generator.reckon.dosing.plan import Plan
from generator.reckon.dosing.supplies import Supply
from generator.reckon.finding import CannotTell
from generator.reckon.water.deliveries import GRAMS_PER_MEQ
from generator.units.quantity import Estimate, Litres


class PumpStep(Struct, frozen=True):
    """Litres a day of one supply: what runs `now`, and what holds the band without the change (`base`).

    `first` runs from the hour of the change, as the plan of that hour will say; `likely` meets what the change likely
    is, `cap` the most of uptake that is likely then, as far as it raises no level by more than `MOST_A_DAY` beyond
    `base` if the newcomer takes nothing; of a fall that is the dose before it.
    """

    supply: str
    how: str
    now: float
    base: float
    first: float
    likely: float
    cap: float


def left_of(grams: Estimate, before: Plan | CannotTell, at_hand: Sequence[Supply], worth: Mapping[str, float]) -> Phase:
    """The doses that are left of a plan once so many g CaCO3/day fall away: limewater and reactor go on the longest."""
    per_gram = {"alkalinity": 1.0 / GRAMS_PER_MEQ, "calcium": CALCIUM_PER_GRAM}
    needs = [] if isinstance(before, CannotTell) else before.needs
    less = tuple(_less(need, grams, per_gram.get(need.kind, 0.0)) for need in needs)
    return phase(less, {}, at_hand, None, worth)


def _less(need: Need, grams: Estimate, factor: float) -> Need:
    per_day = need.per_day
    ends = zip((per_day.value, per_day.low, per_day.high), (grams.value, grams.low, grams.high), strict=True)
    value, low, high = (max(end + factor * change, 0.0) for end, change in ends)
    return replace(need, per_day=replace(per_day, value=value, low=low, high=high))


def pump_steps(
    added: Phase,
    rises: bool,
    before: Plan | CannotTell,
    after: Plan | CannotTell,
    at_hand: Sequence[Supply],
    volume: Litres,
) -> Iterator[PumpStep]:
    """The doses that hold the band before and from the hour of the change, and those with the whole change."""
    today, first, running = _held(before), _held(after), {supply.id: supply.now for supply in at_hand}
    most = {dose.supply: dose.rate.estimate.high for dose in added.doses}
    safe = min((min(a_day * volume / more, 1.0) for a_day, more in _added(most, at_hand)), default=1.0)
    for dose in added.doses:
        rate, now = dose.rate.estimate, running.get(dose.supply, 0.0)
        base = today.get(dose.supply, now)
        if rises and rate.high:
            begins = first.get(dose.supply, base + rate.low)
            likely = max(base + rate.value, begins)
            yield PumpStep(dose.supply, dose.how, now, base, begins, likely, max(base + safe * rate.high, likely))
        elif not rises and (now or base):
            begins = first.get(dose.supply, 0.0)
            likely = max(rate.value, begins)
            yield PumpStep(dose.supply, dose.how, now, base, begins, likely, max(base, likely))


def _added(litres: Mapping[str, float], at_hand: Sequence[Supply]) -> Iterator[tuple[float, float]]:
    """The most that a level may rise a day, and what so many litres give of it, of each kind that they give."""
    given = [supply for supply in at_hand if supply.id in litres]
    for kind, a_day in MOST_A_DAY.items():
        if more := given_a_day(litres, given, kind):
            yield a_day, more


def _held(plan: Plan | CannotTell) -> dict[str, float]:
    """Litres a day of each supply that hold the band by a plan."""
    return {dose.supply: dose.rate.estimate.value for dose in plan.phases[-1].doses} if isinstance(plan, Plan) else {}
