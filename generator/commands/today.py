"""`corallite today`: what needs you and why, the tests ahead, every water; `since`: what changed."""

import argparse
import json
import sys
import tempfile
from collections.abc import Iterator
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from msgspec.structs import replace

from generator.commands.asking import Asked, asked, keepers_context
from generator.commands.options import add_as_of, add_content, day_or_moment
from generator.commands.terminal import Stop, counted, doing, print_lines, stopping

if TYPE_CHECKING:
    from generator.reckon.analysis.since import Changes, JournalState
    from generator.render.base.context import PageContext
    from generator.render.pages.attention import Matter
    from generator.units.quantity import Estimate


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
    from generator.render.pages.next_tests import nothing_due_words

    words = ctx.words
    yield f"{ctx.view.settings.title}, {ctx.today}"
    yield words("today.needs", n=len(needed)) if needed else nothing_due_words(ctx)
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
    from generator.render.base.numbers import listed
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


SINCE_EXAMPLES = """\
  corallite since 2026-11-15           since the end of that day, by what is known now
  corallite since HEAD~3               since that revision: its files, as they were then
  corallite since '2026-11-15 09:00' --json

A day asks today's files what changed in the reef. A revision asks its own files, so that readings
corrected or added later count as changes too. Now is what is in the folder, committed or not. Nothing is touched."""


def since_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words and options."""
    parser.add_argument("since", metavar="WHEN", help="a day, a moment, or a revision that git knows")
    parser.add_argument("--json", action="store_true", help="print it for a script")
    add_content(parser)
    add_as_of(parser)


def since_run(args: argparse.Namespace) -> int:
    """Print what changed. Raises `Stop` if the journal has errors, or if there was no such day or revision."""
    from generator.read.git import CannotAsk
    from generator.reckon.analysis.journal import Findings
    from generator.reckon.analysis.since import changes
    from generator.render.base.page import lines
    from generator.render.pages.since import since_blocks

    known = asked(args)
    with stopping(CannotAsk), doing(args, "calculating"):
        now = state_asked(known)
        then = _then(args, known, now)
    found = changes(then, now)
    ctx = keepers_context(known, Findings(known.as_of, water=now.water, predicted=now.predicted))
    if args.json:
        print(json.dumps(_data(ctx, found), ensure_ascii=False, indent=1))
        return 0
    lead = ctx.words("since.lead", since=ctx.say.moment(found.since).text)
    print_lines((ctx.view.settings.title, lead, *lines(since_blocks(ctx, found))))
    return 0


def state_asked(known: Asked) -> "JournalState":
    """A journal's state at the moment it was asked about."""
    from generator.reckon.analysis.since import JournalState
    from generator.reckon.arrivals.known import known_waters
    from generator.reckon.growth.analysis import analyse_growth

    journal, today = known.journal, known.as_of.date()
    growth = {id: analyse_growth(coral, journal.logs, today) for id, coral in journal.corals.items()}
    waters = known_waters(journal, known.as_of)
    water = {id: each.water for id, each in waters.items()}
    unread = {id: each.unread for id, each in waters.items()}
    return JournalState(known.as_of, journal, water, growth, unread)


def _then(args: argparse.Namespace, known: Asked, now: "JournalState") -> "JournalState":
    """The earlier state. Raises `Stop` or `CannotAsk`."""
    from generator.records.journal import as_it_stood, moment

    when = _when(args.since)
    if when is None:
        return _revision(args, known)
    zone = known.journal.settings.time_zone
    at = moment(when, zone)
    if at >= known.as_of:
        raise Stop(f"{args.since} is not before {known.as_of:%Y-%m-%d %H:%M} (write an earlier day, or --as-of)")
    return replace(now, at=at, records=as_it_stood(known.journal, at))


def _when(text: str) -> date | datetime | None:
    """A day or a moment; None if the text is a revision. Raises `Stop` for a day that is none."""
    try:
        return day_or_moment(text)
    except argparse.ArgumentTypeError as error:
        if text[:1].isdigit() and text.count("-") == 2:
            raise Stop(str(error)) from None
        return None


def _revision(args: argparse.Namespace, known: Asked) -> "JournalState":
    from generator.read.git import commit_of, files_at
    from generator.read.load import load
    from generator.records.journal import as_it_stood

    content: Path = args.content
    commit, made = commit_of(content, args.since)
    with tempfile.TemporaryDirectory(prefix="corallite-") as folder:
        there = Path(folder) / "content"
        for name, data in files_at(content, commit):
            file = there / name
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_bytes(data)
        loaded = load(there, known.as_of)
    if loaded.sound is None:
        raise Stop(f"the journal of {args.since} cannot be read (name another revision): {loaded.errors[0]}")
    if loaded.errors:
        # What an older program wrote, or a slip that was corrected since, must not hide all the rest.
        left = counted(len(loaded.errors), "error")
        print(f"the journal of {args.since} has {left}; what they are about is left out", file=sys.stderr)
    at = min(made, known.as_of).astimezone(known.as_of.tzinfo)
    return state_asked(Asked(as_it_stood(loaded.sound, at), at))


def _data(ctx: "PageContext", found: "Changes") -> dict[str, Any]:
    """The changes as data: numbers in the units of the journal with the ends of their likely ranges."""
    return {
        "journal": ctx.view.settings.title,
        "since": found.since.isoformat(timespec="minutes"),
        "until": found.until.isoformat(timespec="minutes"),
        "systems": dict(_systems(ctx, found)),
        "corals": {"gained": [coral.id for coral in found.gained], "lost": [coral.id for coral in found.lost]},
        "grown": [
            {
                "coral": each.coral,
                "what": each.what,
                "before": {"at": each.before[0].isoformat(), "value": round(each.before[1], 6)},
                "after": {"at": each.after[0].isoformat(), **_estimate(each.after[1])},
                "by": each.by and _estimate(each.by),
            }
            for each in found.grown
        ],
        "lines": {
            "at_risk": [risk.line for risk in found.at_risk],
            "no_longer_at_risk": list(found.saved),
            "ended": list(found.ended),
        },
        "promises": {
            name: [{"trade": each.trade.id, "number": each.number, "by": each.owed.by} for each in promised]
            for name, promised in (("made", found.made), ("kept", found.kept), ("overdue", found.overdue))
        },
    }


def _systems(ctx: "PageContext", found: "Changes") -> Iterator[tuple[str, Any]]:
    display = ctx.display
    for id, water in found.water.items():
        levels = {
            each.kind: {
                "before": each.before and round(display.level(each.kind, each.before.value), 6),
                "after": round(display.level(each.kind, each.after.value), 6),
                "unit": display.unit(each.kind),
                "by": each.by and _estimate(display.estimate(each.kind, each.by, of_level=False)),
                "band": each.after.standing,
            }
            for each in water.levels
        }
        uptake = {
            each.kind: {
                name: value and _estimate(display.estimate(each.kind, value, of_level=False), "/day")
                for name, value in (("before", each.before), ("after", each.after), ("by", each.by))
            }
            for each in water.uptake
        }
        pumps = {p.solution: {"before": p.before and str(p.before), "after": str(p.after)} for p in water.pumps}
        yield (
            id,
            {
                "levels": levels,
                "uptake": uptake,
                "pumps": pumps,
                "by_hand_ml": {solution: 1000.0 * litres for solution, litres in water.poured.items()},
            },
        )


def _estimate(found: "Estimate", more: str = "") -> dict[str, float | str]:
    ends = {name: round(getattr(found, name), 6) for name in ("value", "low", "high")}
    return {**ends, "unit": found.unit + more}
