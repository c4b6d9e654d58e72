"""Checks that the links and pictures in a keeper's own texts lead somewhere, before any page is made."""

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from difflib import get_close_matches
from typing import NamedTuple

from generator.door.door import Door
from generator.records.coral import Audience, Coral, Photo
from generator.records.journal import Entry, Journal
from generator.records.source import Problem, Source
from generator.render.base import links
from generator.render.base.prose import Copy, Dead, Hidden, Picture, Surroundings, photos_in, to_html
from generator.render.base.words import words_of
from generator.render.redaction import RANK

_FOR: dict[Audience, str] = {"own": "you alone", "partners": "partners", "public": "everyone"}

Known = Mapping[str, Mapping[str, object]]


def resolve(
    kind: str, id: str, known: Known, hidden: Collection[tuple[str, str]], way: Callable[[str], str]
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
    known: Known = {
        "coral": journal.corals,
        "system": journal.systems,
        "entry": journal.entries,
        "trade": journal.trades,
    }
    pictures = door.each(
        "picture there", lambda: journal.photos, lambda photo: Picture((Copy(photo, 0, 0),)), shared=True
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
