"""What a plan gives: each supply now and in each phase, in a table and drawn; what is done by hand; how it is said."""

import re
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime, timedelta

from msgspec.structs import replace

from generator.door.door import grouped
from generator.reckon.dosing.analysis import DosingFindings
from generator.reckon.dosing.phases import DoseRate, Phase, Unmet
from generator.reckon.dosing.plan import Plan
from generator.reckon.dosing.pouring import Pouring, WaterChanges, until_mended
from generator.reckon.dosing.stocks import CautionId
from generator.reckon.water.deliveries import RATE_ERROR, per_litre
from generator.reckon.water.forecast import Counted
from generator.records.system import System
from generator.render.base.blocks import Block, Drawn, Table, Why
from generator.render.base.context import PageContext
from generator.render.base.links import Inline, Span, joined, small
from generator.render.base.numbers import Shown, decimals, listed
from generator.render.base.scale import Row, drawn_ranges
from generator.render.base.why import why_of
from generator.render.pages.next_tests import day_due, say_when
from generator.units.kinds import KINDS
from generator.units.quantity import Estimate

# From this many litres a day, litres are the better unit.
_IN_LITRES = 2.0
_A_LITRE = {"L": 1.0, "mL": 1000.0}
# Nobody pours less than these litres a day by hand. A choice of ours.
_LEAST_BY_HAND = 0.002
# Less than these litres are drawn up with a syringe that shows tenths of a millilitre. Common practice, no source.
_BY_SYRINGE = 0.01


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
    units = {supply: _measured_in(_largest(filter(None, found)))[0] for supply, found in given.items()}
    whys = (_why(ctx, supply, found[-1], units[supply]) for supply, found in given.items() if found[-1])
    rows = tuple(_row(ctx, system, supply, found, units[supply], bool(now)) for supply, found in given.items())
    return (Table(words("dosing.doses"), (*first, *heads), rows, "doses"), *whys) if rows else ()


def doses_drawn(ctx: PageContext, phases: Sequence[Phase], heads: Sequence[str], now_head: str) -> Iterator[Drawn]:
    """What each supply gives now and in each phase, by their heads, on one scale a unit: litres are no millilitres."""
    of_unit: dict[str, list[Row]] = {}
    for supply in dict.fromkeys(dose.supply for phase in phases for dose in phase.doses):
        found = [(head, dose) for phase, head in zip(phases, heads, strict=True) for dose in phase.doses]
        mine = [(head, dose) for head, dose in found if dose.supply == supply and is_poured(dose)]
        if not mine:
            continue
        measure, factor = _measured_in(_largest(dose for _, dose in found if dose.supply == supply))
        unit = ctx.say.a_day(measure)
        rows, now = of_unit.setdefault(unit, []), factor * mine[-1][1].now
        first, runs = f"{supply_name(ctx, supply)}: {now_head}", Estimate.exact(now, unit)
        rows.append(Row(first, say_rate(ctx, runs.scaled(1.0 / factor, "L/day"), measure), runs, "measured"))
        steps = grouped((say_rate(ctx, dose.rate.estimate, measure).value, (head, dose)) for head, dose in mine)
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
    return found is not None and isinstance(found.plan, Plan) and bool(found.plan.waits)


def lacks(plan: Plan, supply: str) -> bool:
    """Whether a pump gives so little of it that it is mended before it is set."""
    return any(each.solution == supply for each in plan.to_mend)


def to_set(ctx: PageContext, plan: Plan, quantity: str, step: int = 0) -> Iterator[tuple[DoseRate, str]]:
    """What is to run in a step of a plan otherwise than before it, with its rate as said; for alkalinity all dosed.

    A rate that differs by less than how well it is known what a pump delivers is as good as the one that runs. Step 0
    begins today, or goes on as now up to the next test where the plan waits for that; then step 1 follows.
    """
    if step >= len(plan.phases):
        return
    before = {dose.supply: dose.rate.estimate.value for dose in plan.phases[step - 1].doses} if step > 1 else {}
    for dose in plan.phases[step].doses:
        asked, ran = dose.rate.estimate, before.get(dose.supply, dose.now)
        unit, _ = _measured_in(_largest(each for phase in plan.phases for each in phase.doses if _same(each, dose)))
        rate, was = (say_rate(ctx, each, unit).value for each in (asked, replace(asked, value=ran)))
        is_other = rate != was and abs(asked.value - ran) >= RATE_ERROR * ran
        if dose.how != "hand" and is_other and belongs_to_card(ctx, plan.system, dose.supply, quantity):
            yield dose, rate


def set_at_once(ctx: PageContext, plan: Plan, quantity: str) -> Iterator[DoseRate]:
    """What is set today: all that is to run otherwise, but a pump to mend, which is set once it is mended."""
    return (dose for dose, _ in to_set(ctx, plan, quantity) if not lacks(plan, dose.supply))


