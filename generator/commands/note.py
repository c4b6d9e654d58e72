"""Commands that write into the journal what has happened.

`corallite note`: what was read, given, done or seen, in one line of the trade's shorthand; `arrive`: that a plan has
arrived.
"""

import argparse
import re
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import replace

from generator.commands.options import add_as_of, add_content, cache, named
from generator.commands.terminal import NOT_ALL, NOTHING, Stop, counted, doing, print_done, print_problems, stopping

if TYPE_CHECKING:
    from generator.records.coral import Coral
    from generator.records.journal import Journal
    from generator.records.source import Problem
    from generator.records.system import System
    from generator.records.trade import Appointed, Planned
    from generator.shorthand.finish import Fact

EXAMPLES = """\
  corallite note lagoon "alk 8.1, ca 425, dosed soda 40 ml; polyps out by noon"
  corallite note lagoon "yesterday 9pm: no3 5, po4 <0.02; wc 40 l new-water"
  corallite note lagoon "soda 62 ml/day"                       a pump's rate from now on; "soda off" stops it
  corallite note lagoon "solution kalk Ca(OH)2 1.5 g/L"        what is in a solution, before its first dose
  corallite note tide-lantern-1 "weighed 950 g, measured 24 x 21 x 13 cm"
  corallite note lagoon "moved tide-lantern-1 to bommie; frag kelp-witch-1 2"
  corallite note lagoon 'new "Dawn Bell 1" Acropora millepora corymbose, gift from tamsin'
  corallite note lagoon "lost kelp-witch-2, kelp-witch-4: tissue loss"      so too: sold, gave, moved, bleached, dipped
  corallite note tide-lantern-1 "photo ~/lantern.jpg: its tips at noon"     copies it into photos/
  corallite note lagoon "lost all: heater stuck on"            a tank lost; so too: "moved all to waiting-room"

A ';' ends a fact or a note. Nothing is written if a word is not understood."""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words and options."""
    parser.add_argument("subject", metavar="SYSTEM|CORAL", help="the system or the coral, by its name or its file's")
    parser.add_argument("line", nargs="+", metavar="TEXT", help="what was read, given, done or seen")
    parser.add_argument("--alt", metavar="TEXT", help="what a photo shows, for those who cannot see it")
    parser.add_argument(
        "--try", dest="only_try", action="store_true", help="say what would be written, and write nothing"
    )
    add_content(parser)
    add_as_of(parser)


class _Texts(Struct, frozen=True):
    """What is to be written: texts of files before ("" if there is none) and after; whole new files; pictures."""

    edits: dict[str, tuple[str, str]]
    new: dict[str, str]
    pictures: dict[str, bytes]

    def after(self) -> dict[str, str]:
        """The text that each file will have; pictures are only there."""
        return {file: text for file, (_, text) in self.edits.items()} | self.new | dict.fromkeys(self.pictures, "")


def run(args: argparse.Namespace) -> int:
    """Write the line's facts into the files, or none of them if anything is not understood or wrong."""
    from generator.commands.asking import echo, journal_in, known_of, of_each, read_journal
    from generator.commands.writing import locked, write_texts
    from generator.read.load import load
    from generator.records.journal import in_the_future_from, moment
    from generator.shorthand.grammar import understood
    from generator.shorthand.yaml_text import CannotExtend

    limit = in_the_future_from(args.as_of, now := datetime.now(UTC))
    if not args.content.is_dir():
        journal_in(args, limit)  # says that there is none
    with stopping(CannotExtend, wrote=NOT_ALL), locked(args.content):
        loaded = read_journal(args, limit)
        # A mistake elsewhere must not keep today's test from being written down.
        journal = loaded.sound
        if journal is None or (loaded.errors and not journal.systems):
            print_problems(loaded.errors, args.content)
            return 1
        here = moment(args.as_of or now, journal.settings.time_zone)
        system, coral = _subject(args.subject, journal, here)
        found = understood(" ".join(args.line), known_of(journal, system, coral, here))
        if found.refusals:
            raise Stop(*found.refusals, NOTHING)
        each = of_each(found.changes, journal, system)
        changes = tuple(_named(_described(change, args.alt), journal.corals.get(coral)) for change in each)
        texts = _texts(args.content, journal, system, changes)
        with doing(args, "checking the new line"):
            after = load(args.content, limit, texts.after())
        doubts = [*_doubts(loaded.problems, after.problems, texts), *_no_pictures(changes)]
        if any(doubt.severity == "error" for doubt in doubts):
            raise Stop(*doubts, NOTHING)
        if not args.only_try:
            new = {file: text.encode("utf-8") for file, text in texts.new.items()}
            write_texts(args.content, texts.edits, new | texts.pictures)
    with doing(args, "calculating"):
        said = list(echo(journal, system, changes, here))
    print_done(args, *said)
    for doubt in doubts:
        print(doubt)
    if loaded.errors:
        print(f"the journal has {counted(len(loaded.errors), 'error')} elsewhere: corallite check lists them")
    files = _listed([*texts.edits, *texts.new, *texts.pictures])
    print_done(args, f"would write {files}" if args.only_try else f"wrote {files}")
    return 0


