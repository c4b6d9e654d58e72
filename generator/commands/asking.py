"""The journal as it stood on a day, for the commands that answer one question."""

import argparse
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, TypeVar

from generator.commands.progress import doing
from generator.commands.reporting import print_problems

if TYPE_CHECKING:
    from generator.reckon.analysis.findings import Findings
    from generator.reckon.attention import Alert
    from generator.reckon.finding import CannotTell
    from generator.records.journal import Journal
    from generator.render.base.context import PageContext
    from generator.render.base.words import Words

Read = TypeVar("Read")


@dataclass(frozen=True, slots=True)
class Asked:
    """A journal as it stood at a moment, and that moment on the keeper's own clock."""

    journal: "Journal"
    as_of: datetime


def asked(args: argparse.Namespace) -> Asked | None:
    """The journal in `--content` as of `--as-of`, or of now. If it has errors, print them all and return None."""
    from generator.read.load import load
    from generator.records.past import as_it_stood, in_the_future_from, moment

    now = datetime.now(UTC)
    with doing(args, "reading the journal"):
        loaded = load(args.content, in_the_future_from(args.as_of, now))
    if loaded.journal is None:
        print_problems(loaded.errors, args.content)
        return None
    zone = loaded.journal.settings.time_zone
    as_of = moment(args.as_of or now, zone)
    return Asked(as_it_stood(loaded.journal, as_of), as_of)


def keepers_context(known: Asked, found: "Findings", needs: "Sequence[Alert]" = ()) -> "PageContext":
    """What a command says its findings with: the keeper's own view, in English, as pages would."""
    from generator.render.audience import view
    from generator.render.base.context import PageContext, Shared
    from generator.render.base.numbers import display_of
    from generator.render.base.ties import ties

    journal, seen = known.journal, view(known.journal, "own")
    display = display_of(journal.settings, journal.systems, journal.logs)
    return PageContext(Shared(seen, found, needs, known.as_of, english(), display, {}, ties(seen)))


def understood(args: argparse.Namespace, read: "Callable[[Asked], Read]") -> "tuple[Asked, Read] | None":
    """The journal asked about, and what `read` makes of the command's words in it.

    If the journal has errors, or `read` raises `LookupError` or `NotAQuantity` with a message for the keeper, print
    that and return None.
    """
    from generator.units.quantity import NotAQuantity

    known = asked(args)
    if known is None:
        return None
    try:
        return known, read(known)
    except (LookupError, NotAQuantity) as error:
        print(error.args[0], file=sys.stderr)
        return None


def english() -> "Words":
    """The catalogue that commands speak, whatever the journal's language."""
    from generator.render.base.words import words_of

    return words_of("en")


def print_cannot(answer: "CannotTell") -> None:
    """Print in one line why there is no answer and what would give one."""
    from generator.render.base.why import cannot

    told = cannot(english(), answer)
    print(told.reason, told.remedy)
