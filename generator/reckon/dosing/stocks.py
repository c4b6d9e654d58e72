"""What to weigh out for a stock, whether it dissolves, how long it lasts; what doses leave uncovered, and remedies."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from math import hypot, inf
from typing import Literal

from msgspec import Struct

from generator.nature.constants import LIME_SOLUBILITY_AT_20C, SOLUBILITY
from generator.reckon.dosing.outlook import MOST_A_DAY, Outlook, levels_to_hold
from generator.reckon.dosing.phases import Phase, Unmet
from generator.reckon.dosing.plan import Plan
from generator.reckon.dosing.pouring import WaterChanges, upkeep
from generator.reckon.dosing.safe import Correction
from generator.reckon.dosing.supplies import KINDS_HELD, LIMEWATER, REACTOR, last_to_run, supplies
from generator.reckon.finding import CannotTell
from generator.reckon.water.deliveries import per_litre, rate_error
from generator.reckon.water.ledger import given_of_set, pumped
from generator.records.log import SystemLog
from generator.records.system import System
from generator.units.compounds import COMPOUNDS, molar_mass
from generator.units.quantity import Estimate, GramsPerLitre, Litres, PerLitre, coverage_factor

# What keepers most often make up for each kind. Common practice, no source.
USUAL_COMPOUND = {"alkalinity": "NaHCO3", "calcium": "CaCl2.2H2O", "magnesium": "MgCl2.6H2O"}


class Remedy(Struct, frozen=True):
    """One thing that would cover a shortfall by itself.

    ``compound``: `amount` grams a day of `what`; ``evaporation``: `amount` litres a day more limewater of solution
    `what`; ``effluent``: the reactor's effluent at `amount` meq/L, at the flow planned.
    """

    how: Literal["compound", "evaporation", "effluent"]
    what: str
    amount: float


class OutOfReach(Struct, frozen=True):
    """A rise to target that nothing at hand can give: `grams` of a compound would, over `days`."""

    correction: Correction
    compound: str
    grams: float
    days: int


class Shortfall(Struct, frozen=True):
    """What is left of a need, and each thing that would cover it; `by_water` are all water changes that would."""

    unmet: Unmet
    remedies: tuple[Remedy, ...]
    by_water: WaterChanges | None


def shortfalls(system: System, log: SystemLog, plan: Plan, found: Outlook, as_of: datetime) -> tuple[Shortfall, ...]:
    """What the doses that hold leave of each need, where they leave any."""
    hold, counted = plan.phases[-1], sum(each.per_day.value for each in plan.changing if each.per_day)
    volume, targets = system.water.volume.canonical(), levels_to_hold(system)
    short = []
    for unmet in hold.to_tell:
        if unmet.per_day.value > 0.0:
            changes = None
            if unmet.kind == "alkalinity":
                need = unmet.per_day.value / volume + max(counted, 0.0)
                changes = upkeep(system, found, targets.get(unmet.kind, found.level.value), need)
            by_water = changes if changes and changes.meets else None
            short.append(Shortfall(unmet, tuple(_remedies(system, log, hold, unmet, as_of)), by_water))
    return tuple(short)


def out_of_reach(system: System, plan: Plan) -> tuple[OutOfReach, ...]:
    """What would bring the levels to target that the plan cannot, within the daily cap."""
    found = []
    for each in plan.out_of_reach:
        compound, missing = USUAL_COMPOUND[each.kind], each.change.value * system.water.volume.canonical()
        found.append(OutOfReach(each, compound, missing / COMPOUNDS[compound].per_gram(each.kind), each.days))
    return tuple(found)


def _remedies(system: System, log: SystemLog, hold: Phase, unmet: Unmet, as_of: datetime) -> Iterator[Remedy]:
    missing, compound = unmet.per_day.value, USUAL_COMPOUND[unmet.kind]
    yield Remedy("compound", compound, missing / COMPOUNDS[compound].per_gram(unmet.kind))
    litres = {dose.supply: dose.rate.estimate.value for dose in hold.doses}
    last = last_to_run(log.until(as_of))
    for supply in supplies(system, log, levels_to_hold(system), as_of):
        litres_a_day = supply.how == "reactor" and unmet.kind in supply.gives and litres.get(supply.id)
        if last and litres_a_day and unmet.kind == "alkalinity":
            yield Remedy("effluent", supply.id, last.alkalinity.canonical() + missing / litres_a_day)
    for id, solution in system.solutions.items():
        if solution.compound == LIMEWATER and (gives := per_litre(solution, unmet.kind)):
            yield Remedy("evaporation", id, missing / gives)


# Days. A pump that would need longer to empty a stock counts as off: no solution keeps so long. An assumption of ours.
LONGEST_KEPT = 3650.0


class Stock(Struct, frozen=True):
    """A container of a solution: `size` in litres, `full_lasts` how many days a full one lasts.

    Where nobody wrote when it was filled, what is `left` (litres), how many days that `lasts` and when it is `empty`
    are None.
    """

    solution: str
    size: float
    full_lasts: Estimate
    left: Estimate | None = None
    lasts: Estimate | None = None
    empty: datetime | None = None


def stock(
    system: System,
    log: SystemLog,
    solution: str,
    filled: datetime | None,
    as_of: datetime,
    planned: Estimate | None = None,
    held: float | None = None,
) -> Stock | CannotTell:
    """How long a solution's stock lasts with its pump as it runs, or set to `planned` litres a day.

    It is as unsure as the plan's rate and as what the pump really delivers; of what is set, a pump that was measured
    gives the share that it gave then.

    `held` is how many litres it held once filled; a full container where it is not given. What was dosed by
    hand since counts too. Answers `CannotTell` where the container's size is not written, or nothing
    takes a relevant amount from it.
    """
    size = system.solutions[solution].stock
    litres = size.canonical() if size is not None else held
    if litres is None:
        return CannotTell("no-stock-size", "write-the-stock")
    log = log.until(as_of)
    # What is dosed by hand does not count.
    running = sum(rate for at, until, rate in _steps(log, solution, as_of + timedelta(days=1)) if at <= as_of < until)
    share = given_of_set(log, solution, as_of)
    set_to = planned if planned is None or share is None else planned.scaled(share, planned.unit)
    rate = Estimate.exact(running, "L/day") if set_to is None else set_to
    if rate.value * LONGEST_KEPT <= litres:
        return CannotTell("nothing-runs", "write-the-pump")
    pump = rate_error(system, log, solution)
    full = _days(litres, 0.0, rate, pump)
    if filled is None:
        return Stock(solution, litres, full)
    gone = drawn(log, solution, filled, as_of)
    left, error = max((litres if held is None else held) - gone, 0.0), pump * gone
    remaining = Estimate.normal(left, error, "L", least=0.0)
    lasts = _days(left, error, rate, pump)
    return Stock(solution, litres, full, remaining, lasts, as_of + timedelta(days=lasts.value))


def _days(litres: float, error: float, rate: Estimate, pump: float) -> Estimate:
    """Days that so many litres last at a rate; without end where the rate may be nothing.

    The ends of the rate's interval give those of the days, and the errors of the litres and of the pump (a share)
    add in quadrature. Source: JCGM 100:2008 (GUM), 5.1.
    """
    value = litres / rate.value
    half = coverage_factor() * hypot(error / rate.value, pump * value)
    shorter, longer = value - litres / rate.high, litres / rate.low - value if rate.low else inf
    return Estimate(value, max(value - hypot(shorter, half), 0.0), value + hypot(longer, half), "days")


def drawn(log: SystemLog, solution: str, start: datetime, end: datetime) -> float:
    """Litres of a solution that went into the water over (start, end]: by pump, with the top-off and by hand."""
    by_hand = sum(d.amount.canonical() for d in log.doses if d.solution == solution and start < d.at <= end)
    return by_hand + sum(
        rate * max((min(until, end) - max(at, start)).total_seconds(), 0.0) / 86400.0
        for at, until, rate in _steps(log, solution, end)
    )


def _steps(log: SystemLog, solution: str, end: datetime) -> list[tuple[datetime, datetime, float]]:
    """Every stretch over which a solution ran at one rate, the pump as it gave, the top-off for itself."""
    found = [(run.start, run.end, run.litres_a_day) for run in pumped(log, solution, end)]
    ends = [*(later.at for later in log.top_offs[1:]), end]
    for setting, until in zip(log.top_offs, ends, strict=False):
        found.append((setting.at, until, setting.rate.canonical() if setting.solution == solution else 0.0))
    return found


CautionId = Literal[
    "caustic",
    "dusty",
    "heat-on-dissolving",
    "fast-rise",
    "ph-rise",
    "carbon-dioxide",
    "electricity-by-water",
    "maker-and-local-codes",
]

# What handling each compound calls for, as any safety sheet of it says; from memory.
CAUSTIC = frozenset({"NaOH", "Ca(OH)2", "Na2CO3"})
HOT = frozenset({"NaOH", "CaCl2", "MgCl2", "MgSO4", "Na2CO3"})
RAISES_PH = frozenset({"NaOH", "Ca(OH)2", "Na2CO3"})
# A correction of at least this share of the daily cap counts as a fast rise. A choice of ours.
FAST_FROM = 0.5


def of_compounds(compounds: Iterable[str]) -> tuple[CautionId, ...]:
    """Cautions of mixing stocks from compounds: what burns, dusts or heats; always the maker's sheet."""
    anhydrous = [compound for compound in compounds if "." not in compound]
    bases = {compound.partition(".")[0] for compound in compounds}
    found: list[CautionId] = []
    if bases & CAUSTIC:
        found.append("caustic")
    if bases:
        found.append("dusty")
    # A hydrate that already holds its water warms far less, or cools; calcium chloride's dihydrate still heats.
    if set(anhydrous) & HOT or "CaCl2.2H2O" in compounds:
        found.append("heat-on-dissolving")
    return (*found, "maker-and-local-codes")


