"""How records are related: what was cut from what, what entries are about, what texts name, and what months hold."""

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from itertools import chain, groupby
from typing import NamedTuple
from zoneinfo import ZoneInfo

from msgspec import Struct
from msgspec.structs import replace

from generator.door.door import Door, grouped
from generator.records.coral import Coral, Photo, is_here, place_on
from generator.records.journal import Entry
from generator.records.log import Event, Note, SystemLog
from generator.records.source import Source
from generator.render.audience import View
from generator.render.base.prose import WORD, Names, mentions

_LINK = re.compile(r"\b(coral|system|entry|trade):([a-z0-9-]+)")


# So many of the newest entries are listed on the journal's page; the others are on the pages of their years.
NEWEST = 12


class Brief(NamedTuple):
    """A coral in brief: most that is written of one later changes nothing of this.

    It has the days on which it came and went and how, each system it was in from a day on, how many frags were cut on
    which day, and whether there is a photo of it.
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
    pictured: bool

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
        bool(coral.photos),
    )


def names_of(corals: Iterable[Brief]) -> Names:
    """The names to look for: those with more than one word that belong to one coral only."""
    owners = grouped((coral.name, coral.id) for coral in corals)
    split = {name: WORD.findall(name) for name, ids in owners.items() if len(ids) == 1}
    found = grouped(
        (words[0], (name, owners[name][0]))
        for name, words in split.items()
        if len(words) > 1 and name.startswith(words[0])
    )
    return {first: tuple(sorted(names, key=lambda each: (-len(each[0]), each))) for first, names in found.items()}


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


class LogNote(Struct, frozen=True):
    """A note in a system's log at a moment."""

    system: str
    at: datetime
    text: str
    source: Source

    def anchor(self, zone: ZoneInfo) -> str:
        """The note's anchor on its month's page; it depends only on system and moment."""
        return f"{self.system}-{self.at.astimezone(zone):%d-%H%M}"


def notes_in(log: SystemLog) -> tuple[LogNote, ...]:
    """A log's notes, one for each moment."""
    together: dict[datetime, LogNote] = {}
    said_there: tuple[Note | Event, ...] = (*log.notes, *log.events)
    for said in said_there:
        if not said.text:
            continue
        before = together.get(said.at)
        text = f"{before.text} {said.text}" if before else said.text
        together[said.at] = LogNote(log.system, said.at, text, before.source if before else said.source)
    return tuple(together.values())


class DatedPhoto(NamedTuple):
    """A photo, its own day or that of its entry, and the name of what it shows."""

    on: date
    photo: Photo
    of: str


class Month(Struct, frozen=True):
    """What was written in a month: the ids of entries and the log notes, in order."""

    entries: tuple[str, ...] = ()
    notes: tuple[LogNote, ...] = ()


@dataclass(frozen=True, slots=True)
class Ties:
    """Relations between records, collected once for all pages.

    `cut_from` is by coral, `named_in` by the kind and id of what an entry is about (`coral/ballast-1`), both in order
    of day. `names` are the names by which a text can name a coral, `coral_names` and `lines` the names of corals and
    of lines by id. `months` are those in which something was written (`2026-11`), in order. `beside` has the ids of the
    entries before and after each, `headings` the entries without their text: a list of entries does not depend on what
    they tell. `newest` are some of them, the newest first. `notes` are those of all logs, `corals` what relations rest
    on in each coral. `photos` are the dated ones of each year (`2026`), the newest first.
    """

    cut_from: Mapping[str, tuple[Coral, ...]]
    named_in: Mapping[str, tuple[Entry, ...]]
    names: Names
    coral_names: Mapping[str, str]
    lines: Mapping[str, str]
    months: Mapping[str, Month]
    beside: Mapping[str, tuple[str | None, str | None]]
    headings: Mapping[str, Entry]
    newest: Sequence[Entry] = ()
    notes: Sequence[LogNote] = ()
    corals: Sequence[Brief] = ()
    photos: Mapping[str, tuple[DatedPhoto, ...]] = field(default_factory=dict)


