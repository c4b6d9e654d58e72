"""What a newcomer asks of the water: what it takes, pumps in steps, stocks that run out, tests and their outcomes."""

from collections.abc import Iterator
from dataclasses import dataclass

from generator.reckon.arrivals.expected import ExpectedUptake
from generator.reckon.arrivals.informed import Informed
from generator.reckon.dosing.cautions import of_phases
from generator.reckon.finding import CannotTell, Finding
from generator.reckon.planned.after import After
from generator.reckon.planned.water import InWater, Outcomes, PumpStep
from generator.records.system import System
from generator.render.blocks import Figure
from generator.render.forecast_words import forecast_words
from generator.render.inline import Cannot, Link
from generator.render.numbers import say_canonical, say_day, say_deviation, say_moment, say_per_day
from generator.render.pages.change_foreseen import ReadingsAhead, foreseen_figures, readings_of, ways_of
from generator.render.pages.desk import Desk
from generator.render.pages.doses import caution_words, holds, say_litres, supply_name, unmet_words
from generator.render.pages.why import cannot, evidence, per_day_figure
from generator.render.ranges import Ranges


@dataclass(frozen=True, slots=True)
class PumpRow:
    """A pump by its steps: what runs now, from the hour of arrival on, once a test agrees, and never more than."""

    name: str
    holds: str
    now: str
    first: str
    likely: str
    cap: str


@dataclass(frozen=True, slots=True)
class WaterChoice:
    """What it would take out of one system's water, and what to do about it."""

    system: Link
    figures: tuple[Figure, ...]
    ways: Ranges | None
    cannot: Cannot | None
    unchanged: str
    pumps: tuple[PumpRow, ...]
    unmet: tuple[str, ...]
    stocks: tuple[str, ...]
    readings: ReadingsAhead | None
    outcomes: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class AfterShown:
    """One system once all of the plan is done: what changes, its uptake before and after, and the doses then."""

    system: Link
    changes: tuple[str, ...]
    figures: tuple[Figure, ...]
    cannot: Cannot | None
    outlook: str
    doses: tuple[tuple[str, str, str], ...]


def after_shown(desk: Desk, found: After) -> AfterShown:
    """One system once all of a plan is done."""
    words, display = desk.words, desk.display
    told = evidence(desk.view.log_of(found.system), display, words)
    both = (("before", found.before), ("after", found.after))
    known = [(key, answer) for key, answer in both if isinstance(answer, Finding)]
    unknown = [answer for _, answer in both if isinstance(answer, CannotTell)]
    outlook = ""
    if not isinstance(found.forecast, CannotTell):
        outlook = ", ".join(filter(None, forecast_words(display, words, found.forecast)))
        outlook = f"{words('changes.if_unchanged')}: {words('quantities_within.alkalinity')} {outlook}."
    return AfterShown(
        desk.to_system(found.system),
        tuple(_change(desk, each) for each in found.events if each.step is not None),
        tuple(per_day_figure(desk, words(f"sheet.after.{key}"), "alkalinity", answer, told) for key, answer in known),
        cannot(words, unknown[0]) if unknown else None,
        outlook,
        tuple(
            (supply_name(desk, dose.supply), _a_day(desk, dose.now), _a_day(desk, dose.rate.estimate.value))
            for dose in found.doses
        ),
    )


def _change(desk: Desk, found: Informed) -> str:
    """What one coral's coming or going is predicted to do."""
    words, step, coral = desk.words, found.step, str(found.event.coral)
    assert step is not None
    said = say_per_day(desk.display, words, "alkalinity", step if step.value >= 0.0 else step.scaled(-1.0, step.unit))
    coming = {new.coral: new.name for plan in desk.view.plans.values() for new in plan.coming}
    name = coming.get(coral) or desk.to_coral(coral).text
    key = "sheet.after.more" if step.value >= 0.0 else "sheet.after.less"
    return words(key, name=name, step=said.value, interval=said.interval)


def _a_day(desk: Desk, litres: float) -> str:
    if litres <= 0.0:
        return desk.words("dosing.off")
    return desk.words("numbers.per_day", unit=say_litres(desk, litres))


def water_choice(desk: Desk, found: InWater) -> WaterChoice:
    """One water a colony could go into."""
    words, system, uptake = desk.words, desk.view.systems[found.system], found.uptake
    told = evidence(desk.view.log_of(system.id), desk.display, words)
    known = isinstance(uptake, ExpectedUptake)
    return WaterChoice(
        system=desk.to_system(system.id),
        figures=tuple(foreseen_figures(desk, uptake, told)) if isinstance(uptake, ExpectedUptake) else (),
        ways=ways_of(desk, uptake) if isinstance(uptake, ExpectedUptake) else None,
        cannot=cannot(words, uptake) if isinstance(uptake, CannotTell) else None,
        unchanged=_unchanged(desk, found) if known else "",
        pumps=tuple(_pump(desk, system, step) for step in found.pumps),
        unmet=tuple(unmet_words(desk, system, found.added.unmet)) if found.added else (),
        stocks=tuple(_stocks(desk, found)),
        readings=readings_of(desk, found.plan) if found.plan else None,
        outcomes=tuple(_outcomes(desk, found.outcomes)) if found.outcomes else (),
        cautions=caution_words(desk, of_phases((found.added,), system)) if found.added and found.added.doses else (),
    )


def _unchanged(desk: Desk, found: InWater) -> str:
    if found.unchanged is None or isinstance(found.unchanged, CannotTell):
        return ""
    said = ", ".join(filter(None, forecast_words(desk.display, desk.words, found.unchanged)))
    quantity = desk.words("quantities_within.alkalinity")
    return f"{desk.words('changes.if_unchanged')}: {quantity} {said}."


def _pump(desk: Desk, system: System, step: PumpStep) -> PumpRow:
    return PumpRow(
        supply_name(desk, step.supply),
        holds(desk, system, step.supply),
        *(_a_day(desk, litres) for litres in (step.now, step.first, step.likely, step.cap)),
    )


def _stocks(desk: Desk, found: InWater) -> Iterator[str]:
    for stock in found.stocks:
        days = stock.lasts or stock.full_lasts
        key = "sheet.water.stock" if stock.lasts else "sheet.water.stock_full"
        empty = stock.empty.astimezone(desk.display.zone).date() if stock.empty else None
        yield desk.words(
            key,
            supply=supply_name(desk, stock.solution),
            n=round(days.value),
            day=say_day(desk.display, desk.words, empty).text if empty else "",
        )


def _outcomes(desk: Desk, found: Outcomes) -> Iterator[str]:
    """What each reading would mean, from the lowest to the highest."""
    words, at = desk.words, say_moment(desk.display, desk.words, found.at).text

    def level(canonical: float) -> str:
        return say_canonical(desk.display, words, "alkalinity", canonical)

    yield words("sheet.water.outcome.all", at=at, level=level(found.all))
    yield words("sheet.water.outcome.part", low=level(found.all), high=level(found.half))
    yield words("sheet.water.outcome.little", level=level(found.half), none=level(found.none))
    unit = desk.display.unit("alkalinity")
    error = say_deviation(words, desk.display.change("alkalinity", found.error), words.unit(unit))
    if found.out:
        yield words("sheet.water.outcome.out")
    yield words("sheet.water.outcome.beside", error=error)
