"""Slips in a system's file; and in days: out of their order, years away, or with day and month swapped."""

import itertools
from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from statistics import median

from generator.door.door import grouped
from generator.read.draft import Draft
from generator.read.plausible import EVAPORATES, MOST_DISSOLVED, as_written, likely, warn, within
from generator.records.coral import Coral
from generator.records.source import Problem
from generator.records.system import Part, System
from generator.units.kinds import WATER_KINDS
from generator.units.quantity import Quantity, per_day

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
    """The remedy: a day between two others that a slip explains (day and month swapped, another year or month)."""
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
        for entries in grouped((entry.source.file, entry) for entry in log).values():
            days = [entry.at.astimezone(draft.zone).date() for entry in entries]
            index = _out_of_order(days)
            if index is not None:
                low, high = _beside(days, index)
                wrong = f"the entry of {days[index]} is between those of {low} and {high}"
                if index in (0, len(days) - 1):
                    wrong = f"the entry of {days[index]} is not in the order of the others in this file"
                yield warn(draft.at(entries[index].source, "at"), "unusual-day", wrong, "correct its date, or move it")


def log_months_years_apart(draft: Draft) -> Iterator[Problem]:
    """A month of log years before all the others of its system."""
    for log in draft.written.values():
        files = {entry.source.file: entry for entry in log}
        days = {file: entry.at.astimezone(draft.zone).date() for file, entry in files.items()}
        for file, day in days.items():
            others = sorted((other for name, other in days.items() if name != file), key=lambda other: abs(other - day))
            if len(others) >= 2 and abs(day - others[0]).days > _YEARS_AWAY:
                wrong = f"the log of {day:%Y-%m} is years away from the next, {others[0]:%Y-%m}"
                yield warn(
                    draft.at(files[file].source, "at"), "unusual-day", wrong, "check the year in it and in its name"
                )


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


def ends_after_years(draft: Draft) -> Iterator[Problem]:
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


def sizes_years_apart(draft: Draft) -> Iterator[Problem]:
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


# Shares: the least of the tanks' volume that is water, and the uncertainties of it that can be meant; common
# practice, no source.
_LEAST_WATER, _UNCERTAIN = 0.3, (0.001, 0.4)
# A photoperiod shorter than this is a slip; common practice, no source.
_SHORTEST_DAY = 3.0  # hours
# The strongest concentrates sold or mixed, a litre: common practice, no source.
_STRONGEST = {"alkalinity": 6000.0, "calcium": 300_000.0, "magnesium": 150_000.0}


def _box(part: Part) -> float | None:
    """What a tank's sides hold, L."""
    if not (part.length and part.width and part.height):
        return None
    return part.length.canonical() * part.width.canonical() * part.height.canonical() / 1000.0


def volumes_that_do_not_fit_the_tank(draft: Draft) -> Iterator[Problem]:
    """A tank whose volume and sides do not agree, or water far from what the tanks hold."""
    for system in draft.systems.values():
        for part in system.parts:
            box = _box(part)
            if part.volume and box and not (fits := within(0.3 * box, 1.15 * box))(part.volume):
                wrong = f"'{part.name}' has {part.volume}, but its sides make {as_written(box, part.volume)}"
                cure = likely(part.volume, fits, box, otherwise="correct its volume or its sides")
                yield warn(draft.at(part.source, "volume"), "unusual-volume", wrong, cure)
        held = [part.volume.canonical() if part.volume else _box(part) for part in system.parts]
        known = [litres for litres in held if litres]
        if not known or len(known) < len(held):
            continue
        water, whole = system.water.volume, sum(known)
        measured = all(part.volume for part in system.parts)
        if 0.0 < water.canonical() < _LEAST_WATER * whole or (water.canonical() > 1.15 * whole and not measured):
            wrong = f"a water volume of {water} does not go with tanks of {as_written(whole, water)}"
            cure = likely(water, within(0.5 * whole, whole), otherwise="correct the water or the tanks")
            yield warn(draft.at(system.water.source, "volume"), "unusual-volume", wrong, cure)


