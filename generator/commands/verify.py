"""`corallite verify`: what a record of origin proves, and what it only claims."""

import argparse
import shutil
import sys
from bisect import bisect_right
from collections import Counter
from itertools import accumulate
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import os
    from collections.abc import Iterable
    from typing import TextIO

    from generator.exchange.verify import Statement, Verdict

# One line for each kind of statement; the names in braces are its facts.
WORDS: dict[str, str] = {
    "same-digest": "It is the record whose digest you gave.",
    "signed": "Unchanged since {keeper} handed over on {date}: signed by {key_type} key {key}, which no list names.",
    "signed-by-known": "Unchanged since {keeper} handed over on {date}: signed by the key you know as {known_as}.",
    "chain": "The chain of {coral} is complete to {oldest}, told by {keeper} (corals: {corals}, hands: {hands}).",
    "chain-withheld": "The chain of {coral} is complete to {oldest}; {keeper} keeps to themselves what came before.",
    "unsigned": "That {keeper} handed over on {date}: no signature.",
    "unchecked-signature": "That {keeper} signed on {date}: without ssh-keygen it cannot be checked (install OpenSSH).",
    "one-key": "One key signed for {other} and for {keeper}: that they are two is only said. {key}",
    "coral": "{keeper} says of {coral}: {species}, came {date}, {how}.",
    "papers": "{keeper} says of {coral}: {papers}.",
    "photos": "{keeper} names photos of {coral} by digest: {photos}.",
    "other-digest": "It is NOT the record whose digest you gave.",
    "bad-signature": "The signature of {keeper} on {date} is NOT of this record.",
    "not-signed": "No key in your list signed what {keeper} handed over on {date}.",
    "unknown-key": "The key that signed for {keeper} on {date} is NOT in your list: {key}.",
    "key-changed": "{keeper} signed with another key on {date}: {key}, before that {former}. Ask them by another way.",
}
_NOTE = "A signature proves which key made it, not that what it says is true."
_PAPERS = {
    "region": "from {}",
    "year": "in {}",
    "source_code": "CITES source code {}",
    "appendix": "CITES Appendix {}",
    "permit": "permit {}",
}


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words and options."""
    parser.add_argument("file", type=Path, metavar="FILE", help="a record of origin")
    parser.add_argument("--digest", metavar="SHA256", help="the digest on the paper that came with the coral")
    parser.add_argument("--all", action="store_true", help="print every claim, however many screens it takes")
    parser.add_argument("--allowed-signers", type=Path, metavar="FILE", help="your list of keys, as git and ssh use it")


def run(args: argparse.Namespace) -> int:
    """Print what is proven and what is claimed; 1 if the file is refused or anything speaks against it."""
    from generator.exchange.reading import read_document
    from generator.exchange.refusal import Refused
    from generator.exchange.verify import verify

    raw = read_record(args.file)
    if raw is None:
        return 1
    if args.allowed_signers is not None and not args.allowed_signers.is_file():
        print(f"there is no list of keys {args.allowed_signers} (give the file's path)", file=sys.stderr)
        return 1
    try:
        verdict = verify(read_document(raw), args.allowed_signers, args.digest)
    except Refused as refusal:
        print(f"refused: {refusal}", file=sys.stderr)
        return 1
    print_verdict(verdict, None if args.all else shutil.get_terminal_size())
    return 0 if verdict.sound else 1


def read_record(file: Path) -> bytes | None:
    """A stranger's bytes, no more than a record may have and one; None, with a message, if they cannot be read."""
    from generator.exchange.strict_json import MAX_BYTES

    try:
        with file.open("rb") as opened:
            return opened.read(MAX_BYTES + 1)
    except OSError as error:
        print(f"{file} cannot be read: {error.strerror} (give the record's file)", file=sys.stderr)
        return None


def print_verdict(verdict: "Verdict", screen: "os.terminal_size | None" = None) -> None:
    """The verdict, cut to a screen if one is given: what weighs most stands first in each of its parts."""
    titles = ("What speaks against it:", "Proven:", "Only claimed:")
    every = zip(titles, (verdict.faults, verdict.proven, verdict.claimed), strict=True)
    parts = [(title, in_words(statements)) for title, statements in every if statements]
    # A title and a line of what is left out for each part; the first line and the last; and the prompt.
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
    """Each on a line of its own, set in."""
    for line in lines:
        print(f"  {line}", file=file)


def in_words(statements: "Iterable[Statement]") -> list[str]:
    """Each statement in words, once: equal pieces have equal ones."""
    said: Counter[str] = Counter()
    for statement in statements:
        facts = dict(statement.facts)
        papers = ", ".join(words.format(facts[name]) for name, words in _PAPERS.items() if name in facts)
        said[WORDS[statement.id].format_map({**facts, "papers": papers})] += 1
    return [f"{line} (×{n})" if n > 1 else line for line, n in said.items()]


def _fitting(lines: list[str], room: int, columns: int) -> list[str]:
    """The first lines that take no more rows than there is room for, and one in any case."""
    filled = list(accumulate(_rows(line, columns) for line in lines))
    return lines[: max(1, bisect_right(filled, room))]


def _rows(line: str, columns: int) -> int:
    return ceil((len(line) + 2) / max(columns, 1))
