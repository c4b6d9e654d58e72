"""What a newcomer asks of the water: what it takes, pumps in steps, stocks that run out, tests and their outcomes."""

from collections.abc import Iterator

from generator.reckon.arrivals.expected import ExpectedUptake
from generator.reckon.arrivals.informed import Informed
from generator.reckon.dosing.cautions import of_phases
from generator.reckon.finding import CannotTell, Finding
from generator.reckon.planned.after import After
from generator.reckon.planned.water import InWater, Outcomes, PumpStep
from generator.reckon.water.findings import Forecast
from generator.records.system import System
from generator.render.base.blocks import Paragraph, Section, Table, figures, items, section
from generator.render.base.context import Desk
from generator.render.base.forecast_words import forecast_words
from generator.render.base.inline import Inline, bold, joined, small
from generator.render.base.numbers import say_deviation
from generator.render.base.why import cannot, evidence, per_day_figure
from generator.render.pages.change_foreseen import foreseen_figures, planned_readings, readings_lead, ways_of
from generator.render.pages.doses import caution_words, holds, say_litres, supply_name, unmet_words


def afterwards(desk: Desk, found: After) -> Section:
    """One system once all of a plan is done: what changes, its uptake before and after, and the doses then."""
    words, system = desk.words, desk.to_system(found.system)
    told = evidence(desk, found.system)
    both = (("before", found.before), ("after", found.after))
    known = [(key, answer) for key, answer in both if isinstance(answer, Finding)]
    unknown = [answer for _, answer in both if isinstance(answer, CannotTell)]
    doses = tuple(
        (supply_name(desk, dose.supply), _a_day(desk, dose.now), bold(_a_day(desk, dose.rate.estimate.value)))
        for dose in found.doses
    )
    heads = words.each("system.solution", "dosing.now", "sheet.after.then")
    return section(
        joined(words("sheet.after.title"), system),
        items(*(_change(desk, each) for each in found.events if each.step is not None), look=""),
        cannot(words, unknown[0]) if unknown else None,
        figures(
            *(per_day_figure(desk, words(f"sheet.after.{key}"), "alkalinity", answer, told) for key, answer in known)
        ),
        Paragraph(_unchanged(desk, found.forecast)),
        Table(f"{words('sheet.water.pumps')}: {system.text}", heads, doses, "tall doses"),
    )


def _change(desk: Desk, found: Informed) -> str:
    """What one coral's coming or going is predicted to do."""
    words, step, coral = desk.words, found.step, str(found.event.coral)
    assert step is not None
    said = desk.say.per_day("alkalinity", step if step.value >= 0.0 else step.scaled(-1.0, step.unit))
    coming = {new.coral: new.name for plan in desk.view.plans.values() for new in plan.coming}
    name = coming.get(coral) or desk.to_coral(coral).text
    key = "sheet.after.more" if step.value >= 0.0 else "sheet.after.less"
    return words(key, name=name, step=said.value, interval=said.interval)


def _a_day(desk: Desk, litres: float) -> str:
    if litres <= 0.0:
        return desk.words("dosing.off")
    return desk.words("numbers.per_day", unit=say_litres(desk, litres))


def water_choice(desk: Desk, colony: str, found: InWater) -> Section:
    """One water a colony could go into: what it would take up there, and what to do about it."""
    words, system, uptake = desk.words, desk.view.systems[found.system], found.uptake
    told = evidence(desk, system.id)
    known = uptake if isinstance(uptake, ExpectedUptake) else None
    added, pumps = found.added, words("sheet.water.pumps")
    heads = words.each("system.solution", "dosing.now", *(f"sheet.water.{step}" for step in ("first", "likely", "cap")))
    table = Table(
        f"{pumps}: {system.name}, {colony}",
        heads,
        tuple(_pump(desk, system, step) for step in found.pumps),
        "tall doses",
    )
    cautions = caution_words(desk, of_phases((added,), system)) if added and added.doses else ()
    return section(
        joined(words("sheet.place.takes"), desk.to_system(system.id)),
        cannot(words, uptake) if isinstance(uptake, CannotTell) else None,
        figures(*foreseen_figures(desk, known, told)) if known else None,
        ways_of(desk, known) if known else None,
        Paragraph(_unchanged(desk, found.unchanged) if known else ""),
        section(pumps, table, Paragraph(words("sheet.water.pumps_note"), "note") if table else None),
        *(Paragraph(left, "note") for left in (unmet_words(desk, system, added.unmet) if added else ())),
        *map(Paragraph, _stocks(desk, found)),
        _tests(desk, found),
        items(*cautions, look="cautions"),
    )


def _tests(desk: Desk, found: InWater) -> Section | None:
    """When a test can show it, and what each outcome would mean."""
    if found.plan is None:
        return None
    rows = (f"{at.text}: {why}, {odds}" for at, why, odds in planned_readings(desk, found.plan))
    return section(
        desk.words("changes.readings"),
        Paragraph(readings_lead(desk, found.plan)),
        items(*rows, look=""),
        items(*(_outcomes(desk, found.outcomes) if found.outcomes else ()), look=""),
    )


def _unchanged(desk: Desk, found: Forecast | CannotTell | None) -> str:
    """What comes of alkalinity if nothing changes; "" if that is not known."""
    if found is None or isinstance(found, CannotTell):
        return ""
    said = ", ".join(filter(None, forecast_words(desk.display, desk.words, found)))
    quantity = desk.words("quantities_within.alkalinity")
    return f"{desk.words('changes.if_unchanged')}: {quantity} {said}."


def _pump(desk: Desk, system: System, step: PumpStep) -> tuple[Inline, ...]:
    """What a pump runs at now, from the hour of arrival on, once a test agrees, and never more than."""
    now, first, likely, cap = (_a_day(desk, litres) for litres in (step.now, step.first, step.likely, step.cap))
    name = joined(supply_name(desk, step.supply), small(holds(desk, system, step.supply)))
    return name, now, bold(first), likely, cap


def _stocks(desk: Desk, found: InWater) -> Iterator[str]:
    for stock in found.stocks:
        days = stock.lasts or stock.full_lasts
        key = "sheet.water.stock" if stock.lasts else "sheet.water.stock_full"
        empty = stock.empty.astimezone(desk.display.zone).date() if stock.empty else None
        yield desk.words(
            key, supply=supply_name(desk, stock.solution), n=round(days.value), day=desk.say.on(empty) if empty else ""
        )


def _outcomes(desk: Desk, found: Outcomes) -> Iterator[str]:
    """What each reading would mean, from the lowest to the highest."""
    words, at = desk.words, desk.say.moment(found.at).text

    def level(canonical: float) -> str:
        return desk.say.canonical("alkalinity", canonical)

    yield words("sheet.water.outcome.all", at=at, level=level(found.all))
    yield words("sheet.water.outcome.part", low=level(found.all), high=level(found.half))
    yield words("sheet.water.outcome.little", level=level(found.half), none=level(found.none))
    unit = desk.display.unit("alkalinity")
    error = say_deviation(words, desk.display.change("alkalinity", found.error), words.unit(unit))
    if found.out:
        yield words("sheet.water.outcome.out")
    yield words("sheet.water.outcome.beside", error=error)