def of_phases(
    phases: Sequence[Phase], system: System, fast: bool = False, weighed: Iterable[str] = ()
) -> tuple[CautionId, ...]:
    """Cautions of dosing: those of the compounds given, of a `fast` rise, of a reactor's gas, of cables beside water.

    `weighed` are compounds that are only to be weighed out.
    """
    used = [system.solutions[d.supply] for phase in phases for d in phase.doses if d.supply in system.solutions]
    compounds = [solution.compound for solution in used if solution.compound is not None]
    found: list[CautionId] = [c for c in of_compounds([*compounds, *weighed]) if c != "maker-and-local-codes"]
    if fast:
        found.append("fast-rise")
    if {compound.partition(".")[0] for compound in compounds} & RAISES_PH:
        found.append("ph-rise")
    if any(dose.supply == REACTOR for phase in phases for dose in phase.doses):
        found.append("carbon-dioxide")
    return (*found, "electricity-by-water", "maker-and-local-codes")


def of_plan(plan: Plan, system: System, weighed: Iterable[str] = ()) -> tuple[CautionId, ...]:
    """Cautions of a dosing plan and of what is to be weighed; a correction near the daily cap counts as a fast rise."""
    fast = any(c.change.value >= FAST_FROM * c.days * MOST_A_DAY[c.kind] for c in plan.corrections)
    return of_phases(plan.phases, system, fast, weighed)


