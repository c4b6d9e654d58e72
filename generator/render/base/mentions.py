"""Corals in brief, the names by which a text names them, and the names of lines."""

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from generator.records.coral import Coral, is_here, place_on
from generator.records.journal import Entry

_WORD = re.compile(r"[^\W_]+")
_LINK = re.compile(r"\b(coral|system|entry|trade):([a-z0-9-]+)")

Names = Mapping[str, tuple[tuple[str, str], ...]]
"""From a name's first word to the names that begin with it, longest first, each with its coral's id."""


class Brief(NamedTuple):
    """A coral in brief: most that is written of one later changes nothing of this.

    It has the days on which it came and went and how, each system it was in from a day on, and how many frags were cut
    on which day.
    """

    id: str
    name: str
    line: str
    parent: str | None
    came: date
    how: str
    gone: date | None
    end: str
    places: tuple[tuple[date, str], ...]
    cut: tuple[tuple[date, int], ...]

    def lives_on(self, day: date) -> bool:
        """Whether the coral is here on a day."""
        return is_here(day, self.came, self.gone)

    def system_on(self, day: date) -> str:
        """The system it is in on a day; "" if it is not here, or no place is recorded."""
        return place_on(day, self.came, self.gone, self.places) or ""


def in_brief(coral: Coral) -> Brief:
    """A coral's names, parent and days, and in which system it was from when on."""
    return Brief(
        coral.id,
        coral.name,
        coral.line,
        coral.parent,
        coral.arrival.at,
        coral.arrival.how,
        coral.end.at if coral.end else None,
        coral.end.how if coral.end else "",
        tuple((placement.since, placement.system) for placement in coral.placements),
        tuple((cutting.at, cutting.frags) for cutting in coral.cuttings),
    )


@dataclass(frozen=True, slots=True)
class Mention:
    """Where in a text a coral is named."""

    start: int
    end: int
    coral: str


def names_of(corals: Iterable[Brief]) -> Names:
    """The names to look for: those with more than one word that belong to one coral only."""
    owners: dict[str, list[str]] = {}
    for coral in corals:
        owners.setdefault(coral.name, []).append(coral.id)
    found: dict[str, list[tuple[str, str]]] = {}
    for name, ids in owners.items():
        words = _WORD.findall(name)
        if len(words) > 1 and len(ids) == 1 and name.startswith(words[0]):
            found.setdefault(words[0], []).append((name, ids[0]))
    return {first: tuple(sorted(names, key=lambda each: (-len(each[0]), each))) for first, names in found.items()}


def mentions(text: str, names: Names) -> Iterator[Mention]:
    """Every coral named in a text, in order, as it is spelt in its file."""
    end = 0
    for word in _WORD.finditer(text):
        if word.start() < end:
            continue
        for name, coral in names.get(word.group(), ()):
            after = word.start() + len(name)
            if text.startswith(name, word.start()) and not text[after : after + 1].isalnum():
                end = after
                yield Mention(word.start(), end, coral)
                break


def leads_to(entry: Entry, names: Names) -> frozenset[tuple[str, str]]:
    """(kind, id) of all that an entry is about: what its header lists, what it links to, which corals it names."""
    head = [("coral", id) for id in entry.corals] + [("system", id) for id in entry.systems]
    named = [("coral", mention.coral) for mention in mentions(entry.body, names)]
    return frozenset((*head, *_LINK.findall(entry.body), *named))


# What tells one coral of a line from the next: "Grey Heron 2", "Grey Heron #2", "Grey Heron, no. 2".
_NUMBER = re.compile(r"[\s,#-]+(?:no\.?|nr\.?)?[\s#]*\d+$", re.IGNORECASE)


def line_names(corals: Iterable[Brief]) -> dict[str, str]:
    """Each line's name by its id: that of its first coral without its number, with the id where two share it."""
    firsts: dict[str, Brief] = {}
    for coral in sorted(corals, key=lambda coral: (coral.came, coral.id)):
        firsts.setdefault(coral.line, coral)
    names = {line: _NUMBER.sub("", first.name) for line, first in firsts.items()}
    times = Counter(name.casefold() for name in names.values())
    return {line: name if times[name.casefold()] == 1 else f"{name} ({line})" for line, name in names.items()}
