"""`corallite what-if`: uptake after a coral is cut, taken out or moved."""

import argparse
import re

from generator.commands.asking import english, print_cannot, understood
from generator.commands.options import add_as_of, add_content, named
from generator.commands.progress import doing

_PART = re.compile(r"\s*(\d+(?:\.\d+)?)\s*(?:%|/\s*(\d+))\s*")

EXAMPLES = """\
  corallite what-if tide-lantern-1 --cut 1/3"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    parser.add_argument("coral", metavar="CORAL", help="the coral's name, or the name of its file")
    parser.add_argument("--cut", default="1/3", metavar="PART", help="how much to cut off: '1/3' (default) or '40 %%'")
    add_content(parser)
    add_as_of(parser)


def run(args: argparse.Namespace) -> int:
    """Print uptake now and after each change. Return 1 if there is no answer, or an argument is wrong."""
    from generator.reckon.arrivals.analysis import analyse_what_if
    from generator.reckon.finding import CannotTell
    from generator.render.base.forecast_words import what_if_words
    from generator.render.base.numbers import Say, display_of

    asked = understood(args, lambda known: (named("coral", args.coral, known.journal.corals), _part(args.cut)))
    if asked is None:
        return 1
    known, (coral, part) = asked
    journal, words = known.journal, english()
    with doing(args, "calculating"):
        found = analyse_what_if(journal, coral, part, known.as_of)
    if isinstance(found, CannotTell):
        print_cannot(found)
        return 1
    display = display_of(journal.settings, journal.systems, journal.logs)
    names = {id: system.name for id, system in journal.systems.items()}
    print(f"{coral.name}. {words('shares.what_if_lead')}")
    for line in what_if_words(Say(display, words), found, names):
        print(f"  {line}".replace("\u00a0", " "))
    return 0


def _part(text: str) -> float:
    """A share of a coral: more than none of it, less than all of it."""
    match = _PART.fullmatch(text)
    whole = float(match[2] or 100.0) if match else 0.0
    part = float(match[1]) / whole if match and whole > 0.0 else 0.0
    if not 0.0 < part < 1.0:
        raise LookupError(f"'{text}' is not a part of a coral (write for example '1/3' or '40 %')")
    return part
