"""`corallite check`: list every mistake in a journal: in its files, links, pictures and the texts it hands over."""

import argparse
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from generator.commands import remembering
from generator.commands.options import add_as_of, add_content, cache
from generator.commands.terminal import counted, doing, print_problems, sarif

if TYPE_CHECKING:
    from generator.door.door import Door
    from generator.read.load import Loaded
    from generator.records.journal import Journal
    from generator.records.source import Problem


def judged(loaded: "Loaded", content: Path, cache: Path, door: "Door | None" = None) -> "list[Problem]":
    """Every problem of the journal loaded from a folder, by file and line; `door` is the one it was loaded through."""
    from generator.door.door import Door
    from generator.records.source import in_order

    # The rest of a journal with mistakes does not come out of steps.
    told = _found_in(loaded, content, cache, door if door and loaded.journal else Door())
    if door:
        door.all_given()
    return in_order([*loaded.problems, *(told() if told else ())])


def _found_in(loaded: "Loaded", content: Path, cache: Path, door: "Door") -> "Callable[[], tuple[Problem, ...]] | None":
    """What is wrong in a journal's texts and pictures."""
    from generator.publish.assets import refused
    from generator.render.base.texts import (
        all_shown,
        dead_links_in,
        photos_out_of_place,
        photos_shown,
        targets_of_links,
    )

    journal = loaded.sound
    if journal is None:
        return None

    def why(photo: str) -> dict[str, str]:
        loaded.marked(photo)
        return refused(content, [photo], cache)

    def problems() -> "tuple[Problem, ...]":
        every = shown()
        there = [photo for photo in photos_shown(every) if photo in journal.photos]
        wrong = {name: reason for photo in there for name, reason in reasons(photo).items()}
        dead = [*map(dead_in_coral, journal.corals), *map(dead_in_entry, journal.entries)]
        in_texts = (problem for each in dead for problem in each)
        return (*in_texts, *photos_out_of_place(every), *cannot_leave(loaded), *unfit(wrong))

    around = targets_of_links(journal, door)
    shown = all_shown(door, journal.corals, journal.entries)
    dead_in_coral = door.step("dead in coral", lambda id: dead_links_in(journal.corals[id], around()))
    dead_in_entry = door.step("dead in entry", lambda id: dead_links_in(journal.entries[id], around()))
    reasons = door.step("refused", why)
    return door.one("found in texts", problems)


def unfit(pictures: Mapping[str, str]) -> "list[Problem]":
    """A problem for each picture that cannot be copied, from its path and the reason."""
    from generator.publish.assets import NO_READER
    from generator.records.source import Problem, Source

    usual, read_it = "use a JPEG, PNG or WebP, or remove it from the page", "pip install pillow-heif, or use a JPEG"
    return [
        Problem(Source(photo, 1, 0), "picture", f"the picture {reason}", read_it if reason == NO_READER else usual)
        for photo, reason in pictures.items()
    ]


def cannot_leave(loaded: "Loaded") -> "Iterator[Problem]":
    """A warning for each text that no record of origin can hold: without it, the record cannot be made."""
    from generator.exchange.record_of_origin import own_texts
    from generator.exchange.schema import Refused, check_own_text
    from generator.records.source import Problem

    for source, path, text in own_texts(loaded.sound) if loaded.sound else ():
        try:
            check_own_text(text, path[-1])
        except Refused as refusal:
            wrong = f"no record of origin can hold this: {refusal.wrong}"
            remedy = "leave out < > { } \\ and `, a sign at the start, and letters that look like others"
            yield Problem(loaded.at(source, *path), "own-text", wrong, remedy, severity="warning")


EXAMPLES = """\
  corallite check                             every mistake and every doubt
  corallite check --strict --quiet            nothing if all is well, exit code 1 if not
  corallite check --json                      for editors and forges"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    add_content(parser)
    add_as_of(parser)
    parser.add_argument("--strict", action="store_true", help="count warnings as errors")
    parser.add_argument("--json", action="store_true", help="print SARIF 2.1.0, which editors and forges can show")


def run(args: argparse.Namespace) -> int:
    """Print every problem; 1 if there is an error, or with --strict a warning."""
    from generator.read.load import load

    def counted_and_judged(door: "Door") -> tuple[list[tuple[int, str]], "list[Problem]"]:
        loaded = load(args.content, args.as_of or remembering.clock(), door=door)
        problems = judged(loaded, args.content, cache(), door)
        return [] if problems or loaded.journal is None else _things(loaded.journal), problems

    with doing(args, "reading the journal"):
        file = remembering.file_of("check", args.content.resolve())
        things, problems = remembering.with_memory(file, counted_and_judged)
    if args.json:
        print(sarif(problems, args.content))
    else:
        print_problems(problems, args.content)
    if problems and (args.strict or any(problem.severity == "error" for problem in problems)):
        return 1
    if things and not args.json and not args.quiet:
        print(f"no mistakes: {', '.join(counted(number, word) for number, word in things)}")
    return 0


def _things(journal: "Journal") -> list[tuple[int, str]]:
    readings = sum(len(log.readings) for log in journal.logs.values())
    return [(len(journal.systems), "system"), (len(journal.corals), "coral"), (readings, "reading")]
