"""A keeper's own texts: where their links and pictures lead, and which partners they name, before any page is made.

Some audiences may not see a partner's name. On the public site a text that has it stays, and the keeper gets a warning.
In one partner's folder, a text that names another partner is left out.
"""

import re
import unicodedata
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from difflib import get_close_matches
from html import unescape
from pathlib import PurePosixPath
from typing import Any, NamedTuple, TypeVar

from msgspec import Struct, field
from msgspec.structs import replace

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


def photos_out_of_place(every: Collection[Shows], not_agreed: Collection[str] = ()) -> Iterator[Problem]:
    """A problem for each text with a photo that not all its readers may see, or that a partner did not agree to."""
    listed = [photo for each in every for photo in each.listed]
    # A photo may be listed twice; whoever may see it in one place may see it.
    widening = sorted(listed, key=lambda photo: (-RANK[photo.audience], photo.source))
    widest = {links.photo_path(photo.file): photo for photo in widening}
    for _, in_words, audience, source in every:
        for path in in_words:
            if path in not_agreed:
                wrong = f"this text shows '{path}', of the time when a partner had the coral, who did not agree to that"
                remedy = "take the photo out of the text, or ask them, and add photos to their 'shows'"
                yield Problem(source, "private-photo", wrong, remedy, severity="warning")
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
_WORDS = ("note", "cause", "extent", "text", "about", "contact", "packing", "inspection", "credit", "region")
_WORD = re.compile(r"[^\W\d_][\w'-]*")
_SHORTEST = 3
# What a reader does not see within words (marks of emphasis, letters without width), and one sign for each thing.
_UNSEEN = dict.fromkeys("*`~\\\u00ad\u200b\u200c\u200d\u2060\ufeff", "")
_AS_READ = str.maketrans({**_UNSEEN, "_": " ", "’": "'", "ʼ": "'", "‐": "-", "‑": "-"})
_SPELLED_OUT = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "Ä": "Ae", "Ö": "Oe", "Ü": "Ue", "ß": "ss"})
# Where a link or a picture of a text leads. A record's page has words of its own that are read.
_TARGET = re.compile(r"(?:(?<=\]\()|(?<=\]: ))(?!(?:coral|entry|system|trade):)[^)\s]+")

_Record = TypeVar("_Record", Cutting, End, Health, Event, Origin, Photo, Settings, State, System, Trade, Travel)


def names_in(journal: Journal, known: Collection[str], common: Collection[str]) -> re.Pattern[str] | None:
    """A pattern for the names of partners who are not among the known ids; None if there are none.

    It finds, in a text as it is read, the full name, its first two words, and the single words that may stand for it,
    unless they are `common_words`; each with a genitive's s, with ö or oe, whatever stands between two words.
    """
    theirs = {name for id in known for name in _names(journal.partners[id], common)}
    others = {name for id, each in journal.partners.items() if id not in known for name in _names(each, common)}
    # The longest first, so that a message shows the whole name.
    return _any_of(sorted(others - theirs, key=lambda name: (-len(name), name))) if others - theirs else None


def _names(partner: Partner, common: Collection[str]) -> Iterator[str]:
    for name in filter(None, (partner.name, partner.public_name)):
        yield _as_read(name)
        first = _WORD.findall(_as_read(name).split(",")[0])[:2]
        if len(first) == 2 and all(word[0].isupper() for word in first):
            yield " ".join(first)
    yield from (word for word in _single_words(partner) if word not in common)


def _single_words(partner: Partner) -> Iterator[str]:
    """The words that may stand for a whole name: its first, and the last before each comma and at its end."""
    for name in filter(None, (partner.name, partner.public_name)):
        parts = [words for part in _as_read(name).split(",") if (words := _WORD.findall(part))]
        # What a partner is called in public often ends with a place.
        last = [words[-1] for words in parts] if name == partner.name else []
        for word in (*(parts[0][:1] if parts else ()), *last):
            if len(word) >= _SHORTEST and word[0].isupper():
                yield word


def common_words(journal: Journal, door: Door) -> Callable[[], frozenset[str]]:
    """Single words of partners' names that are common words in this journal.

    Those are in its texts in small letters too, or, as German nouns are, behind an indefinite article or the like; or
    part of a coral's, a system's or the keeper's own name.
    """

    def single() -> list[str]:
        return sorted({word for partner in journal.partners.values() for word in _single_words(partner)})

    def in_small(texts: Iterable[str]) -> set[str]:
        if not (words := "|".join(map(re.escape, single()))):
            return set()
        # Not in an address, where all is in small letters.
        small = re.compile(rf"(?<![\w/:.@-])(?:{words.lower()})(?![\w/@-])")
        noun = re.compile(rf"\b(?:(?i:k?ein|jed|viel|mehrer)(?:e[mnrs]?)?|[Ii]m|[Ii]ns|[Aa]m) ({words})(?![\w-])")
        found = (word.lower() for text in texts for word in (*small.findall(text), *noun.findall(text)))
        return set(found)

    def of_corals(ids: Sequence[str]) -> frozenset[str]:
        corals = [journal.corals[id] for id in ids]
        return frozenset(in_small(coral.story for coral in corals) | _words_of(coral.name for coral in corals))

    def common() -> frozenset[str]:
        names = (journal.settings.keeper, *(system.name for system in journal.systems.values()))
        written = _words_of(names).union(*corals(), *entries())
        return frozenset(word for word in single() if word.lower() in written)

    corals = door.in_parts("words of corals", lambda: journal.corals, of_corals)
    entries = door.in_parts(
        "words of entries",
        lambda: journal.entries,
        lambda ids: frozenset(in_small(journal.entries[id].body for id in ids)),
    )
    return door.one("common words", common)


