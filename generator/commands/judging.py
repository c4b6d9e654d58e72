"""Every mistake in a journal: in its files, its links and its pictures."""

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from generator.read.load import Loaded
    from generator.records.problem import Problem


def judged(loaded: "Loaded", content: Path, cache: Path) -> "list[Problem]":
    """Every problem of the journal loaded from a folder, by file and line."""
    from generator.publish.photos import refused
    from generator.records.problem import in_order
    from generator.render.texts import dead_links, photos_out_of_place, photos_shown

    journal = loaded.sound
    if journal is None:
        return list(loaded.problems)
    shown = photos_shown(journal.corals.values(), journal.entries.values())
    there = [photo for photo in shown if photo in journal.photos]
    in_texts = (*dead_links(journal), *photos_out_of_place(journal))
    return in_order([*loaded.problems, *in_texts, *unfit(refused(content, there, cache))])


def unfit(pictures: Mapping[str, str]) -> "list[Problem]":
    """A problem for each picture that cannot be copied, from its path and the reason."""
    from generator.records.problem import Problem
    from generator.records.source import Source

    remedy = "use a JPEG, PNG or WebP, or remove it from the page"
    return [
        Problem(Source(photo, 1, 0), "picture", f"the picture {reason}", remedy) for photo, reason in pictures.items()
    ]
