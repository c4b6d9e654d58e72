"""Doses as a keeper sets them: millilitres a day of each solution, now and in each phase."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from generator.reckon.dosing.cautions import CautionId
from generator.reckon.dosing.phases import DoseRate, Phase, Unmet
from generator.records.system import System
from generator.render.blocks import Block, Table, Why
from generator.render.inline import Inline, Span, joined, small
from generator.render.numbers import Shown, plain, say_estimate, with_unit
from generator.render.pages.desk import Desk
from generator.render.pages.why import why_of
from generator.units.kinds import KINDS
from generator.units.quantity import Estimate

# From this many litres a day, litres are the better unit.
_IN_LITRES = 2.0


def has_dosing(desk: Desk, system: str) -> bool:
    """Whether a system has a page of its dosing: coral stands in it, or something is there to give."""
    if system not in desk.found.dosing:
        return False
    return bool(desk.view.systems[system].solutions or desk.view.log_of(system).effluents or desk.corals_of(system))


def doses(
    desk: Desk, system: System, phases: Sequence[Phase], heads: Sequence[str], now: bool = True
) -> tuple[Block, ...]:
    """What each supply of the phases is to give, each phase under its head, and the evidence for the last."""
    words = desk.words
    supplies = dict.fromkeys(dose.supply for phase in phases for dose in phase.doses)
    given = {
        supply: [next((dose for dose in phase.doses if dose.supply == supply), None) for phase in phases]
        for supply in supplies
    }
    first = words.each("system.solution", *(["dosing.now"] if now else []))
    rows = tuple(_row(desk, system, supply, found, now) for supply, found in given.items())
    whys = (_why(desk, supply, found[-1]) for supply, found in given.items() if found[-1])
    return (Table(words("dosing.doses"), (*first, *heads), rows, "doses"), *whys) if rows else ()


def supply_name(desk: Desk, supply: str) -> str:
    """A supply by its name: a solution's own, or the reactor."""
    return desk.words("dosing.reactor") if supply == "reactor" else supply


def holds(desk: Desk, system: System, supply: str) -> str:
    """What a solution is made of, as the keeper wrote it."""
    solution = system.solutions.get(supply)
    if solution is None:
        return desk.words("dosing.effluent")
    if solution.compound and solution.strength:
        return f"{solution.compound}, {desk.say.written(solution.strength)}"
    return desk.words("dosing.declared")


def say_litres(desk: Desk, litres: float) -> str:
    """A volume in the unit a keeper measures it with."""
    if litres >= _IN_LITRES:
        return with_unit(plain(desk.words, litres, 1), desk.words.unit("L"))
    return with_unit(plain(desk.words, 1000.0 * litres, 0), desk.words.unit("mL"))


def say_left(desk: Desk, litres: Estimate) -> Shown:
    """An estimated volume in the unit a keeper measures it with."""
    unit, factor = ("L", 1.0) if litres.value >= _IN_LITRES else ("mL", 1000.0)
    return say_estimate(desk.words, litres.scaled(factor, unit), desk.words.unit(unit))


def say_rate(desk: Desk, rate: Estimate) -> Shown:
    """Litres a day as a pump is set, with the interval that follows from the uptake's."""
    per_day, factor = _pump_unit(desk, rate)
    shown = rate.scaled(factor, "L/day")
    if shown.high - shown.low < 1e-6 * max(abs(shown.value), 1.0):
        return Shown(with_unit(plain(desk.words, shown.value, 1 if factor == 1.0 else 0), per_day))
    said = say_estimate(desk.words, shown, per_day)
    # A pump is set to the millilitre, however uncertain the uptake is.
    return Shown(with_unit(plain(desk.words, shown.value, 2 if factor == 1.0 else 0), per_day), said.interval)


def caution_words(desk: Desk, cautions: Sequence[CautionId]) -> tuple[str, ...]:
    """The cautions for handling these doses, one sentence each."""
    return tuple(desk.words(f"dose_cautions.{caution}") for caution in cautions)


def unmet_words(desk: Desk, system: System, unmet: Sequence[Unmet]) -> Iterator[str]:
    """The part of each need that the supplies do not meet, as a change of the level, one sentence each."""
    litres = system.water.volume.canonical()
    for each in unmet:
        key, sign = ("dosing.too_little", 1.0) if each.per_day.value > 0 else ("dosing.too_much", -1.0)
        unit = f"{KINDS[each.kind].canonical}/day"
        said = desk.say.per_day(each.kind, each.per_day.scaled(sign / litres, unit))
        yield desk.words(
            key, quantity_within=desk.words(f"quantities_within.{each.kind}"), amount=said.value, interval=said.interval
        )


def _why(desk: Desk, supply: str, dose: DoseRate) -> Why:
    """The evidence for the holding dose, in the unit of the pump."""
    unit, factor = _pump_unit(desk, dose.rate.estimate)
    grounds = why_of(desk, dose.rate.method, dose.rate.inputs, dose.rate.parts, unit, factor)
    return replace(grounds, of=supply_name(desk, supply))


def _pump_unit(desk: Desk, rate: Estimate) -> tuple[str, float]:
    unit, factor = ("L", 1.0) if rate.value >= _IN_LITRES else ("mL", 1000.0)
    return desk.words("numbers.per_day", unit=desk.words.unit(unit)), factor


def _row(desk: Desk, system: System, supply: str, found: Sequence[DoseRate | None], now: bool) -> tuple[Inline, ...]:
    """One supply: what it is, its rate now, and its rate in each phase, the last marked where it is another."""
    name = joined(supply_name(desk, supply), small(holds(desk, system, supply)))
    then: list[Inline] = [say_rate(desk, dose.rate.estimate) if dose else Shown("–") for dose in found]
    if not now:
        return name, *then
    rate = next(dose.now for dose in found if dose is not None)
    last = found[-1].rate.estimate if found[-1] else None
    if last is not None and not last.low <= rate <= last.high:
        then[-1] = Span(then[-1], look="changed")
    off = desk.words("dosing.off")
    return name, desk.words("numbers.per_day", unit=say_litres(desk, rate)) if rate > 0 else off, *then
