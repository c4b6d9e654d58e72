"""`corallite tidy`: names and units in the house form; `schemas`: the schemas of files; `tables`: all tables."""

import argparse
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from generator.commands.asking import asked
from generator.commands.options import add_as_of, add_content
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


SCHEMAS_EXAMPLES = """\
  corallite schemas"""


def schemas_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    add_content(parser)


def schemas_run(args: argparse.Namespace) -> int:
    """Write `.schemas/<kind>.json` in the journal's folder, and those of a record of origin."""
    from generator.commands.writing import write_over
    from generator.exchange.schema import published_schemas
    from generator.read.kinds import schema_texts

    texts = {**schema_texts(), **published_schemas()}
    folder: Path = args.content / ".schemas"
    if not args.content.is_dir():
        print(f"there is no folder '{args.content}' (give the journal's folder)", file=sys.stderr)
        return 1
    try:
        write_over(folder, {name: text.encode("utf-8") for name, text in texts.items()})
    except OSError as error:
        print(f"the schemas cannot be written to {folder}: {error.strerror or error}", file=sys.stderr)
        return 1
    print_done(args, f"wrote {len(texts)} schemas to {folder}")
    return 0


TABLES_EXAMPLES = """\
  corallite tables                            in tables/
  corallite tables --to shared --audience public"""


def tables_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    add_content(parser)
    parser.add_argument("--to", type=Path, default=Path("tables"), metavar="DIR", help="the folder (default: tables)")
    add_as_of(parser)
    parser.add_argument(
        "--audience",
        choices=("own", "partners", "public"),
        default="own",
        help="leave out what this audience may not see (default: own, which leaves out nothing)",
    )


def tables_run(args: argparse.Namespace) -> int:
    """Read, calculate, write the files. Files that the command wrote before are replaced."""
    from generator.commands.writing import write_over
    from generator.reckon.analysis.journal import analyse
    from generator.render.audience import view
    from generator.render.base.words import words_of
    from generator.render.tables.column import basis_of
    from generator.render.tables.files import data_files

    question = asked(args)
    if question is None:
        return 1
    seen = view(question.journal, args.audience)
    with doing(args, "calculating"):
        basis = basis_of(seen, analyse(question.journal, question.as_of))
    files = data_files(basis, words_of(seen.settings.language))
    try:
        write_over(args.to, {address.removeprefix("data/"): content for address, content in files.items()})
    except OSError as error:
        print(f"{error.filename or args.to}: {error.strerror}. Nothing more was written.", file=sys.stderr)
        return 1
    print_done(args, f"{counted(len(files), 'file')} in {args.to}: start with corallite.sqlite or datapackage.json")
    return 0
