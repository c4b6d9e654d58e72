"""`corallite tidy`: write names and units in a journal's files in the house form; nothing else changes."""

import argparse
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from generator.commands.options import add_content
from generator.commands.terminal import counted, doing, print_done, print_problems

if TYPE_CHECKING:
    from generator.read.discover import Found

# With these mistakes, no file can be written again as it was meant.
_STOP = ("syntax", "no-journal", "duplicate-key", "later-format")

EXAMPLES = """\
  corallite tidy --try                        say what would change
  corallite tidy"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    parser.add_argument("--try", dest="only_try", action="store_true", help="say what would change, and write nothing")
    add_content(parser)


def run(args: argparse.Namespace) -> int:
    """Rewrite each file that is not in the house form. Return 1 if the journal has errors; then nothing changes."""
    from generator.commands.writing import locked, replace_text
    from generator.read.discover import discover
    from generator.read.load import load
    from generator.shorthand.yaml_text import house_form

    content: Path = args.content
    number = 0
    try:
        errors = load(content, datetime.now(UTC)).errors if not content.is_dir() else ()
        if errors:
            print_problems(errors, content)
            return 1
        with locked(content):
            with doing(args, "reading the journal"):
                loaded = load(content, datetime.now(UTC))
            structural = [each for each in loaded.errors if each.kind in _STOP]
            if structural:
                print_problems(structural, content)
                return 1
            for kind, file in _files(discover(content)):
                before = (content / file).read_bytes().decode("utf-8")
                after, edits = house_form(before, kind, file)
                number += len(edits)
                for edit in edits:
                    print_done(args, f"{file}:{edit.line}: {edit}")
                if edits and not args.only_try:
                    replace_text(content / file, before, after)
    except ValueError as error:
        print(error.args[0], file=sys.stderr)
        return 1
    except OSError as error:
        print(f"not all was written: {error.filename2 or error.filename}: {error.strerror}", file=sys.stderr)
        return 1
    done = "would change" if args.only_try else "changed"
    print_done(args, f"{done} {counted(number, 'place')}" if number else "every name and unit is in the house form")
    return 0


def _files(found: "Found") -> list[tuple[str, str]]:
    """Every file with quantities in it, and its kind."""
    files = [("journal", found.settings)] if found.settings else []
    files += [(kind, file) for kind, those in found.records.items() for file in those if file.endswith(".yaml")]
    return [*files, *(("logs", file) for those in found.logs.values() for file in those)]
