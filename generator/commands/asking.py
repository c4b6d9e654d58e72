"""The journal as it stood on the day that is asked about, for the commands that answer one question."""

import argparse
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING

from generator.commands.options import print_problems

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    from generator.reckon.finding import CannotTell
    from generator.records.journal import Journal
    from generator.render.words import Words


@dataclass(frozen=True, slots=True)
class Asked:
    """A journal as it stood at a moment, and that moment on the keeper's own clock."""

    journal: "Journal"
    as_of: datetime


def asked(args: argparse.Namespace) -> Asked | None:
    """The journal in `--content` as of `--as-of`, or of now; None, and every error printed, if it is not sound."""
    from generator.read.load import load
    from generator.records.past import as_it_stood

    now = datetime.now(UTC)
    loaded = load(args.content, in_the_future_from(args.as_of, now))
    if loaded.journal is None:
        print_problems(loaded.errors)
        return None
    zone = loaded.journal.settings.time_zone
    as_of = moment(args.as_of or now, zone).astimezone(zone)
    return Asked(as_it_stood(loaded.journal, as_of), as_of)


def in_the_future_from(as_of: date | None, now: datetime) -> date | datetime:
    """From when on what is written must be a slip of the date.

    To ask about a past day is no reason to doubt what was written since; to ask about one ahead is a rehearsal.
    """
    return max(as_of, now.date()) if as_of else now


def moment(today: date | datetime, zone: "ZoneInfo") -> datetime:
    """A moment as it is; a day as its last second where the keeper lives."""
    if isinstance(today, datetime):
        return today
    next_day = datetime.combine(today + timedelta(days=1), datetime.min.time(), zone)
    return next_day.astimezone(UTC) - timedelta(seconds=1)


def print_cannot(words: "Words", answer: "CannotTell") -> None:
    """Why it cannot be told and what would tell, in one line."""
    from generator.render.pages.why import cannot

    told = cannot(words, answer)
    print(told.reason, told.remedy)
