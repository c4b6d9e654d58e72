"""What a plan gives: each supply now and in each phase, in a table and drawn; and how amounts and rates are said."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime

from generator.door.door import grouped
from generator.reckon.dosing.phases import DoseRate, Phase, Unmet
from generator.reckon.dosing.plan import Plan
from generator.reckon.dosing.pouring import Pouring
from generator.reckon.dosing.stocks import CautionId
from generator.reckon.water.deliveries import per_litre
from generator.records.system import System
from generator.render.base.blocks import Block, Drawn, Table, Why
from generator.render.base.context import PageContext
from generator.render.base.links import Inline, Span, joined, small
from generator.render.base.numbers import Shown, decimals
from generator.render.base.scale import Row, drawn_ranges
from generator.render.base.why import why_of
from generator.render.pages.next_tests import day_due
from generator.units.kinds import KINDS
from generator.units.quantity import Estimate

# From this many litres a day, litres are the better unit.
_IN_LITRES = 2.0
# Nobody pours less than these litres a day by hand. A choice of ours.
_LEAST_BY_HAND = 0.002


def has_dosing(ctx: PageContext, system: str) -> bool:
    """Whether a system has a page of its dosing: coral stands in it, or something is there to give."""
    if system not in ctx.found.dosing:
        return False
    return bool(ctx.view.systems[system].solutions or ctx.ids_in(system) or ctx.view.log_of(system).effluents)


def doses(
    ctx: PageContext, system: System, phases: Sequence[Phase], heads: Sequence[str], now: str = ""
) -> tuple[Block, ...]:
    """What each supply gives `now` (a head; "" for none) and in each phase under its head; evidence for the last."""
    words = ctx.words
    supplies = dict.fromkeys(dose.supply for phase in phases for dose in phase.doses)
    given = {
        supply: [next((dose for dose in phase.doses if dose.supply == supply), None) for phase in phases]
        for supply in supplies
    }
    first = (words("system.solution"), *([now] if now else []))
    rows = tuple(_row(ctx, system, supply, found, bool(now)) for supply, found in given.items())
    whys = (_why(ctx, supply, found[-1]) for supply, found in given.items() if found[-1])
    return (Table(words("dosing.doses"), (*first, *heads), rows, "doses"), *whys) if rows else ()


def doses_drawn(ctx: PageContext, phases: Sequence[Phase], heads: Sequence[str], now_head: str) -> Iterator[Drawn]:
    """What each supply gives now and in each phase, by their heads, on one scale a unit: litres are no millilitres."""
    of_unit: dict[str, list[Row]] = {}
    for supply in dict.fromkeys(dose.supply for phase in phases for dose in phase.doses):
        found = [(head, dose) for phase, head in zip(phases, heads, strict=True) for dose in phase.doses]
        mine = [(head, dose) for head, dose in found if dose.supply == supply and is_poured(dose)]
        if not mine:
            continue
        unit, factor = _pump_unit(ctx, mine[-1][1].rate.estimate)
        rows, now = of_unit.setdefault(unit, []), factor * mine[-1][1].now
        first, runs = f"{supply_name(ctx, supply)}: {now_head}", Estimate.exact(now, unit)
        rows.append(Row(first, say_rate(ctx, runs.scaled(1.0 / factor, "L/day")), runs, "measured"))
        steps = grouped((say_rate(ctx, dose.rate.estimate).value, (head, dose)) for head, dose in mine)
        for value, same in steps.items():
            # Phases that give the same are one step.
            head, dose = " · ".join(head for head, _ in same), same[0][1]
            rows.append(Row(head, Shown(value), dose.rate.estimate.scaled(factor, unit), "predicted"))
    for unit, rows in of_unit.items():
        yield drawn_ranges(ctx.words, ctx.words("dosing.drawn"), unit, rows)


def is_poured(dose: DoseRate) -> bool:
    """Whether a dose is more than nobody measures out by hand."""
    return dose.how != "hand" or dose.rate.estimate.high >= _LEAST_BY_HAND


def supply_name(ctx: PageContext, supply: str) -> str:
    """A supply by its name: a solution's own, or the reactor."""
    return ctx.words("dosing.reactor") if supply == "reactor" else supply


def made_of_words(ctx: PageContext, system: System, supply: str) -> str:
    """What a solution is made of, as the keeper wrote it."""
    solution = system.solutions.get(supply)
    if solution is None:
        return ctx.words("dosing.effluent")
    if solution.compound and solution.strength:
        return f"{solution.compound}, {ctx.say.written(solution.strength)}"
    return ctx.words("dosing.declared")


def poured_today(ctx: PageContext, system: str) -> tuple[Pouring, ...]:
    """What the dosing plan pours by hand today."""
    found = ctx.found.dosing.get(system)
    return tuple(each for each in (found.pourings if found else ()) if day_due(ctx, each.at[0]) == ctx.today)


def plan_waits(ctx: PageContext, system: str) -> bool:
    """Whether a dosing plan goes on as now until the next test."""
    found = ctx.found.dosing.get(system)
    return found is not None and isinstance(found.plan, Plan) and found.plan.waits


