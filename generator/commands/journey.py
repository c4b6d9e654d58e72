"""`corallite journey`: can a colony travel in a container; `sheet`: the day of a plan; `recipe`: a stock solution."""

import argparse
import sys
from datetime import UTC, date, datetime
from difflib import get_close_matches
from functools import partial
from typing import TYPE_CHECKING

from generator.commands.asking import answered, asked, english, keepers_context, read_journal
from generator.commands.options import FORMS, add_as_of, add_content, named, quantity_in, say_length, size_in_cm
from generator.commands.terminal import Stop, doing, print_lines, print_problems

if TYPE_CHECKING:
    from collections.abc import Mapping

    from generator.commands.asking import Asked
    from generator.reckon.dosing.stocks import Recipe
    from generator.reckon.finding import CannotTell
    from generator.reckon.planned.analysis import PlanFindings
    from generator.reckon.trade.carrying import Sides
    from generator.reckon.trade.journey import Journey, Trip
    from generator.records.coral import Coral, Form
    from generator.records.journal import Journal
    from generator.records.trade import Planned
    from generator.render.base.context import PageContext
    from generator.units.quantity import Estimate


# Limits of the arguments. Water: where the solubility of oxygen is known (Garcia & Gordon 1992), °C. Air: any
# climate, °C. Padding, cm.
_WATER, _AIR, _PADDING = (0.0, 40.0), (-40.0, 60.0), (0.0, 50.0)
_SMALL = 10.0  # litres or kilograms; smaller values get one decimal
_MOST_DECIMALS = 2  # to 10 mL or 10 g: nobody fills or lifts more exactly
EXAMPLES = """\
  corallite journey --colony bell-buoy-1 --container '40 x 30 x 25 cm' --duration '50 min'"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    parser.add_argument("--colony", required=True, metavar="CORAL|LxWxH", help="a coral, or its size: 31x27x24 cm")
    parser.add_argument(
        "--container", required=True, metavar="NAME|LxWxH", help="a container of journal.yaml, or its inner size"
    )
    parser.add_argument("--duration", required=True, metavar="TIME", help="time on the road: '40 min' or '9 h'")
    parser.add_argument(
        "--water", default="25 °C", metavar="TEMP", help="water temperature at the start (default: 25 °C)"
    )
    parser.add_argument("--air", default="20 °C", metavar="TEMP", help="air temperature on the way (default: 20 °C)")
    parser.add_argument("--padding", default="2.5 cm", metavar="LENGTH", help="padding on every side (default: 2.5 cm)")
    parser.add_argument("--form", choices=FORMS, default="branching", help="growth form, if you give a size")
    parser.add_argument("--mass", metavar="MASS", help="its mass, drained, in air: '6.3 kg' (default: from its size)")
    add_content(parser)
    add_as_of(parser)


def run(args: argparse.Namespace) -> int:
    """Print how the journey would go. Return 1 if the colony does not fit. Raises `Stop` if an argument is wrong."""
    from generator.reckon.trade.journey import judge
    from generator.records.journal import in_the_future_from

    # With sizes for both the coral and the container, no journal is needed.
    looked_up = [text for text in (args.colony, args.container) if not _is_size(text)]
    journal = None
    if looked_up or (args.content / "journal.yaml").is_file():
        loaded = read_journal(args, in_the_future_from(args.as_of, datetime.now(UTC)))
        journal = loaded.journal
        if journal is None and looked_up:
            asked = ", ".join(looked_up)
            print(f"not a size such as 31x27x24 cm, so the journal must name it: {asked}", file=sys.stderr)
            print_problems(loaded.errors, args.content)
            return 1
    judged = judge(_plan(args, journal), journal.trades.values() if journal else ())
    _print(judged, journal.settings.units if journal else {})
    return 0 if judged.fit.fits else 1


def _is_size(text: str) -> bool:
    try:
        return len(size_in_cm(text, {}) or ()) == 3
    except Stop:
        return True


def _plan(args: argparse.Namespace, journal: "Journal | None") -> "Trip":
    from generator.nature.genera import surface_factor
    from generator.read.check_trades import LONGEST_JOURNEY
    from generator.reckon.trade.journey import Trip, sides_of_container

    units = journal.settings.units if journal else {}
    colony, mass, genus, form = _colony(args, journal, units)
    inside, written, id = _measures(args.container, units), None, None
    if inside is None:
        containers = journal.settings.containers if journal else {}
        id = named("container", args.container, {id: id for id in containers})
        written = containers[id]
        inside = sides_of_container(written)
    hours = quantity_in(args.duration, "duration", units).canonical()
    if hours <= 0:
        raise Stop(f"'{args.duration}' is not a time on the road (write for example 40 min)")
    if hours > LONGEST_JOURNEY:
        raise Stop(f"'{args.duration}' is longer than a coral is sent on (write at most {LONGEST_JOURNEY:g} h)")
    return Trip(
        colony=colony,
        surface_factor=surface_factor(genus, form),
        mass=mass,
        container=inside,
        hours=hours,
        start=_between(args.water, "temperature", units, *_WATER),
        air=(_between(args.air, "temperature", units, *_AIR), 2.0),
        padding=_between(args.padding, "length", units, *_PADDING),
        container_id=id,
        container_mass=written.mass.canonical() / 1e3 if written and written.mass else None,
        container_holds=written.volume.canonical() if written and written.volume else None,
    )


def _colony(
    args: argparse.Namespace, journal: "Journal | None", units: "Mapping[str, str]"
) -> "tuple[Sides, Estimate, str, Form]":
    """Its sides (cm), its mass (kg), its genus ("" if only a size was given) and its form."""
    from generator.nature.genera import genus_name
    from generator.reckon.growth.measurements import Body, expected_mass
    from generator.reckon.trade.journey import sides_of_coral

    measured = _measures(args.colony, units)
    if measured is not None:
        expected = expected_mass(Body(measured.length, measured.width, measured.height), "", args.form).estimate
        return measured, _mass(args, units) or expected.scaled(1e-3, "kg"), "", args.form
    coral = named("coral", args.colony, _colonies(journal) if journal else {})
    found = sides_of_coral(coral)
    if found is None:
        raise Stop(f"'{coral.id}' has no measured size (give one such as 31x27x24 cm)")
    return found[0], _mass(args, units) or found[1], genus_name(coral.species), coral.form


def _colonies(journal: "Journal") -> "dict[str, Coral]":
    """The corals that are here, and those that are planned to come, as they will be."""
    from generator.records.carried_out import newcomer

    plans = ((plan, new) for plan in journal.plans.values() for new in plan.coming)
    coming = {new.coral: newcomer(plan, new, date.min) for plan, new in plans}
    return {**coming, **journal.corals}


def _mass(args: argparse.Namespace, units: "Mapping[str, str]") -> "Estimate | None":
    """The given mass (kg), plus or minus one unit of its last digit; None if none is given."""
    from generator.units.quantity import Estimate, convert

    if args.mass is None:
        return None
    weighed = quantity_in(args.mass, "mass", units)
    kg, step = weighed.canonical() / 1e3, convert(10.0**-weighed.digits, "mass", weighed.unit, "g") / 1e3
    if kg <= 0.0:
        raise Stop(f"'{args.mass}' is not a mass (write for example 6.3 kg)")
    return Estimate(kg, max(kg - step, 0.0), kg + step, "kg")


def _between(text: str, kind: str, units: "Mapping[str, str]", least: float, most: float) -> float:
    """A quantity in its canonical unit, within limits. Raises `Stop`."""
    from generator.units.kinds import KINDS

    value = quantity_in(text, kind, units).canonical()
    if not least <= value <= most:
        raise Stop(f"'{text}' is out of range (write {least:g} to {most:g} {KINDS[kind].canonical})")
    return value


def _measures(text: str, units: "Mapping[str, str]") -> "Sides | None":
    """Three sides as people write them; None for anything else. Raises `Stop` for a side of 0."""
    from generator.reckon.trade.carrying import Sides

    found = size_in_cm(text, units)
    return Sides(*found) if found is not None and len(found) == 3 else None


def _print(judged: "Journey", units: "Mapping[str, str]") -> None:
    from generator.render.base.numbers import fit_words, lift_words

    words = english()
    print(*fit_words(words, judged, partial(say_length, units, digits=1)), end=".\n")

    def figure(key: str, found: "Estimate", kind: str, note: str = ".") -> None:
        print(f"{words(f'journey.figures.{key}')}: {_said(found, kind, units)}{note}")

    figure("water", judged.water, "volume", "." if judged.covered else f". {words('journey.to_the_brim')}")
    figure("lift", judged.lift.mass, "mass", f". {lift_words(words, judged.lift, lambda kg: _heavy(kg, units))}")
    legs = len(judged.time_constant.inputs)
    learned = words("travel.learned", n=legs) if legs else words("travel.usual")
    figure("arrival", judged.arrival.estimate, "temperature", f" ({learned}).")
    figure("oxygen", judged.oxygen.estimate, "")
    for risk in judged.risks:
        name, level = words(f"risks.{risk.id}.name"), words(f"risks.levels.{risk.level}")
        print(f"{words('risks.of', name=name, level=level)}: {words(f'risks.{risk.id}.{risk.level}')}")
    print(f"{words('journey.packing')}:", "; ".join(words(f"packing.{each.item}") for each in judged.packing))
    for caution in judged.cautions:
        print(words(f"cautions.{caution}"))


def _said(found: "Estimate", kind: str, units: "Mapping[str, str]") -> str:
    """An estimate in the journal's unit, with its range, if it has any."""
    from generator.units.quantity import convert

    unit = _unit(kind, found.unit, units)
    value, low, high = (
        convert(each, kind, found.unit, unit) if kind else each for each in (found.value, found.low, found.high)
    )
    digits = 1 if value < _SMALL or kind in ("temperature", "") else 0
    # A narrow range gets as many more decimals as its two ends need to differ.
    while digits < _MOST_DECIMALS and f"{low:.{digits}f}" == f"{high:.{digits}f}":
        digits += 1
    ends = [f"{end:z.{digits}f}" for end in (low, high)]
    shown = f"{value:z.{digits}f} {unit}"
    return f"{shown} ({' to '.join(ends)})" if ends[0] != ends[1] else shown


