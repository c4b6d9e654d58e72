"""Slips in a log: a reading, a dose, a rate or a water change that is unlike the others."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from math import inf, log

from generator.door.door import grouped
from generator.read.draft import Draft
from generator.read.plausible import (
    EVAPORATES,
    Usual,
    amount,
    as_written,
    implausible,
    likely,
    numbers_beside,
    or_noted,
    slipped,
    times,
    usual_beside,
    usual_if_not,
    warn,
    within,
)
from generator.records.log import Effluent, SystemLog
from generator.records.source import Problem
from generator.records.system import Solution, System
from generator.units.compounds import COMPOUNDS
from generator.units.kinds import KINDS
from generator.units.quantity import A_DAY, AT_ONCE, Quantity

# The least spread of readings that counts, by quantity in its canonical unit: what a kit and an ordinary
# month do. Of nutrients, the spread of the logarithm. Common practice, no source.
_LEAST_SPREAD = {
    "alkalinity": 0.15,
    "calcium": 15.0,
    "magnesium": 40.0,
    "potassium": 20.0,
    "strontium": 1.5,
    "boron": 1.0,
    "salinity": 0.5,
    "temperature": 0.6,
    "ph": 0.1,
}
_LEAST_SPREAD_OF_FORM = {"specific gravity": 0.0006, "conductivity": 0.8, "pH scale": 0.1}
_LEAST_LOG_SPREAD = 0.45
# How many spreads off a reading is odd: where a slip explains it, and where nothing does.
_ODD, _BEYOND = 4.5, 12.0


def noted(records: SystemLog, at: datetime, name: str, value: Quantity) -> bool:
    """Whether a note of that day or the next names the odd value: the keeper has seen it."""
    number = f"{value.value:.{value.digits}f}"
    near = [note.text.casefold() for note in records.notes if abs(note.at - at) <= timedelta(days=1)]
    return any(name.casefold() in text or number in text for text in near)


def unusual_readings(draft: Draft) -> Iterator[Problem]:
    """A reading far from all others around it; nearer ones too where a typing slip explains them."""
    for records in draft.logs.values():
        # Of units without a factor each is a series of its own.
        series = ((each.kind, "" if each.value.has_factor else each.value.unit) for each in records.readings)
        for readings in grouped(zip(series, records.readings, strict=True)).values():
            values = [amount(reading.value) for reading in readings]
            for index, reading in enumerate(readings):
                doubt = _of_reading(reading.value, values, index)
                if doubt and not noted(records, reading.at, reading.kind, reading.value):
                    yield warn(reading.source, "unusual-reading", *doubt)


def _of_reading(written: Quantity, values: list[float], index: int) -> tuple[str, str] | None:
    value, usual = values[index], None if _is_near(written, values, index) else usual_beside(values, index)
    if usual is None or written.below or _distance(written, value, usual) < _ODD or implausible(written):
        return None
    # A change that the reading before or after shows too is a change of the water.
    beside = values[max(0, index - 1) : index] + values[index + 1 : index + 2]
    if any(abs(value - other) < 0.5 * abs(value - usual.middle) for other in beside):
        return None

    def fits(meant: Quantity) -> bool:
        return _distance(meant, amount(meant), usual) < 2.0

    if not slipped(written, fits) and _distance(written, value, usual) < _BEYOND:
        return None
    name = KINDS[written.kind].words or written.kind
    wrong = f"{name} of {written} is far from the readings around it, about {as_written(usual.middle, written)}"
    return wrong, or_noted(likely(written, fits, usual.middle, "test again"))


def _is_near(written: Quantity, values: list[float], index: int) -> bool:
    """Whether all readings around one are so near that it cannot be odd, as nearly always."""
    unit = KINDS[written.kind].unit(written.unit)
    least = _LEAST_SPREAD_OF_FORM[unit.form] if unit and unit.form else _LEAST_SPREAD.get(written.kind, 0.0)
    others = numbers_beside(values, index)
    return bool(others) and max(values[index] - min(others), max(others) - values[index]) < _ODD * least


def _distance(written: Quantity, value: float, usual: Usual) -> float:
    """How many spreads a value is from the usual one; of nutrients, only above it."""
    unit = KINDS[written.kind].unit(written.unit)
    if unit and unit.form:
        return abs(value - usual.middle) / max(usual.spread, _LEAST_SPREAD_OF_FORM[unit.form])
    if written.kind in _LEAST_SPREAD:
        return abs(value - usual.middle) / max(usual.spread, _LEAST_SPREAD[written.kind])
    if value <= 0.0 or usual.middle <= 0.0:
        return 0.0
    off = log(value / usual.middle) / max(_LEAST_LOG_SPREAD, usual.spread / usual.middle)
    return off if off > 0.0 else -off / 3.0


# The least share of the system's water that a water change is; common practice, no source.
_LEAST_CHANGE = 0.002
# Evaporation differs from what the system's file says by less than this factor, over a year.
_EVAPORATION_VARIES = 5.0
# The strongest effluent of a reactor, meq/L: about 80 dKH; common practice, no source.
_STRONGEST_EFFLUENT = 28.5


def _logs(draft: Draft) -> Iterator[tuple[System, SystemLog]]:
    """The logs of systems with water, whose files are valid."""
    for id, records in draft.logs.items():
        system = draft.systems.get(id)
        if system is not None and system.water.volume.value:
            yield system, records


def _per_litre(solution: Solution, kind: str) -> float:
    """What a litre of a solution gives of a quantity, in canonical units times litres."""
    declared = solution.declared.of(kind) if solution.declared else None
    if declared is not None:
        return amount(declared)
    compound = COMPOUNDS.get(solution.compound or "")
    return compound.per_gram(kind) * solution.strength.canonical() if compound and solution.strength else 0.0


def _change(kind: str, by: float) -> str:
    return f"{kind} by {as_written(by, Quantity(0.0, 'dKH' if kind == 'alkalinity' else 'mg/L', kind))}"


def unusual_doses(draft: Draft) -> Iterator[Problem]:
    """A dose larger than its container, than the water can take at once, or than ever before."""
    for system, records in _logs(draft):
        yield from _given(draft, system, records, "doses", "amount", AT_ONCE)


def unusual_pumps(draft: Draft) -> Iterator[Problem]:
    """A pump that empties its container in a day, gives more than corals take up, or than it usually does."""
    for system, records in _logs(draft):
        yield from _given(draft, system, records, "pumps", "rate", A_DAY)


def _given(
    draft: Draft, system: System, records: SystemLog, name: str, field: str, most: dict[str, float]
) -> Iterator[Problem]:
    """The doubts about every dose or rate above 0, with the others of its solution as its history."""
    every = (
        each for each in getattr(records, name) if getattr(each, field).value and each.solution in system.solutions
    )
    for id, given in grouped((record.solution, record) for record in every).items():
        solution = system.solutions[id]
        values = [getattr(record, field).canonical() for record in given]
        for index, record in enumerate(given):
            written = getattr(record, field)
            doubt = _doubt(written, (values, index), id, solution, system, most)
            if doubt and not noted(records, record.at, id, written):
                also = draft.at(solution.source, "stock") if "container" in doubt[0] else None
                yield warn(record.source, "unusual-dose" if name == "doses" else "unusual-pump", *doubt, also)


def _doubt(
    written: Quantity,
    history: tuple[list[float], int],
    id: str,
    solution: Solution,
    system: System,
    most: dict[str, float],
) -> tuple[str, str] | None:
    litres, water = written.canonical(), system.water.volume.canonical()
    stock = solution.stock.canonical() if solution.stock else inf
    strength = {kind: _per_litre(solution, kind) / water for kind in most}
    limits = {kind: most[kind] / strength[kind] for kind in most if strength[kind]}
    strongest = min(limits.values(), default=inf)
    usual = usual_beside(*history, enough=3)
    low, high = (usual.middle / 4.0, usual.middle * 4.0) if usual else (0.0, inf)

    def cure() -> str:
        return likely(written, within(low, min(high, stock / 3.0, strongest / 2.0)), usual and usual.middle)

    if litres > stock:
        if written.kind == "rate":
            hours = 24.0 * stock / litres
            return f"{written} empties the container of '{id}', {solution.stock}, in {hours:.2g} h", cure()
        return f"a dose of {written} is more than the container of '{id}' holds, {solution.stock}", cure()
    if litres > strongest:
        kind = min(limits, key=lambda each: limits[each])
        when = "a day" if written.kind == "rate" else "at once"
        return f"{written} of '{id}' would change {_change(kind, strength[kind] * litres)} {when}", cure()
    if usual and usual_if_not(*history, enough=3):
        wrong = f"{written} of '{id}' is {times(litres, usual.middle)} the usual {as_written(usual.middle, written)}"
        return wrong, or_noted(cure())
    return None


def little_filled(draft: Draft) -> Iterator[Problem]:
    """A container filled with less than a hundredth of what it holds."""
    for system, records in _logs(draft):
        for filling in records.fillings:
            solution = system.solutions.get(filling.solution)
            full = solution.stock.canonical() if solution and solution.stock else 0.0
            if solution and 0.0 < filling.amount.canonical() < full / 100.0:
                wrong = f"{filling.amount} of '{filling.solution}' is almost nothing in a container of {solution.stock}"
                cure = likely(filling.amount, within(full / 100.0, full), full)
                yield warn(filling.source, "unusual-filling", wrong, cure, draft.at(solution.source, "stock"))


def unusual_water_changes(draft: Draft) -> Iterator[Problem]:
    """A water change far from the usual one, or a very small one."""
    for system, records in _logs(draft):
        water = system.water.volume.canonical()
        values = [change.volume.canonical() for change in records.water_changes]
        for index, change in enumerate(records.water_changes):
            value, usual = values[index], usual_if_not(values, index)
            if not 0.0 < value <= water or noted(records, change.at, "water change", change.volume):
                continue
            if usual:
                than = as_written(usual.middle, change.volume)
                wrong = f"a water change of {change.volume} is {times(value, usual.middle)} the usual {than}"
                cure = likely(change.volume, usual.about, usual.middle)
                yield warn(change.source, "unusual-change", wrong, or_noted(cure))
            elif value < _LEAST_CHANGE * water:
                wrong = f"a water change of {change.volume} is almost nothing in {system.water.volume}"
                yield warn(
                    change.source, "unusual-change", wrong, likely(change.volume, within(_LEAST_CHANGE * water, water))
                )


def unusual_top_offs(draft: Draft) -> Iterator[Problem]:
    """A top-off far above what evaporates; one of plain water far below it. A solution may be only a part."""
    for system, records in _logs(draft):
        water = system.water.volume.canonical()
        (low, high), usual = (share * water for share in EVAPORATES), f"usual for {system.water.volume}"
        says = system.evaporation.canonical() if system.evaporation else 0.0
        if low <= says <= high:
            low, high = says / _EVAPORATION_VARIES, says * _EVAPORATION_VARIES
            usual = f"the system's evaporation, {system.evaporation}"
        for top_off in records.top_offs:
            rate = top_off.rate.canonical()
            odd = rate > high or (0.0 < rate < low and top_off.solution is None)
            if odd and not noted(records, top_off.at, "top-off", top_off.rate):
                wrong = f"a top-off of {top_off.rate} is far from {usual}"
                cure = likely(top_off.rate, within(low, high))
                yield warn(top_off.source, "unusual-top-off", wrong, or_noted(cure))


def unusual_reactors(draft: Draft) -> Iterator[Problem]:
    """An effluent weaker than the tank or stronger than a reactor makes, or a flow that gives too much."""
    for system, records in _logs(draft):
        flowing = [effluent for effluent in records.effluents if effluent.flow.value]
        flows = [effluent.flow.canonical() for effluent in flowing]
        for index, effluent in enumerate(flowing):
            doubt = _of_reactor(effluent, system, usual_if_not(flows, index))
            if doubt and not noted(records, effluent.at, "reactor", effluent.flow):
                yield warn(effluent.source, "unusual-reactor", *doubt)


def _of_reactor(effluent: Effluent, system: System, usual: Usual | None) -> tuple[str, str] | None:
    strength, flow, water = amount(effluent.alkalinity), effluent.flow.canonical(), system.water.volume.canonical()
    tank = amount(system.high.alkalinity) if system.high.alkalinity else 2.5
    good = within(tank, _STRONGEST_EFFLUENT)
    if strength >= _STRONGEST_EFFLUENT:
        wrong = f"an effluent of {effluent.alkalinity} is stronger than any reactor's"
        return wrong, likely(effluent.alkalinity, good)
    if strength <= tank:
        wrong = f"an effluent of {effluent.alkalinity} is not stronger than the water of the tank"
        return wrong, likely(effluent.alkalinity, good)
    if strength * flow / water > A_DAY["alkalinity"]:
        wrong = f"{effluent.flow} of this effluent would change {_change('alkalinity', strength * flow / water)} a day"
        return wrong, likely(effluent.flow, within(0.0, A_DAY["alkalinity"] * water / strength))
    if usual:
        than = as_written(usual.middle, effluent.flow)
        wrong = f"a flow of {effluent.flow} is {times(flow, usual.middle)} the usual {than}"
        return wrong, or_noted(likely(effluent.flow, usual.about, usual.middle))
    return None
