"""`corallite verify`: what a record of origin proves, and what it only claims."""

import argparse
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from generator.exchange.verify import Statement, Verdict

# One line for each kind of statement; the names in braces are its facts.
WORDS: dict[str, str] = {
    "same-digest": "It is the record whose digest you gave.",
    "signed": "Unchanged since {keeper} handed over on {date}: signed by {key_type} key {key}, which no list names.",
    "signed-by-known": "Unchanged since {keeper} handed over on {date}: signed by the key you know as {known_as}.",
    "chain": "The chain of {coral} is complete to {oldest}, told by {keeper}: {corals} corals, {hands} hands.",
    "chain-withheld": "The chain of {coral} is complete to {oldest}; {keeper} keeps to themselves what came before.",
    "unsigned": "That {keeper} handed over on {date}: no signature.",
    "unchecked-signature": "That {keeper} signed on {date}: without ssh-keygen it cannot be checked (install OpenSSH).",
    "coral": "{keeper} says of {coral}: {species}, came {date}, {how}.",
    "papers": "{keeper} says of {coral}: {papers}.",
    "photos": "{keeper} names photos of {coral} by digest: {photos}.",
    "other-digest": "It is NOT the record whose digest you gave.",
    "bad-signature": "The signature of {keeper} on {date} is NOT of this record.",
    "not-signed": "No key in your list signed what {keeper} handed over on {date}.",
    "unknown-key": "The key that signed for {keeper} on {date} is NOT in your list: {key}.",
    "key-changed": "{keeper} signed with another key on {date}: {key}, before that {former}. Ask them by another way.",
}
_ONE_SCREEN = 10
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
    print_verdict(verdict, None if args.all else _ONE_SCREEN)
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


def print_verdict(verdict: "Verdict", at_most: int | None = None) -> None:
    """The verdict; of the claims no more than so many, those nearest to the coral handed over first."""
    print(verdict.digest)
    for title, statements in (
        ("What speaks against it:", verdict.faults),
        ("Proven:", verdict.proven),
        ("Only claimed:", verdict.claimed),
    ):
        if statements:
            print(title)
            shown = statements[:at_most] if statements is verdict.claimed else statements
            print_statements(shown)
            if len(shown) < len(statements):
                print(f"  … and {len(statements) - len(shown)} more (--all)")
    print("A signature proves which key made it, not that what it says is true.")


def print_statements(statements: "Iterable[Statement]") -> None:
    """Each statement on its line."""
    for statement in statements:
        facts = dict(statement.facts)
        papers = ", ".join(words.format(facts[name]) for name, words in _PAPERS.items() if name in facts)
        print(f"  {WORDS[statement.id].format_map({**facts, 'papers': papers})}")
