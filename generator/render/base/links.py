"""The address of every page, links (relative, never to a bare folder); corals in brief, and the names in texts."""

import posixpath
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from generator.door.door import grouped
from generator.records.coral import Coral, is_here, place_on
from generator.records.journal import Entry

HOME = "index.html"
SYSTEMS = "systems/index.html"
CORALS = "corals/index.html"
LINES = "corals/lines.html"
SURVIVAL = "corals/survival.html"
PLANNED = "coming/index.html"
SINCE = "since.html"
GUIDES = "guides.html"
TRACK_RECORD = "track-record.html"
JOURNAL = "journal/index.html"
TRADES = "trades/index.html"
OFFERS = "offers.html"
TRAVEL = "travel/index.html"
ORIGIN = "origin/index.html"
METHODS = "methods.html"
DATA = "data/index.html"
SEARCH = "search.html"
WRITE = "write.html"
PHOTO_SIZE = "photo-size.html"
FEED = "feed.xml"
NOT_FOUND = "404.html"

_FOLDERS = {"system": "systems", "coral": "corals", "entry": "journal", "trade": "trades", "plan": "coming"}
# What a keeper's own words can lead to.
KINDS = ("system", "coral", "entry", "trade")


# Pages of the site's own, whose names a record may have too.
_TAKEN = ("index", "lines", "survival")


def _name(id: str) -> str:
    """The name of a record's page. No id ends with a hyphen, so no two have the same."""
    return f"{id}-" if id in _TAKEN else id


def page_of(kind: str, id: str) -> str:
    """The address of the page of a system, coral, entry or trade, or the sheet of a plan."""
    return f"{_FOLDERS[kind]}/{_name(id)}.html"


def plan_of(system: str) -> str:
    """The address of the plan of a system's places."""
    return f"plans/{system}.html"


def feed_of(system: str) -> str:
    """The address of the feed of a system."""
    return f"systems/{system}.xml"


def dosing_of(system: str) -> str:
    """The address of a system's dosing plan."""
    return f"systems/{system}/dosing.html"


def log_sheet_of(system: str) -> str:
    """The address of a system's test log of the month, to print."""
    return f"systems/{system}/log-sheet.html"


def shares_of(system: str) -> str:
    """The address of every coral's share of a system's demand."""
    return f"systems/{system}/shares.html"


def change_of(system: str, day: date, coral: str, what: str) -> str:
    """The address of the report of a coral that came, was cut or left."""
    return f"systems/{system}/changes/{day.isoformat()}-{coral}-{what}.html"


def calendar_of(system: str | None = None) -> str:
    """The address of the calendar of next tests, of one system or of all."""
    return f"data/systems/{system}/tests.ics" if system else "data/tests.ics"


def journal_of_month(on: date) -> str:
    """The address of what happened in a day's month."""
    return f"journal/{on:%Y-%m}.html"


def journal_of_year(year: int) -> str:
    """The address of what happened in a year."""
    return f"journal/{year:04}.html"


def paper_of(coral: str) -> str:
    """The address of a coral's record of origin on paper."""
    return f"origin/{_name(coral)}.html"


def trade_paper_of(trade: str, ending: str = "html") -> str:
    """The address of the record of origin of a trade, as a sheet to print or as the record itself (json)."""
    return f"origin/trades/{trade}.{ending}"


def relative(here: str, there: str) -> str:
    """The relative link from one page of the site to another, with its fragment."""
    target, hash, fragment = there.partition("#")
    if not target or target == here:
        return f"#{fragment}" if fragment else posixpath.basename(here)
    folder, up = here[: here.rfind("/") + 1], 0
    while not target.startswith(folder):
        folder, up = folder[: folder.rfind("/", 0, -1) + 1], up + 1
    return "../" * up + target[len(folder) :] + hash + fragment


def photo_path(file: str) -> str:
    """A photo as records and texts name it, as a path below the journal."""
    return f"photos/{file.removeprefix('../').removeprefix('photos/')}"


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
    owners = grouped((coral.name, coral.id) for coral in corals)
    split = {name: _WORD.findall(name) for name, ids in owners.items() if len(ids) == 1}
    found = grouped(
        (words[0], (name, owners[name][0]))
        for name, words in split.items()
        if len(words) > 1 and name.startswith(words[0])
    )
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
    """The (kind, id) of everything that an entry's header lists, its text links to, or its text names."""
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