def ties(view: View, door: Door | None = None) -> Ties:
    """The relations in a view."""
    door = door or Door()
    headings = door.each("headings", lambda: view.entries, lambda id: replace(view.entries[id], body=""))
    some = door.in_parts(
        "some corals in brief", lambda: view.corals, lambda ids: tuple(in_brief(view.corals[id]) for id in ids)
    )
    corals = door.one("corals in brief", lambda: tuple(sorted(each for part in some() for each in part)))
    noted = door.each("notes in log", lambda: view.logs, lambda id: notes_in(view.logs[id]))
    notes = door.one("log notes", lambda: sorted(chain(*noted.values()), key=lambda note: (note.at, note.system)))
    names = door.one("names of corals", lambda: names_of(corals()))
    days = door.in_parts("days of entries", lambda: view.entries, lambda ids: [(headings[id].at, id) for id in ids])
    in_order = door.one("entries in order", lambda: tuple(sorted(each for part in days() for each in part)))
    about_of = door.step("leads to", lambda id: tuple(sorted(leads_to(view.entries[id], names()) - {("entry", id)})))

    def about() -> dict[str, tuple[str, ...]]:
        return grouped((f"{kind}/{of}", id) for _, id in in_order() for kind, of in about_of(id))

    def beside() -> dict[str, tuple[str | None, str | None]]:
        ids = [id for _, id in in_order()]
        return dict(zip(ids, zip([None, *ids], [*ids[1:], None], strict=False), strict=False))

    def months() -> dict[str, Month]:
        entries = grouped((f"{at:%Y-%m}", id) for at, id in in_order())
        told = grouped((f"{note.at.astimezone(view.settings.time_zone):%Y-%m}", note) for note in notes())
        return {month: Month(entries.get(month, ()), told.get(month, ())) for month in sorted({*entries, *told})}

    by_year = _photos(view, headings, door)
    cut = door.by_id("ids cut from", lambda: _cut_from(corals()))
    named = door.by_id("ids about", about)
    frags = door.each("cut from", lambda: cut, lambda of: tuple(view.corals[id] for id in cut[of]), shared=True)
    entries = door.each("named in", lambda: named, lambda of: tuple(headings[id] for id in named[of]), shared=True)
    by_month, neighbours = door.by_id("months", months), door.by_id("beside", beside)
    called = door.by_id("coral's name", lambda: {coral.id: coral.name for coral in corals()})
    return door.view(
        Ties,
        cut_from=lambda: frags,
        named_in=lambda: entries,
        names=names,
        coral_names=lambda: called,
        lines=door.one("names of lines", lambda: line_names(corals())),
        months=lambda: by_month,
        beside=lambda: neighbours,
        headings=lambda: headings,
        newest=door.one("newest entries", lambda: tuple(headings[id] for _, id in reversed(in_order()[-NEWEST:]))),
        notes=notes,
        corals=corals,
        photos=lambda: by_year,
    )


def _photos(view: View, headings: Mapping[str, Entry], door: Door) -> Mapping[str, tuple[DatedPhoto, ...]]:
    def of_corals(ids: Sequence[str]) -> tuple[DatedPhoto, ...]:
        those = (view.corals[id] for id in ids)
        return tuple(DatedPhoto(each.at, each, coral.name) for coral in those for each in coral.photos if each.at)

    def of_entries(ids: Sequence[str]) -> tuple[DatedPhoto, ...]:
        those = (headings[id] for id in ids)
        return tuple(DatedPhoto(each.at or entry.at, each, entry.title) for entry in those for each in entry.photos)

    def photos() -> dict[str, tuple[DatedPhoto, ...]]:
        taken = sorted(chain(*coral_photos(), *entry_photos()), key=lambda each: each.photo.source)
        taken.sort(key=lambda each: each.on, reverse=True)
        return {str(year): tuple(of_year) for year, of_year in groupby(taken, key=lambda each: each.on.year)}

    coral_photos = door.in_parts("photos of some corals", lambda: view.corals, of_corals)
    entry_photos = door.in_parts("photos of some entries", lambda: view.entries, of_entries)
    return door.by_id("photos of years", photos)


def _cut_from(corals: Iterable[Brief]) -> dict[str, tuple[str, ...]]:
    in_time = sorted(corals, key=lambda coral: (coral.came, coral.id))
    return grouped((coral.parent, coral.id) for coral in in_time if coral.parent)
