"""Options that several commands share; where one is: the journal in or around this folder, what to do next in it."""

import argparse
import importlib
import os
import re
import sys
from collections.abc import Container, Iterator, Mapping
from datetime import UTC, date, datetime
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from generator import __version__
from generator.commands import BESIDE, COMMANDS
from generator.commands.terminal import Stop, counted, stopping

if TYPE_CHECKING:
    from generator.records.journal import Journal
    from generator.units.quantity import Quantity


FORMS = ("branching", "tabling", "corymbose", "digitate", "massive", "encrusting", "plating", "columnar", "solitary")
_DAY = re.compile(r"\d{4}-\d\d-\d\d")
_MOMENT = re.compile(_DAY.pattern + r"[ T]\d\d:\d\d(?:Z|[+-]\d\d:\d\d)?")
# Where commands look for the journal if no folder is given.
CONTENT = Path("content")
# Up to this many names, the message lists them all.
_FEW = 12
Named = TypeVar("Named")
Found = TypeVar("Found", date, datetime)


def add_content(parser: argparse.ArgumentParser) -> None:
    """`--content DIR`: the journal's folder."""
    parser.add_argument(
        "--content", type=Path, default=CONTENT, metavar="DIR", help="the journal's folder (default: content)"
    )


def add_as_of(parser: argparse.ArgumentParser) -> None:
    """`--as-of WHEN`: the day that counts as today, or the moment that counts as now."""
    parser.add_argument(
        "--as-of",
        type=day_or_moment,
        metavar="WHEN",
        help="answer as of the end of this day, such as 2026-03-02, or of this moment on the journal's clock, such as "
        "'2026-03-02 14:00' (default: now)",
    )


def cache() -> Path:
    """The user's cache folder, where copies of photos are kept between builds.

    Source: XDG Base Directory Specification 0.8, by which a path that is not absolute is ignored.
    """
    home = os.environ.get("XDG_CACHE_HOME", "")
    return (Path(home) if os.path.isabs(home) else Path(os.path.expanduser("~"), ".cache")) / "corallite"


def address(text: str) -> str:
    """A public address on the command line, as `base_url` in journal.yaml."""
    from pydantic import TypeAdapter, ValidationError

    from generator.records.settings import Address

    try:
        return str(TypeAdapter(Address).validate_python(text))
    except ValidationError as error:
        raise argparse.ArgumentTypeError(error.errors()[0]["msg"]) from None


def day(text: str) -> date:
    """A date on the command line."""
    try:
        return _possible(date.fromisoformat(text) if _DAY.fullmatch(text) else None, text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"'{text}' is not a date (write for example 2026-03-02)") from None


def day_or_moment(text: str) -> date | datetime:
    """A date on the command line, or a date and time; without an offset it is on the journal's own clock."""
    if _DAY.fullmatch(text):
        return day(text)
    try:
        return _possible(datetime.fromisoformat(text) if _MOMENT.fullmatch(text) else None, text)
    except ValueError:
        remedy = "write for example 2026-03-02, or '2026-03-02 14:00'"
        raise argparse.ArgumentTypeError(f"'{text}' is not a day or a time ({remedy})") from None


def _possible(found: Found | None, text: str) -> Found:
    """A date or time in the years that a journal's own dates may have. Raises `ValueError` if there is none."""
    if found is None:
        raise ValueError(text)
    # A forecast from year 9999 would leave the calendar.
    if not 1800 <= found.year <= 2200:
        raise argparse.ArgumentTypeError(f"'{text}' is in the year {found.year} (check the year)")
    return found


def quantity_in(text: str, kind: str, units: Mapping[str, str]) -> "Quantity":
    """A quantity as people write it; `units` are the journal's own, for bare numbers. Raises `Stop`."""
    from generator.units.quantity import NotAQuantity, parse_quantity

    with stopping(NotAQuantity):
        return parse_quantity(text, kind, units.get(kind))


def measures(text: str, units: Mapping[str, str]) -> tuple[float, ...]:
    """Length, width and, if given, height in cm, of a size as people write it. Raises `Stop`.

    `units` are the journal's own, for bare numbers.
    """
    found = size_in_cm(text, units)
    if found is None and size_in_cm(pointed := text.replace(",", "."), units) is not None:
        raise Stop(f"'{text}' has a comma in a number (write '{pointed}', with a point)")
    if found is None:
        raise Stop(f"'{text}' is not a size (write for example '48 x 40 x 18 cm')")
    return found


def known_genus(species: str) -> str:
    """A species or genus with its capital letter. Warn of a genus that the table lacks, and suggest a near one."""
    from generator.nature.genera import genus_meant, genus_name, genus_of

    name = species.strip()[:1].upper() + species.strip()[1:]
    genus = genus_name(name)
    if genus and genus_of(genus) is None:
        meant = genus_meant(genus)
        remedy = f"did you mean {meant}?" if meant else "check the spelling, or ignore this"
        print(f"warning: Corallite does not know the genus {genus} ({remedy})", file=sys.stderr)
    return name