def _same(one: DoseRate, other: DoseRate) -> bool:
    return one.supply == other.supply


def _largest(doses: Iterable[DoseRate]) -> float:
    """The most that a supply gives, now or later, L a day: all that is said of it has the unit of that."""
    return max(max(dose.now, dose.rate.estimate.value) for dose in doses)


def belongs_to_card(ctx: PageContext, system: str, supply: str, quantity: str) -> bool:
    """Whether a dose belongs to the card of a quantity: alkalinity leads all, others have those that give them."""
    solution = ctx.view.systems[system].solutions.get(supply)
    return quantity == "alkalinity" or solution is None or bool(per_litre(solution, quantity))


def say_litres(ctx: PageContext, litres: float) -> str:
    """A volume in the unit a keeper measures it with."""
    unit, factor = _measured_in(litres)
    return ctx.say.number(factor * litres, 1 if unit == "L" else 0, unit)


def say_poured(ctx: PageContext, litres: float) -> str:
    """What is poured by hand, as exact as it is poured."""
    return ctx.say.number(*_as_poured(litres))


def written_poured(litres: float) -> str:
    """The same as it stands in a log."""
    value, digits, unit = _as_poured(litres)
    return f"{round(value, digits):zg} {unit}"


def _as_poured(litres: float) -> tuple[float, int, str]:
    """In the unit a keeper measures a volume with, and its decimals.

    A few millilitres are drawn up to the tenth; of a litre, nobody pours to the millilitre.
    """
    unit, factor = _measured_in(litres)
    return factor * litres, 1 if unit == "L" or round(litres, 4) < _BY_SYRINGE else 0 if litres < 1.0 else -1, unit


def say_left(ctx: PageContext, litres: Estimate) -> Shown:
    """An estimated volume in the unit a keeper measures it with."""
    unit, factor = _measured_in(litres.value)
    return ctx.say.estimate(litres.scaled(factor, unit))


def say_rate(ctx: PageContext, rate: Estimate, unit: str) -> Shown:
    """Litres a day in the unit of its supply, as a pump is set, with the interval that follows from the uptake's."""
    per_day, factor = ctx.say.a_day(unit), _A_LITRE[unit]
    shown = rate.scaled(factor, "L/day")
    is_fine = factor == 1.0 and 0.0 < rate.value < _IN_LITRES
    if shown.high - shown.low < 1e-6 * max(abs(shown.value), 1.0):
        return Shown(ctx.say.number(shown.value, 2 if is_fine else 1 if factor == 1.0 else 0, per_day))
    # A pump is set to the millilitre at best, and to no more than the uptake tells.
    digits = min(decimals((shown.high - shown.low) / 2), 3 if is_fine else 2 if factor == 1.0 else 0)
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


def _why(ctx: PageContext, supply: str, dose: DoseRate, unit: str) -> Why:
    """The evidence for the holding dose, in the unit of its supply."""
    factor = _A_LITRE[unit]
    grounds = why_of(ctx, dose.rate.method, dose.rate.inputs, dose.rate.parts, ctx.say.a_day(unit), factor)
    return replace(grounds, of=supply_name(ctx, supply))


def _measured_in(litres: float) -> tuple[str, float]:
    """The unit a keeper measures a volume with, and how many make a litre."""
    unit = "L" if litres >= _IN_LITRES else "mL"
    return unit, _A_LITRE[unit]


def written_rate(rate: Estimate) -> str:
    """A rate as it stands in a log, as exact as pages say it."""
    unit, factor = _measured_in(rate.value)
    digits = min(decimals(factor * (rate.high - rate.low) / 2), 2 if factor == 1.0 else 0)
    return f"{round(factor * rate.value, digits):g} {unit}/day"


def _row(
    ctx: PageContext, system: System, supply: str, found: Sequence[DoseRate | None], unit: str, now: bool
) -> tuple[Inline, ...]:
    """One supply: what it is, its rate now, and its rate in each phase, the last marked where it is another."""
    name = joined(supply_name(ctx, supply), small(made_of_words(ctx, system, supply)))
    then: list[Inline] = [
        say_rate(ctx, dose.rate.estimate, unit) if dose and is_poured(dose) else Shown("–") for dose in found
    ]
    if not now:
        return name, *then
    rate = next(dose.now for dose in found if dose is not None)
    last = found[-1].rate.estimate if found[-1] else None
    if last is not None and not last.low <= rate <= last.high:
        then[-1] = Span(then[-1], look="changed")
    runs = say_rate(ctx, Estimate.exact(rate, "L/day"), unit)
    return name, runs if rate > 0 else ctx.words("dosing.off"), *then


