"""A keeper's own texts: where their links and pictures lead, and which partners they name, before any page is made.

Some audiences may not see a partner's name. On the public site a text that has it stays, and the keeper gets a warning.
In one partner's folder, a text that names another partner is left out.
"""

import re
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from pathlib import PurePosixPath
from typing import Any, NamedTuple, TypeVar

from generator.door.door import Door
from generator.records.coral import Audience, Coral, Cutting, End, Health, Origin, Photo
from generator.records.journal import Entry, Journal
from generator.records.log import Event, SystemLog
from generator.records.settings import Settings
from generator.records.source import Problem, Source
from generator.records.system import System
from generator.records.trade import Partner, State, Trade, Travel
from generator.render.base import links
from generator.render.base.prose import Copy, Dead, Hidden, PhotoCopies, Surroundings, photos_in, to_html
from generator.render.base.words import words_of
from generator.render.redaction import RANK

_FOR: dict[Audience, str] = {"own": "you alone", "partners": "partners", "public": "everyone"}

Targets = Mapping[str, Mapping[str, object]]


def resolve(
    kind: str, id: str, known: Targets, hidden: Collection[tuple[str, str]], way: Callable[[str], str]
) -> str | Dead | Hidden:
    """The target of a link, from the ids `known` by kind and those that exist but are `hidden`."""
    if kind not in known:
        return Dead(f"links cannot start with '{kind}:'", "write https:, coral:, system: or entry:")
    if id in known[kind]:
        return way(links.page_of(kind, id))
    if (kind, id) in hidden:
        return Hidden()
    close = get_close_matches(id, list(known[kind]), n=1)
    remedy = f"did you mean {kind}:{close[0]}?" if close else f"write an id after {kind}:, the name of its file"
    return Dead(f"there is no {kind} '{id}'", remedy)


class Shows(NamedTuple):
    """The photos that a coral or a post has in its list, those in its words as paths below the journal, and for whom.

    `source` is where the words are.
    """

    listed: tuple[Photo, ...]
    in_words: tuple[str, ...]
    audience: Audience
    source: Source


def all_shown(
    door: Door, corals: Mapping[str, Coral], entries: Mapping[str, Entry], prefix: str = ""
) -> Callable[[], list[Shows]]:
    """What every coral and post shows; `prefix` sets the steps' names apart where a door has two kinds of them."""

    def each(kind: str, records: Mapping[str, Coral] | Mapping[str, Entry]) -> Callable[[], list[list[Shows]]]:
        return door.in_parts(f"{prefix}{kind} show", lambda: records, lambda ids: [_shows(records[id]) for id in ids])

    parts = (each("corals", corals), each("entries", entries))
    return lambda: [shows for some in parts for part in some() for shows in part]


def _shows(record: Coral | Entry) -> Shows:
    text, source = _text_of(record)
    return Shows(record.photos, tuple(photos_in(text)) if "![" in text else (), record.audience, source)


def _text_of(record: Coral | Entry) -> tuple[str, Source]:
    return (record.story, record.story_source) if isinstance(record, Coral) else (record.body, record.body_source)


def photos_shown(every: Iterable[Shows]) -> tuple[str, ...]:
    """Every photo that corals and posts show, in their lists or in their words, as paths below the journal."""
    shown: set[str] = set()
    for each in every:
        shown.update(each.in_words, (links.photo_path(photo.file) for photo in each.listed))
    return tuple(sorted(shown))


def photos_out_of_place(every: Collection[Shows]) -> Iterator[Problem]:
    """A problem for each text that shows a photo to more people than may see the photo."""
    listed = [photo for each in every for photo in each.listed]
    # A photo may be listed twice; whoever may see it in one place may see it.
    widening = sorted(listed, key=lambda photo: (-RANK[photo.audience], photo.source))
    widest = {links.photo_path(photo.file): photo for photo in widening}
    for _, in_words, audience, source in every:
        for path in in_words:
            photo = widest.get(path)
            if photo and RANK[photo.audience] > RANK[audience]:
                yield Problem(
                    source,
                    "private-photo",
                    f"this text is for {_FOR[audience]}, but its photo '{path}' is for {_FOR[photo.audience]}",
                    "take the photo out of the text, or change the 'audience' of one of them",
                    photo.source,
                )


