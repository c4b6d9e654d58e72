"""`corallite today`: the day's page in the terminal: what needs you and why, the tests ahead, every water."""

import argparse
import json
from collections.abc import Iterator
from datetime import datetime
from typing import TYPE_CHECKING, Any

from generator.commands.asking import asked, english
from generator.commands.options import add_as_of, add_content

if TYPE_CHECKING:
    from generator.render.base.context import Desk
    from generator.render.pages.attention import Matter

# What --exit-code ends with, if something needs the keeper. 1 and 2 say that something went wrong.
NEEDED = 3
_LATELY = 60  # days; older readings say little of a water
_EXAMPLES = """examples:
  corallite today                      what needs you, the tests ahead, every water
  corallite today --json               the same for a script
  corallite today --quiet              nothing at all if nothing needs you: cron then sends no mail
  corallite today --exit-code          ends with 3 if something needs you, with 0 if not

Exit codes: 0 done, 1 the journal has errors, 2 wrong arguments, 3 something needs you (with --exit-code)."""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.epilog = _EXAMPLES
    parser.add_argument("--json", action="store_true", help="print it for a script")
    parser.add_argument("--quiet", action="store_true", help="print nothing if nothing needs you")
    parser.add_argument("--exit-code", action="store_true", help="end with 3 if something needs you")
    add_content(parser)
    add_as_of(parser)


def run(args: argparse.Namespace) -> int:
    """Print the day. Return 1 if the journal has errors, 3 if something needs the keeper and that was asked."""
    from generator.reckon.analysis.journal import analyse
    from generator.reckon.attention import alerts
    from generator.render.audience import view
    from generator.render.base.context import Desk, ties
    from generator.render.base.numbers import display_of
    from generator.render.pages.attention import matters

    known = asked(args)
    if known is None:
        return 1
    journal = known.journal
    seen, found = view(journal, "own"), analyse(journal, known.as_of)
    display = display_of(journal.settings, journal.systems, journal.logs)
    desk = Desk(seen, found, alerts(journal, found), known.as_of, english(), display, {}, ties(seen))
    needed = matters(desk)
    if needed or not args.quiet:
        if args.json:
            print(json.dumps(_day(desk, needed), ensure_ascii=False, indent=1))
        else:
            for line in _lines(desk, needed):
                print(line.replace("\u00a0", " "))
    return NEEDED if needed and args.exit_code else 0


def _lines(desk: "Desk", needed: "tuple[Matter, ...]") -> Iterator[str]:
    from generator.render.base.in_plain_text import said

    words = desk.words
    yield f"{desk.view.settings.title}, {desk.today}"
    yield words("today.needs", n=len(needed)) if needed else words("today.nothing")
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
    tests = list(_tests(desk))
    yield from ("", words("next_tests.heading"), *(f"  {test}" for test in tests)) if tests else ()
    yield ""
    for each in desk.view.systems.values():
        told = _latest(desk, each.id)
        yield f"{each.name}: {'; '.join(told) or words('systems.never_read')}"


def _tests(desk: "Desk") -> Iterator[str]:
    """The tests of the next days, by system and day, with their reason."""
    from generator.render.pages.next_tests import DAYS_AHEAD, by_day, listed, why_of

    for system in desk.view.systems.values():
        for day, tests in by_day(desk, tuple(desk.findings[system.id].next_tests.values())):
            reasons: dict[str, list[str]] = {}
            for test in tests if desk.calls(system.id) and (day - desk.today).days <= DAYS_AHEAD else ():
                reasons.setdefault(why_of(desk, test), []).append(desk.words(f"quantities_within.{test.kind}"))
            when = desk.words("next_tests.today") if day == desk.today else str(day)
            for why, names in reasons.items():
                yield f"{when}, {system.name}: {listed(desk, names)} ({why})"


def _latest(desk: "Desk", system: str) -> list[str]:
    """The last reading of each quantity that was read lately, and whether it is in its band."""
    from generator.render.base.numbers import say_age, say_reading

    told = []
    for kind, latest in desk.findings[system].latest.items():
        if latest.age_days > _LATELY:
            continue
        value = say_reading(desk.display, desk.words, latest.reading, latest.value)
        age = say_age(desk.display, desk.words, latest.reading.at, desk.as_of)
        outside = {"low": ", below its band", "high": ", above its band"}.get(latest.standing, "")
        told.append(f"{desk.words(f'quantities_within.{kind}')} {value}{outside} ({age})")
    return told


def _day(desk: "Desk", needed: "tuple[Matter, ...]") -> dict[str, Any]:
    """The day as data: moments in ISO 8601, values in the units of the journal."""
    return {
        "journal": desk.view.settings.title,
        "as_of": _iso(desk, desk.as_of),
        "needs": [_need(matter) for matter in needed],
        "tests": [
            {"system": id, "quantity": kind, "at": _iso(desk, test.at), "why": test.why}
            for id, found in desk.findings.items()
            for kind, test in found.next_tests.items()
        ],
        "systems": {
            id: {
                kind: {
                    "value": round(desk.display.level(kind, latest.value), 6),
                    "unit": desk.display.unit(kind),
                    "at": _iso(desk, latest.reading.at),
                    "band": latest.standing,
                }
                for kind, latest in found.latest.items()
            }
            for id, found in desk.findings.items()
        },
    }


def _need(matter: "Matter") -> dict[str, str]:
    """What needs the keeper, in words; `alert` is its name, by which a log dismisses it."""
    from generator.render.base.in_plain_text import said

    return {
        "alert": matter.dismiss_line.partition("alert: ")[2].partition(", ")[0],
        "urgency": matter.urgency,
        "system": matter.system.text,
        "title": matter.title,
        "reason": said(matter.reason),
        "what_to_do": said(matter.how),
        "size": f"{matter.size_label}: {said(matter.size)}" if matter.size else "",
    }


def _iso(desk: "Desk", at: datetime) -> str:
    return at.astimezone(desk.display.zone).isoformat(timespec="minutes")
