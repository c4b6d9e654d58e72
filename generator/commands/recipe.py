"""`corallite recipe`: what to weigh out for a stock solution, if it dissolves."""

import argparse
import sys
from difflib import get_close_matches
from typing import TYPE_CHECKING

from generator.commands.asking import english, print_cannot

if TYPE_CHECKING:
    from generator.reckon.dosing.stocks import Recipe
    from generator.reckon.finding import CannotTell

EXAMPLES = """\
  corallite recipe --compound CaCl2.2H2O --strength '80 g/L' --volume '5 L'
  corallite recipe --compound Na2CO3 --alkalinity '3000 dKH' --volume '2 L'"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    parser.add_argument(
        "--compound", required=True, metavar="FORMULA", help="the compound with its crystal water: CaCl2.2H2O"
    )
    parser.add_argument("--volume", required=True, metavar="VOLUME", help="how much stock solution to make: '5 L'")
    parser.add_argument("--strength", metavar="STRENGTH", help="grams of compound in a litre: '80 g/L'")
    parser.add_argument("--alkalinity", metavar="LEVEL", help="or the alkalinity of the stock: '3000 dKH'")
    parser.add_argument("--calcium", metavar="LEVEL", help="or its calcium: '22000 mg/L'")
    parser.add_argument("--magnesium", metavar="LEVEL", help="or its magnesium: '24000 mg/L'")


def run(args: argparse.Namespace) -> int:
    """Print the recipe with its cautions. Return 1 if it would not dissolve, or an argument is wrong."""
    from generator.reckon.dosing.stocks import Recipe, of_compounds
    from generator.units.quantity import NotAQuantity

    words = english()
    try:
        found = _found(args)
    except (NotAQuantity, LookupError) as error:
        print(error.args[0], file=sys.stderr)
        return 1
    if not isinstance(found, Recipe):
        print_cannot(found)
        return 1
    _print(found)
    for caution in of_compounds([found.compound]):
        print(words(f"dose_cautions.{caution}"))
    return 0


def _found(args: argparse.Namespace) -> "Recipe | CannotTell":
    from generator.reckon.dosing.stocks import recipe, recipe_giving
    from generator.units.compounds import COMPOUNDS
    from generator.units.quantity import parse_quantity

    if args.compound not in COMPOUNDS:
        close = get_close_matches(args.compound, COMPOUNDS, n=1, cutoff=0.4)
        remedy = f"did you mean {close[0]}?" if close else f"write one of {', '.join(COMPOUNDS)}"
        raise LookupError(f"'{args.compound}' is not a compound that Corallite knows ({remedy})")
    litres = parse_quantity(args.volume, "volume").canonical()
    wanted = {
        kind: text for kind in ("strength", "alkalinity", "calcium", "magnesium") if (text := getattr(args, kind))
    }
    if len(wanted) != 1 or litres <= 0.0:
        raise LookupError(
            "a stock solution needs one strength and a volume (write for example --strength '80 g/L' --volume '5 L')"
        )
    [(kind, text)] = wanted.items()
    amount = parse_quantity(text, kind).canonical()
    if kind == "strength":
        return recipe(args.compound, amount, litres)
    return recipe_giving(args.compound, kind, amount, litres)


def _print(found: "Recipe") -> None:
    from generator.units.compounds import COMPOUNDS
    from generator.units.kinds import KINDS
    from generator.units.quantity import convert

    name = COMPOUNDS[found.compound].name
    print(f"Weigh {found.grams:.4g} g of {found.compound} ({name}) and make it up to {found.litres:.4g} L with water.")
    print(f"That is {found.strength:.4g} g/L. It stays dissolved up to {found.most:.3g} g/L, with a safety margin.")
    for kind, amount in found.gives.items():
        unit = "dKH" if kind == "alkalinity" else KINDS[kind].canonical
        brings = convert(amount, kind, KINDS[kind].canonical, unit)
        print(f"Its {kind} is {brings:.0f} {unit}.")
