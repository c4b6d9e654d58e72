"""`corallite place`: where a colony could go, what must move for it, and where to."""

import argparse
import re
from collections.abc import Sequence
from datetime import date
from functools import partial
from typing import TYPE_CHECKING

from generator.commands.asking import asked
from generator.commands.options import FORMS, add_as_of, add_content, known_genus, measures, named, say_length
from generator.commands.terminal import Stop, doing

if TYPE_CHECKING:
    from generator.reckon.growth.places import Suggestion
    from generator.reckon.growth.spots import Spot, Wish
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
    """Print the places, best first. Return 1 if there is none. Raises `Stop` if an argument is wrong."""
    known = asked(args)
    journal, wish = known.journal, _wish(args, known.journal)
    only = named("system", args.system, journal.systems).id if args.system else None
    if not any(system.places for id, system in journal.systems.items() if only in (None, id)):
        print("No places are recorded. Write the places of each system, with size, light and flow, in its file.")
        return 1
    with doing(args, "calculating"):
        found = _found(journal, wish, only, known.as_of.date())
    _print(journal, wish, found[: args.most])
    return 0 if found else 1


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


def _print(journal: "Journal", wish: "Wish", found: "Sequence[Suggestion]") -> None:
    from generator.reckon.growth.spots import ROOM_FOR
    from generator.render.base.words import ended

    length = partial(say_length, journal.settings.units)
    if not found:
        print("No place is large enough, even if you move up to four corals.")
        return
    for number, each in enumerate(found, start=1):
        print(f"{number}. {_spot(journal, each.spot)}; {', '.join(_fits(each))}.")
        if each.stuck:
            names = " and ".join(_name(journal, id) for id in each.stuck)
            print(f"   No room there now: {names} must move, and no place is free. Cut or give away first.")
        if each.spot.turned:
            print("   Turn it: its length runs from front to back.")
        if each.too_tall:
            print(f"   It would stick {length(each.too_tall)} out of the tank there. Lower the place first.")
        for move in each.moves:
            if move.to:
                print(f"   Move {_name(journal, move.coral)}: {_spot(journal, move.to)}.")
        if not each.moves:
            print("   Nothing has to move.")
        if each.unplaced:
            names = ", ".join(_name(journal, id) for id in each.unplaced)
            print(f"   Position not recorded, may be in the way: {ended(names)}")
    room = f"room for what it grows in {ROOM_FOR.days} days, {length(wish.grown - wish.radius, digits=1)} on every side"
    print(f"Calculated with a gap of {length(wish.safe)} to its neighbours, and {room}.")


def _spot(journal: "Journal", spot: "Spot") -> str:
    system = journal.systems[spot.system]
    place = system.places[spot.place]
    left, front = spot.x - place.x.canonical(), spot.y - place.y.canonical()
    x, y = (say_length(journal.settings.units, each) for each in (left, front))
    return f"{system.name}, {spot.place}, centre {x} from the left and {y} from the front of the place"


def _fits(each: "Suggestion") -> "list[str]":
    said = []
    if each.light is None:
        said.append("light not measured")
    else:
        ends = dict.fromkeys(f"{end:.0f}" for end in each.light)
        par = f"{' to '.join(ends)} PAR"
        off = each.light_off or 0.0
        said.append(par if off == 0.0 else f"{par}, {abs(off):.0f} too {'much' if off > 0 else 'little'}")
    if each.flow is None:
        said.append("flow not recorded")
    else:
        said.append(f"{each.flow} flow" + (", which is not what it wants" if each.flow_fits is False else ""))
    return said


def _name(journal: "Journal", coral: str) -> str:
    return journal.corals[coral].name
