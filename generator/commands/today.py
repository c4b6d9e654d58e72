"""`corallite today`: the day's page in the terminal: what needs you and why, the tests ahead, every water."""

import argparse
import json
from collections.abc import Iterator
from datetime import datetime
from typing import TYPE_CHECKING, Any

from generator.commands.asking import asked, keepers_context
from generator.commands.options import add_as_of, add_content
from generator.commands.terminal import doing, print_lines

if TYPE_CHECKING:
    from generator.render.base.context import PageContext
    from generator.render.pages.attention import Matter

# What --exit-code ends with, if something needs the keeper. 1 and 2 say that something went wrong.
NEEDED = 3
_LATELY = 60  # days; older readings say little of a water

EXAMPLES = """\
  corallite today                      what needs you, the tests ahead, every water
  corallite today --json               the same for a script
  corallite today --quiet              nothing at all if nothing needs you: cron then sends no mail
  corallite today --exit-code          ends with 3 if something needs you, with 0 if not

Exit codes: 0 done, 1 the journal has errors, 2 wrong arguments, 3 something needs you (with --exit-code)."""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    parser.add_argument("--json", action="store_true", help="print it for a script")
    parser.add_argument("--exit-code", action="store_true", help="end with 3 if something needs you")
    add_content(parser)
    add_as_of(parser)


def run(args: argparse.Namespace) -> int:
    """Print the day. Return 3 if something needs the keeper and that was asked."""
    from generator.reckon.analysis.journal import analyse
    from generator.reckon.attention import alerts
    from generator.render.pages.attention import matters

    known = asked(args)
    journal = known.journal
    with doing(args, "calculating"):
        found = analyse(journal, known.as_of)
        ctx = keepers_context(known, found, alerts(journal, found))
    needed = matters(ctx)
    if needed or not args.quiet:
        if args.json:
            print(json.dumps(_day(ctx, needed), ensure_ascii=False, indent=1))
        else:
            print_lines(_lines(ctx, needed))
    return NEEDED if needed and args.exit_code else 0


def _lines(ctx: "PageContext", needed: "tuple[Matter, ...]") -> Iterator[str]:
    from generator.render.base.page import said
    from generator.render.pages.next_tests import nothing

    words = ctx.words
    yield f"{ctx.view.settings.title}, {ctx.today}"
    yield words("today.needs", n=len(needed)) if needed else nothing(ctx)
    for matter in needed:
        yield ""
        named = matter.system.text and matter.system.text not in matter.title
        system = f"{matter.system.text}: " if named else ""
        yield f"{matter.urgency_words}. {system}{matter.title}"
        yield f"  {said(matter.reason)}"
        if matter.how:
            yield f"  {said(matter.how)}"
        if matter.size:
            yield f"  {matter.size_label}: {said(matter.size)}"
        for line in matter.lines[:1]:
            yield f"  {line.source}"
    tests = list(_tests(ctx))
    yield from ("", words("next_tests.heading"), *(f"  {test}" for test in tests)) if tests else ()
    yield ""
    for each in ctx.view.systems.values():
        told = _latest(ctx, each.id)
        yield f"{each.name}: {'; '.join(told) or words('systems.never_read')}"


def _tests(ctx: "PageContext") -> Iterator[str]:
    """The tests of the next days, by system and day, with their reason."""
    from generator.door.door import grouped
    from generator.render.base.sentences import listed
    from generator.render.pages.next_tests import DAYS_AHEAD, tests_by_day, why_due

    for system in ctx.view.systems.values():
        for day, tests in tests_by_day(ctx, tuple(ctx.findings[system.id].next_tests.values())):
            soon = tests if ctx.calls(system.id) and (day - ctx.today).days <= DAYS_AHEAD else ()
            reasons = grouped((why_due(ctx, test), ctx.words(f"quantities_within.{test.kind}")) for test in soon)
            when = ctx.words("next_tests.today") if day == ctx.today else str(day)
            for why, names in reasons.items():
                yield f"{when}, {system.name}: {listed(ctx, names)} ({why})"


def _latest(ctx: "PageContext", system: str) -> list[str]:
    """The last reading of each quantity that was read lately, and how it stands to its band where it is not in it."""
    from generator.render.pages.next_tests import reading_cards

    found, told = ctx.findings[system], []
    for card in reading_cards(ctx, ctx.view.systems[system], found):
        if found.latest[card.id].age_days <= _LATELY:
            off = "" if card.standing in ("within", "no-band") else f", {card.standing_words}"
            told.append(f"{ctx.words(f'quantities_within.{card.id}')} {card.value}{off} ({card.age})")
    return told


def _day(ctx: "PageContext", needed: "tuple[Matter, ...]") -> dict[str, Any]:
    """The day as data: moments in ISO 8601, values in the units of the journal."""
    return {
        "journal": ctx.view.settings.title,
        "as_of": _iso(ctx, ctx.as_of),
        "needs": [_need(matter) for matter in needed],
        "tests": [
            {"system": id, "quantity": kind, "at": _iso(ctx, test.at), "why": test.why}
            for id, found in ctx.findings.items()
            for kind, test in (found.next_tests if ctx.calls(id) else {}).items()
        ],
        "systems": {
            id: {
                kind: {
                    "value": round(ctx.display.level(kind, latest.value), 6),
                    "unit": ctx.display.unit(kind),
                    "at": _iso(ctx, latest.reading.at),
                    "band": latest.standing,
                }
                for kind, latest in found.latest.items()
            }
            for id, found in ctx.findings.items()
        },
    }


def _need(matter: "Matter") -> dict[str, str]:
    """What needs the keeper, in words; `alert` is its name, by which a log dismisses it."""
    from generator.render.base.page import said

    return {
        "alert": matter.dismiss_line.partition("alert: ")[2].partition(", ")[0],
        "urgency": matter.urgency,
        "system": matter.system.text,
        "title": matter.title,
        "reason": said(matter.reason),
        "what_to_do": said(matter.how),
        "size": f"{matter.size_label}: {said(matter.size)}" if matter.size else "",
    }


def _iso(ctx: "PageContext", at: datetime) -> str:
    return at.astimezone(ctx.display.zone).isoformat(timespec="minutes")