def _unit(kind: str, usual: str, units: "Mapping[str, str]") -> str:
    """The journal's unit of a kind; a load is in kg or lb."""
    if kind == "mass":
        return "lb" if units.get("mass") in ("lb", "oz") else "kg"
    return units.get(kind, usual)


def _heavy(kg: float, units: "Mapping[str, str]") -> str:
    from generator.units.quantity import convert

    unit = _unit("mass", "kg", units)
    return f"{convert(kg, 'mass', 'kg', unit):.0f} {unit}"


SHEET_EXAMPLES = """\
  corallite sheet lot-19"""


def sheet_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words and options."""
    parser.add_argument("plan", nargs="?", metavar="PLAN", help="the name of the plan's file (default: list all plans)")
    add_content(parser)
    add_as_of(parser)


def sheet_run(args: argparse.Namespace) -> int:
    """Print the sheet. Raises `Stop` if there is no such plan, or the journal has errors."""
    from generator.reckon.analysis.journal import analyse
    from generator.render.base.page import lines, said
    from generator.render.pages.sheet import sheet_page

    known = asked(args)
    plan = _plan_asked(args, known) if args.plan else None
    with doing(args, "calculating"):
        found = analyse(known.journal, known.as_of)
        ctx = keepers_context(known, found)
    if plan is None:
        told = [_plan_line(ctx, each) for each in found.plans] or [ctx.words("planned.none")]
    else:
        page = sheet_page(ctx, next(each for each in found.plans if each.plan.id == plan.id))
        told = [page.frame.title, said(page.lead), *lines(page.blocks)]
    print_lines(told)
    return 0


def _plan_asked(args: argparse.Namespace, known: "Asked") -> "Planned":
    """The plan asked for. Raises `Stop`, and says so where it is done, dropped or not planned yet."""
    try:
        return named("plan", args.plan, known.journal.plans)
    except Stop:
        file = f"plans/{args.plan.removesuffix('.yaml')}.yaml"
        if not (args.content / file).is_file():
            raise
        on = f"{known.as_of:%Y-%m-%d %H:%M}"
        wrong = f"on {on} nothing is left to do for '{args.plan}'"
        raise Stop(f"{wrong}: it has arrived, was dropped, or was not planned yet (see {file})") from None


def _plan_line(ctx: "PageContext", found: "PlanFindings") -> str:
    """One plan by the name of its file."""
    from generator.render.base.words import ended
    from generator.render.pages.travel import left_words, plan_title, when_of

    plan, when = found.plan, when_of(ctx, found.plan)
    date = f", {when.text}, {left_words(ctx, found.days)}" if when else ""
    return f"{plan.id}: {ended(plan_title(ctx, plan))} {ctx.words(f'planned.stage.{plan.stage}')}{date}"


RECIPE_EXAMPLES = """\
  corallite recipe --compound CaCl2.2H2O --strength '80 g/L' --volume '5 L'
  corallite recipe --compound Na2CO3 --alkalinity '3000 dKH' --volume '2 L'"""


def recipe_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    parser.add_argument(
        "--compound", required=True, metavar="FORMULA", help="the compound with its crystal water: CaCl2.2H2O"
    )
    parser.add_argument("--volume", required=True, metavar="VOLUME", help="how much stock solution to make: '5 L'")
    parser.add_argument("--strength", metavar="STRENGTH", help="grams of compound in a litre: '80 g/L'")
    parser.add_argument("--alkalinity", metavar="LEVEL", help="or the alkalinity of the stock: '3000 dKH'")
    parser.add_argument("--calcium", metavar="LEVEL", help="or its calcium: '22000 mg/L'")
    parser.add_argument("--magnesium", metavar="LEVEL", help="or its magnesium: '24000 mg/L'")


def recipe_run(args: argparse.Namespace) -> int:
    """Print the recipe with its cautions. Raises `Stop` if it would not dissolve, or an argument is wrong."""
    from generator.reckon.dosing.stocks import of_compounds

    found, words = answered(_found(args)), english()
    _print_recipe(found)
    for caution in of_compounds([found.compound]):
        print(words(f"dose_cautions.{caution}"))
    return 0


def _found(args: argparse.Namespace) -> "Recipe | CannotTell":
    from generator.reckon.dosing.stocks import recipe, recipe_giving
    from generator.units.compounds import COMPOUNDS

    if args.compound not in COMPOUNDS:
        close = get_close_matches(args.compound, COMPOUNDS, n=1, cutoff=0.4)
        remedy = f"did you mean {close[0]}?" if close else f"write one of {', '.join(COMPOUNDS)}"
        raise Stop(f"'{args.compound}' is not a compound that Corallite knows ({remedy})")
    litres = quantity_in(args.volume, "volume", {}).canonical()
    wanted = {
        kind: text for kind in ("strength", "alkalinity", "calcium", "magnesium") if (text := getattr(args, kind))
    }
    if len(wanted) != 1 or litres <= 0.0:
        raise Stop(
            "a stock solution needs one strength and a volume (write for example --strength '80 g/L' --volume '5 L')"
        )
    [(kind, text)] = wanted.items()
    wished = quantity_in(text, kind, {}).canonical()
    if kind == "strength":
        return recipe(args.compound, wished, litres)
    return recipe_giving(args.compound, kind, wished, litres)


def _print_recipe(found: "Recipe") -> None:
    from generator.units.compounds import COMPOUNDS
    from generator.units.kinds import KINDS
    from generator.units.quantity import convert

    name = COMPOUNDS[found.compound].name
    print(f"Weigh {found.grams:.4g} g of {found.compound} ({name}) and make it up to {found.litres:.4g} L with water.")
    print(f"That is {found.strength:.4g} g/L. It stays dissolved up to {found.most:.3g} g/L, with a safety margin.")
    for kind, given in found.gives.items():
        unit = "dKH" if kind == "alkalinity" else KINDS[kind].canonical
        brings = convert(given, kind, KINDS[kind].canonical, unit)
        print(f"Its {kind} is {brings:.0f} {unit}.")