# So many files are named; of more, the first ones.
_NAMED = 8


def _listed(files: list[str]) -> str:
    more = len(files) - _NAMED
    return ", ".join(files) if more <= 1 else f"{', '.join(files[:_NAMED])} and {more} more"


def _subject(text: str, journal: "Journal", now: datetime) -> "tuple[System, str]":
    """The system that a line is about, and the coral if it is about one. Raises `Stop`."""
    try:
        return named("system", text, journal.systems), ""
    except Stop:
        both: dict[str, System | Coral] = {**journal.systems, **journal.corals}
        coral = journal.corals[named("system or coral", text, both).id]
    home = coral.placement_on(now.date())
    if home is None:
        raise Stop(f"{coral.id} is in no system (write the system, and the coral in the text)")
    return journal.systems[home.system], coral.id


def _described(change: "Fact", alt: str | None) -> "Fact":
    """A photo with what it shows: by the line, by the option, or asked for at a terminal."""
    if change.into != "photos" or "alt" in change.values:
        return change
    if alt is None and sys.stdin.isatty() and sys.stdout.isatty():
        try:
            alt = input(f"What does {change.values['file']} show? ").strip()
        except EOFError:
            raise Stop(NOTHING) from None
    return replace(change, values={**change.values, "alt": alt}) if alt else change


def _named(change: "Fact", coral: "Coral | None") -> "Fact":
    """A note about a coral with its name in front, because it goes into the log of its water."""
    if coral is None or change.into != "note":
        return change
    note = str(change.values["note"])
    begins = re.match(rf"{re.escape(coral.name)}(?!\w)", note, re.IGNORECASE)
    private = {} if coral.audience == "public" else {"private": "true"}
    said = note if begins else f"{coral.name}: {note}"
    return replace(change, values={**change.values, "note": said, **private})


def _texts(folder: Path, journal: "Journal", system: "System", changes: "tuple[Fact, ...]") -> _Texts:
    """The files with all changes in them. Raises `CannotExtend` or `OSError`."""
    from generator.shorthand.log_text import entries_of, with_entry, with_solution
    from generator.shorthand.yaml_text import frags_of, new_coral, with_fact

    texts, zone = _Texts({}, {}, {}), journal.settings.time_zone
    for change in (change for change in changes if change.into == "solutions"):
        file = system.source.file
        before, text = _before(folder, file, texts)
        texts.edits[file] = before, with_solution(text, change, file)
    of_log = [change for change in changes if not change.coral and change.into != "solutions"]
    for entry in entries_of(of_log, zone):
        file = f"logs/{system.id}/{entry.month}.yaml"
        before, text = _before(folder, file, texts)
        texts.edits[file] = before, with_entry(text, entry, zone, file)
    known = dict(journal.corals)
    for change in (change for change in changes if change.coral):
        if change.into == "new":
            texts.new[f"corals/{change.coral}.yaml"] = new_coral(change, system.id, known)
            continue
        frags = frags_of(change, known) if change.into == "cuttings" else {}
        texts.new.update({f"corals/{id}.yaml": text for id, text in frags.items() if text})
        known.update(dict.fromkeys(frags, known[change.coral]))
        if change.into == "photos":
            picture = Path(str(change.values["file"])).expanduser()
            texts.pictures.update(_picture(folder, picture))
            change = replace(change, values={**change.values, "file": picture.name})
        file = known[change.coral].source.file
        before, text = _before(folder, file, texts)
        texts.edits[file] = before, with_fact(text, change, file, tuple(frags))
    return texts


