"""A system's dosing plan: what each pump should give, until when, and from which uptake; also on paper."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from generator.reckon.dosing.needs import Need
from generator.reckon.dosing.plan import Plan
from generator.reckon.dosing.recipe import Recipe
from generator.reckon.dosing.safe import Correction
from generator.reckon.dosing.stocks import Stock
from generator.reckon.dosing.survey import DosingFindings, NewWater
from generator.reckon.finding import CannotTell, Finding, scaled_parts
from generator.records.system import System
from generator.render import links
from generator.render.numbers import (
    Moment,
    Shown,
    plain,
    say_canonical,
    say_day,
    say_difference,
    say_estimate,
    say_level,
    with_unit,
)
from generator.render.pages.desk import Desk, Frame, Link
from generator.render.pages.doses import (
    DoseRow,
    caution_words,
    dose_rows,
    holds,
    say_left,
    say_litres,
    supply_name,
    unmet_words,
)
from generator.render.pages.next_tests import listed
from generator.render.pages.predicted import system_frame
from generator.render.pages.supply import ReactorTable, reactor_table, say_out_of_reach, say_short, say_weekday, to_do
from generator.render.pages.volume import volume_figure
from generator.render.pages.why import Cannot, Evidence, Figure, cannot, evidence, per_day_figure, why
from generator.units.quantity import Estimate

# A container that may last longer than this many days gets no number of days.
FAR_OFF = 1000.0


@dataclass(frozen=True, slots=True)
class StockRow:
    """One container: what is in it, and until when."""

    name: str
    left: Shown
    empty: Shown
    lasts: Shown


@dataclass(frozen=True, slots=True)
class RecipeRow:
    """What to weigh out for one full container."""

    name: str
    weigh: str
    made_up_to: str
    gives: str
    refused: Cannot | None


@dataclass(frozen=True, slots=True)
class NewWaterTable:
    """What a water change does, a row a quantity."""

    caption: str
    rows: tuple[tuple[str, Shown, str, Shown], ...]


@dataclass(frozen=True, slots=True)
class DosingPage:
    """The plan, its evidence, and what follows from it; or why there is none and what to test first."""

    frame: Frame
    title: str
    system: Link
    day: Moment
    refusal: Cannot | None
    until: str
    until_note: str
    basis: str
    to_do: tuple[str, ...]
    heads: tuple[str, ...]
    doses: tuple[DoseRow, ...]
    reactor: ReactorTable | None
    short: tuple[str, ...]
    corrections: tuple[str, ...]
    notes: tuple[str, ...]
    needs: tuple[Figure, ...]
    stocks: tuple[StockRow, ...]
    recipes: tuple[RecipeRow, ...]
    drift: Figure | None
    new_water: tuple[NewWaterTable, ...]
    volume: Figure | None
    cautions: tuple[str, ...]
    method: Link
    numbers: Link


def dosing_page(desk: Desk, system: System, found: DosingFindings) -> DosingPage:
    """The page of one system's dosing."""
    words, plan = desk.words, found.plan
    told = evidence(desk.view.log_of(system.id), desk.display, words)
    title = words("dosing.title", system=system.name)
    known = plan if isinstance(plan, Plan) else None
    return DosingPage(
        frame=system_frame(desk, system.id, title, words("dosing.description", system=system.name)),
        title=title,
        system=desk.to_system(system.id),
        day=say_day(desk.display, words, desk.today),
        refusal=cannot(words, plan) if isinstance(plan, CannotTell) else None,
        until=_until(desk, known) if known else "",
        until_note=_until_note(desk, known) if known else "",
        basis=_basis(desk, known) if known else "",
        to_do=tuple(to_do(desk, system, known, found)) if known else (),
        heads=tuple(_heads(desk, known)) if known else (),
        doses=dose_rows(desk, system, known.phases) if known else (),
        reactor=reactor_table(desk, found.reactor),
        short=(
            *(say_short(desk, system, each) for each in found.shortfalls),
            *(say_out_of_reach(desk, each) for each in found.out_of_reach),
        ),
        corrections=tuple(_correction(desk, each) for each in known.corrections) if known else (),
        notes=tuple(_notes(desk, system, known)) if known else (),
        needs=tuple(_need(desk, system, need, told) for need in known.needs) if known else (),
        stocks=tuple(_stock(desk, id, stock) for id, stock in found.stocks.items() if isinstance(stock, Stock)),
        recipes=tuple(_recipe(desk, system, id, recipe) for id, recipe in found.recipes.items()),
        drift=_drift(desk, found.salinity_drift, told) if found.salinity_drift else None,
        new_water=tuple(_new_water(desk, change) for change in found.new_water),
        volume=volume_figure(desk, found, told),
        cautions=caution_words(desk, found.cautions),
        method=desk.link(f"{links.METHODS}#dosing", words("dosing.method")),
        numbers=desk.link(f"data/systems/{system.id}/dosing.csv", words("data.tables.dosing.name")),
    )


def _until(desk: Desk, plan: Plan) -> str:
    """When to read next: at once, or by a day."""
    at = plan.next_test.at
    return desk.words("dosing.at_once" if at <= plan.as_of else "dosing.by_day", day=say_weekday(desk, at))


def _basis(desk: Desk, plan: Plan) -> str:
    """What is given of the demand where it is not all that is likely taken; nothing where it is."""
    if plan.basis == "measured":
        return ""
    return desk.words(f"dosing.basis.{plan.basis}")


