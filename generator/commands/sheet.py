"""`corallite sheet`: the sheet of a plan, with its day in order; without a name, the list of plans."""

import argparse
from collections.abc import Iterator
from typing import TYPE_CHECKING

from generator.commands.asking import english, understood
from generator.commands.options import add_as_of, add_content, named

if TYPE_CHECKING:
    from generator.render.numbers import Shown
    from generator.render.pages.planned import PlannedPage
    from generator.render.pages.sheet import NewcomerShown, SheetPage
    from generator.render.pages.sheet_water import AfterShown, WaterChoice
    from generator.render.pages.sheet_way import PassengerShown
    from generator.render.words import Words


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words and options."""
    parser.add_argument("plan", nargs="?", metavar="PLAN", help="the name of the plan's file (default: list all plans)")
    add_content(parser)
    add_as_of(parser)


def run(args: argparse.Namespace) -> int:
    """Print the sheet. Return 1 if there is no such plan, or the journal has errors."""
    from generator.reckon.analysis.journal import survey
    from generator.render.audience import view
    from generator.render.numbers import display_of
    from generator.render.pages.desk import Desk, ties
    from generator.render.pages.planned import planned_page
    from generator.render.pages.sheet import sheet_page

    asked = understood(args, lambda known: named("plan", args.plan, known.journal.plans) if args.plan else None)
    if asked is None:
        return 1
    known, plan = asked
    journal, words = known.journal, english()
    seen, found = view(journal, "own"), survey(journal, known.as_of)
    display = display_of(journal.settings, journal.systems, journal.logs)
    desk = Desk(seen, found, (), known.as_of, words, display, {}, ties(seen))
    if plan is None:
        lines = _list(planned_page(desk), words)
    else:
        lines = _sheet(sheet_page(desk, next(each for each in found.plans if each.plan.id == plan.id)), words)
    for line in lines:
        print(line.replace("\u00a0", " "))
    return 0


def _list(page: "PlannedPage", words: "Words") -> Iterator[str]:
    if not page.rows:
        yield words("planned.none")
    for row in page.rows:
        when = f", {row.when.text}, {row.left}" if row.when else ""
        yield f"{row.id}: {row.link.text}. {row.stage}{when}"


def _sheet(page: "SheetPage", words: "Words") -> Iterator[str]:
    yield f"{page.title}. {page.stage}"
    yield from (f"  {term}: {text}" for term, text in page.facts)
    if page.papers:
        yield from _part(words("sheet.papers.title"), (words("cautions.cites"), *page.papers))
    for passenger in page.passengers:
        yield from _part(f"{words('sheet.on_the_way')} {passenger.coral.text}", _way(passenger, words))
    if page.care:
        yield from _part(words("sheet.care.title"), (*page.care, words("cautions.no-release")))
    for newcomer in page.newcomers:
        yield from _newcomer(newcomer, words)
    for water in page.afters:
        yield from _part(f"{words('sheet.after.title')} {water.system.text}", _after(water, words))


def _part(title: str, lines: "tuple[str, ...] | Iterator[str]") -> Iterator[str]:
    """A title and its lines; nothing without lines."""
    every = list(lines)
    if every:
        yield from ("", title)
        yield from (f"  {line}" for line in every)


def _way(found: "PassengerShown", words: "Words") -> Iterator[str]:
    yield from (_figure(figure.label, figure.shown) for figure in found.weights if figure.shown)
    if found.by_hand:
        yield f"{words('sheet.weights.by_hand')} {found.by_hand} {words('cautions.lifting')}"
    if found.cannot:
        yield f"{found.cannot.reason} {found.cannot.remedy}"
    if (shown := found.shown) is not None:
        yield f"{shown.verdict} {shown.pose}"
        yield from (_figure(figure.label, figure.shown) for figure in shown.figures if figure.shown)
        yield shown.lifting
        yield from (f"{risk.name}: {risk.level}. {risk.reason}" for risk in shown.risks)
        yield f"{words('journey.packing')}: {', '.join(shown.packing)}"


def _newcomer(found: "NewcomerShown", words: "Words") -> Iterator[str]:
    places = [
        f"{words('sheet.place.places')}: {place.where.text}, {place.spot}; {place.light}"
        for place in found.landing.places
    ]
    yield from _part(f"{words('sheet.place.title')} {found.landing.name}", (*found.steps, *places))
    yield from _part(words("sheet.light.title"), found.light)
    for water in found.waters:
        yield from _part(f"{words('sheet.place.takes')} {water.system.text}", _water(water, words))


def _water(found: "WaterChoice", words: "Words") -> Iterator[str]:
    if found.cannot:
        yield f"{found.cannot.reason} {found.cannot.remedy}"
    yield from (_figure(figure.label, figure.shown) for figure in found.figures if figure.shown)
    yield from (_figure(strip.label, strip.said) for strip in (found.ways.strips if found.ways else ())[-2:])
    if found.unchanged:
        yield found.unchanged
    heads = words("dosing.now"), *(words(f"sheet.water.{key}") for key in ("first", "likely", "cap"))
    for pump in found.pumps:
        doses = zip(heads, (pump.now, pump.first, pump.likely, pump.cap), strict=True)
        yield f"{pump.name}: {'; '.join(f'{head}: {dose}' for head, dose in doses)}"
    if found.pumps:
        yield words("sheet.water.pumps_note")
    yield from found.unmet
    yield from found.stocks
    yield from (f"{row.at.text}: {row.why}, {row.odds}" for row in (found.readings.rows if found.readings else ()))
    yield from found.outcomes
    yield from found.cautions


def _after(found: "AfterShown", words: "Words") -> Iterator[str]:
    yield from found.changes
    if found.cannot:
        yield f"{found.cannot.reason} {found.cannot.remedy}"
    yield from (_figure(figure.label, figure.shown) for figure in found.figures if figure.shown)
    if found.outlook:
        yield found.outlook
    for name, now, then in found.doses:
        yield f"{name}: {words('dosing.now')}: {now}; {words('sheet.after.then')}: {then}"


def _figure(label: str, shown: "Shown") -> str:
    return f"{label}: {shown.value}, {shown.interval}" if shown.interval else f"{label}: {shown.value}"
