"""Checks of photos: each should have a description for those who cannot see it."""

import re
from collections.abc import Iterator

from generator.read.draft import Draft
from generator.records.coral import Coral
from generator.records.entry import Entry
from generator.records.problem import Problem
from generator.records.source import Source

# A picture in Markdown with nothing between its brackets.
_WITHOUT_WORDS = re.compile(r"!\[\s*\][(\[]")


def photos_without_words(draft: Draft) -> Iterator[Problem]:
    """A photo of a coral or a post without a description."""
    records: list[Coral | Entry] = [*draft.corals.values(), *draft.entries.values()]
    for record in records:
        for photo in record.photos:
            if not photo.alt:
                yield _problem(photo.source, photo.file, "add 'alt: …' and say what the photo shows")


def pictures_without_words(draft: Draft) -> Iterator[Problem]:
    """A picture in a post or a coral's story without a description."""
    texts = [(entry.body_source, entry.body) for entry in draft.entries.values()]
    texts += [(coral.story_source, coral.story) for coral in draft.corals.values()]
    for first, text in texts:
        for number, line in enumerate(text.split("\n") if "![" in text else (), start=first.line):
            for picture in _WITHOUT_WORDS.finditer(line):
                name = line[picture.end() :].partition(")")[0].partition(" ")[0]
                yield _problem(
                    Source(first.file, number, picture.start() + 1), name, f"write ![what the photo shows]({name})"
                )


def _problem(source: Source, photo: str, remedy: str) -> Problem:
    return Problem(source, "photo", f"the photo '{photo}' has no description", remedy, severity="warning")
