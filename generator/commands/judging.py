"""Every mistake in a journal: in its files, its links, its pictures and the texts that it hands over."""

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from generator.read.load import Loaded
    from generator.records.problem import Problem


def judged(loaded: "Loaded", content: Path, cache: Path) -> "list[Problem]":
    """Every problem of the journal loaded from a folder, by file and line."""
    from generator.publish.photos import refused
    from generator.records.problem import in_order
    from generator.render.base.texts import dead_links, photos_out_of_place, photos_shown, shows

    journal = loaded.sound
    if journal is None:
        return list(loaded.problems)
    every = [shows(each) for records in (journal.corals, journal.entries) for each in records.values()]
    there = [photo for photo in photos_shown(every) if photo in journal.photos]
    in_texts = (*dead_links(journal), *photos_out_of_place(every), *cannot_leave(loaded))
    return in_order([*loaded.problems, *in_texts, *unfit(refused(content, there, cache))])


def unfit(pictures: Mapping[str, str]) -> "list[Problem]":
    """A problem for each picture that cannot be copied, from its path and the reason."""
    from generator.publish.photos import NO_READER
    from generator.records.problem import Problem
    from generator.records.source import Source

    usual, read_it = "use a JPEG, PNG or WebP, or remove it from the page", "pip install pillow-heif, or use a JPEG"
    return [
        Problem(Source(photo, 1, 0), "picture", f"the picture {reason}", read_it if reason == NO_READER else usual)
        for photo, reason in pictures.items()
    ]


def cannot_leave(loaded: "Loaded") -> "Iterator[Problem]":
    """A warning for each text that no record of origin can hold: without it, the record cannot be made."""
    from generator.exchange.record_of_origin import own_texts
    from generator.exchange.refusal import Refused
    from generator.exchange.schema import check_own_text
    from generator.records.problem import Problem

    for source, path, text in own_texts(loaded.sound) if loaded.sound else ():
        try:
            check_own_text(text, path[-1])
        except Refused as refusal:
            wrong = f"no record of origin can hold this: {refusal.wrong}"
            remedy = "leave out < > { } \\ and `, a sign at the start, and letters that look like others"
            yield Problem(loaded.at(source, *path), "own-text", wrong, remedy, severity="warning")