def targets_of_links(journal: Journal, door: Door) -> Callable[[], Surroundings]:
    """Where the links and pictures of a journal's texts can lead."""
    known: Targets = {
        "coral": journal.corals,
        "system": journal.systems,
        "entry": journal.entries,
        "trade": journal.trades,
    }
    pictures = door.each(
        "picture there", lambda: journal.photos, lambda photo: PhotoCopies((Copy(photo, 0, 0),)), shared=True
    )
    around = door.shared(
        "texts lead to",
        lambda _: Surroundings(
            lambda kind, id: resolve(kind, id, known, journal.not_yet, str),
            pictures,
            {},
            str,
            words_of(journal.settings.language),
        ),
    )
    return lambda: around("")


def dead_links_in(record: Coral | Entry, around: Surroundings) -> tuple[Problem, ...]:
    """A problem for every link and picture in the text of a coral or a post that leads nowhere."""
    return tuple(to_html(*_text_of(record), around).problems)


# Fields with a keeper's own text that can be left empty.
_WORDS = ("note", "cause", "extent", "text", "about", "packing", "inspection", "credit", "region")
_WORD = re.compile(r"[^\W\d_][\w'’-]*")
_SHORTEST = 3

_Record = TypeVar("_Record", Cutting, End, Health, Event, Origin, Photo, Settings, State, System, Trade, Travel)


def names_in(journal: Journal, known: Collection[str], common: Collection[str]) -> re.Pattern[str] | None:
    """A pattern for the names of partners who are not among the known ids; None if there are none.

    It finds the full name, its first two words, and its first word, unless that is one of the `common_words`.
    """
    theirs = {name for id in known for name in _names(journal.partners[id], common)}
    others = {name for id, each in journal.partners.items() if id not in known for name in _names(each, common)}
    # The longest first, so that a message shows the whole name.
    return _any_of(sorted(others - theirs, key=lambda name: (-len(name), name))) if others - theirs else None


def _names(partner: Partner, common: Collection[str]) -> Iterator[str]:
    for name in filter(None, (partner.name, partner.public_name)):
        yield name
        words = list(_WORD.finditer(name.split(",")[0]))
        if len(words) > 1:
            yield name[words[0].start() : words[1].end()]
        first = words[0][0] if words else ""
        if len(first) >= _SHORTEST and first[0].isupper() and first not in common:
            yield first


def common_words(journal: Journal, door: Door) -> Callable[[], frozenset[str]]:
    """First words of partners' names that are common words in this journal.

    Those are in its texts in small letters too, or part of a coral's or a system's name.
    """

    def in_small(texts: Iterable[str]) -> set[str]:
        first = _first_words(journal)
        small = _any_of({word.lower() for word in first}) if first else None
        return {word for text in texts for word in small.findall(text)} if small else set()

    def of_corals(ids: Sequence[str]) -> frozenset[str]:
        corals = [journal.corals[id] for id in ids]
        return frozenset(in_small(coral.story for coral in corals) | _words_of(coral.name for coral in corals))

    def common() -> frozenset[str]:
        written = _words_of(system.name for system in journal.systems.values()).union(*corals(), *entries())
        return frozenset(word for word in _first_words(journal) if word.lower() in written)

    corals = door.in_parts("words of corals", lambda: journal.corals, of_corals)
    entries = door.in_parts(
        "words of entries",
        lambda: journal.entries,
        lambda ids: frozenset(in_small(journal.entries[id].body for id in ids)),
    )
    return door.one("common words", common)


