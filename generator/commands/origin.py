"""`corallite origin`: the record of origin of a coral, or of everything given in a trade."""

import argparse
import sys
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from generator.commands.asking import journal_in
from generator.commands.options import add_as_of, add_content
from generator.commands.terminal import counted, print_done

if TYPE_CHECKING:
    from generator.exchange.record_of_origin import Piece
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
    """Write the record. Return 1 if the journal has errors, or something in it may not be handed over."""
    from generator.exchange.document import canonical
    from generator.exchange.schema import Refused
    from generator.records.journal import in_the_future_from

    journal = journal_in(args, in_the_future_from(args.as_of, datetime.now(UTC)))
    if journal is None:
        return 1
    try:
        document = _document(args, journal)
    except Refused as refusal:
        print(refusal, file=sys.stderr)
        return 1
    output: Path = args.output or Path(f"{args.name}.origin.json")
    try:
        with output.open("xb") as file:
            file.write(canonical(document) + b"\n")
    except OSError as error:
        print(f"{output} cannot be written: {error.strerror} (name another file)", file=sys.stderr)
        return 1
    print_done(args, f"made {output}: {counted(len(document['records']), 'record')}, digest {document['digest']}")
    print("Stony corals are CITES-listed. You may need permits to sell them or cross a border. Local law decides.")
    return 0


def _document(args: argparse.Namespace, journal: "Journal") -> dict[str, Any]:
    from generator.commands.papers import photo_digests, received_files
    from generator.exchange import record_of_origin
    from generator.exchange.verify import sign
    from generator.records.journal import day_of

    today = day_of(args.as_of) if args.as_of else datetime.now(journal.settings.time_zone).date()
    pieces, day, trade = _pieces(args, journal, today)
    photos = photo_digests(args.content, record_of_origin.photos_to_hash(journal, pieces))
    received = received_files(args.content, journal.received)
    partner = journal.partners[trade.partner] if trade else None
    document, _ = record_of_origin.make(journal, pieces, day, photos, received, partner)
    if args.key is None:
        return document
    return record_of_origin.with_signature(document, sign(record_of_origin.signable(document), args.key, args.content))


def _pieces(
    args: argparse.Namespace, journal: "Journal", today: date
) -> "tuple[tuple[Piece, ...], date, Trade | None]":
    """What is handed over, on which day, and in which trade (None without one)."""
    from generator.exchange.record_of_origin import Piece, day_of_leaving, pieces_of_trade
    from generator.exchange.schema import Refused

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