# What has a file of its own.
_OF_FILES = ("system", "coral", "plan")


def named(what: str, text: str, known: Mapping[str, Named]) -> Named:
    """The system, coral or plan with an id or a name. Raises `Stop` that suggests the nearest one that is not gone."""
    if text in known:
        return known[text]
    names = {getattr(record, "name", id).casefold(): id for id, record in known.items()}
    folded = {**names, **{id.casefold(): id for id in known}}
    wanted = text.strip().casefold()
    if wanted in folded:
        return known[folded[wanted]]
    here = [name for name, id in folded.items() if not getattr(known[id], "end", None)]
    close = get_close_matches(wanted, here, n=1) or get_close_matches(wanted.replace(" ", "-"), here, n=1)
    remedy = f"write one of {', '.join(known)}" if len(known) <= _FEW else "write the name of its file"
    if what in _OF_FILES:
        remedy = f"{remedy}, or describe a new one in a file in {what}s/" if known else f"describe it in {what}s/"
    meant = f"did you mean {folded[close[0]]}?" if close else remedy
    raise Stop(f"there is no {what} '{text}' ({meant})")


_SIDE = r"(\d+(?:\.\d+)?)\s*(cm|mm|m|inches|inch|in|\"|″)?"
_BY = r"\s*(?:x|×|\*|by)\s*"
_SIZE = re.compile(rf"\s*{_SIDE}{_BY}{_SIDE}(?:{_BY}{_SIDE})?\s*", re.IGNORECASE)

# No colony and no container is longer, cm.
_LONGEST = 1000.0


def size_in_cm(text: str, units: Mapping[str, str]) -> tuple[float, ...] | None:
    """Length, width and, if given, height in cm; None if the text is not a size.

    A unit after the last side is the unit of all sides. Without one it is the journal's (`units`), or cm.
    Raises `Stop` for a side of 0, or one longer than 10 m.
    """
    from generator.units.quantity import convert

    given = sides_as_written(text, units)
    if given is None:
        return None
    found_sides = tuple(convert(float(number), "length", unit, "cm") for number, unit in given)
    if not all(0.0 < side <= _LONGEST for side in found_sides):
        wrong = "a side of 0" if min(found_sides) <= 0.0 else "too long a side"
        raise Stop(f"'{text[:80]}' has {wrong} (write length, width and height, such as 31x27x24 cm)")
    return found_sides


def sides_as_written(text: str, units: Mapping[str, str]) -> tuple[tuple[str, str], ...] | None:
    """Each side of a size as it was written, with the symbol of its unit; None if the text is not a size."""
    found = _SIZE.fullmatch(text)
    if found is None:
        return None
    numbers, named = found.groups()[::2], found.groups()[1::2]
    given = [(number, unit) for number, unit in zip(numbers, named, strict=True) if number]
    usual = given[-1][1] or units.get("length", "cm")
    return tuple((number, _unit(unit or usual)) for number, unit in given)


def _unit(name: str) -> str:
    from generator.units.kinds import KINDS

    found = KINDS["length"].unit(name.lower().replace("″", '"'))
    return found.symbol if found else name


def say_length(units: Mapping[str, str], cm: float, digits: int = 0) -> str:
    """A length in the journal's unit; inches have one decimal."""
    from generator.units.quantity import convert

    unit = units.get("length", "cm")
    return f"{convert(cm, 'length', 'cm', unit):.{max(digits, 1) if unit in ('in', 'm') else digits}f} {unit}"


_EXIT_CODES = """exit codes: 0 done, 1 something is wrong in the files or the question fails, 2 wrong arguments,
3 something needs you (today --exit-code), 130 stopped by Ctrl-C"""


def parser_of(words: Container[str]) -> argparse.ArgumentParser:
    """The parser of a command line. Only the commands among the words get their options, so that help is instant."""
    made = argparse.ArgumentParser(
        prog="corallite",
        description="Make a website from a reef keeper's plain files. Messages are in English.",
        epilog=_EXIT_CODES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    made.add_argument("--version", action="version", version=f"corallite {__version__}")
    commands = made.add_subparsers(title="commands", metavar="COMMAND", required=True)
    for name, line in COMMANDS.items():
        command = commands.add_parser(name, help=line, description=f"{line[0].upper()}{line[1:]}.")
        if name in words:
            own = name.replace("-", "_")
            module = importlib.import_module(f"generator.commands.{BESIDE.get(name, own)}")
            prefix = f"{own}_" if name in BESIDE else ""
            getattr(module, f"{prefix}arguments")(command)
            command.add_argument("--quiet", action="store_true", help="print only what you ask for, and what is wrong")
            command.formatter_class = argparse.RawDescriptionHelpFormatter
            command.epilog = f"examples, with the names of the demo:\n{getattr(module, f'{prefix.upper()}EXAMPLES')}"
            command.set_defaults(run=getattr(module, f"{prefix}run"))
    return made


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
    from generator.commands.asking import read_journal

    loaded = read_journal(argparse.Namespace(content=CONTENT), datetime.now(UTC))
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