def _before(folder: Path, file: str, texts: _Texts) -> tuple[str, str]:
    """A file's text on the disk, and with what this line has put into it so far."""
    if file in texts.edits:
        return texts.edits[file]
    from generator.commands.writing import text_of

    text = text_of(folder / file)
    return text, text


def _picture(folder: Path, path: Path) -> dict[str, bytes]:
    """The picture to copy into the journal, unless it is there. Raises `Stop`."""
    there = folder / "photos" / path.name
    if not path.is_file():
        if there.exists():
            return {}
        raise Stop(f"there is no picture {path} (check its path)", "nothing was written")
    picture = path.read_bytes()
    if there.exists() and there.read_bytes() != picture:
        raise Stop(f"photos/{path.name} is another picture (give {path} another name)", "nothing was written")
    return {} if there.exists() else {f"photos/{path.name}": picture}


def _no_pictures(changes: "tuple[Fact, ...]") -> "list[Problem]":
    """What keeps a site from showing the new photos."""
    from generator.commands.check import unfit
    from generator.publish.assets import refused

    files = [Path(str(change.values["file"])).expanduser() for change in changes if change.into == "photos"]
    wrong = [refused(file.parent, [file.name], cache()) for file in files if file.is_file()]
    return [problem for each in wrong for problem in unfit(each)]


def _doubts(before: "tuple[Problem, ...]", after: "tuple[Problem, ...]", texts: _Texts) -> "list[Problem]":
    """What is wrong or odd in the files that change, and was not before."""
    old = {(each.source.file, each.wrong) for each in before}
    touched = {*texts.edits, *texts.new}
    return [
        each
        for each in after
        if (each.source.file, each.wrong) not in old and (each.severity == "error" or each.source.file in touched)
    ]


ARRIVE_EXAMPLES = """\
  corallite arrive brasks-window-sill --at '2026-11-21 10:00' --system waiting-room"""


