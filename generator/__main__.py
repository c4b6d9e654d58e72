"""Start: `python -m generator COMMAND …`, which is also the console script `corallite`."""

import argparse
import gc
import os
import sys
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING

from generator.commands import COMMANDS
from generator.commands.options import CONTENT, parser_of
from generator.commands.terminal import counted, doing, text_only

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


# What a shell makes of a program that Ctrl-C ended: 128 and the number of SIGINT.
STOPPED = 130


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code. Wrong arguments raise `SystemExit` 2, as argparse does."""
    words = sys.argv[1:] if argv is None else list(argv)
    if argv is None:
        # A command makes many records and little garbage; to look for it takes a quarter of the time.
        gc.disable()
    # A file name or a keeper's text may have letters that this terminal cannot show.
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    with text_only(sys.stdout, sys.stderr):
        return _run(words)


def _run(words: Sequence[str]) -> int:
    if not words:
        for line in next_steps():
            print(line)
        return 0
    parser = parser_of(words)
    if (typed := words[0]) not in COMMANDS and not typed.startswith("-"):
        close = get_close_matches(typed, COMMANDS, n=1)
        remedy = f"did you mean {close[0]}?" if close else "corallite --help lists them"
        parser.exit(2, f"there is no command '{typed}' ({remedy})\n")
    if empty := [word for word in words if word.startswith("--") and word.endswith("=--")]:
        parser.error(f"'{empty[0]}' has no value")  # of '--' argparse leaves none before Python 3.13
    args = parser.parse_args(words)
    try:
        if wrong := no_journal(args, words[0]):
            print(wrong, file=sys.stderr)
            return 1
        code = int(args.run(args))
        sys.stdout.flush()
    except KeyboardInterrupt:
        print(file=sys.stderr)
        return STOPPED
    except BrokenPipeError:  # the reader closed the pipe; the interpreter must not flush again
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    except OSError as error:  # of a path that no system can have, or a disk that fails
        print(f"{error.filename or 'the disk'}: {error.strerror} (check the path and the disk)", file=sys.stderr)
        return 1
    return code


if __name__ == "__main__":
    sys.exit(main())