def _words_of(names: Iterable[str]) -> set[str]:
    return {word.lower() for name in names for word in _WORD.findall(_as_read(name))}


def _as_read(text: str) -> str:
    text = unescape(text) if "&" in text else text
    return unicodedata.normalize("NFC", text).translate(_AS_READ)


def _words_in(file: str) -> str:
    """The words of a file's name or an id, each with a capital as in a name: 'Oonas Tank' of 'oonas-tank2'."""
    apart = re.sub(r"(?<=[^\W\d_A-Z])(?=[A-Z])|[-_.\d]+", " ", unicodedata.normalize("NFC", file))
    return apart.title()


def _any_of(names: Iterable[str]) -> re.Pattern[str]:
    ways = dict.fromkeys(way for name in names for way in _ways(name))
    # By their first letters most places of a text are passed over at once.
    first = "".join(way.removeprefix("(?i:").removeprefix("\\")[0] for way in ways)
    begins = re.escape("".join(sorted({*first.lower(), *first.upper()})))
    return re.compile(rf"(?=[{begins}])(?<![^\W\d_])({'|'.join(ways)})(?:'?[sS])?(?![^\W\d_])")


def _ways(name: str) -> Iterator[str]:
    """How a name may be written: a single word as it is or in capitals, several in any letters and with any marks."""
    without_marks = "".join(each for each in unicodedata.normalize("NFKD", name) if not unicodedata.combining(each))
    for spelled in (name, name.translate(_SPELLED_OUT), without_marks):
        parts = re.findall(r"\w+|\W+", re.sub(r"^\W+|\W+$", "", spelled))
        if len(parts) == 1:
            yield from (parts[0], parts[0].upper())
        elif parts:
            gaps = (r"\W?" if part == "'" else rf"\W{{1,{len(part) + 3}}}" for part in parts[1::2])
            yield f"(?i:{parts[0]}{''.join(map(str.__add__, gaps, parts[2::2]))})"
        else:
            yield re.escape(name)


class Editor(Struct):
    """Reads a keeper's text, warns where it names a partner who may not be named, and leaves that text out if asked."""

    names: re.Pattern[str]
    leaves_out: bool
    notices: list[Problem] = field(default_factory=list)

    def settings(self, settings: Settings) -> Settings:
        """The journal's own words; its title stays, and so do the names of containers."""
        self._told_of((settings.title, *map(_words_in, settings.containers)), settings.source)
        return self._cleared(settings)

    def system(self, system: System) -> System:
        """A system without such words; its names stay."""
        ids = (system.id, *system.kits, *system.solutions, *system.mixes, *system.places)
        self._told_of((system.name, *(part.name for part in system.parts), *map(_words_in, ids)), system.source)
        return self._cleared(system)

    def log(self, log: SystemLog) -> SystemLog:
        """A log without such notes, and without the words of such events."""
        notes = tuple(note for note in log.notes if not self._strikes(note.text, note.source))
        return replace(log, notes=notes, events=tuple(map(self._cleared, log.events)))

    def coral(self, coral: Coral) -> Coral:
        """A coral without such a story, region, photos, and notes on its life; its names stay."""
        self._told_of((coral.name, coral.species, _words_in(coral.id), _words_in(coral.line)), coral.source)
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
        """A trade without such notes; its name and promises stay."""
        self._told_of((_words_in(trade.id),), trade.source)
        for owed in trade.owed:
            self._strikes(owed.what, owed.source, stays=True)
        travel = self._cleared(trade.travel) if trade.travel else None
        return replace(self._cleared(trade), travel=travel, checks=tuple(map(self._cleared, trade.checks)))

    def entry(self, entry: Entry) -> Entry | None:
        """An entry without such photos; None if its text or its file's name names somebody."""
        head = " ".join(filter(None, (entry.title, entry.summary)))
        # All are read, so that the keeper gets a warning for each.
        struck = [
            self._strikes(head, entry.source),
            self._strikes(entry.body, entry.body_source),
            self._strikes(_words_in(entry.id), entry.source, what="the name of this file"),
        ]
        return None if any(struck) else replace(entry, photos=self._photos(entry.photos))

    def _photos(self, photos: tuple[Photo, ...]) -> tuple[Photo, ...]:
        def named(photo: Photo) -> bool:
            # A file's name is part of the picture's address.
            words = _words_in(PurePosixPath(photo.file).name)
            return any([self._strikes(photo.alt, photo.source), self._strikes(words, photo.source)])

        return tuple(self._cleared(photo) for photo in photos if not named(photo))

    def _cleared(self, record: _Record) -> _Record:
        said = {name: getattr(record, name, None) for name in _WORDS}
        struck = [name for name, text in said.items() if text and self._strikes(text, record.source)]
        empty: dict[str, Any] = dict.fromkeys(struck)
        return replace(record, **empty) if struck else record

    def _told_of(self, names: Iterable[str], source: Source) -> None:
        self._strikes(" / ".join(names), source, stays=True, what="the name of this file, or of something in it,")

    def _strikes(self, text: str, source: Source, stays: bool = False, what: str = "this") -> bool:
        """Whether a text must be left out. Warns the keeper if it names somebody."""
        text = _as_read(_TARGET.sub(lambda target: _words_in(target[0]), text))
        found = self.names.search(text)
        if found is None:
            return False
        out = self.leaves_out and not stays
        wrong = f"{what} names '{' '.join(found[1].split())}', but this site may not name them" + (
            "; the site leaves it out" if out else ""
        )
        remedy = "rewrite it without the name" + ("" if out else ", or ask them whether you may name them")
        where = Source(source.file, source.line + text.count("\n", 0, found.start()))
        self.notices.append(Problem(where, "names-partner", wrong, remedy, severity="warning"))
        return out
