"""A system's dosing plan: what each pump should give, until when, and from which uptake; also on paper."""

from collections.abc import Iterator
from datetime import timedelta

from generator.reckon.dosing.analysis import DosingFindings, NewWater
from generator.reckon.dosing.outlook import Need
from generator.reckon.dosing.plan import Plan
from generator.reckon.dosing.pouring import ReactorSetting
from generator.reckon.dosing.safe import Correction
from generator.reckon.dosing.stocks import OutOfReach, Recipe, Remedy, Shortfall, Stock
from generator.reckon.finding import CannotTell, Finding, scaled_parts
from generator.records.system import System
from generator.render.base import links
from generator.render.base.blocks import Block, Figure, Paragraph, Section, Table, figures, group, items, section
from generator.render.base.context import PageContext, as_file, page_of_system
from generator.render.base.links import Inline, Phrase, bold, joined
from generator.render.base.numbers import Shown, listed
from generator.render.base.page import Page
from generator.render.base.scale import Row, drawn_ranges
from generator.render.base.why import LogInWords, cannot, evidence, figure_of, per_day_figure, to_method
from generator.render.pages.alert_words import asks_to_test_first, can_dose
from generator.render.pages.doses import (
    caution_words,
    changed_words,
    counts_on,
    doses,
    doses_drawn,
    made_of_words,
    say_change,
    say_left,
    say_litres,
    say_weekday,
    supply_name,
    to_do,
    unmet_words,
)
from generator.render.pages.uptake import explanations, volume_figure
from generator.units.kinds import KINDS
from generator.units.quantity import Estimate

# A container that may last longer than this many days gets no number of days.
FAR_OFF = 1000.0
MINUTES_A_DAY = 1440.0


def dosing_page(ctx: PageContext, system: System, found: DosingFindings) -> Page:
    """The page of one system's dosing: what to give, what it rests on and what follows; or what to test first."""
    words, plan = ctx.words, found.plan
    told = evidence(ctx, system.id)
    title = words("dosing.title", system=system.name)
    return page_of_system(
        ctx,
        system.id,
        "dosing",
        title,
        words("dosing.description", system=system.name),
        *(
            (group("refusal", cannot(words, plan)),)
            if isinstance(plan, CannotTell)
            else _plan(ctx, system, plan, found, told)
        ),
        group("", figures(volume_figure(ctx, system.id, told)), id="volume"),
        group(
            "side-by-side",
            _stocks(ctx, found),
            _recipes(ctx, system, found),
            *(_new_water(ctx, change) for change in found.new_water),
            section(words("dosing.cautions"), items(*caution_words(ctx, found.cautions), look="cautions")),
        ),
        as_file(ctx, f"data/systems/{system.id}/dosing.csv", "dosing"),
        over=joined(ctx.say.day(ctx.today), ctx.to_system(system.id), by=" · "),
        look="cabinet",
        text=" ".join(words(f"quantities.{kind}") for kind in ctx.findings[system.id].latest),
    )


def _plan(ctx: PageContext, system: System, plan: Plan, found: DosingFindings, told: LogInWords) -> Iterator[Block]:
    words = ctx.words
    until = joined(words("dosing.read_by"), Phrase((bold(_until(ctx, plan)), ".")), _until_note(ctx, plan))
    yield Paragraph(until, "lead read-by")
    first = [words(f"quantities_within.{kind}") for kind in asks_to_test_first(ctx, system.id)]
    yield Paragraph(words("dosing.test_first", quantities=listed(ctx, first)) if first else "")
    # What is given of the uptake where it is not all that is likely taken up.
    yield Paragraph("" if plan.basis == "measured" else words(f"dosing.basis.{plan.basis}"))
    yield section(words("dosing.to_do"), items(*to_do(ctx, system, plan, found), look="plan-notes"))
    rivals = explanations(ctx, ctx.findings[system.id])
    yield section(words("stories.heading"), rivals, method=to_method(ctx, "rivals"))
    # Where it waits, what is now goes on until the next test: that is one column.
    steps, now = plan.phases[int(bool(plan.waits)) :], words("dosing.until_test" if plan.waits else "dosing.now")
    heads = [words("dosing.for_days", n=phase.days) for phase in steps[:-1]]
    last = words("dosing.then" if heads else "dosing.confirmed" if plan.waits else "dosing.from_now")
    if plan.waits and heads:
        heads[0] = words("dosing.confirmed_days", n=steps[0].days)
    yield section(
        words("dosing.doses"),
        *doses_drawn(ctx, steps, (*heads, last), now),
        *doses(ctx, system, steps, (*heads, last), now),
        items(
            *(say_short(ctx, system, each) for each in found.shortfalls),
            *(say_out_of_reach(ctx, each) for each in found.out_of_reach),
            *(_correction(ctx, each, bool(plan.waits)) for each in plan.corrections),
            *(counts_on(ctx, each) for each in plan.changing),
            *_notes(ctx, system, plan),
            look="plan-notes",
        ),
    )
    yield reactor(ctx, found.reactor)
    drift = _drift(ctx, found.salinity_drift, told) if found.salinity_drift else None
    yield section(
        words("dosing.rests_on"),
        figures(*(_need(ctx, system, need, told) for need in plan.needs), drift),
        lead=joined(words("dosing.rests_on_lead"), ctx.link(f"{links.METHODS}#dosing", words("dosing.method"))),
    )


