"""`corallite gather`: take readings, doses, notes, corals and their events from spreadsheets into the journal."""

import argparse
import sys
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec.structs import replace

from generator.commands.asking import journal_in
from generator.commands.options import add_as_of, add_content, named
from generator.commands.terminal import NOT_ALL, NOTHING, Stop, counted, print_done, stopping

if TYPE_CHECKING:
    from generator.gather.found import Doubt, Gathered, Question, SheetFact
    from generator.gather.opening import Sheet
    from generator.records.coral import Coral
    from generator.records.journal import Journal
    from generator.shorthand.finish import Fact, Terms

EXAMPLES = """\
  corallite gather notes.csv --system lagoon --try   say what it means, and write nothing
  corallite gather notes.xlsx --system lagoon --dates day-month-year --time 19:00
  corallite gather report.ods --system lagoon --day 2026-03-12
  corallite gather tanks.csv --is "big tank=fore-reef" --is "Mood=ignore" --unit "salinity=sg 25/25"

What a file leaves open is asked on a terminal, elsewhere it is an error that names the option. Answers are kept in
.gather.yaml for the next file with the same headings. What the journal has already is not written twice."""

# So many files or rows are named where there are more.
_NAMED = 8


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's files and options."""
    parser.add_argument("files", nargs="+", type=Path, metavar="FILE", help="a spreadsheet: CSV, TSV, XLSX or ODS")
    parser.add_argument("--system", metavar="SYSTEM", help="whose water, where the file does not say it")
    parser.add_argument("--day", metavar="DATE", help="the day of a report that has none, such as 2026-03-12")
    parser.add_argument("--time", metavar="HOUR", help="the hour of rows that have none (default: 12:00)")
    parser.add_argument(
        "--dates", choices=("day-month-year", "month-day-year"), help="how to read dates such as 3/4/2026"
    )
    parser.add_argument("--decimal", choices=(".", ","), help="the decimal sign, where numbers leave it open")
    parser.add_argument(
        "--is", dest="meanings", action="append", default=[], metavar="TEXT=MEANING",
        help="what a heading means (a quantity with its unit, note, ignore), or which system a name means",
    )  # fmt: skip
    parser.add_argument(
        "--unit", dest="units", action="append", default=[], metavar="QUANTITY=UNIT", help="the unit of a quantity"
    )
    parser.add_argument(
        "--try", dest="only_try", action="store_true", help="say what would be written, and write nothing"
    )
    add_content(parser)
    add_as_of(parser)


def run(args: argparse.Namespace) -> int:
    """Read the files, ask what they leave open, write what is new. Nothing is written if anything is wrong."""
    from generator.commands.writing import locked

    try:
        with stopping(ValueError, wrote=NOT_ALL), locked(args.content):
            return _run(args)
    except (EOFError, KeyboardInterrupt):
        raise Stop(f"\n{NOTHING}") from None


def _run(args: argparse.Namespace) -> int:
    from generator.commands.writing import text_of
    from generator.door.door import grouped
    from generator.gather.found import not_yet_there
    from generator.gather.layout import FILE, kept, signature, with_answers
    from generator.gather.opening import sheets_of
    from generator.gather.understanding import gathered
    from generator.read.load import load
    from generator.records.journal import in_the_future_from, moment

    now = datetime.now(UTC)
    limit = in_the_future_from(args.as_of, now)
    journal = journal_in(args, limit)
    zone = journal.settings.time_zone
    known = _known(journal, moment(args.as_of or now, zone))
    told, before = _told(args, journal), text_of(args.content / FILE)
    facts: list[SheetFact] = []
    doubts: list[Doubt] = []
    failed = False
    answers_text = before
    for path in args.files:
        sheets = sheets_of(path.name, path.read_bytes())
        headings = signature(sheets, known.names)
        answers = {**kept(answers_text).get(headings, {}), **told}
        found = gathered(sheets, known, answers)
        while found.questions:
            if not sys.stdin.isatty():
                raise Stop(*_open(path, found.questions.values()), NOTHING)
            answers |= {each.key: _asked(each, journal) for each in found.questions.values()}
            found = gathered(sheets, known, answers)
        print_done(args, *_columns(path, sheets, found))
        failed = failed or _is_refused(sheets, found)
        answers_text = with_answers(answers_text, headings, answers)
        of_file = f"{path.name}, " if len(args.files) > 1 else ""
        facts += [replace(each, where=f"{of_file}{each.where}") for each in found.facts]
        # With one sheet, a doubt about all of it names the file already.
        others = (
            each if each.where == path.name else replace(each, where=f"{of_file}{each.where}") for each in found.doubts
        )
        doubts += others
    new, against, there = not_yet_there(facts, journal.logs, journal.corals, zone)
    print_done(args, *_summary(new, there))
    for why, rows in grouped((doubt.why, doubt.where) for doubt in (*doubts, *against)).items():
        print(f"not taken: {_some_of(rows)}: {why}")
    if not new:
        # A file of which nothing could be taken counts as a failure; one that is in the journal already does not.
        return int(failed)
    edits = _edits(args.content, journal, new)
    if answers_text != before:
        edits[FILE] = before, answers_text
    _write(args, edits, [str(problem) for problem in load(args.content, limit, _after(edits)).errors])
    return int(failed)