def arrive_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words and options."""
    parser.add_argument("plan", metavar="PLAN", help="the plan: the name of its file")
    parser.add_argument("--at", metavar="TIME", help="the time: '2026-12-05 15:10', or only the day (default: now)")
    parser.add_argument("--system", metavar="ID", help="the system of the new corals, if the plan has none")
    add_content(parser)
    add_as_of(parser)


def arrive_run(args: argparse.Namespace) -> int:
    """Write the plan's line and the corals' files. Raises `Stop`, and writes nothing, if that is not possible."""
    from generator.commands.asking import journal_in
    from generator.commands.writing import locked, replace_text, write_new
    from generator.exchange.take_in import coral_file
    from generator.records.carried_out import newcomer, trade_id
    from generator.records.journal import in_the_future_from

    journal = journal_in(args, in_the_future_from(args.as_of, datetime.now(UTC)))
    plan = named("plan", args.plan, journal.plans)
    if plan.dropped is not None:
        raise Stop(f"'{plan.id}' was dropped on {plan.dropped} (delete that line of {plan.source.file} first)")
    when = plan.arrived or _arrived_at(args, plan, journal)
    old = (args.content / plan.source.file).read_bytes().decode("utf-8")
    text = _with_arrival(old, plan, journal, when, args.system)
    coming = _read_again(plan, text, journal).coming
    there = {coral.id for coral in journal.corals.values() if coral.source.file != plan.source.file}
    new = [each for each in coming if each.coral not in there]
    trade = trade_id(plan, when.day) if plan.partner else None
    files = {f"corals/{each.coral}.yaml": coral_file(newcomer(plan, each, when.day, trade)) for each in new}
    with stopping(wrote=NOT_ALL), locked(args.content):
        if text != old:
            replace_text(args.content / plan.source.file, old, text)
            print_done(args, f"wrote 'arrived: {_moment_written(when, journal)}' in {plan.source.file}")
        write_new(args.content, {name: content.encode("utf-8") for name, content in files.items()})
    print_done(args, *(f"made {name}" for name in files))
    if trade is not None:
        print_done(args, f"it is the trade {trade}; its record of origin: corallite origin {trade}")
    print_done(args, "next: corallite today, which says what to dose and when to test")
    return 0


def _arrived_at(args: argparse.Namespace, plan: "Planned", journal: "Journal") -> "Appointed":
    """The given day or time; else now, or the day that counts as today. Raises `Stop`."""
    from pydantic import TypeAdapter, ValidationError

    from generator.records.journal import moment
    from generator.records.trade import Appointed, DayOrHour

    zone, text = journal.settings.time_zone, args.at
    now = moment(args.as_of or datetime.now(UTC), zone)
    if text is None:
        a_day = args.as_of is not None and not isinstance(args.as_of, datetime)
        return Appointed(now.date(), None if a_day else now.replace(second=0, microsecond=0).astimezone(UTC))
    try:
        when: Appointed = TypeAdapter(DayOrHour).validate_python(text, context={"zone": zone})
    except ValidationError as error:
        raise Stop(error.errors()[0]["msg"]) from None
    if not when.come_by(now, zone):
        raise Stop(f"{text} is in the future (write the time when it arrived)")
    if plan.since is not None and when.day < plan.since:
        wrong = f"{text} is before '{plan.id}' was planned on {plan.since}"
        raise Stop(f"{wrong} (write an earlier day after since: in {plan.source.file} first)")
    return when


def _with_arrival(text: str, plan: "Planned", journal: "Journal", when: "Appointed", system: str | None) -> str:
    """The plan's text with the lines that the arrival adds. The existing text does not change."""
    from generator.read.yaml_lines import Mark
    from generator.shorthand.yaml_text import put_first

    if system is not None:
        named("system", system, journal.systems)
    for new in reversed(plan.coming):
        if new.system is None and new.coral not in journal.corals:
            if system is None:
                raise Stop(f"'{new.coral}' is in no system yet (add --system with a system)")
            text = put_first(text, Mark(new.source.line, new.source.column), f"system: {system}")
    if plan.arrived is not None:
        return text
    return f"{text if text.endswith(chr(10)) else text + chr(10)}arrived: {_moment_written(when, journal)}\n"


def _moment_written(when: "Appointed", journal: "Journal") -> str:
    from generator.shorthand.log_text import at_as_written

    if when.at is None:
        return str(when.day)
    return at_as_written(when.at.astimezone(journal.settings.time_zone))


def _read_again(plan: "Planned", text: str, journal: "Journal") -> "Planned":
    """The plan in its new text. Raises `Stop` if the text cannot be read as planned."""
    from generator.read.kinds import Meaning, records_in
    from generator.read.recovery import read_yaml

    document, wrong = read_yaml(text, plan.source.file)
    if document is not None and not wrong and isinstance(document.value, dict):
        document.value["id"] = plan.id
        meaning = Meaning(journal.settings.time_zone, journal.settings.units)
        records = records_in("plans", document, plan.source.file, meaning).records
        if records and records[0].arrived is not None:
            again: Planned = records[0]
            return again
    raise Stop(f"{plan.source.file} cannot be extended (add a line to it: arrived, with day and time)")