def _until(ctx: PageContext, plan: Plan) -> str:
    """When to read next: at once, or by a day."""
    at = plan.next_test.at
    return ctx.words("dosing.at_once" if at <= plan.as_of else "dosing.by_day", day=say_weekday(ctx, at))


def _until_note(ctx: PageContext, plan: Plan) -> str:
    """What the plan achieves until the next test."""
    if plan.waits:
        changes = any(dose.rate.estimate.value != dose.now for phase in plan.phases[1:] for dose in phase.doses)
        then = ctx.words("dosing.if_confirmed" if changes else "dosing.comes_later")
        return f"{ctx.words(f'dosing.waits.{plan.waits}')} {then}"
    if plan.to_mend:
        return ctx.words("dosing.mend_first", solution=listed(ctx, [each.solution for each in plan.to_mend]))
    if "alkalinity" not in plan.held:
        short = any(unmet.kind == "alkalinity" and unmet.per_day.value > 0.0 for unmet in plan.phases[-1].to_tell)
        unsure = "doubtful" if plan.next_test.why == "doubtful-reading" else "unsure"
        return ctx.words("dosing.not_held" if short else f"dosing.{unsure}")
    latest, sides = ctx.findings[plan.system].latest, {"dosing.brings_back": True, "dosing.read_by_note": False}
    told = []
    for key, is_out in sides.items():
        kinds = [kind for kind in plan.held if (latest[kind].standing in ("low", "high")) == is_out]
        if kinds and (is_out or plan.next_test.at > plan.as_of):
            told.append(
                ctx.words(key, quantities=listed(ctx, [ctx.words(f"quantities_within.{kind}") for kind in kinds]))
            )
    return " ".join(told)


def _correction(ctx: PageContext, found: Correction, if_confirmed: bool) -> str:
    said = ctx.say.difference(found.kind, found.change)
    key = "dosing.correct_up" if found.change.value > 0 else "dosing.correct_down"
    return ctx.words(
        f"{key}_if" if if_confirmed else key,
        quantity=ctx.words(f"quantities.{found.kind}"),
        quantity_within=ctx.words(f"quantities_within.{found.kind}"),
        target=ctx.say.canonical(found.kind, found.target),
        **said.blanks("change"),
        days=ctx.words("dosing.days", n=found.days),
    )


def _notes(ctx: PageContext, system: System, plan: Plan) -> Iterator[str]:
    too_much = tuple(unmet for unmet in plan.phases[-1].to_tell if unmet.per_day.value < 0.0)
    yield from unmet_words(ctx, system, too_much)
    yield from (ctx.words(f"dosing.notes.{note}") for note in plan.notes)
    # What a solution gives now is both where it runs by pump and is also poured by hand, if not until it is mended.
    pumped = {dose.supply for dose in plan.phases[-1].doses if dose.how == "pump" and dose.now}
    by_hand = {habit.solution for habit in ctx.findings[plan.system].habits} - {each.solution for each in plan.to_mend}
    yield from (ctx.words("dosing.both_ways", solution=each) for each in sorted(pumped & by_hand))


def _need(ctx: PageContext, system: System, need: Need, told: LogInWords) -> Figure:
    """Uptake as the fall of its level without doses, in the unit that a keeper reads."""
    litres = system.water.volume.canonical()
    unit = need.per_day.unit.replace("/day", "/L/day")
    parts = scaled_parts(need.parts, 1.0 / litres)
    found = Finding(need.per_day.scaled(1.0 / litres, unit), need.method, need.inputs, parts)
    return per_day_figure(ctx, ctx.words(f"quantities.{need.kind}"), need.kind, found, told)