def set_today(ctx: PageContext, system: str, quantity: str, confirmed: bool = False) -> Iterator[tuple[DoseRate, str]]:
    """What is to run from today otherwise than it does, with its rate as said; for alkalinity all that is dosed.

    Or from the next test on where that has `confirmed` what the plan waits for.
    """
    plan = ctx.found.dosing[system].plan
    for dose in plan.phases[int(confirmed)].doses if isinstance(plan, Plan) else ():
        asked = dose.rate.estimate
        rate, now = (say_rate(ctx, each).value for each in (asked, replace(asked, value=dose.now)))
        if dose.how != "hand" and rate != now and belongs_to_card(ctx, system, dose.supply, quantity):
            yield dose, rate


def belongs_to_card(ctx: PageContext, system: str, supply: str, quantity: str) -> bool:
    """Whether a dose belongs to the card of a quantity: alkalinity leads all, others have those that give them."""
    solution = ctx.view.systems[system].solutions.get(supply)
    return quantity == "alkalinity" or solution is None or bool(per_litre(solution, quantity))


def say_litres(ctx: PageContext, litres: float) -> str:
    """A volume in the unit a keeper measures it with."""
    unit, factor = _measured_in(litres)
    return ctx.say.number(factor * litres, 1 if unit == "L" else 0, unit)


def say_left(ctx: PageContext, litres: Estimate) -> Shown:
    """An estimated volume in the unit a keeper measures it with."""
    unit, factor = _measured_in(litres.value)
    return ctx.say.estimate(litres.scaled(factor, unit))


def say_rate(ctx: PageContext, rate: Estimate) -> Shown:
    """Litres a day as a pump is set, with the interval that follows from the uptake's."""
    per_day, factor = _pump_unit(ctx, rate)
    shown = rate.scaled(factor, "L/day")
    if shown.high - shown.low < 1e-6 * max(abs(shown.value), 1.0):
        return Shown(ctx.say.number(shown.value, 1 if factor == 1.0 else 0, per_day))
    # A pump is set to the millilitre at best, and to no more than the uptake tells.
    digits = min(decimals((shown.high - shown.low) / 2), 2 if factor == 1.0 else 0)
    value = ctx.say.number(shown.value, digits, per_day)
    if round(shown.low, digits) == round(shown.high, digits):
        return Shown(value)
    return Shown(value, ctx.say.estimate(shown, per_day, digits).interval)


def caution_words(ctx: PageContext, cautions: Sequence[CautionId]) -> tuple[str, ...]:
    """The cautions for handling these doses, one sentence each."""
    return tuple(ctx.words(f"dose_cautions.{caution}") for caution in cautions)


def unmet_words(ctx: PageContext, system: System, unmet: Sequence[Unmet]) -> Iterator[str]:
    """The part of each need that the supplies do not meet, as a change of the level, one sentence each."""
    litres = system.water.volume.canonical()
    for each in unmet:
        key, sign = ("dosing.too_little", 1.0) if each.per_day.value > 0 else ("dosing.too_much", -1.0)
        unit = f"{KINDS[each.kind].canonical}/day"
        said = ctx.say.per_day(each.kind, each.per_day.scaled(sign / litres, unit))
        yield ctx.words(key, quantity_within=ctx.words(f"quantities_within.{each.kind}"), **said.blanks("amount"))


def _why(ctx: PageContext, supply: str, dose: DoseRate) -> Why:
    """The evidence for the holding dose, in the unit of the pump."""
    unit, factor = _pump_unit(ctx, dose.rate.estimate)
    grounds = why_of(ctx, dose.rate.method, dose.rate.inputs, dose.rate.parts, unit, factor)
    return replace(grounds, of=supply_name(ctx, supply))


def _pump_unit(ctx: PageContext, rate: Estimate) -> tuple[str, float]:
    unit, factor = _measured_in(rate.value)
    return ctx.say.a_day(unit), factor


def _measured_in(litres: float) -> tuple[str, float]:
    """The unit a keeper measures a volume with, and how many make a litre."""
    return ("L", 1.0) if litres >= _IN_LITRES else ("mL", 1000.0)


def written_rate(rate: Estimate) -> str:
    """A rate as it stands in a log, as exact as pages say it."""
    unit, factor = _measured_in(rate.value)
    digits = min(decimals(factor * (rate.high - rate.low) / 2), 2 if factor == 1.0 else 0)
    return f"{round(factor * rate.value, digits):g} {unit}/day"


def _row(
    ctx: PageContext, system: System, supply: str, found: Sequence[DoseRate | None], now: bool
) -> tuple[Inline, ...]:
    """One supply: what it is, its rate now, and its rate in each phase, the last marked where it is another."""
    name = joined(supply_name(ctx, supply), small(made_of_words(ctx, system, supply)))
    then: list[Inline] = [
        say_rate(ctx, dose.rate.estimate) if dose and is_poured(dose) else Shown("–") for dose in found
    ]
    if not now:
        return name, *then
    rate = next(dose.now for dose in found if dose is not None)
    last = found[-1].rate.estimate if found[-1] else None
    if last is not None and not last.low <= rate <= last.high:
        then[-1] = Span(then[-1], look="changed")
    off = ctx.words("dosing.off")
    return name, ctx.say.a_day(say_litres(ctx, rate)) if rate > 0 else off, *then


def say_weekday(ctx: PageContext, at: datetime) -> str:
    """A day to come with the name it has in the week."""
    local = at.astimezone(ctx.display.zone)
    day = ctx.say.day(local.date()).text
    return ctx.words("next_tests.day", weekday=ctx.words(f"weekdays.{local.weekday()}"), day=day)
