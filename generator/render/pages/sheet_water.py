"""What a newcomer asks of the water: what it takes, pumps in steps, stocks that run out, tests and their outcomes."""

from collections.abc import Iterator

from generator.reckon.arrivals.expected import ExpectedUptake
from generator.reckon.arrivals.informed import Informed
from generator.reckon.dosing.cautions import of_phases
from generator.reckon.dosing.phases import Phase
from generator.reckon.finding import CannotTell, Finding
from generator.reckon.planned.after import After
from generator.reckon.planned.water import InWater, Outcomes, PumpStep
from generator.reckon.water.findings import Forecast
from generator.records.system import System
from generator.render.base.blocks import Paragraph, Section, Table, figures, items, section
from generator.render.base.context import PageContext
from generator.render.base.forecast_words import forecast_words
from generator.render.base.inline import Inline, Phrase, bold, joined, small
from generator.render.base.numbers import say_deviation
from generator.render.base.why import cannot, evidence, per_day_figure
from generator.render.pages.change_foreseen import foreseen_figures, planned_readings, readings_lead, ways_of
from generator.render.pages.doses import caution_words, holds, say_litres, supply_name, unmet_words


def afterwards(ctx: PageContext, found: After) -> Section:
    """One system once all of a plan is done: what changes, its uptake before and after, and the doses then."""
    words, system = ctx.words, ctx.to_system(found.system)
    told = evidence(ctx, found.system)
    both = (("before", found.before), ("after", found.after))
    known = [(key, answer) for key, answer in both if isinstance(answer, Finding)]
    unknown = [answer for _, answer in both if isinstance(answer, CannotTell)]
    doses = tuple(
        (supply_name(ctx, dose.supply), _a_day(ctx, dose.now), bold(_a_day(ctx, dose.rate.estimate.value)))
        for dose in found.doses
    )
    heads = words.each("system.solution", "dosing.now", "sheet.after.then")
    return section(
        joined(words("sheet.after.title"), system),
        items(*(_change(ctx, each) for each in found.events if each.step is not None), look=""),
        cannot(words, unknown[0]) if unknown else None,
        figures(
            *(per_day_figure(ctx, words(f"sheet.after.{key}"), "alkalinity", answer, told) for key, answer in known)
        ),
        Paragraph(_unchanged(ctx, found.forecast)),
        Table(f"{words('sheet.water.pumps')}: {system.text}", heads, doses, "tall doses"),
        Paragraph(_next_test(ctx, found)),
    )


def _next_test(ctx: PageContext, found: After) -> Phrase | str:
    if found.test is None:
        return ""
    by = ctx.words("dosing.by_day", day=ctx.say.moment(found.test).text)
    return Phrase((ctx.words("dosing.read_by"), " ", bold(by), "."))


def _change(ctx: PageContext, found: Informed) -> str:
    """What one coral's coming or going is predicted to do."""
    words, step, coral = ctx.words, found.step, str(found.event.coral)
    assert step is not None
    said = ctx.say.per_day("alkalinity", step if step.value >= 0.0 else step.scaled(-1.0, step.unit))
    coming = {new.coral: new.name for plan in ctx.view.plans.values() for new in plan.coming}
    name = coming.get(coral) or ctx.to_coral(coral).text
    key = "sheet.after.more" if step.value >= 0.0 else "sheet.after.less"
    return words(key, name=name, step=said.value, interval=said.interval)


def _a_day(ctx: PageContext, litres: float) -> str:
    if litres <= 0.0:
        return ctx.words("dosing.off")
    return ctx.words("numbers.per_day", unit=say_litres(ctx, litres))


