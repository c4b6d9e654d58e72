"""What a keeper does by hand by a plan: pours, changes water, sets a reactor; and what falls short, and its cures."""

from collections.abc import Iterator
from datetime import date, datetime, timedelta

from generator.reckon.dosing.analysis import DosingFindings
from generator.reckon.dosing.plan import Plan
from generator.reckon.dosing.pouring import Counted, Pouring, ReactorSetting
from generator.reckon.dosing.stocks import OutOfReach, Remedy, Shortfall
from generator.reckon.dosing.water_changes import WaterChanges
from generator.records.system import System
from generator.render.base.blocks import Paragraph, Section, Table, section
from generator.render.base.context import PageContext
from generator.render.base.numbers import listed
from generator.render.pages.doses import say_litres, say_poured, say_weekday
from generator.render.pages.next_tests import day_due, say_when
from generator.units.kinds import KINDS
from generator.units.quantity import Estimate

MINUTES_A_DAY = 1440.0


def to_do(ctx: PageContext, system: System, plan: Plan, found: DosingFindings) -> Iterator[str]:
    """What is to be done by hand, in a sentence each."""
    for lacking in plan.to_mend:
        set_to, gave = ctx.say.written(lacking.set_to), ctx.say.written(lacking.gave.rate)
        at = ctx.say.moment(lacking.gave.at).text
        yield ctx.words("dosing.mend", solution=lacking.solution, set_to=set_to, gave=gave, at=at)
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


def first_change(ctx: PageContext, found: WaterChanges, as_of: datetime) -> date:
    """The day on which water is changed first."""
    return day_due(ctx, as_of + timedelta(days=found.first))


def say_change(ctx: PageContext, litres: float) -> str:
    """A volume of water to change, as exact as it is poured."""
    value, digits, unit = _as_poured(litres)
    return ctx.say.number(value, digits, unit)


def written_change(found: WaterChanges) -> str:
    """One of the water changes as it stands in a log, as exact as pages say it."""
    value, digits, unit = _as_poured(found.litres)
    return f"water_change: {{volume: {round(value, digits):g} {unit}, mix: {found.mix}}}"


def _as_poured(litres: float) -> tuple[float, int, str]:
    """A volume in the unit it is poured in, and its decimals: three digits, for nobody pours more exactly."""
    if litres < 1.0:
        return 1000.0 * litres, 0, "mL"
    return litres, 0 if litres >= 100.0 else 1 if litres >= 10.0 else 2, "L"


def _pour(ctx: PageContext, found: Pouring) -> str:
    words, amount, days = ctx.words, say_poured(ctx, found.litres), [say_weekday(ctx, at) for at in found.at]
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
        return words(key, n=found.times, level=level, share=share, when=when, **_changed(ctx, found))
    key = "dosing.change_keeps" if found.meets else "dosing.change_short"
    said = words(key, level=level, share=share, **_changed(ctx, found))
    begins = when if day <= ctx.today else say_weekday(ctx, first)
    return f"{said} {words('dosing.first_change', day=begins)}"


def _changed(ctx: PageContext, found: WaterChanges) -> dict[str, str]:
    rhythm = ctx.words("dosing.every_days", n=found.days)
    return {"litres": say_change(ctx, found.litres), "mix": found.mix, "rhythm": rhythm}


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
