"""Where one is: the journal in or around this folder, and what to do next in it."""

import argparse
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from generator.commands.options import CONTENT
from generator.commands.terminal import counted, doing

if TYPE_CHECKING:
    from generator.records.journal import Journal

# These look a journal's containers up if there is one, and can do without.
_WITHOUT = ("journey",)


def no_journal(args: argparse.Namespace, command: str) -> str:
    """Why a command finds no journal where it looks by itself, and what to do; "" if it finds one or was given one."""
    if getattr(args, "content", None) is not CONTENT or (CONTENT / "journal.yaml").exists() or command in _WITHOUT:
        return ""
    if CONTENT.is_dir():
        return "the folder content has no journal.yaml (begin a journal with corallite begin my-reef)"
    found = _above(Path.cwd())
    if found is None:
        return (
            "no journal.yaml here or above (begin one with corallite begin my-reef, or give its folder with --content)"
        )
    return f"no journal in this folder; there is one in {found} (go to the folder above it, or add --content {found})"


def next_steps() -> Iterator[str]:
    """What to do next in this folder, for someone who wrote no command."""
    if not (CONTENT / "journal.yaml").exists():
        found = _above(Path.cwd())
        if found is None:
            yield "There is no journal.yaml here or above."
            yield "  corallite begin my-reef    begin a journal of your own"
            yield "  corallite demo content     see the demo journal: then corallite build --as-of 2026-11-22"
        else:
            yield f"The journal is in {found}."
            yield f"  cd {found.parent}"
    else:
        yield from _in_a_journal()
    yield "  corallite --help           all commands"


def _in_a_journal() -> Iterator[str]:
    from generator.read.load import load

    with doing(argparse.Namespace(), "reading the journal"):
        loaded = load(CONTENT, datetime.now(UTC))
    if loaded.journal is None:
        yield f"The journal in {CONTENT} has {counted(len(loaded.errors), 'error')}."
        yield "  corallite check            list them all"
        return
    journal = loaded.journal
    yield f"{journal.settings.title}: {_size(journal)}."
    system = next(iter(journal.systems), "")
    if not system:
        yield "  Make a file for your first system: systems/reef.yaml. The demo journal has an example."
    elif not any(log.readings for log in journal.logs.values()):
        yield f'  corallite note {system} "alk 8.1, ca 425"    write down a first test'
    else:
        yield "  corallite today            what needs you today, and why"
        yield f'  corallite note {system} "alk 8.1"    write down a test'
    yield "  corallite build            make the site"


def _size(journal: "Journal") -> str:
    readings = sum(len(log.readings) for log in journal.logs.values())
    things = ((len(journal.systems), "system"), (len(journal.corals), "coral"), (readings, "reading"))
    return ", ".join(counted(number, word) for number, word in things)


def _above(folder: Path) -> Path | None:
    """The nearest journal's folder around a folder: itself, one above it, or the content beside one of those."""
    for each in (folder, *folder.parents):
        for place in (each, each / CONTENT):
            if (place / "journal.yaml").is_file():
                return place
    return None