def water_choice(ctx: PageContext, colony: str, found: InWater) -> Section:
    """One water a colony could go into: what it would take up there, and what to do about it."""
    words, system, uptake = ctx.words, ctx.view.systems[found.system], found.uptake
    told = evidence(ctx, system.id)
    known = uptake if isinstance(uptake, ExpectedUptake) else None
    added, pumps = found.added, words("sheet.water.pumps")
    heads = words.each("system.solution", "dosing.now", *(f"sheet.water.{step}" for step in ("first", "likely", "cap")))
    table = Table(
        f"{pumps}: {system.name}, {colony}",
        heads,
        tuple(_pump(ctx, system, step) for step in found.pumps),
        "tall doses",
    )
    cautions = caution_words(ctx, of_phases((added,), system)) if added and added.doses else ()
    return section(
        joined(words("sheet.place.takes"), ctx.to_system(system.id)),
        cannot(words, uptake) if isinstance(uptake, CannotTell) else None,
        figures(*foreseen_figures(ctx, known, told)) if known else None,
        ways_of(ctx, known) if known else None,
        Paragraph(_unchanged(ctx, found.unchanged) if known else ""),
        section(pumps, table, Paragraph(words("sheet.water.pumps_note"), "note") if table else None),
        *(Paragraph(left, "note") for left in (_unmet(ctx, system, added) if added else ())),
        *map(Paragraph, _stocks(ctx, found)),
        _tests(ctx, found),
        items(*cautions, look="cautions"),
    )


def _tests(ctx: PageContext, found: InWater) -> Section | None:
    """When a test can show it, and what each outcome would mean."""
    if found.plan is None:
        return None
    rows = (f"{at.text}: {why}, {odds}" for at, why, odds in planned_readings(ctx, found.plan))
    return section(
        ctx.words("changes.readings"),
        Paragraph(readings_lead(ctx, found.plan)),
        items(*rows, look=""),
        items(*(_outcomes(ctx, found.outcomes, dosed=bool(found.pumps)) if found.outcomes else ()), look=""),
    )


def _unchanged(ctx: PageContext, found: Forecast | CannotTell | None) -> str:
    """What comes of alkalinity if nothing changes; "" if that is not known."""
    if found is None or isinstance(found, CannotTell):
        return ""
    said = ", ".join(filter(None, forecast_words(ctx.display, ctx.words, found)))
    quantity = ctx.words("quantities_within.alkalinity")
    return f"{ctx.words('changes.if_unchanged')}: {quantity} {said}."


def _pump(ctx: PageContext, system: System, step: PumpStep) -> tuple[Inline, ...]:
    """What a pump runs at now, from the hour of arrival on, once a test agrees, and never more than."""
    now, first, likely, cap = (_a_day(ctx, litres) for litres in (step.now, step.first, step.likely, step.cap))
    name = joined(supply_name(ctx, step.supply), small(holds(ctx, system, step.supply)))
    return name, now, bold(first), likely, cap


def _unmet(ctx: PageContext, system: System, added: Phase) -> Iterator[str]:
    """What the solutions leave uncovered; where there is none, that there is none."""
    if added.doses or system.solutions:
        yield from unmet_words(ctx, system, added.unmet)
    elif added.unmet:
        yield ctx.words("sheet.water.outcome.no_dose")


def _stocks(ctx: PageContext, found: InWater) -> Iterator[str]:
    for stock in found.stocks:
        days = stock.lasts or stock.full_lasts
        key = "sheet.water.stock" if stock.lasts else "sheet.water.stock_full"
        empty = stock.empty.astimezone(ctx.display.zone).date() if stock.empty else None
        yield ctx.words(
            key, supply=supply_name(ctx, stock.solution), n=round(days.value), day=ctx.say.on(empty) if empty else ""
        )


def _outcomes(ctx: PageContext, found: Outcomes, *, dosed: bool) -> Iterator[str]:
    """What each reading would mean, from the lowest to the highest, and what to do where there is something to dose."""
    words, at = ctx.words, ctx.say.moment(found.at).text

    def level(canonical: float) -> str:
        return ctx.say.canonical("alkalinity", canonical)

    def told(outcome: str, **values: str) -> str:
        said = words(f"sheet.water.outcome.{outcome}", **values)
        return f"{said} {words(f'sheet.water.outcome.do.{outcome}')}" if dosed else said

    yield told("all", at=at, level=level(found.all))
    yield told("part", low=level(found.all), high=level(found.half))
    yield told("little", level=level(found.half), none=level(found.none))
    unit = ctx.display.unit("alkalinity")
    error = say_deviation(words, ctx.display.change("alkalinity", found.error), words.unit(unit))
    if found.out:
        yield words("sheet.water.outcome.out")
    yield told("beside", error=error)