def say_weekday(ctx: PageContext, at: datetime) -> str:
    """A day to come with the name it has in the week."""
    local = at.astimezone(ctx.display.zone)
    day = ctx.say.day(local.date()).text
    return ctx.words("next_tests.day", weekday=ctx.words(f"weekdays.{local.weekday()}"), day=day)


def to_do(ctx: PageContext, system: System, plan: Plan, found: DosingFindings) -> Iterator[str]:
    """What is to be done by hand, in a sentence each."""
    for lacking in plan.to_mend:
        set_to, gave = ctx.say.written(lacking.set_to), ctx.say.written(lacking.gave.rate)
        at = ctx.say.moment(lacking.gave.at).text
        mend = ctx.words("dosing.mend", solution=lacking.solution, set_to=set_to, gave=gave, at=at)
        poured = until_mended(system, plan.phases[0], lacking)
        yield f"{mend} {_pour(ctx, poured)}" if poured.litres >= _LEAST_BY_HAND else mend
    if plan.water_change is not None:
        yield change_words(ctx, system, plan.water_change, plan.as_of)
    yield from (_pour(ctx, each) for each in found.pourings)


def first_change(ctx: PageContext, found: WaterChanges, as_of: datetime) -> date:
    """The day on which water is changed first."""
    return day_due(ctx, as_of + timedelta(days=found.first))


def say_change(ctx: PageContext, litres: float) -> str:
    """A volume of water to change, as exact as it is poured."""
    value, digits, unit = _as_changed(litres)
    return ctx.say.number(value, digits, unit)


def written_change(found: WaterChanges) -> str:
    """One of the water changes as it stands in a log, as exact as pages say it."""
    value, digits, unit = _as_changed(found.litres)
    return f"water_change: {{volume: {round(value, digits):zg} {unit}, mix: {found.mix}}}"


def _as_changed(litres: float) -> tuple[float, int, str]:
    """A volume in the unit it is poured in, and its decimals: three digits, for nobody pours more exactly."""
    if litres < 1.0:
        return 1000.0 * litres, 0, "mL"
    return litres, 0 if litres >= 100.0 else 1 if litres >= 10.0 else 2, "L"


def _pour(ctx: PageContext, found: Pouring) -> str:
    words, amount, days = ctx.words, say_poured(ctx, found.litres), [say_weekday(ctx, at) for at in found.at]
    if not days:
        said = words("dosing.meanwhile", solution=found.solution, amount=amount)
    elif found.days == 1 and len(days) > 1:
        said = words("dosing.pour_daily", solution=found.solution, amount=amount, first=days[0], last=days[-1])
    else:
        said = words("dosing.pour", solution=found.solution, amount=amount, days=listed(ctx, days))
    return f"{said} {words('dosing.portions', n=found.portions)}" if found.portions > 1 else said


def counts_on(ctx: PageContext, found: Counted) -> str:
    """The water changes that a plan counts on, or why it cannot; "" where they add nothing that a page could show."""
    words, habit = ctx.words, found.habit
    if found.per_day is None:
        return words("dosing.not_counted", mix=habit.solution or words("dosing.new_mix"))
    key, sign = ("dosing.takes_away", -1.0) if found.per_day.value < 0.0 else ("dosing.brings", 1.0)
    said = ctx.say.per_day("alkalinity", found.per_day.scaled(sign, found.per_day.unit))
    if not re.search("(?<![A-Za-z])[1-9]", f"{said.value} {said.interval}"):  # but for the 3 of CaCO3
        return ""
    return words(
        key,
        litres=say_change(ctx, habit.litres),
        mix=habit.solution,
        rhythm=words("dosing.every_days", n=max(round(habit.days), 1)),
        **said.blanks("amount"),
    )


def change_words(ctx: PageContext, system: System, found: WaterChanges, as_of: datetime) -> str:
    """How much water to change, how often, and what comes of it."""
    words = ctx.words
    level = ctx.say.canonical("alkalinity", found.reaches)
    share = f"{100.0 * found.litres / system.water.volume.canonical():.0f}"
    first = as_of + timedelta(days=found.first)
    when = say_when(ctx, day := first_change(ctx, found, as_of))
    if found.times is not None:
        key = "dosing.change_up" if found.rise else "dosing.change_down"
        return words(key, n=found.times, level=level, share=share, when=when, **changed_words(ctx, found))
    key = "dosing.change_keeps" if found.meets else "dosing.change_short"
    said = words(key, level=level, share=share, **changed_words(ctx, found))
    begins = when if day <= ctx.today else say_weekday(ctx, first)
    return f"{said} {words('dosing.first_change', day=begins)}"


def changed_words(ctx: PageContext, found: WaterChanges) -> dict[str, str]:
    """How much of what is changed how often, for the blanks of a sentence."""
    rhythm = ctx.words("dosing.every_days", n=found.days)
    return {"litres": say_change(ctx, found.litres), "mix": found.mix, "rhythm": rhythm}
