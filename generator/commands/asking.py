"""The journal as it stood on a day, for the commands that answer one question, and what a line of shorthand can speak
of in it.
"""

import argparse
import sys
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, TypeVar

from generator.commands.terminal import doing, print_problems

if TYPE_CHECKING:
    from generator.reckon.analysis.findings import Findings
    from generator.reckon.attention import Alert
    from generator.reckon.finding import CannotTell
    from generator.records.journal import Journal
    from generator.records.system import System
    from generator.render.base.context import PageContext
    from generator.render.base.words import Words
    from generator.shorthand.finish import Known

Read = TypeVar("Read")


@dataclass(frozen=True, slots=True)
class Asked:
    """A journal as it stood at a moment, and that moment on the keeper's own clock."""

    journal: "Journal"
    as_of: datetime


def journal_in(args: argparse.Namespace, until: date) -> "Journal | None":
    """The journal in `--content`; what is after `until` is in the future. If it has errors, print them all: None."""
    from generator.read.load import load

    with doing(args, "reading the journal"):
        loaded = load(args.content, until)
    if loaded.journal is None:
        print_problems(loaded.errors, args.content)
    return loaded.journal


def asked(args: argparse.Namespace) -> Asked | None:
    """The journal in `--content` as of `--as-of`, or of now. If it has errors, print them all and return None."""
    from generator.records.past import as_it_stood, in_the_future_from, moment

    now = datetime.now(UTC)
    journal = journal_in(args, in_the_future_from(args.as_of, now))
    if journal is None:
        return None
    as_of = moment(args.as_of or now, journal.settings.time_zone)
    return Asked(as_it_stood(journal, as_of), as_of)


def keepers_context(known: Asked, found: "Findings", needs: "Sequence[Alert]" = ()) -> "PageContext":
    """What a command says its findings with: the keeper's own view, in English, as pages would."""
    from generator.render.audience import view
    from generator.render.base.context import PageContext, Shared
    from generator.render.base.numbers import display_of
    from generator.render.base.ties import ties

    journal, seen = known.journal, view(known.journal, "own")
    display = display_of(journal.settings, journal.systems, journal.logs)
    return PageContext(Shared(seen, found, needs, {}, known.as_of, english(), display, {}, ties(seen)))


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


def known_of(journal: "Journal", system: "System", coral: str, now: datetime) -> "Known":
    """What is known for a line about a system, or about one of its corals. `now` is on the keeper's own clock."""
    from generator.render.base.numbers import display_of
    from generator.shorthand.finish import Known

    display = display_of(journal.settings, {system.id: system}, {system.id: journal.log_of(system.id)})
    today = now.date()
    homes = {id: home for id, each in journal.corals.items() if (home := each.placement_on(today)) is not None}
    weighed = {id: each.weighings[-1].resolution for id, each in journal.corals.items() if each.weighings}
    places = {id: tuple(each.places) for id, each in journal.systems.items()}
    return Known(
        now=now,
        units=display.units,
        names={
            "solution": _names(system.solutions, {}),
            "mix": _names(system.mixes, {}),
            "kit": _names(system.kits, {id: kit.name for id, kit in system.kits.items() if kit.name}),
            "coral": _names(journal.corals, {id: each.name for id, each in journal.corals.items()}),
            "place": _names([place for each in places.values() for place in each], {}),
            "system": _names(journal.systems, {id: each.name for id, each in journal.systems.items()}),
            "partner": _names(journal.partners, {id: each.name for id, each in journal.partners.items()}),
        },
        volume=system.water.volume,
        stocks={id: each.stock for id, each in system.solutions.items() if each.stock},
        coral=coral,
        homes={id: home.system for id, home in homes.items()},
        places=places,
        steps=weighed,
    )


def _names(ids: Iterable[str], names: Mapping[str, str]) -> dict[str, str]:
    """What each may be called, as names are compared: its id, its name, and its first name if no other has that."""
    from generator.shorthand.scanner import folded

    every = list(ids)
    firsts = [folded(names[id]).partition(" ")[0] for id in every if id in names]
    short = {first: id for id, first in zip((id for id in every if id in names), firsts, strict=True)}
    alone = {first: id for first, id in short.items() if firsts.count(first) == 1 and len(first) > 2}
    return alone | {folded(names[id]): id for id in every if id in names} | {folded(id): id for id in every}
