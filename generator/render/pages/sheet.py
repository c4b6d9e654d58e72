"""The sheet of a plan: all of its day in the order of the day, on a sheet of paper to take along."""

from collections.abc import Iterator
from dataclasses import dataclass

from generator.reckon.planned.survey import PlanFindings
from generator.render import links
from generator.render.inline import Link
from generator.render.numbers import say_day, say_written
from generator.render.page import Frame
from generator.render.pages.deals import money
from generator.render.pages.desk import Desk, frame, section_crumb
from generator.render.pages.planned import left_words, title_of, when_of
from generator.render.pages.sheet_day import caring, lighting, papers, placing
from generator.render.pages.sheet_place import LandingShown, landing_shown
from generator.render.pages.sheet_water import AfterShown, WaterChoice, after_shown, water_choice
from generator.render.pages.sheet_way import PassengerShown, passenger_shown
from generator.render.pages.travel import say_hours
from generator.render.pages.why import to_method

_METHODS = (
    "journey",
    "fit",
    "lifting",
    "cooling",
    "oxygen",
    "packing",
    "light-steps",
    "place-for-a-colony",
    "expected-uptake",
    "stock",
    "next-test",
)


@dataclass(frozen=True, slots=True)
class NewcomerShown:
    """One colony that comes: where it goes and what moves first, its light, and what it asks of the water."""

    landing: LandingShown
    steps: tuple[str, ...]
    light: tuple[str, ...]
    waters: tuple[WaterChoice, ...]


@dataclass(frozen=True, slots=True)
class SheetPage:
    """One plan, with all that its day asks for."""

    frame: Frame
    title: str
    stage: str
    facts: tuple[tuple[str, str], ...]
    source: str
    next: str
    papers: tuple[str, ...]
    passengers: tuple[PassengerShown, ...]
    care: tuple[str, ...]
    newcomers: tuple[NewcomerShown, ...]
    afters: tuple[AfterShown, ...]
    methods: tuple[Link, ...]


def sheet_page(desk: Desk, found: PlanFindings) -> SheetPage:
    """The sheet of one plan."""
    words, plan = desk.words, found.plan
    title = title_of(desk, plan)
    crumbs = section_crumb(desk, "corals"), desk.link(links.PLANNED, words("planned.title"))
    return SheetPage(
        frame(desk, title, words("sheet.description", title=title), "corals", *crumbs),
        title,
        words(f"planned.stage.{plan.stage}"),
        tuple(_facts(desk, found)),
        str(plan.source),
        words(f"sheet.next.{plan.stage}", plan=plan.id),
        tuple(papers(desk, found)),
        tuple(passenger_shown(desk, number, each) for number, each in enumerate(found.passengers, start=1)),
        tuple(caring(desk, found.care)) if found.care else (),
        tuple(
            NewcomerShown(
                landing_shown(desk, number, each),
                tuple(placing(desk, each)),
                tuple(lighting(desk, each.light)) if each.light else (),
                tuple(water_choice(desk, water) for water in each.waters),
            )
            for number, each in enumerate(found.landings, start=1)
        ),
        tuple(after_shown(desk, each) for each in found.afters),
        tuple(to_method(desk, id) for id in _METHODS),
    )


def _facts(desk: Desk, found: PlanFindings) -> Iterator[tuple[str, str]]:
    words, plan = desk.words, found.plan
    when = when_of(desk, plan)
    if when is not None:
        yield words("sheet.when"), f"{when.text}, {left_words(desk, found.days)}"
    if plan.partner:
        yield words("sheet.with"), desk.partner(plan.partner)
    if plan.keeps:
        yield words("sheet.keeps"), plan.keeps
    for key, worth in (("paid", plan.paid), ("was_paid", plan.was_paid)):
        if worth:
            yield words(f"sheet.{key}"), money(words, worth)
    for owed in plan.owed:
        yield words("sheet.owed"), words(f"trades.owed.{owed.by}", what=owed.what)
    if plan.travel:
        yield words("trades.travel"), say_hours(desk, plan.travel.duration.canonical())
        if plan.travel.container:
            yield words("trades.container"), plan.travel.container
        if plan.travel.distance:
            yield words("trades.distance"), say_written(words, plan.travel.distance)
        if plan.travel.packing:
            yield words("journey.packed"), plan.travel.packing
    yield words("sheet.since"), say_day(desk.display, words, plan.since).text
    for key, text in (("note", plan.note), ("private", plan.private)):
        if text:
            yield words(f"trades.{key}"), text
