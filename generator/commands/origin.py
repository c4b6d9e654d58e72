"""Records of origin: `origin` makes one, `take-in` adds the corals of a partner's, `verify` says what one proves."""

import argparse
import shutil
from bisect import bisect_right
from datetime import UTC, date, datetime
from itertools import accumulate
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING, Any

from generator.commands.asking import english, journal_in
from generator.commands.options import add_as_of, add_content, day
from generator.commands.terminal import NOTHING, Stop, counted, print_done, print_lines, stopping

if TYPE_CHECKING:
    import os
    from collections.abc import Iterable, Iterator

    from generator.exchange.document import Document
    from generator.exchange.record_of_origin import Piece
    from generator.records.coral import Statement, Verdict
    from generator.records.journal import Journal
    from generator.records.trade import Trade


# Each frag has a record of its own, and a file holds no more.
_MOST_FRAGS = 999

EXAMPLES = """\
  corallite origin tide-lantern-2 --frags 1   the records of a frag that you hand over"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words and options."""
    parser.add_argument("name", metavar="CORAL|TRADE", help="the id of a coral or a trade")
    add_content(parser)
    add_as_of(parser)
    parser.add_argument("--frags", type=int, metavar="N", help="for a coral: N frags cut from it")
    parser.add_argument("--key", type=Path, metavar="FILE", help="sign the record with this OpenSSH key")
    parser.add_argument("--output", type=Path, metavar="FILE", help="the file to write (default: NAME.origin.json)")


def run(args: argparse.Namespace) -> int:
    """Write the record. Raises `Stop` if the journal has errors, or something in it may not be handed over."""
    from generator.commands.writing import write_new
    from generator.exchange.document import Refused, canonical
    from generator.records.journal import in_the_future_from

    journal = journal_in(args, in_the_future_from(args.as_of, datetime.now(UTC)))
    with stopping(Refused):
        document = _document(args, journal)
    output: Path = args.output or Path(f"{args.name}.origin.json")
    try:
        write_new(output.parent, {output.name: canonical(document) + b"\n"})
    except OSError as error:
        raise Stop(f"{output} cannot be written: {error.strerror} (name another file)") from None
    print_done(args, f"made {output}: {counted(len(document['records']), 'record')}, digest {document['digest']}")
    print("Stony corals are CITES-listed. You may need permits to sell them or cross a border. Local law decides.")
    return 0


def _document(args: argparse.Namespace, journal: "Journal") -> dict[str, Any]:
    from generator.commands.papers import photo_digests, received_files
    from generator.exchange import record_of_origin
    from generator.records.journal import day_of

    today = day_of(args.as_of) if args.as_of else datetime.now(journal.settings.time_zone).date()
    pieces, day, trade = _pieces(args, journal, today)
    photos = photo_digests(args.content, record_of_origin.photos_to_hash(journal, pieces))
    received = received_files(args.content, journal.received)
    partner = journal.partners[trade.partner] if trade else None
    document, _ = record_of_origin.make(journal, pieces, day, photos, received, partner)
    return record_of_origin.signed(document, args.key, args.content) if args.key else document


def _pieces(
    args: argparse.Namespace, journal: "Journal", today: date
) -> "tuple[tuple[Piece, ...], date, Trade | None]":
    """What is handed over, on which day, and in which trade (None without one)."""
    from generator.exchange.document import Refused
    from generator.exchange.record_of_origin import Piece, day_of_leaving, pieces_of_trade

    if args.frags is not None and (not 1 <= args.frags <= _MOST_FRAGS or args.name in journal.trades):
        raise Refused(
            "frags", "--frags is the number of frags cut from a coral", f"give a coral, and 1 to {_MOST_FRAGS}"
        )
    if args.name in journal.trades:
        trade = journal.trades[args.name]
        if trade.audience == "own":
            remedy = f"write 'audience: partners' in trades/{trade.id}.yaml if they may see it"
            raise Refused("not-marked", f"'{trade.id}' is private ('audience: own')", remedy)
        return pieces_of_trade(trade), trade.at, trade
    if args.name not in journal.corals:
        raise Refused("unknown", f"there is no coral or trade '{args.name}'", "give its id: the name of its file")
    coral = journal.corals[args.name]
    day = day_of_leaving(coral, today)
    if day is None:
        here = f"from {coral.arrival.at}" + (f" to {coral.end.at}" if coral.end else "")
        raise Refused("not-here", f"'{coral.id}' was here {here}", "give one of those days with --as-of")
    numbers = range(1, args.frags + 1) if args.frags else (0,)
    return tuple(Piece(coral.id, number) for number in numbers), day, None


TAKE_IN_EXAMPLES = """\
  corallite take-in tide-lantern-2.origin.json --system waiting-room"""


