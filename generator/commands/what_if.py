"""`corallite what-if`: uptake after a coral is cut, taken out or moved."""

import argparse
import re
from dataclasses import replace
from datetime import UTC, timedelta
from typing import TYPE_CHECKING

from generator.commands.asking import Asked, english, print_cannot, understood
from generator.commands.options import add_as_of, add_content, named
from generator.commands.terminal import doing

if TYPE_CHECKING:
    from generator.records.coral import Coral

_PART = re.compile(r"\s*(\d+(?:\.\d+)?)\s*(?:%|/\s*(\d+))\s*")

EXAMPLES = """\
  corallite what-if tide-lantern-1 --cut 1/3"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    parser.add_argument("coral", metavar="CORAL", help="the name of a coral, of its file, or of a planned one")
    parser.add_argument("--cut", default="1/3", metavar="PART", help="how much to cut off: '1/3' (default) or '40 %%'")
    add_content(parser)
    add_as_of(parser)


def run(args: argparse.Namespace) -> int:
    """Print uptake now and after each change. Return 1 if there is no answer, or an argument is wrong."""
    from generator.reckon.arrivals.analysis import analyse_what_if
    from generator.reckon.finding import CannotTell
    from generator.render.base.numbers import Say, display_of
    from generator.render.base.sentences import what_if_words
    from generator.render.base.words import ended

    asked = understood(args, lambda known: (*_coral(args.coral, known), _part(args.cut)))
    if asked is None:
        return 1
    _, (known, coral, part) = asked
    journal, words = known.journal, english()
    with doing(args, "calculating"):
        found = analyse_what_if(journal, coral, part, known.as_of)
    if isinstance(found, CannotTell):
        print_cannot(found)
        return 1
    display = display_of(journal.settings, journal.systems, journal.logs)
    names = {id: system.name for id, system in journal.systems.items()}
    print(f"{ended(coral.name)} {words('shares.what_if_lead')}")
    for line in what_if_words(Say(display, words), found, names):
        print(f"  {line}".replace("\u00a0", " "))
    return 0


def _coral(text: str, known: Asked) -> "tuple[Asked, Coral]":
    """A coral and the journal; of one that is only planned, as if its plan were carried out now."""
    from generator.records.carried_out import Told, told_with
    from generator.records.planned import Appointed

    journal, at = known.journal, known.as_of
    coming = {new.coral: (new, plan) for plan in journal.plans.values() for new in plan.coming}
    found = named("coral", text, {**{id: new for id, (new, _) in coming.items()}, **journal.corals})
    if (coral := journal.corals.get(getattr(found, "id", ""))) is not None:
        return known, coral
    new, plan = coming[getattr(found, "coral", "")]
    if new.system is None:
        raise LookupError(
            f"{new.coral} is only planned, and for no system yet (write 'system:' in plans/{plan.id}.yaml, "
            f"or run: corallite sheet {plan.id})"
        )
    print(f"As if plans/{plan.id}.yaml were carried out now.")
    told = told_with(Told(journal.corals, journal.trades, journal.logs), plan, Appointed(at.date(), at.astimezone(UTC)))
    journal = replace(journal, corals=told.corals, trades=told.trades, logs=told.logs)
    return Asked(journal, at + timedelta(minutes=1)), told.corals[new.coral]


def _part(text: str) -> float:
    """A share of a coral: more than none of it, less than all of it."""
    match = _PART.fullmatch(text)
    whole = float(match[2] or 100.0) if match else 0.0
    part = float(match[1]) / whole if match and whole > 0.0 else 0.0
    if not 0.0 < part < 1.0:
        raise LookupError(f"'{text}' is not a part of a coral (write for example '1/3' or '40 %')")
    return part
