"""Checks that the links and pictures in a keeper's own texts lead somewhere, before any page is made."""

from collections.abc import Callable, Collection, Iterator, Mapping
from difflib import get_close_matches

from generator.records.coral import Audience, Coral
from generator.records.entry import Entry
from generator.records.journal import Journal
from generator.records.problem import Problem
from generator.render.access import RANK
from generator.render.base import links
from generator.render.base.prose import Copy, Dead, Hidden, Picture, Surroundings, photos_in, to_html
from generator.render.base.words import words_of

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


def photos_shown(corals: Collection[Coral], entries: Collection[Entry]) -> tuple[str, ...]:
    """Every photo that corals and posts show, in their lists or in their words, as paths below the journal."""
    shown = [photo for coral in corals for photo in coral.photos]
    shown += [photo for entry in entries for photo in entry.photos]
    texts = [coral.story for coral in corals] + [entry.body for entry in entries]
    in_texts = [path for text in texts if "![" in text for path in photos_in(text)]
    return tuple(sorted({links.photo_path(photo.file) for photo in shown} | set(in_texts)))


def photos_out_of_place(journal: Journal) -> Iterator[Problem]:
    """A problem for each text that shows a photo to more people than may see the photo."""
    listed = [photo for coral in journal.corals.values() for photo in coral.photos]
    listed += [photo for entry in journal.entries.values() for photo in entry.photos]
    # A photo may be listed twice; whoever may see it in one place may see it.
    widest = {links.photo_path(photo.file): photo for photo in sorted(listed, key=lambda photo: -RANK[photo.audience])}
    texts = [(coral.story, coral.story_source, coral.audience) for coral in journal.corals.values()]
    texts += [(entry.body, entry.body_source, entry.audience) for entry in journal.entries.values()]
    for text, source, audience in texts:
        for path in photos_in(text) if "![" in text else ():
            photo = widest.get(path)
            if photo and RANK[photo.audience] > RANK[audience]:
                yield Problem(
                    source,
                    "private-photo",
                    f"this text is for {_FOR[audience]}, but its photo '{path}' is for {_FOR[photo.audience]}",
                    "take the photo out of the text, or change the 'audience' of one of them",
                    photo.source,
                )


def dead_links(journal: Journal) -> Iterator[Problem]:
    """A problem for every link and picture in a journal's stories and posts that leads nowhere."""
    known: Known = {
        "coral": journal.corals,
        "system": journal.systems,
        "entry": journal.entries,
        "trade": journal.trades,
    }
    around = Surroundings(
        lambda kind, id: resolve(kind, id, known, journal.not_yet, str),
        {photo: Picture((Copy(photo, 0, 0),)) for photo in journal.photos},
        {},
        str,
        words_of(journal.settings.language),
    )
    for coral in journal.corals.values():
        yield from to_html(coral.story, coral.story_source, around).problems
    for entry in journal.entries.values():
        yield from to_html(entry.body, entry.body_source, around).problems