def _known(journal: "Journal", now: datetime) -> "Terms":
    """What the journal knows, of all its systems together."""
    from generator.commands.asking import known_of
    from generator.render.base.numbers import display_of

    each = [known_of(journal, system, "", now) for system in journal.systems.values()]
    if not each:
        raise Stop("the journal has no system yet (write its file in systems/ first)")
    solutions = {name: id for known in each for name, id in known.names["solution"].items()}
    units = display_of(journal.settings, journal.systems, (log.units() for log in journal.logs.values())).units
    return replace(each[0], names={**each[0].names, "solution": solutions}, units=units)


def _told(args: argparse.Namespace, journal: "Journal") -> dict[str, str]:
    """The answers that options give. Raises `Stop` for one that is none."""
    from generator.gather.found import Question
    from generator.gather.headings import clock_in, days_in
    from generator.shorthand.scanner import folded_text
    from generator.units.kinds import kind_named

    told = {key: value for key in ("day", "time", "dates", "decimal") if (value := getattr(args, key))}
    if args.system:
        told["system"] = named("system", args.system, journal.systems).id
    if "time" in told and clock_in(told["time"]) is None:
        raise Stop(f"'{told['time']}' is not an hour (write for example 19:30)")
    if "day" in told and "year-month-day" not in days_in(told["day"]):
        raise Stop(f"'{told['day']}' is not a day (write for example 2026-03-12)")
    for option, prefix, pairs in (("--is", "is", args.meanings), ("--unit", "unit", args.units)):
        for pair in pairs:
            text, equals, meaning = pair.rpartition("=")
            if not equals or not text.strip() or not meaning.strip():
                raise Stop(f"'{pair}' is not of two sides (write {option} 'TEXT=MEANING')")
            name = folded_text(text.strip())
            key = f"{prefix}:{(kind_named(name) or name) if prefix == 'unit' else name}"
            told[key] = _checked(Question(key, "", ""), meaning.strip(), journal)
    return told


def _checked(question: "Question", answer: str, journal: "Journal") -> str:
    """An answer in the house's form. Raises `Stop`."""
    from generator.gather.headings import clock_in, days_in, heading, unit_of
    from generator.units.kinds import KINDS

    key, _, of = question.key.partition(":")
    if key == "unit":
        unit = unit_of(of, answer) if of in KINDS else None
        if unit in (None, "sg"):
            allowed = ", ".join(each.symbol for each in KINDS[of].units) if of in KINDS else "a quantity first"
            raise Stop(f"'{answer}' is not a unit of {of} (write {allowed})")
        return str(unit)
    if key == "system":
        return named("system", answer, journal.systems).id
    if (key == "day" and "year-month-day" not in days_in(answer)) or (key == "time" and clock_in(answer) is None):
        raise Stop(f"'{answer}' is not understood (write for example {question.example})")
    if key == "is" and question.choices:
        return answer if answer == "ignore" else named("system", answer, journal.systems).id
    if key == "is" and question.text and heading(answer, _solutions(journal), {}, "coral").role == "unknown":
        raise Stop(f"'{answer}' is not understood (write for example {question.example})")
    if key in ("dates", "decimal") and answer not in question.choices:
        raise Stop(f"'{answer}' is not understood (write {' or '.join(question.choices)})")
    return answer


def _solutions(journal: "Journal") -> dict[str, dict[str, str]]:
    return {"solution": {id: id for system in journal.systems.values() for id in system.solutions}}


def _asked(question: "Question", journal: "Journal") -> str:
    """Ask on the terminal until the answer is understood."""
    few = f" [{', '.join(question.choices)}]" if 1 < len(question.choices) <= 8 else f" (such as {question.example})"
    while True:
        try:
            if answer := input(f"{question.text}{few} ").strip():
                return _checked(question, answer, journal)
        except Stop as error:
            print(error.args[0])


def _open(path: Path, questions: "Iterable[Question]") -> Iterator[str]:
    for question in questions:
        key, _, of = question.key.partition(":")
        option = {"is": f'--is "{of}={question.example}"', "unit": f'--unit "{of}={question.example}"'}
        said = option.get(key, f"--{key} {question.example}")
        yield f"{path}: {question.text} (add {said})"


