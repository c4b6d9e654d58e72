"""What a keeper gives by a plan: each pump, what is poured, water changed, the reactor; and what falls short."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from generator.door.door import grouped
from generator.reckon.dosing.analysis import DosingFindings
from generator.reckon.dosing.new_water import WaterChanges
from generator.reckon.dosing.outlook import Counted
from generator.reckon.dosing.phases import DoseRate, Phase, Unmet
from generator.reckon.dosing.plan import Plan
from generator.reckon.dosing.pouring import Pouring, ReactorSetting
from generator.reckon.dosing.stocks import CautionId, OutOfReach, Remedy, Shortfall
from generator.reckon.water.deliveries import per_litre
from generator.records.system import System
from generator.render.base.blocks import Block, Drawn, Paragraph, Section, Table, Why, section
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


MINUTES_A_DAY = 1440.0


def say_weekday(ctx: PageContext, at: datetime) -> str:
    """A day to come with the name it has in the week."""
    local = at.astimezone(ctx.display.zone)
    day = ctx.say.day(local.date()).text
    return ctx.words("next_tests.day", weekday=ctx.words(f"weekdays.{local.weekday()}"), day=day)


def to_do(ctx: PageContext, system: System, plan: Plan, found: DosingFindings) -> Iterator[str]:
    """What is to be done by hand, in a sentence each."""
    if plan.water_change is not None:
        yield change_words(ctx, system, plan.water_change, plan.as_of)
    yield from (_pour(ctx, each) for each in found.pourings)


def reactor(ctx: PageContext, found: ReactorSetting | None) -> Section | None:
    """How the reactor is to be set, and the flow for each effluent it may read instead; None without one."""
    if found is None:
        return None
    words = ctx.words
    low, high = (ctx.say.canonical("alkalinity", end) for end in (found.expected.low, found.expected.high))
    same = abs(found.flow - found.flow_now) < 0.01 * found.flow_now
    said = "dosing.reactor_stays" if same else "dosing.reactor_set"
    rows = tuple((ctx.say.canonical("alkalinity", effluent), _flow(ctx, flow)) for effluent, flow in found.settings)
    title = words("dosing.reactor_how")
    return section(
        title,
        Paragraph(words(said, flow=_flow(ctx, found.flow), low=low, high=high)),
        Paragraph(words("dosing.reactor_table"), "note"),
        Table(title, words.each("dosing.effluent_reads", "dosing.flow_to_set"), rows),
        id="reactor",
    )


def say_short(ctx: PageContext, system: System, found: Shortfall) -> str:
    """By how much the supplies fall short, and everything that would cover it."""
    kind, litres = found.unmet.kind, system.water.volume.canonical()
    fall = found.unmet.per_day.scaled(1.0 / litres, f"{KINDS[kind].canonical}/day")
    said = ctx.say.per_day(kind, fall)
    cures = [_remedy(ctx, each, found.unmet.per_day) for each in found.remedies]
    if found.by_water is not None:
        cures.append(ctx.words("dosing.cover.water", **_changed(ctx, found.by_water)))
    return ctx.words(
        "dosing.short",
        quantity=ctx.words(f"quantities.{kind}"),
        **said.blanks("amount"),
        cure=ctx.words("dosing.cures", n=len(cures)),
        cover="; ".join(cures),
    )


def say_out_of_reach(ctx: PageContext, found: OutOfReach) -> str:
    """A level that nothing at hand brings up, and how much of what would."""
    kind, change = found.correction.kind, found.correction.change
    said = ctx.say.difference(kind, change)
    return ctx.words(
        "dosing.out_of_reach",
        quantity=ctx.words(f"quantities.{kind}"),
        **said.blanks("amount"),
        grams=_as_unsure(ctx, found.grams, change, "g"),
        what=_compound(found.compound),
        days=ctx.words("dosing.days", n=found.days),
    )


def _as_unsure(ctx: PageContext, amount: float, as_what: Estimate, unit: str) -> str:
    """An amount with its range, which is that of what it follows from."""
    shown = ctx.say.estimate(as_what.scaled(amount / as_what.value, unit).at_least_zero())
    return f"{shown.value} ({shown.interval})" if shown.interval else shown.value


def _compound(name: str) -> str:
    """A compound as it is written in running text, water of crystals behind its dot."""
    return name.replace(".", "·")


def _pour(ctx: PageContext, found: Pouring) -> str:
    words, amount, days = ctx.words, say_litres(ctx, found.litres), [say_weekday(ctx, at) for at in found.at]
    if found.days == 1 and len(days) > 1:
        said = words("dosing.pour_daily", solution=found.solution, amount=amount, first=days[0], last=days[-1])
    else:
        said = words("dosing.pour", solution=found.solution, amount=amount, days=listed(ctx, days))
    return f"{said} {words('dosing.portions', n=found.portions)}" if found.portions > 1 else said


def counts_on(ctx: PageContext, found: Counted) -> str:
    """The water changes that a plan counts on, or why it cannot."""
    words, habit = ctx.words, found.habit
    if found.per_day is None:
        return words("dosing.not_counted", mix=habit.solution or words("dosing.new_mix"))
    key, sign = ("dosing.takes_away", -1.0) if found.per_day.value < 0.0 else ("dosing.brings", 1.0)
    said = ctx.say.per_day("alkalinity", found.per_day.scaled(sign, found.per_day.unit))
    return words(
        key,
        litres=say_litres(ctx, habit.litres),
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
    when = say_when(ctx, day_due(ctx, first))
    if found.times is not None:
        return words("dosing.change_down", n=found.times, level=level, share=share, when=when, **_changed(ctx, found))
    key = "dosing.change_keeps" if found.meets else "dosing.change_short"
    said = words(key, level=level, share=share, **_changed(ctx, found))
    if day_due(ctx, first) <= ctx.today:
        return said
    return f"{said} {words('dosing.first_change', day=say_weekday(ctx, first))}"


def _changed(ctx: PageContext, found: WaterChanges) -> dict[str, str]:
    rhythm = ctx.words("dosing.every_days", n=found.days)
    return {"litres": say_litres(ctx, found.litres), "mix": found.mix, "rhythm": rhythm}


def _remedy(ctx: PageContext, found: Remedy, covers: Estimate) -> str:
    if found.how == "compound":
        amount = _as_unsure(ctx, found.amount, covers, "g")
        return ctx.words("dosing.cover.compound", amount=amount, what=_compound(found.what))
    if found.how == "evaporation":
        amount = _as_unsure(ctx, found.amount, covers, "L")
        return ctx.words("dosing.cover.evaporation", amount=amount, what=found.what)
    return ctx.words("dosing.cover.effluent", amount=ctx.say.canonical("alkalinity", found.amount))


def _flow(ctx: PageContext, litres_a_day: float) -> str:
    """A reactor's flow as it is set: by drops a minute, beside litres a day."""
    per_minute = ctx.say.number(1000.0 * litres_a_day / MINUTES_A_DAY, 1, ctx.words("dosing.ml_a_minute"))
    a_day = ctx.say.a_day(say_litres(ctx, litres_a_day))
    return ctx.words("dosing.flow", minute=per_minute, day=a_day)
