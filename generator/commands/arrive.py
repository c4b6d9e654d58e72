"""`corallite arrive`: record that a plan has arrived; `sheet`: the sheet of a plan, and the list of plans."""

import argparse
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from generator.commands.asking import asked, journal_in, keepers_context
from generator.commands.options import add_as_of, add_content, named
from generator.commands.terminal import NOT_ALL, Stop, doing, print_done, print_lines, stopping

if TYPE_CHECKING:
    from generator.commands.asking import Asked
    from generator.reckon.planned.analysis import PlanFindings
    from generator.records.journal import Journal
    from generator.records.trade import Appointed, Planned
    from generator.render.base.context import PageContext


EXAMPLES = """\
  corallite arrive brasks-window-sill --at '2026-11-21 10:00' --system waiting-room"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words and options."""
    parser.add_argument("plan", metavar="PLAN", help="the plan: the name of its file")
    parser.add_argument("--at", metavar="TIME", help="the time: '2026-12-05 15:10', or only the day (default: now)")
    parser.add_argument("--system", metavar="ID", help="the system of the new corals, if the plan has none")
    add_content(parser)


def run(args: argparse.Namespace) -> int:
    """Write the plan's line and the corals' files. Raises `Stop`, and writes nothing, if that is not possible."""
    from generator.commands.writing import locked, replace_text, write_new
    from generator.exchange.take_in import coral_file
    from generator.records.carried_out import newcomer, trade_id

    now = datetime.now(UTC)
    journal = journal_in(args, now)
    plan = named("plan", args.plan, journal.plans)
    if plan.dropped is not None:
        raise Stop(f"'{plan.id}' was dropped on {plan.dropped} (delete that line of {plan.source.file} first)")
    when = plan.arrived or _when(args.at, now, journal)
    old = (args.content / plan.source.file).read_bytes().decode("utf-8")
    text = _told(old, plan, journal, when, args.system)
    coming = _again(plan, text, journal).coming
    there = {coral.id for coral in journal.corals.values() if coral.source.file != plan.source.file}
    new = [each for each in coming if each.coral not in there]
    trade = trade_id(plan, when.day) if plan.partner else None
    files = {f"corals/{each.coral}.yaml": coral_file(newcomer(plan, each, when.day, trade)) for each in new}
    with stopping(wrote=NOT_ALL), locked(args.content):
        if text != old:
            replace_text(args.content / plan.source.file, old, text)
            print_done(args, f"wrote 'arrived: {_written(when, journal)}' in {plan.source.file}")
        write_new(args.content, {name: content.encode("utf-8") for name, content in files.items()})
    print_done(args, *(f"made {name}" for name in files))
    print_done(args, "next: corallite today, which says what to dose and when to test")
    return 0


def _when(text: str | None, now: datetime, journal: "Journal") -> "Appointed":
    """The given day or time. Raises `Stop`."""
    from pydantic import TypeAdapter, ValidationError

    from generator.records.trade import Appointed, DayOrHour

    zone = journal.settings.time_zone
    if text is None:
        at = now.replace(second=0, microsecond=0)
        return Appointed(at.astimezone(zone).date(), at)
    try:
        when: Appointed = TypeAdapter(DayOrHour).validate_python(text, context={"zone": zone})
    except ValidationError as error:
        raise Stop(error.errors()[0]["msg"]) from None
    if not when.come_by(now, zone):
        raise Stop(f"{text} is in the future (write the time when it arrived)")
    return when


def _told(text: str, plan: "Planned", journal: "Journal", when: "Appointed", system: str | None) -> str:
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
    return f"{text if text.endswith(chr(10)) else text + chr(10)}arrived: {_written(when, journal)}\n"


def _written(when: "Appointed", journal: "Journal") -> str:
    from generator.shorthand.log_text import at_as_written

    if when.at is None:
        return str(when.day)
    return at_as_written(when.at.astimezone(journal.settings.time_zone))


def _again(plan: "Planned", text: str, journal: "Journal") -> "Planned":
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


SHEET_EXAMPLES = """\
  corallite sheet lot-19"""


def sheet_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words and options."""
    parser.add_argument("plan", nargs="?", metavar="PLAN", help="the name of the plan's file (default: list all plans)")
    add_content(parser)
    add_as_of(parser)


def sheet_run(args: argparse.Namespace) -> int:
    """Print the sheet. Raises `Stop` if there is no such plan, or the journal has errors."""
    from generator.reckon.analysis.journal import analyse
    from generator.render.base.page import lines, said
    from generator.render.pages.sheet import sheet_page

    known = asked(args)
    plan = _plan(args, known) if args.plan else None
    with doing(args, "calculating"):
        found = analyse(known.journal, known.as_of)
        ctx = keepers_context(known, found)
    if plan is None:
        told = [_line(ctx, each) for each in found.plans] or [ctx.words("planned.none")]
    else:
        page = sheet_page(ctx, next(each for each in found.plans if each.plan.id == plan.id))
        told = [page.frame.title, said(page.lead), *lines(page.blocks)]
    print_lines(told)
    return 0


def _plan(args: argparse.Namespace, known: "Asked") -> "Planned":
    """The plan asked for. Raises `Stop`, and says so where it is done, dropped or not planned yet."""
    try:
        return named("plan", args.plan, known.journal.plans)
    except Stop:
        file = f"plans/{args.plan.removesuffix('.yaml')}.yaml"
        if not (args.content / file).is_file():
            raise
        on = f"{known.as_of:%Y-%m-%d %H:%M}"
        wrong = f"on {on} nothing is left to do for '{args.plan}'"
        raise Stop(f"{wrong}: it has arrived, was dropped, or was not planned yet (see {file})") from None


def _line(ctx: "PageContext", found: "PlanFindings") -> str:
    """One plan by the name of its file."""
    from generator.render.base.words import ended
    from generator.render.pages.travel import left_words, plan_title, when_of

    plan, when = found.plan, when_of(ctx, found.plan)
    date = f", {when.text}, {left_words(ctx, found.days)}" if when else ""
    return f"{plan.id}: {ended(plan_title(ctx, plan))} {ctx.words(f'planned.stage.{plan.stage}')}{date}"