def _empty(ctx: PageContext, found: Stock) -> Shown:
    """The day a container will be empty, and the days between which it most likely is."""
    if found.lasts is None or found.empty is None:
        return Shown("")
    filled_up = found.empty - timedelta(days=found.lasts.value)
    first = ctx.say.date(filled_up + timedelta(days=found.lasts.low))
    if found.lasts.high > FAR_OFF:
        return Shown(say_weekday(ctx, found.empty), ctx.words("room.not_before", day=first))
    last = ctx.say.date(filled_up + timedelta(days=found.lasts.high))
    return Shown(say_weekday(ctx, found.empty), ctx.words("numbers.between", low=first, high=last))


def _lasting(ctx: PageContext, days: Estimate) -> Shown:
    words, low = ctx.words, round(days.low)
    value = words("dosing.lasts", n=round(days.value))
    if days.high > FAR_OFF:
        return Shown(value, words("dosing.at_least", days=words("dosing.lasts", n=low)))
    return Shown(value, words("numbers.between", low=low, high=words("dosing.lasts", n=round(days.high))))


def _stocks(ctx: PageContext, found: DosingFindings) -> Section:
    """Each container: what is in it, and until when."""
    words = ctx.words
    unknown = words("dosing.not_written")
    rows = [
        (
            supply_name(ctx, id),
            say_left(ctx, stock.left) if stock.left else unknown,
            _empty(ctx, stock) if stock.lasts else unknown,
            _lasting(ctx, stock.full_lasts),
        )
        for id, stock in found.stocks.items()
        if isinstance(stock, Stock)
    ]
    title = words("dosing.stocks")
    heads = words.each("system.solution", "dosing.left", "dosing.empty", "dosing.full")
    lasting = [
        Row(supply_name(ctx, id), _empty(ctx, stock), stock.lasts)
        for id, stock in found.stocks.items()
        if isinstance(stock, Stock) and stock.lasts and stock.lasts.high <= FAR_OFF
    ]
    left = drawn_ranges(words, words("dosing.days_left"), words.unit("days"), lasting) if len(lasting) > 1 else None
    return section(title, left, Table(title, heads, tuple(rows)), method=to_method(ctx, "stock"))


def _recipes(ctx: PageContext, system: System, found: DosingFindings) -> Section:
    title = ctx.words("dosing.recipes")
    heads = ctx.words.each("system.solution", "dosing.weigh", "dosing.made_up_to", "dosing.gives")
    rows = tuple(_recipe(ctx, system, id, recipe) for id, recipe in found.recipes.items())
    return section(title, Table(title, heads, rows), method=to_method(ctx, "stock"))


def _recipe(ctx: PageContext, system: System, id: str, found: Recipe | CannotTell) -> tuple[Inline, ...]:
    """What to weigh out for one full container."""
    words = ctx.words
    if isinstance(found, CannotTell):
        return id, joined(made_of_words(ctx, system, id), cannot(words, found), by=". ")
    grams = ctx.say.number(found.grams, 0 if found.grams >= 10 else 1, "g")
    gives = ", ".join(
        f"{words(f'quantities_within.{kind}')} {ctx.say.canonical(kind, amount)}"
        for kind, amount in found.gives.items()
    )
    return id, f"{grams} {found.compound}", say_litres(ctx, found.litres), gives


def _drift(ctx: PageContext, found: Finding, told: LogInWords) -> Figure:
    unit = ctx.words("dosing.a_month", unit=ctx.say.unit("salinity"))
    label, note = ctx.words.each("dosing.drift", "dosing.drift_note")

    def say(found: Estimate) -> Shown:
        return ctx.say.estimate(ctx.display.estimate("salinity", found, of_level=False), unit)

    return figure_of(ctx, label, found, say, told, unit, note=note)


def _new_water(ctx: PageContext, found: NewWater) -> Section:
    """What a water change does, a row a quantity."""
    words = ctx.words
    title = words("dosing.water_change")
    rows = tuple(
        (
            words(f"quantities.{effect.kind}"),
            ctx.say.level(effect.kind, effect.before),
            ctx.say.canonical(effect.kind, effect.mix),
            ctx.say.level(effect.kind, effect.after),
        )
        for effect in found.effects
    )
    share = f"{100.0 * found.fraction:.0f}"
    return section(
        title,
        Table(title, words.each("system.quantity", "dosing.before", "dosing.mix", "dosing.after"), rows, "figures"),
        lead=words("dosing.new_water", litres=say_change(ctx, found.litres), share=share, mix=found.mix),
        method=to_method(ctx, "water-change"),
    )


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
        cures.append(ctx.words("dosing.cover.water", **changed_words(ctx, found.by_water)))
    return ctx.words(
        "dosing.short" if can_dose(ctx, system.id) else "dosing.short_undosed",
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