def take_in_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words and options."""
    parser.add_argument("file", type=Path, metavar="FILE", help="a record of origin")
    add_content(parser)
    add_as_of(parser)
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


def take_in_run(args: argparse.Namespace) -> int:
    """Write the drafts and keep the record. If it is refused, raise `Stop` and write nothing."""
    from generator.commands.writing import write_new
    from generator.exchange.take_in import How, take_in
    from generator.records.journal import in_the_future_from, moment

    journal = journal_in(args, in_the_future_from(args.as_of, now := datetime.now(UTC)))
    today = moment(args.as_of or now, journal.settings.time_zone).date()
    arrived = args.at or today
    if arrived > today:
        raise Stop(f"{arrived} is in the future (take the corals in once they are here)")
    raw = _read_record(args.file)
    unknown = [
        f"there is no {what} '{name}' (make its file first)"
        for what, name, known in (
            ("partner", args.partner, journal.partners),
            ("trade", args.trade, journal.trades),
            ("system", args.system, journal.systems),
        )
        if name is not None and name not in known
    ]
    if unknown:
        raise Stop(*unknown)
    document, verdict = _verified(raw, args.allowed_signers)
    if verdict.faults:
        raise Stop("refused:", *_in_words(verdict.faults))
    taken = take_in(document, raw, journal, How(arrived, args.partner, args.trade, args.system))
    with stopping(wrote=NOTHING):
        write_new(args.content, {file.path: file.content for file in taken.files})
    for id in taken.here:
        print(f"you already have this coral: corals/{id}.yaml")
    print_done(args, *(f"made {file.path}" for file in taken.files))
    if any(file.path.startswith("corals/") for file in taken.files):
        print_done(args, *_left_open(args))
    return 0


def _left_open(args: argparse.Namespace) -> "Iterator[str]":
    """What the new files do not say, and where to write it."""
    if args.partner is None and args.trade is None:
        yield "this counts in no partner's account yet: add 'partner: …' to its arrival, or a trade in trades/"
    if args.system is None:
        yield "this is in no system yet: add 'placements: [{since: …, system: …}]' to its file"


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
    """Print what is proven and what is claimed. Return 1 if a check fails. Raises `Stop` if the file is refused."""
    raw = _read_record(args.file)
    if args.allowed_signers is not None and not args.allowed_signers.is_file():
        raise Stop(f"there is no file {args.allowed_signers} (give the path of your list of keys)")
    _, verdict = _verified(raw, args.allowed_signers, args.digest)
    _print_verdict(verdict, None if args.all else shutil.get_terminal_size())
    return 1 if verdict.faults else 0


def _read_record(file: Path) -> bytes:
    """The file's bytes, at most one more than a record may have. Raises `Stop` if it cannot be read."""
    from generator.exchange.reading import MAX_BYTES

    try:
        with file.open("rb") as opened:
            return opened.read(MAX_BYTES + 1)
    except OSError as error:
        raise Stop(f"{file} cannot be read: {error.strerror} (give the path of the record)") from None


def _verified(raw: bytes, signers: Path | None, digest: str | None = None) -> "tuple[Document, Verdict]":
    """A record and what it proves. Raises `Stop` if it is refused."""
    from generator.exchange.document import Refused
    from generator.exchange.reading import read_document
    from generator.exchange.verify import verify

    try:
        document = read_document(raw)
        return document, verify(document, signers, digest)
    except Refused as refusal:
        raise Stop(f"refused: {refusal}") from None


def _print_verdict(verdict: "Verdict", screen: "os.terminal_size | None") -> None:
    """Print the verdict, cut to `screen` if one is given. The weightiest lines of each part come first."""
    words, every = english(), {"faults": verdict.faults, "proven": verdict.proven, "claimed": verdict.claimed}
    note = words("verdicts.note")
    parts = [
        (f"{words(f'verdicts.{part}')}:", _in_words(statements)) for part, statements in every.items() if statements
    ]
    # Each part has a title and a line that counts what is left out. Then the first line, the last, and the prompt.
    ends = sum(_rows(line, screen.columns) for line in (verdict.digest, note)) if screen else 0
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
    print(note)


def _in_words(statements: "Iterable[Statement]") -> list[str]:
    """Each statement in the words of the pages, with days as in ISO 8601."""
    from generator.render.pages.origin import statements_in_words

    return [f"  {line}".replace("\u00a0", " ") for line in statements_in_words(english(), statements, str)]


def _fitting(lines: list[str], room: int, columns: int) -> list[str]:
    """The first lines that fit in `room` rows, and at least one."""
    filled = list(accumulate(_rows(line, columns) for line in lines))
    return lines[: max(1, bisect_right(filled, room))]


def _rows(line: str, columns: int) -> int:
    return ceil(len(line) / max(columns, 1))