def unusual_uncertainties(draft: Draft) -> Iterator[Problem]:
    """A volume known better than a bucket can measure, or hardly at all."""
    for system in draft.systems.values():
        volume, spread = system.water.volume.canonical(), system.water.uncertainty.canonical()
        low, high = (share * volume for share in _UNCERTAIN)
        if 0.0 < spread < low or high < spread < volume:
            much = "smaller than anyone can measure" if spread < low else "almost the volume itself"
            wrong = f"an uncertainty of {system.water.uncertainty} in {system.water.volume} is {much}"
            cure = likely(system.water.uncertainty, within(low, high))
            yield warn(draft.at(system.water.source, "uncertainty"), "unusual-volume", wrong, cure)


def solutions_that_cannot_dissolve(draft: Draft) -> Iterator[Problem]:
    """More of a compound in a litre than dissolves, or a declared strength beyond any concentrate."""
    for system in draft.systems.values():
        for solution in system.solutions.values():
            most = MOST_DISSOLVED.get(solution.compound or "")
            if most and solution.strength and solution.strength.canonical() > most:
                wrong = f"{solution.strength} of {solution.compound} do not dissolve; at 20 °C a litre holds {most:g} g"
                cure = likely(solution.strength, within(0.0, most))
                yield warn(draft.at(solution.source, "strength"), "unusual-strength", wrong, cure)
            for kind, limit in _STRONGEST.items() if solution.declared else ():
                value = solution.declared.of(kind) if solution.declared else None
                if value and solution.declared and value.canonical() > limit:
                    wrong = f"no solution has {kind} of {value}"
                    cure = likely(value, within(0.0, limit))
                    yield warn(draft.at(solution.declared.source, kind), "unusual-strength", wrong, cure)


def stocks_larger_than_the_system(draft: Draft) -> Iterator[Problem]:
    """A container of solution larger than the whole system."""
    for system in draft.systems.values():
        water = system.water.volume.canonical()
        for id, solution in system.solutions.items():
            if solution.stock and solution.stock.canonical() > 2.0 * water > 0.0:
                wrong = f"the container of '{id}', {solution.stock}, holds more than the system, {system.water.volume}"
                cure = likely(solution.stock, within(0.0, 2.0 * water))
                yield warn(draft.at(solution.source, "stock"), "unusual-volume", wrong, cure)


def unusual_days(draft: Draft) -> Iterator[Problem]:
    """Hours of light or a rate of evaporation that no tank has."""
    for system in draft.systems.values():
        hours, rate, water = system.photoperiod, system.evaporation, system.water.volume.canonical()
        if hours and 0.0 < hours.canonical() < _SHORTEST_DAY:
            wrong = f"{hours} of light is hardly a day"
            cure = likely(hours, within(_SHORTEST_DAY, 24.0))
            yield warn(draft.at(system.source, "photoperiod"), "unusual-light", wrong, cure)
        low, high = (share * water for share in EVAPORATES)
        if rate and rate.value and water and not (fits := within(low, high))(rate):
            wrong = f"an evaporation of {rate} is not usual for {system.water.volume}"
            cure = likely(rate, fits)
            yield warn(draft.at(system.source, "evaporation"), "unusual-evaporation", wrong, cure)


def kits_coarser_than_the_band(draft: Draft) -> Iterator[Problem]:
    """A kit whose error is wider than the whole band it is to watch."""
    for system in draft.systems.values():
        for kit in system.kits.values():
            for kind in WATER_KINDS:
                precision, band = kit.precision.of(kind), _band(system, kind)
                if precision is None or band is None or not precision.has_factor:
                    continue
                error = per_day(precision.value, kind, precision.unit, band.unit)
                if error > band.value:
                    wrong = f"a precision of {precision} is coarser than the whole band of {kind}"
                    cure = likely(precision, lambda meant, band=band: _fine(meant, band))  # type: ignore[misc]
                    yield warn(draft.at(kit.precision.source, kind), "unusual-precision", wrong, cure)


def _band(system: System, kind: str) -> Quantity | None:
    """The width of a band, in its low end's unit."""
    low, high = system.low.of(kind), system.high.of(kind)
    if low is None or high is None or not low.has_factor or not high.has_factor:
        return None
    return Quantity(high.to(low.unit) - low.value, low.unit, kind, low.digits)


def _fine(meant: Quantity, band: Quantity) -> bool:
    error = per_day(meant.value, meant.kind, meant.unit, band.unit)
    return 0.01 * band.value < error < 0.4 * band.value