def _first_words(journal: Journal) -> set[str]:
    named = [name for each in journal.partners.values() for name in (each.name, each.public_name) if name]
    return {word[0] for name in named if (word := _WORD.search(name))}


def _words_of(names: Iterable[str]) -> set[str]:
    return {word.lower() for name in names for word in _WORD.findall(name)}


def _any_of(names: Iterable[str]) -> re.Pattern[str]:
    return re.compile(rf"(?<!\w)(?:{'|'.join(map(re.escape, names))})(?!\w)")


@dataclass(slots=True)
class Editor:
    """Reads a keeper's text, warns where it names a partner who may not be named, and leaves that text out if asked."""

    names: re.Pattern[str]
    leaves_out: bool
    notices: list[Problem] = field(default_factory=list)

    def settings(self, settings: Settings) -> Settings:
        """The journal's own words."""
        return self._cleared(settings)

    def system(self, system: System) -> System:
        """A system without such words."""
        return self._cleared(system)

    def log(self, log: SystemLog) -> SystemLog:
        """A log without such notes, and without the words of such events."""
        notes = tuple(note for note in log.notes if not self._strikes(note.text, note.source))
        return replace(log, notes=notes, events=tuple(map(self._cleared, log.events)))

    def coral(self, coral: Coral) -> Coral:
        """A coral without such a story, region, photos, and notes on its life; its name stays."""
        self._strikes(coral.name, coral.source, stays=True)
        return replace(
            coral,
            origin=self._cleared(coral.origin) if coral.origin else None,
            story="" if self._strikes(coral.story, coral.story_source) else coral.story,
            cuttings=tuple(map(self._cleared, coral.cuttings)),
            health=tuple(map(self._cleared, coral.health)),
            end=self._cleared(coral.end) if coral.end else None,
            photos=self._photos(coral.photos),
        )

    def trade(self, trade: Trade) -> Trade:
        """A trade without such notes; promises stay unchanged."""
        for owed in trade.owed:
            self._strikes(owed.what, owed.source, stays=True)
        travel = self._cleared(trade.travel) if trade.travel else None
        return replace(self._cleared(trade), travel=travel, checks=tuple(map(self._cleared, trade.checks)))

    def entry(self, entry: Entry) -> Entry | None:
        """An entry without such photos; None if its text names somebody."""
        head = " ".join(filter(None, (entry.title, entry.summary)))
        # Both are read, so that the keeper gets a warning for each.
        if any([self._strikes(head, entry.source), self._strikes(entry.body, entry.body_source)]):
            return None
        return replace(entry, photos=self._photos(entry.photos))

    def _photos(self, photos: tuple[Photo, ...]) -> tuple[Photo, ...]:
        def named(photo: Photo) -> bool:
            # A file's name is part of the picture's address, with its words joined by dashes or the like.
            words = re.sub(r"[-_.]", " ", PurePosixPath(photo.file).name)
            return any([self._strikes(photo.alt, photo.source), self._strikes(words, photo.source)])

        return tuple(self._cleared(photo) for photo in photos if not named(photo))

    def _cleared(self, record: _Record) -> _Record:
        said = {name: getattr(record, name, None) for name in _WORDS}
        struck = [name for name, text in said.items() if text and self._strikes(text, record.source)]
        empty: dict[str, Any] = dict.fromkeys(struck)
        return replace(record, **empty) if struck else record

    def _strikes(self, text: str, source: Source, stays: bool = False) -> bool:
        """Whether a text must be left out. Warns the keeper if it names somebody."""
        found = self.names.search(text)
        if found is None:
            return False
        out = self.leaves_out and not stays
        wrong = f"this names '{found[0]}', but this site may not name them" + (
            "; the site leaves it out" if out else ""
        )
        remedy = "rewrite it without the name" + ("" if out else ", or ask them whether you may name them")
        where = Source(source.file, source.line + text.count("\n", 0, found.start()))
        self.notices.append(Problem(where, "names-partner", wrong, remedy, severity="warning"))
        return out