def _columns(path: Path, sheets: "tuple[Sheet, ...]", found: "Gathered") -> Iterator[str]:
    width = max((len(heading) for _, heading, _ in found.columns), default=0)
    yield str(path)
    for sheet, heading, meaning in found.columns:
        yield f"  {f'{sheet}: ' if len(sheets) > 1 else ''}{heading:<{width}}  {meaning}"


def _is_refused(sheets: "tuple[Sheet, ...]", found: "Gathered") -> bool:
    """Whether a file has nothing that could be taken: no headings, or a doubt for each row below them."""
    below = sum(any(row) for sheet in sheets for row in sheet.rows) - len(sheets)
    return not found.facts and (not found.columns or len({doubt.where for doubt in found.doubts}) >= below)


def _summary(new: "list[SheetFact]", there: int) -> Iterator[str]:
    for system in sorted({fact.system for fact in new}):
        own = [fact.change for fact in new if fact.system == system]
        counts = Counter(next(iter(c.values)) if c.into == "readings" else c.into.replace("_", " ") for c in own)
        days = sorted(change.at.day for change in own)
        said = ", ".join(f"{name.replace('new', 'new corals')} {count}" for name, count in sorted(counts.items()))
        yield f"{system}, {days[0]} to {days[-1]}: {said}"
    if there:
        yield f"{there} there already"
    if not new:
        yield "nothing new to write"


def _edits(folder: Path, journal: "Journal", new: "list[SheetFact]") -> dict[str, tuple[str, str]]:
    """Each file that changes, with its text before ("" if there is none) and after. Raises `CannotExtend`."""
    from generator.commands.writing import text_of
    from generator.door.door import grouped
    from generator.shorthand.log_text import entries_of, new_month, with_entry
    from generator.shorthand.yaml_text import new_coral, with_fact

    edits: dict[str, tuple[str, str]] = {}
    corals = dict(journal.corals)
    zone = journal.settings.time_zone
    logged = (fact for fact in new if not fact.change.coral)
    months = grouped((f"logs/{each.system}/{each.change.at.day:%Y-%m}.yaml", each.change) for each in logged)
    for file, changes in sorted(months.items()):
        entries = entries_of(changes, zone)
        before = after = text_of(folder / file)
        for entry in entries if before else ():
            after = with_entry(after, entry, zone, file)
        edits[file] = before, after or new_month(entries)
    # In the sheet's order, so that a frag finds its parent.
    for fact in (fact for fact in new if fact.change.into == "new"):
        edits[f"corals/{fact.change.coral}.yaml"] = "", new_coral(fact.change, fact.system, corals)
        corals[fact.change.coral] = _newcomer(fact.change)
    for change in (fact.change for fact in new if fact.change.coral and fact.change.into != "new"):
        file = journal.corals[change.coral].source.file
        before, text = edits.get(file) or (text_of(folder / file),) * 2
        edits[file] = before, with_fact(text, change, file)
    return edits


def _newcomer(change: "Fact") -> "Coral":
    """A new coral as far as its frags need it: its name and its line."""
    from generator.records.coral import Arrival, Coral
    from generator.records.source import Source

    here, said = Source(f"corals/{change.coral}.yaml"), {name: str(value) for name, value in change.values.items()}
    arrival = Arrival(source=here, at=change.at.day, how="unknown")
    names = {name: said[name] for name in ("name", "species", "form")}
    return Coral(source=here, id=change.coral, line=said.get("line", change.coral), arrival=arrival, **names)  # type: ignore[arg-type]


def _after(edits: dict[str, tuple[str, str]]) -> dict[str, str]:
    return {file: text for file, (_, text) in edits.items() if not file.startswith(".")}


def _some_of(names: Sequence[str]) -> str:
    """A few names, or the first of many and how many more there are."""
    few = names if len(names) <= _NAMED else [*names[: _NAMED - 1], f"{len(names) - _NAMED + 1} more"]
    return ", ".join(few)


def _write(args: argparse.Namespace, edits: dict[str, tuple[str, str]], errors: list[str]) -> None:
    from generator.commands.writing import write_texts

    if errors:
        raise Stop(*errors, NOTHING)
    files = counted(len(_after(edits)), "file")
    if args.only_try:
        print(f"would write {files}")
        return
    if sys.stdin.isatty() and input(f"Write {files}? [Y/n] ").strip().casefold() not in ("", "y", "yes"):
        print(NOTHING)
        return
    write_texts(args.content, edits)
    print_done(args, f"wrote {files}: {_some_of(list(_after(edits)))}")
