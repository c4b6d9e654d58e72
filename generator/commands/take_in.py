"""`corallite take-in`: draft coral files from a partner's record of origin; `verify`: what such a record proves."""

import argparse
import shutil
import sys
from bisect import bisect_right
from collections import Counter
from datetime import UTC, datetime
from itertools import accumulate
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING

from generator.commands.asking import journal_in
from generator.commands.options import add_content, day
from generator.commands.terminal import print_done

if TYPE_CHECKING:
    import os
    from collections.abc import Iterable
    from typing import TextIO

    from generator.exchange.verify import Statement, Verdict
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
    from generator.commands.take_in import print_lines, read_record, statements_in_words
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
        print_lines(statements_in_words(verdict.faults), sys.stderr)
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


# One line for each kind of statement. The names in braces are its facts.
WORDS: dict[str, str] = {
    "same-digest": "Its digest is the one you gave.",
    "signed": "Unchanged since {keeper} handed it over on {date}, by {key_type} key {key} (checked against no list).",
    "signed-by-known": "Unchanged since {keeper} handed it over on {date}. The key you know as {known_as} signed it.",
    "chain": "The chain of {coral} is complete back to {oldest} of {keeper} (corals: {corals}, keepers: {hands}).",
    "chain-withheld": "The chain of {coral} is complete back to {oldest}. {keeper} does not publish what came before.",
    "unsigned": "{keeper} handed it over on {date}, without a signature.",
    "unchecked-signature": "{keeper} signed it on {date}. To check the signature, install OpenSSH (ssh-keygen).",
    "one-key": "{other} and {keeper} signed with the same key, so they may be one person. {key}",
    "coral": "{keeper} says of {coral}: {species}, came {date} ({how}).",
    "papers": "{keeper} says of {coral}: {papers}.",
    "photos": "{keeper} lists photos of {coral} by digest: {photos}.",
    "other-digest": "Its digest is NOT the one you gave.",
    "bad-signature": "The signature of {keeper} on {date} does NOT match this record.",
    "not-signed": "No key in your list signed what {keeper} handed over on {date}.",
    "unknown-key": "The key that signed for {keeper} on {date} is NOT in your list: {key}.",
    "key-changed": "{keeper} used another key on {date}: {key}, earlier {former}. Ask them by phone or in person.",
}
_NOTE = "A signature proves which key signed, not that the record is true."
_PAPERS = {
    "region": "from {}",
    "year": "in {}",
    "source_code": "CITES source code {}",
    "appendix": "CITES Appendix {}",
    "permit": "permit {}",
}

VERIFY_EXAMPLES = """\
  corallite verify tide-lantern-2.origin.json"""


def verify_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words and options."""
    parser.add_argument("file", type=Path, metavar="FILE", help="a record of origin")
    parser.add_argument("--digest", metavar="SHA256", help="the digest on the paper that came with the coral")
    parser.add_argument("--all", action="store_true", help="print every line, even if it takes several screens")
    parser.add_argument(
        "--allowed-signers", type=Path, metavar="FILE", help="your list of keys, in the format of git and ssh"
    )


def verify_run(args: argparse.Namespace) -> int:
    """Print what is proven and what is claimed. Return 1 if the file is refused, or if a check fails."""
    from generator.exchange.reading import read_document
    from generator.exchange.schema import Refused
    from generator.exchange.verify import verify

    raw = read_record(args.file)
    if raw is None:
        return 1
    if args.allowed_signers is not None and not args.allowed_signers.is_file():
        print(f"there is no file {args.allowed_signers} (give the path of your list of keys)", file=sys.stderr)
        return 1
    try:
        verdict = verify(read_document(raw), args.allowed_signers, args.digest)
    except Refused as refusal:
        print(f"refused: {refusal}", file=sys.stderr)
        return 1
    print_verdict(verdict, None if args.all else shutil.get_terminal_size())
    return 0 if verdict.sound else 1


def read_record(file: Path) -> bytes | None:
    """The file's bytes, at most one more than a record may have. If it cannot be read, print why and return None."""
    from generator.exchange.reading import MAX_BYTES

    try:
        with file.open("rb") as opened:
            return opened.read(MAX_BYTES + 1)
    except OSError as error:
        print(f"{file} cannot be read: {error.strerror} (give the path of the record)", file=sys.stderr)
        return None


def print_verdict(verdict: "Verdict", screen: "os.terminal_size | None" = None) -> None:
    """Print the verdict, cut to `screen` if one is given. The weightiest lines of each part come first."""
    titles = ("Failed checks:", "Proven:", "Claimed, not proven:")
    every = zip(titles, (verdict.faults, verdict.proven, verdict.claimed), strict=True)
    parts = [(title, statements_in_words(statements)) for title, statements in every if statements]
    # Each part has a title and a line that counts what is left out. Then the first line, the last, and the prompt.
    ends = sum(_rows(line, screen.columns) for line in (verdict.digest, _NOTE)) if screen else 0
    room = screen.lines - 1 - ends - 2 * len(parts) if screen else 0
    print(verdict.digest)
    for index, (title, said) in enumerate(parts):
        print(title)
        shown = said
        if screen:
            shown = _fitting(said, room // (len(parts) - index), screen.columns)
            room -= sum(_rows(line, screen.columns) for line in shown)
        print_lines(shown)
        if len(shown) < len(said):
            print(f"  … and {len(said) - len(shown)} more (--all)")
    print(_NOTE)


def print_lines(lines: "Iterable[str]", file: "TextIO | None" = None) -> None:
    """Print each on a line of its own, indented."""
    for line in lines:
        print(f"  {line}", file=file)


def statements_in_words(statements: "Iterable[Statement]") -> list[str]:
    """Each statement in words, once: equal frags have equal statements."""
    said: Counter[str] = Counter()
    for statement in statements:
        facts = dict(statement.facts)
        papers = ", ".join(words.format(facts[name]) for name, words in _PAPERS.items() if name in facts)
        said[WORDS[statement.id].format_map({**facts, "papers": papers})] += 1
    return [f"{line} (×{n})" if n > 1 else line for line, n in said.items()]


def _fitting(lines: list[str], room: int, columns: int) -> list[str]:
    """The first lines that fit in `room` rows, and at least one."""
    filled = list(accumulate(_rows(line, columns) for line in lines))
    return lines[: max(1, bisect_right(filled, room))]


def _rows(line: str, columns: int) -> int:
    return ceil((len(line) + 2) / max(columns, 1))
