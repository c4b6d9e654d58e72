"""Slips in days: out of their order, years away, or with day and month swapped."""

import itertools
from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from statistics import median

from generator.read.draft import Draft
from generator.read.plausible import warn
from generator.records.coral import Coral
from generator.records.source import Problem, Source

# With fewer in their order, a list has none.
_ENOUGH = 4
# Longer than any wound heals, or any quarantine or treatment lasts; common practice, no source.
_HEALS, _LASTS = 400, 730  # days
_YEARS_AWAY = 3 * 366  # days
# A frag is mounted and written down within this time; common practice, no source.
_WRITTEN_LATER = 30  # days
_NO_CURE = "correct the date"


def _swapped(day: date) -> date | None:
    """The day with its day and month swapped."""
    try:
        other = date(day.year, day.day, day.month)
    except ValueError:
        return None
    return other if other != day else None


def _cure(day: date, low: date, high: date) -> str:
    """The day that a slip explains between two others: day and month swapped, or another year or month."""
    near = [_swapped(day), *(_moved(day, year) for year in (-1, 1, -10, 10))]
    meant = next((each for each in near if each and low <= each <= high), None)
    return f"did you mean {meant}?" if meant else _NO_CURE


def _moved(day: date, years: int) -> date | None:
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return None


def _out_of_order(days: Sequence[date]) -> int | None:
    """The one day without which the others of a list are in their order; None if that is not clear.

    Of two neighbours either could be wrong; then it is the one that a slip explains.
    """
    if len(days) < _ENOUGH or _sorted(days):
        return None
    found = [index for index in range(len(days)) if _sorted([*days[:index], *days[index + 1 :]])]
    if len(found) > 1:
        found = [index for index in found if _cure(days[index], *_beside(days, index)) != _NO_CURE]
    return found[0] if len(found) == 1 else None


def _sorted(days: Sequence[date]) -> bool:
    return all(one <= other for one, other in itertools.pairwise(days))


def _beside(days: Sequence[date], index: int) -> tuple[date, date]:
    low = days[index - 1] if index else days[index + 1] - timedelta(days=366)
    return low, days[index + 1] if index + 1 < len(days) else days[index - 1] + timedelta(days=366)


def entries_out_of_order(draft: Draft) -> Iterator[Problem]:
    """One entry of a month's log whose time is not in the order of all the others."""
    for log in draft.written.values():
        files: dict[str, list[tuple[date, Source]]] = {}
        for entry in log:
            at = entry.at.astimezone(draft.zone).date()
            files.setdefault(entry.source.file, []).append((at, entry.source))
        for entries in files.values():
            days = [day for day, _ in entries]
            index = _out_of_order(days)
            if index is not None:
                low, high = _beside(days, index)
                wrong = f"the entry of {days[index]} is between those of {low} and {high}"
                if index in (0, len(days) - 1):
                    wrong = f"the entry of {days[index]} is not in the order of the others in this file"
                yield warn(draft.at(entries[index][1], "at"), "unusual-day", wrong, "correct its date, or move it")


def months_years_away(draft: Draft) -> Iterator[Problem]:
    """A month of log years before all the others of its system."""
    for log in draft.written.values():
        files = {entry.source.file: entry for entry in log}
        days = {file: entry.at.astimezone(draft.zone).date() for file, entry in files.items()}
        for file, day in days.items():
            others = sorted(other for name, other in days.items() if name != file)
            if len(others) >= 2 and min(abs(day - other) for other in others).days > _YEARS_AWAY:
                wrong = f"the log of {day:%Y-%m} is years away from the next, {_nearest(day, others):%Y-%m}"
                yield warn(
                    draft.at(files[file].source, "at"), "unusual-day", wrong, "check the year in it and in its name"
                )


def _nearest(day: date, others: Sequence[date]) -> date:
    return min(others, key=lambda other: abs(other - day))


