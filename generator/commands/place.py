"""`corallite place`: where a colony could go, what must move for it, and where to."""

import argparse
import re
from datetime import date
from functools import partial
from typing import TYPE_CHECKING

from generator.commands.asking import asked, keepers_context
from generator.commands.options import FORMS, add_as_of, add_content, known_genus, measures, named, say_length
from generator.commands.terminal import Stop, doing, print_lines

if TYPE_CHECKING:
    from generator.reckon.growth.places import Suggestion
    from generator.reckon.growth.spots import Wish
    from generator.records.journal import Journal

# Sunlight at noon on a reef flat is near 2000 PAR, with the waves' lenses for moments more; common practice, no source.
_BRIGHTEST = 3000.0
_LIGHT = re.compile(r"\s*(\d+(?:\.\d+)?)(?:\s*(?:-|–|to)\s*(\d+(?:\.\d+)?))?\s*(PAR|µmol/m²/s|µmol/m2/s)?\s*")

EXAMPLES = """\
  corallite place --size '20 x 18 x 9 cm' --light '250-350 PAR' --flow strong"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    parser.add_argument("--size", required=True, metavar="LxWxH", help="length, width and height: '48 x 40 x 18 cm'")
    parser.add_argument("--light", metavar="PAR", help="the light it wants: '250-350 PAR' (default: any)")
    parser.add_argument("--flow", choices=("weak", "moderate", "strong"), help="the flow it wants (default: any)")
    parser.add_argument(
        "--species",
        "--genus",
        default="",
        metavar="NAME",
        help="its species, which sets the gap it needs to its neighbours",
    )
    parser.add_argument("--form", choices=FORMS, help="its growth form, which sets the room to grow (default: fastest)")
    parser.add_argument("--system", metavar="SYSTEM", help="search only this system (default: all)")
    parser.add_argument("--most", type=int, default=5, metavar="N", help="list at most N places (default: 5)")
    add_content(parser)
    add_as_of(parser)


def run(args: argparse.Namespace) -> int:
    """Print the places, best first. Raises `Stop` if there is none, or an argument is wrong."""
    from generator.reckon.analysis.journal import Findings
    from generator.reckon.growth.spots import ROOM_FOR
    from generator.render.base.page import said
    from generator.render.pages.sheet_place import nowhere, place_row

    known = asked(args)
    journal, wish = known.journal, _wish(args, known.journal)
    only = named("system", args.system, journal.systems).id if args.system else None
    with doing(args, "calculating"):
        found = _found(journal, wish, only, known.as_of.date())
    ctx = keepers_context(known, Findings(known.as_of))
    if not found:
        raise Stop(nowhere(ctx, only))
    for number, (where, fits, moves) in enumerate((place_row(ctx, each) for each in found[: args.most]), start=1):
        said_moves = f"   {ctx.words('places.moves')}: {said(moves)}."
        print_lines((f"{number}. {said(where)}: {said(fits)}.", said_moves))
    length = partial(say_length, journal.settings.units)
    room = f"room for what it grows in {ROOM_FOR.days} days, {length(wish.grown - wish.radius, digits=1)} on every side"
    print(f"Calculated with a gap of {length(wish.safe)} to its neighbours, and {room}.")
    return 0


def _wish(args: argparse.Namespace, journal: "Journal") -> "Wish":
    from generator.reckon.growth.places import wish_for
    from generator.reckon.growth.spots import Wish

    sides = measures(args.size, journal.settings.units)
    light = _LIGHT.fullmatch(args.light) if args.light else None
    if args.light and light is None:
        raise Stop(f"'{args.light}' is not a light level (write for example '250-350 PAR')")
    ends = sorted(float(end) for end in light.groups()[:2] if end) if light else []
    if ends and ends[-1] > _BRIGHTEST:
        raise Stop(f"no reef has more light than {_BRIGHTEST:.0f} PAR (write for example '250-350 PAR')")
    height = sides[2] if len(sides) > 2 else None
    wish = Wish(
        max(sides[:2]), min(sides[:2]), height, ends[0] if ends else None, ends[-1] if ends else None, args.flow
    )
    return wish_for(known_genus(args.species), args.form, wish, journal.settings.safe_distances)


def _found(journal: "Journal", wish: "Wish", only: str | None, today: date) -> "tuple[Suggestion, ...]":
    from generator.reckon.growth.analysis import analyse_growth
    from generator.reckon.growth.places import where_could_it_go
    from generator.reckon.growth.room import stand

    growths = {coral.id: analyse_growth(coral, journal.logs, today) for coral in journal.corals.values()}
    standing = {id: stand(system, journal.corals.values(), growths, today)[0] for id, system in journal.systems.items()}
    own = journal.settings.safe_distances
    return where_could_it_go(wish, journal.systems.values(), standing, own, today, only=only)