# A stock is kept below what dissolves at 20 °C: a cabinet can be cooler. A choice of ours.
SAFE_SHARE = 0.9


class Recipe(Struct, frozen=True):
    """`grams` of a compound made up to `litres`: `strength` g/L, and what a litre gives (meq, mg) by kind.

    `most` is the g/L that a stock may have at all.
    """

    compound: str
    grams: float
    litres: float
    strength: float
    most: float
    gives: Mapping[str, float]


def recipe(compound: str, strength: GramsPerLitre, litres: Litres) -> Recipe | CannotTell:
    """The grams of a compound of `COMPOUNDS` for so many litres of a strength in g/L of that compound.

    Answers `CannotTell` above `most_dissolved`. Limewater is made by letting an excess settle, so it may
    be as strong as dissolves, and no stronger.
    """
    most = most_dissolved(compound)
    if strength > most * (1.0 + 1e-9):
        numbers = (("compound", compound), ("wanted", f"{strength:.4g}"), ("most", f"{most:.3g}"))
        return CannotTell("does-not-dissolve", "write-a-weaker-stock", numbers)
    gives = {kind: strength * per for kind in KINDS_HELD if (per := COMPOUNDS[compound].per_gram(kind))}
    return Recipe(compound, strength * litres, litres, strength, most, gives)


def recipe_giving(compound: str, kind: str, per_litre: PerLitre, litres: Litres) -> Recipe | CannotTell:
    """The grams of a compound for a stock that gives so many meq (alkalinity) or mg of a kind a litre."""
    per_gram = COMPOUNDS[compound].per_gram(kind)
    if per_gram <= 0.0:
        return CannotTell("gives-none", "choose-another-compound", (("compound", compound), ("kind", kind)))
    return recipe(compound, per_litre / per_gram, litres)


def most_dissolved(compound: str) -> float:
    """The strongest stock of a compound, in g/L of it as it is weighed, with its water of crystallisation.

    A litre of solution holds less than a litre of water, so grams in a litre of water are a little
    generous; `SAFE_SHARE` is more careful than that for what keepers mix.
    """
    if compound == LIMEWATER:
        return LIME_SOLUBILITY_AT_20C.value
    anhydrous, _, water = compound.partition(".")
    solubility = SOLUBILITY[anhydrous]
    grams = 10.0 * (solubility.value if solubility.low is None else solubility.low)
    return SAFE_SHARE * grams * (molar_mass(compound) / molar_mass(anhydrous) if water else 1.0)