def days_of_corals_out_of_order(draft: Draft) -> Iterator[Problem]:
    """One size or weighing whose day is not in the order of all the others of its list."""
    for coral in draft.corals.values():
        for name, word in (("sizes", "size"), ("weighings", "weighing"), ("cuttings", "cutting")):
            records = getattr(coral, name)
            days = [record.at for record in records]
            index = _out_of_order(days)
            if index is not None:
                low, high = _beside(days, index)
                wrong = f"the {word} of {days[index]} is not in the order of the others"
                source = draft.at(coral.source, name, index, "at")
                yield warn(source, "unusual-day", wrong, _cure(days[index], low, high))


def frags_of_another_day(draft: Draft) -> Iterator[Problem]:
    """A frag that its parent's file cuts weeks before or after its own does, or with day and month swapped."""
    for coral in draft.corals.values():
        for index, cutting in enumerate(coral.cuttings):
            for frag in (draft.corals[id] for id in cutting.into if id in draft.corals):
                came = frag.arrival.at
                swapped = came != cutting.at and _swapped(came) == cutting.at
                if frag.arrival.how == "cutting" and (swapped or abs(came - cutting.at).days > _WRITTEN_LATER):
                    wrong = f"'{frag.id}' was cut on {came}, but its parent's file says {cutting.at}"
                    also = draft.at(coral.source, "cuttings", index, "at")
                    cure = f"did you mean {cutting.at}?" if swapped else "correct one of the two"
                    yield warn(draft.at(frag.source, "arrival", "at"), "unusual-day", wrong, cure, also)


def ends_years_away(draft: Draft) -> Iterator[Problem]:
    """A wound that heals after years, a treatment that lasts for years."""
    for coral in draft.corals.values():
        for index, cutting in enumerate(coral.cuttings):
            if cutting.healed and (cutting.healed - cutting.at).days > _HEALS:
                source = draft.at(coral.source, "cuttings", index, "healed")
                wrong = f"healed on {cutting.healed}, {_long(cutting.at, cutting.healed)} after the cut on {cutting.at}"
                yield warn(
                    source, "unusual-day", wrong, _cure(cutting.healed, cutting.at, cutting.at + timedelta(_HEALS))
                )
        for index, health in enumerate(coral.health):
            if health.until and (health.until - health.at).days > _LASTS and health.what != "well":
                source = draft.at(coral.source, "health", index, "until")
                what = health.what.replace("-", " ")
                wrong = f"a {what} from {health.at} until {health.until} lasts {_long(health.at, health.until)}"
                yield warn(source, "unusual-day", wrong, _cure(health.until, health.at, health.at + timedelta(_LASTS)))


def _long(start: date, end: date) -> str:
    return f"{(end - start).days / 365.25:.2g} years"


def before_their_system(draft: Draft) -> Iterator[Problem]:
    """A coral placed in a system before the system started."""
    for coral in draft.corals.values():
        for index, placement in enumerate(coral.placements):
            system = draft.systems.get(placement.system)
            if system and system.started and placement.since < system.started:
                wrong = f"in '{system.id}' since {placement.since}, but the system started on {system.started}"
                source = draft.at(coral.source, "placements", index, "since")
                also = draft.at(system.source, "started")
                cure = _cure(placement.since, system.started, draft.today)
                yield warn(source, "unusual-day", wrong, cure, also)


def sizes_years_away(draft: Draft) -> Iterator[Problem]:
    """A size or weighing years before all others of a coral that is measured often."""
    for coral in draft.corals.values():
        yield from _years_away(draft, coral, "sizes", "size")
        yield from _years_away(draft, coral, "weighings", "weighing")


def _years_away(draft: Draft, coral: Coral, name: str, word: str) -> Iterator[Problem]:
    days = [record.at for record in getattr(coral, name)]
    ordered = sorted(days)
    gaps = [(other - one).days for one, other in itertools.pairwise(ordered[1:])]
    if len(days) < _ENOUGH or (ordered[1] - ordered[0]).days < max(_YEARS_AWAY, 8 * median(gaps)):
        return
    index = days.index(ordered[0])
    wrong = f"the {word} of {ordered[0]} is years before the next, of {ordered[1]}"
    yield warn(draft.at(coral.source, name, index, "at"), "unusual-day", wrong, "check the year")
