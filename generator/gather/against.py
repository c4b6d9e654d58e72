"""What a spreadsheet says that a journal does not say yet."""

from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime, time
from zoneinfo import ZoneInfo

from generator.gather.found import Doubt, Fact
from generator.records.coral import Coral
from generator.records.log import SystemLog
from generator.shorthand.finish import Value
from generator.units.quantity import Quantity

# A fact's system or coral, moment, field and name.
_Key = tuple[str, datetime, str, str]


def not_yet_there(
    facts: Iterable[Fact], logs: Mapping[str, SystemLog], corals: Mapping[str, Coral], zone: ZoneInfo
) -> tuple[list[Fact], list[Doubt], int]:
    """The facts that are new, a doubt for each that contradicts what is written, and how many are there already.

    The same fact twice in the sheets is taken once; a row without an hour does not repeat what a log has of its day.
    """
    written = {key: (said, source) for log in logs.values() for key, said, source in _written(log)}
    written |= {key: (said, source) for coral in corals.values() for key, said, source in _of_coral(coral, zone)}
    of_days = {(key[0], key[1].astimezone(zone).date(), *key[2:], said) for key, (said, _) in written.items()}
    rates = {key: said for key, (said, _) in written.items() if key[2] == "pumps"}
    new, doubts, there = [], [], 0
    for fact in facts:
        if fact.change.into == "new":
            new.append(fact)
            continue
        at = datetime.combine(fact.change.at.day, fact.change.at.clock or time(), zone)
        if fact.change.coral:
            name = _MAIN[fact.change.into]
            value = fact.change.values[name]
            key = (fact.change.coral, at, fact.change.into, "")
        else:
            ((name, value),) = fact.change.values.items()
            key = (fact.system, at, fact.change.into, str(value) if fact.change.into == "note" else name)
        said = _plain(value)
        before, source = written.get(key, ("", ""))
        if fact.change.into == "pumps" and not before and _running(rates, key) == said:
            before = said  # a sheet repeats the rate of a pump each day; a log has it once
        if not fact.timed and (fact.system, at.date(), *key[2:], said) in of_days:
            there += 1
        elif not before:
            new.append(fact)
            written[key] = said, fact.where
            if fact.change.into == "pumps":
                rates[key] = said
        elif before == said:
            there += 1
        else:
            doubts.append(Doubt(fact.where, f"{name} of {value}, but {source} says {before} at that moment"))
    return new, doubts, there


def _running(rates: Mapping[_Key, str], key: _Key) -> str:
    """The rate that a pump has run at before a moment, "" if none is known."""
    before = [
        (at, said) for (of, at, *what), said in rates.items() if (of, *what) == (key[0], *key[2:]) and at <= key[1]
    ]
    return max(before, default=(key[1], ""))[1]


# What tells one fact of a kind about a coral from another of that day.
_MAIN = {
    "weighings": "mass",
    "sizes": "length",
    "placements": "system",
    "cuttings": "frags",
    "health": "what",
    "end": "how",
    "photos": "file",
}


def _of_coral(coral: Coral, zone: ZoneInfo) -> Iterator[tuple[_Key, str, str]]:
    for into, name in _MAIN.items():
        found = getattr(coral, into)
        for each in found if isinstance(found, tuple) else filter(None, (found,)):
            day = each.since if into == "placements" else each.at
            if day is not None:
                at = datetime.combine(day, time(), zone)
                yield (coral.id, at, into, ""), _plain(getattr(each, name)), str(each.source)


def _written(log: SystemLog) -> Iterator[tuple[_Key, str, str]]:
    for reading in log.readings:
        yield (log.system, reading.at, "readings", reading.kind), _plain(reading.value), str(reading.source)
    for dose in log.doses:
        yield (log.system, dose.at, "doses", dose.solution), _plain(dose.amount), str(dose.source)
    for rate in log.pumps:
        yield (log.system, rate.at, "pumps", rate.solution), _plain(rate.rate), str(rate.source)
    for change in log.water_changes:
        yield (log.system, change.at, "water_change", "volume"), _plain(change.volume), str(change.source)
    for note in log.notes:
        yield (log.system, note.at, "note", note.text), note.text, str(note.source)


def _plain(value: Value) -> str:
    """A value as it is compared: 8.10 dKH is 8.1 dKH."""
    return f"{'<' * value.below}{value.value:.10g} {value.unit}" if isinstance(value, Quantity) else str(value)
