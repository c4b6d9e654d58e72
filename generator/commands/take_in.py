"""`corallite take-in`: draft coral files from a partner's record of origin."""

import argparse
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from generator.commands.asking import journal_in
from generator.commands.options import add_content, day
from generator.commands.terminal import print_done

if TYPE_CHECKING:
    from generator.records.journal import Journal

EXAMPLES = """\
  corallite take-in tide-lantern-2.origin.json --system waiting-room"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words and options."""
    parser.add_argument("file", type=Path, metavar="FILE", help="a record of origin")
    add_content(parser)
    parser.add_argument("--at", type=day, metavar="DATE", help="the day the corals came (default: today)")
    parser.add_argument("--partner", metavar="ID", help="the partner they came from")
    parser.add_argument("--trade", metavar="ID", help="the trade that brought them")
    parser.add_argument("--system", metavar="ID", help="the system they went into")
    parser.add_argument(
        "--allowed-signers",
        type=Path,
        metavar="FILE",
        help="your list of keys: refuse a record that none of them signed",
    )


def run(args: argparse.Namespace) -> int:
    """Write the drafts and keep the record. If it is refused, return 1 and write nothing."""
    from generator.commands.verify import in_words, print_lines, read_record
    from generator.commands.writing import write_new
    from generator.exchange.reading import read_document
    from generator.exchange.schema import Refused
    from generator.exchange.take_in import How, take_in
    from generator.exchange.verify import verify

    journal = journal_in(args, datetime.now(UTC))
    if journal is None:
        return 1
    today = datetime.now(journal.settings.time_zone).date()
    arrived = args.at or today
    if arrived > today:
        print(f"{arrived} is in the future (take the corals in once they are here)", file=sys.stderr)
        return 1
    raw = read_record(args.file)
    if raw is None or _unknown(args, journal):
        return 1
    try:
        document = read_document(raw)
        verdict = verify(document, args.allowed_signers)
    except Refused as refusal:
        print(f"refused: {refusal}", file=sys.stderr)
        return 1
    if not verdict.sound:
        print("refused:", file=sys.stderr)
        print_lines(in_words(verdict.faults), sys.stderr)
        return 1
    taken = take_in(document, raw, journal, How(arrived, args.partner, args.trade, args.system))
    try:
        write_new(args.content, {file.path: file.content for file in taken.files})
    except OSError as error:
        print(f"nothing was written: {error.filename2 or error.filename}: {error.strerror}", file=sys.stderr)
        return 1
    for id in taken.here:
        print(f"you already have this coral: corals/{id}.yaml")
    for file in taken.files:
        print_done(args, f"made {file.path}")
    return 0


def _unknown(args: argparse.Namespace, journal: "Journal") -> bool:
    """Print each name that the journal does not have; whether there is one."""
    unknown = [
        f"there is no {what} '{name}' (make its file first)"
        for what, name, known in (
            ("partner", args.partner, journal.partners),
            ("trade", args.trade, journal.trades),
            ("system", args.system, journal.systems),
        )
        if name is not None and name not in known
    ]
    for line in unknown:
        print(line, file=sys.stderr)
    return bool(unknown)
