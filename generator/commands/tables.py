"""`corallite tables`: write the journal's tables into a folder."""

import argparse
import sys
from pathlib import Path

from generator.commands.asking import asked
from generator.commands.options import add_as_of, add_content
from generator.commands.terminal import counted, doing, print_done

EXAMPLES = """\
  corallite tables                            in tables/
  corallite tables --to shared --audience public"""


def arguments(parser: argparse.ArgumentParser) -> None:
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


def run(args: argparse.Namespace) -> int:
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