def _date(desk: Desk, at: datetime) -> str:
    return say_day(desk.display, desk.words, at.astimezone(desk.display.zone).date()).text


def _until_note(desk: Desk, plan: Plan) -> str:
    """What the plan achieves until the next test."""
    if "alkalinity" not in plan.held:
        short = any(unmet.kind == "alkalinity" and unmet.per_day.value > 0.0 for unmet in plan.phases[-1].unmet)
        unsure = "doubtful" if plan.next_test.why == "doubtful-reading" else "unsure"
        return desk.words("dosing.not_held" if short else f"dosing.{unsure}")
    names = [desk.words(f"quantities_within.{kind}") for kind in plan.held]
    return desk.words("dosing.read_by_note", quantities=listed(desk, names))


def _heads(desk: Desk, plan: Plan) -> Iterator[str]:
    for phase in plan.phases[:-1]:
        yield desk.words("dosing.for_days", n=phase.days)
    yield desk.words("dosing.then" if len(plan.phases) > 1 else "dosing.from_now")


def _correction(desk: Desk, found: Correction) -> str:
    said = say_difference(desk.display, desk.words, found.kind, found.change)
    return desk.words(
        "dosing.correct_up" if found.change.value > 0 else "dosing.correct_down",
        quantity=desk.words(f"quantities.{found.kind}"),
        target=say_canonical(desk.display, desk.words, found.kind, found.target),
        change=said.value,
        interval=said.interval,
        days=desk.words("dosing.days", n=found.days),
    )


def _notes(desk: Desk, system: System, plan: Plan) -> Iterator[str]:
    too_much = tuple(unmet for unmet in plan.phases[-1].unmet if unmet.per_day.value < 0.0)
    yield from unmet_words(desk, system, too_much)
    yield from (desk.words(f"dosing.notes.{note}") for note in plan.notes)


def _need(desk: Desk, system: System, need: Need, told: Evidence) -> Figure:
    """Uptake as the fall of its level without doses, in the unit that a keeper reads."""
    litres = system.water.volume.canonical()
    unit = need.per_day.unit.replace("/day", "/L/day")
    parts = scaled_parts(need.parts, 1.0 / litres)
    found = Finding(need.per_day.scaled(1.0 / litres, unit), need.method, need.inputs, parts)
    return per_day_figure(desk, desk.words(f"quantities.{need.kind}"), need.kind, found, told)


def _stock(desk: Desk, id: str, found: Stock) -> StockRow:
    unknown = Shown(desk.words("dosing.not_written"))
    return StockRow(
        supply_name(desk, id),
        say_left(desk, found.left) if found.left else unknown,
        _empty(desk, found) if found.lasts else unknown,
        _lasting(desk, found.full_lasts),
    )


def _empty(desk: Desk, found: Stock) -> Shown:
    """The day a container will be empty, and the days between which it most likely is."""
    if found.lasts is None or found.empty is None:
        return Shown("")
    filled_up = found.empty - timedelta(days=found.lasts.value)
    first = _date(desk, filled_up + timedelta(days=found.lasts.low))
    if found.lasts.high > FAR_OFF:
        return Shown(say_weekday(desk, found.empty), desk.words("room.not_before", day=first))
    last = _date(desk, filled_up + timedelta(days=found.lasts.high))
    return Shown(say_weekday(desk, found.empty), desk.words("numbers.between", low=first, high=last))


def _lasting(desk: Desk, days: Estimate) -> Shown:
    words, low = desk.words, round(days.low)
    value = words("dosing.lasts", n=round(days.value))
    if days.high > FAR_OFF:
        return Shown(value, words("dosing.at_least", days=words("dosing.lasts", n=low)))
    return Shown(value, words("numbers.between", low=low, high=words("dosing.lasts", n=round(days.high))))


def _recipe(desk: Desk, system: System, id: str, found: Recipe | CannotTell) -> RecipeRow:
    words = desk.words
    if isinstance(found, CannotTell):
        return RecipeRow(id, holds(desk, system, id), "", "", cannot(words, found))
    grams = plain(desk.words, found.grams, 0 if found.grams >= 10 else 1)
    gives = ", ".join(
        f"{words(f'quantities_within.{kind}')} {say_canonical(desk.display, words, kind, amount)}"
        for kind, amount in found.gives.items()
    )
    return RecipeRow(
        id, with_unit(grams, f"{words.unit('g')} {found.compound}"), say_litres(desk, found.litres), gives, None
    )


def _drift(desk: Desk, found: Finding, told: Evidence) -> Figure:
    unit = desk.words("dosing.a_month", unit=desk.words.unit("psu"))
    return Figure(
        desk.words("dosing.drift"),
        say_estimate(desk.words, found.estimate, unit),
        why(desk, found, told, unit, 1.0),
        None,
        desk.words("dosing.drift_note"),
    )


def _new_water(desk: Desk, found: NewWater) -> NewWaterTable:
    words, display = desk.words, desk.display
    rows = []
    for effect in found.effects:
        rows.append(
            (
                words(f"quantities.{effect.kind}"),
                say_level(display, words, effect.kind, effect.before),
                say_canonical(display, words, effect.kind, effect.mix),
                say_level(display, words, effect.kind, effect.after),
            )
        )
    caption = words(
        "dosing.new_water", litres=say_litres(desk, found.litres), share=f"{100.0 * found.fraction:.0f}", mix=found.mix
    )
    return NewWaterTable(caption, tuple(rows))
