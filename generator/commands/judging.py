"""All that is wrong with a journal: in its files, in its keeper's words, in its pictures."""

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from generator.read.load import Loaded
    from generator.records.problem import Problem


def judged(loaded: "Loaded", content: Path, cache: Path) -> "list[Problem]":
    """Every problem, by file and line, of what was loaded from a folder."""
    from generator.publish.photos import refused
    from generator.records.problem import in_order
    from generator.render.texts import dead_links, photos_shown

    journal = loaded.sound
    if journal is None:
        return list(loaded.problems)
    shown = photos_shown(journal.corals.values(), journal.entries.values())
    there = [photo for photo in shown if photo in journal.photos]
    return in_order([*loaded.problems, *dead_links(journal), *unfit(refused(content, there, cache))])


def unfit(pictures: Mapping[str, str]) -> "list[Problem]":
    """Pictures of which no copy can be made, with the reason of each, as problems."""
    from generator.records.problem import Problem
    from generator.records.source import Source

    remedy = "give a JPEG, PNG or WebP, or take it off the page"
    return [Problem(Source(photo), "picture", f"the picture {reason}", remedy) for photo, reason in pictures.items()]
