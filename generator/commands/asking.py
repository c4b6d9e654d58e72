"""The journal as it stood on a day, for the commands that answer one question, and what a line of shorthand can speak
of in it.
"""

import argparse
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, TypeVar

from msgspec import Struct
from msgspec.structs import replace

from generator.commands.terminal import Stop, counted, doing, print_problems

if TYPE_CHECKING:
    from generator.door.door import Door
    from generator.read.load import Loaded
    from generator.reckon.analysis.journal import Findings
    from generator.reckon.attention import Alert
    from generator.reckon.finding import CannotTell
    from generator.records.coral import Coral
    from generator.records.journal import Journal
    from generator.records.log import Reading
    from generator.records.system import System
    from generator.render.base.context import PageContext
    from generator.render.base.numbers import Display, Say
    from generator.render.base.words import Words
    from generator.shorthand.finish import Fact, Stamp, Terms
    from generator.units.quantity import Estimate, Quantity


# What the trade means by a bare number of these, where the journal has not said it. Common practice, no source.
_USUAL = dict.fromkeys(("potassium", "strontium", "boron"), "mg/L")


class Asked(Struct, frozen=True):
    """A journal as it stood at a moment, and that moment on the keeper's own clock."""

    journal: "Journal"
    as_of: datetime


def read_journal(args: argparse.Namespace, until: date, door: "Door | None" = None) -> "Loaded":
    """What is read in `--content`; what is after `until` is in the future."""
    from generator.read.load import load

    with doing(args, "reading the journal"):
        return load(args.content, until, door=door)


def journal_in(args: argparse.Namespace, until: date) -> "Journal":
    """The journal in `--content`, as `read_journal` reads it. Raises `Stop` if it has errors."""
    loaded = read_journal(args, until)
    if loaded.journal is None:
        print_problems(loaded.errors, args.content)
        raise Stop
    return loaded.journal


def asked(args: argparse.Namespace) -> Asked:
    """The journal in `--content` as of `--as-of`, or of now. Raises `Stop` if it has errors."""
    from generator.records.journal import as_it_stood, in_the_future_from, moment

    now = datetime.now(UTC)
    journal = journal_in(args, in_the_future_from(args.as_of, now))
    as_of = moment(args.as_of or now, journal.settings.time_zone)
    return Asked(as_it_stood(journal, as_of), as_of)


def keepers_context(known: Asked, found: "Findings", needs: "Sequence[Alert]" = ()) -> "PageContext":
    """What a command says its findings with: the keeper's own view, in English, as pages would."""
    from generator.reckon.attention import by_subject
    from generator.render.audience import view
    from generator.render.base.context import PageContext, Shared
    from generator.render.base.ties import ties

    seen, say = view(known.journal, "own"), say_of(known.journal)
    return PageContext(
        Shared(seen, found, needs, by_subject(needs), known.as_of, say.words, say.display, {}, ties(seen))
    )


def say_of(journal: "Journal") -> "Say":
    """What says a journal's findings in English, in its units."""
    from generator.render.base.numbers import Say, display_of

    return Say(display_of(journal.settings, journal.systems, (log.units() for log in journal.logs.values())), english())


def english() -> "Words":
    """The catalogue that commands speak, whatever the journal's language."""
    from generator.render.base.words import words_of

    return words_of("en")


Answer = TypeVar("Answer")


def answered(answer: "Answer | CannotTell") -> "Answer":
    """The answer. If there is none, say in one line why and what would give one, and raise `Stop`."""
    from generator.reckon.finding import CannotTell
    from generator.render.base.why import cannot

    if isinstance(answer, CannotTell):
        told = cannot(english(), answer)
        print(told.reason, told.remedy)
        raise Stop
    return answer


# What a line may call all corals of its water.
_EVERY = ("all", "all corals", "every coral", "everything")


def of_each(changes: "Iterable[Fact]", journal: "Journal", system: "System") -> "Iterator[Fact]":
    """The changes, with what is said of all corals said of each that was in the system then. Raises `Stop`."""
    from generator.shorthand.finish import ALL

    for change in changes:
        if change.coral != ALL:
            yield change
            continue
        homes = {id: coral.placement_on(change.at.day) for id, coral in journal.corals.items()}
        here = [id for id, home in homes.items() if home is not None and home.system == system.id]
        if not here:
            raise Stop(f"no coral was in {system.id} on {change.at.day} (check the system and the day)")
        yield from (replace(change, coral=id) for id in here)


def _lines_lost(journal: "Journal", changes: "Iterable[Fact]") -> str:
    """The lines of which no coral is left here after the changes; "" if there is none."""
    gone = {change.coral: change.at.day for change in changes if change.into == "end"}
    here = [coral for id, coral in journal.corals.items() if coral.end is None and id not in gone]
    kept = {coral.line for coral in here}
    lost = sorted({journal.corals[id].line for id in gone if id in journal.corals} - kept)
    return f"no coral is left here of {counted(len(lost), 'line')}: {', '.join(lost)}" if lost else ""


def known_of(journal: "Journal", system: "System", coral: str, now: datetime) -> "Terms":
    """What is known for a line about a system, or about one of its corals. `now` is on the keeper's own clock."""
    from generator.render.base.numbers import display_of
    from generator.shorthand.finish import ALL, Terms

    display = display_of(journal.settings, {system.id: system}, [journal.log_of(system.id).units()])
    today = now.date()
    kits = _names(system.kits, {id: kit.name for id, kit in system.kits.items() if kit.name})
    if len(system.kits) == 1:  # 'with the kit'
        kits |= dict.fromkeys(("kit", "test kit"), next(iter(system.kits)))
    homes = {id: home for id, each in journal.corals.items() if (home := each.placement_on(today)) is not None}
    weighed = {id: each.weighings[-1].resolution for id, each in journal.corals.items() if each.weighings}
    places = {id: tuple(each.places) for id, each in journal.systems.items()}
    return Terms(
        now=now,
        units={**_USUAL, **display.units},
        names={
            "solution": _names(system.solutions, {}),
            "mix": _names(system.mixes, {}),
            "kit": kits,
            "coral": dict.fromkeys(_EVERY, ALL)
            | _names(journal.corals, {id: each.name for id, each in journal.corals.items()}),
            "place": _names([place for each in places.values() for place in each], {}),
            "system": _names(journal.systems, {id: each.name for id, each in journal.systems.items()}),
            "partner": _names(journal.partners, {id: each.name for id, each in journal.partners.items()}),
        },
        volume=system.water.volume,
        stocks={id: each.stock for id, each in system.solutions.items() if each.stock},
        coral=coral,
        homes={id: home.system for id, home in homes.items()} | {ALL: system.id},
        places=places,
        steps=weighed,
        date_order=journal.settings.date_order,
    )


def _names(ids: Iterable[str], names: Mapping[str, str]) -> dict[str, str]:
    """What each may be called, as names are compared: its id, its name, and its first name if no other has that."""
    from generator.shorthand.scanner import folded_text

    every = list(ids)
    firsts = [folded_text(names[id]).partition(" ")[0] for id in every if id in names]
    short = {first: id for id, first in zip((id for id in every if id in names), firsts, strict=True)}
    alone = {first: id for first, id in short.items() if firsts.count(first) == 1 and len(first) > 2}
    found = alone | {folded_text(names[id]): id for id in every if id in names} | {folded_text(id): id for id in every}
    # A keyboard without them writes ss for ß, ae for ä.
    return {name.translate(_SPELLED_OUT): id for name, id in found.items()} | found


_SPELLED_OUT = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "ß": "ss"})


_FACTS = {"doses": "dose of {}", "pumps": "pump of {}", "measured_rate": "measured rate of {}", "filled": "filled {}"}
_OF_CORALS = {
    "weighings": "weighed",
    "sizes": "measured",
    "placements": "moved",
    "cuttings": "cut",
    "end": "no longer here",
    "photos": "photo",
    "solutions": "described",
}


class _Since(Struct, frozen=True):
    """What readings are compared with: the last reading of each quantity, and what was predicted for now."""

    last: Mapping[str, "Reading"]
    predicted: Mapping[str, "Estimate"]


def echo(journal: "Journal", system: "System", changes: "Iterable[Fact]", now: datetime) -> Iterator[str]:
    """The lines for the keeper, by moment. `journal` is as it was before the changes."""
    from generator.door.door import grouped
    from generator.render.base.numbers import display_of

    changes = list(changes)
    display = display_of(journal.settings, {system.id: system}, [journal.log_of(system.id).units()])
    for at, of_moment in grouped((change.at, change) for change in changes).items():
        clock = f" {at.clock:%H:%M}" if at.clock and any(not change.coral for change in of_moment) else ""
        yield f"{system.name}, {at.day}{clock}"
        since = _since(journal, system, of_moment, at, now)
        for change in of_moment:
            grown = _grown(change, journal.corals[change.coral]) if change.coral in journal.corals else ""
            yield from (f"  {line}{grown}".replace("\u00a0", " ") for line in _said(change, since, system, display))
    yield from filter(None, [_lines_lost(journal, changes)])


def _since(journal: "Journal", system: "System", changes: "Iterable[Fact]", at: "Stamp", now: datetime) -> _Since:
    from generator.units.kinds import TAKEN_UP

    kinds = {kind for change in changes if change.into == "readings" for kind in change.values}
    if not kinds or at.clock is None:
        return _Since({}, {})
    moment = datetime.combine(at.day, at.clock, journal.settings.time_zone)
    log = journal.log_of(system.id).until(moment)
    last = {reading.kind: reading for reading in log.readings}
    predicted: Mapping[str, Estimate] = {}
    if kinds & set(TAKEN_UP) & last.keys():
        from generator.reckon.arrivals.known import predicted_readings

        predicted = predicted_readings(system, log, journal.corals, min(moment, now))
    return _Since(last, predicted)


def _said(change: "Fact", since: _Since, system: "System", display: "Display") -> Iterator[str]:
    from generator.units.quantity import Quantity

    values = change.values
    if change.into == "readings":
        for kind, value in values.items():
            assert isinstance(value, Quantity)
            yield _reading(kind, value, since, system, display)
    elif change.into in _FACTS:
        for name, value in values.items():
            yield f"{_FACTS[change.into].format(name)}: {value}"
    elif change.into == "kit":
        yield f"read with {values['kit']}"
    elif change.into == "note":
        yield f"{'private note' if 'private' in values else 'note'}: {values['note']}"
    else:
        parts = ", ".join(_part(name, value) for name, value in values.items())
        what = _OF_CORALS.get(change.into, change.into.replace("_", " "))
        yield f"{change.coral}, {what}: {parts}" if change.coral else f"{what}: {parts}"


def _grown(change: "Fact", coral: "Coral") -> str:
    """How much more or less a coral weighs or measures than the last time it was weighed or measured the same way."""
    from generator.units.quantity import Quantity

    if change.into == "weighings":
        now, way = change.values["mass"], ("in_water" in change.values, "holder" in change.values)
        last = [(each.at, each.mass) for each in coral.weighings if (each.in_water, each.holder is not None) == way]
    elif change.into == "sizes":
        now, last = change.values["length"], [(each.at, each.length) for each in coral.sizes]
    else:
        return ""
    before = max((each for each in last if each[0] < change.at.day), default=None, key=lambda each: each[0])
    if before is None or not isinstance(now, Quantity):
        return ""
    digits = max(now.digits, before[1].digits)
    change_of = now.value - before[1].to(now.unit)
    if round(change_of, digits) == 0.0:
        return f"; as on {before[0]} ({before[1]})"
    more = "more" if change_of > 0 else "less"
    return f"; {abs(change_of):.{digits}f} {now.unit} {more} than on {before[0]} ({before[1]})"


def _part(name: str, value: object) -> str:
    return name.replace("_", " ") if value == "true" else f"{name.replace('_', ' ')} {value}"


def _reading(kind: str, value: "Quantity", since: _Since, system: "System", display: "Display") -> str:
    from generator.reckon.water.canonical import canonical_value

    now = canonical_value(value)
    parts = [_band(kind, now, system)]
    last = since.last.get(kind)
    if last is None:
        parts.append("the first reading")
    else:
        day = last.at.astimezone(display.zone).date()
        change, finer = now - canonical_value(last.value), max(value, last.value, key=lambda each: each.digits)
        parts.append(_against(kind, change, finer, f"on {day} ({last.value})", display))
    expected = since.predicted.get(kind)
    if expected is not None:
        parts.append(_expected(kind, now, value, expected, display))
    return f"{kind} {value}: {'; '.join(part for part in parts if part)}"


def _against(kind: str, change: float, like: "Quantity", than: str, display: "Display") -> str:
    size, unit, digits = _change(kind, change, like, display)
    if round(abs(size), digits) == 0.0:
        return f"as {than}"
    return f"{abs(size):.{digits}f} {unit} {'higher' if size > 0 else 'lower'} than {than}"


def _expected(kind: str, now: float, like: "Quantity", expected: "Estimate", display: "Display") -> str:
    shown = display.estimate(kind, expected, of_level=True)
    digits, width = _change(kind, 0.0, like, display)[2], shown.high - shown.low
    while digits < 2 and width < 10.0**-digits:  # a reading of 8 would leave nothing of a range: 9 dKH (9 to 9)
        digits += 1
    told = f"predicted {shown.value:z.{digits}f} {shown.unit} ({shown.low:z.{digits}f} to {shown.high:z.{digits}f})"
    if expected.low <= now <= expected.high:
        return f"{told}: it fits"
    size, unit, _ = _change(kind, now - expected.value, like, display)
    return f"{told}: {abs(size):.{digits}f} {unit} {'higher' if size > 0 else 'lower'} than expected. Test again?"


def _change(kind: str, change: float, like: "Quantity", display: "Display") -> tuple[float, str, int]:
    """A difference in the unit shown, that unit, and how many decimals a reading of this kind is written with."""
    from generator.units.kinds import KINDS
    from generator.units.quantity import parse_quantity

    unit, digits = display.unit(kind), like.digits
    if like.unit != unit:
        # The decimals of another unit say nothing here: a specific gravity has four, its salinity one.
        usual = parse_quantity(KINDS[kind].example, kind)
        digits = usual.digits if usual.unit == unit else min(max(digits, 1), 2)
    return display.change(kind, change), unit, digits


def _band(kind: str, now: float, system: "System") -> str:
    from generator.reckon.water.canonical import canonical_value

    low, high = system.low.of(kind), system.high.of(kind)
    if low is not None and now < canonical_value(low):
        return f"below the band, which begins at {low}"
    if high is not None and now > canonical_value(high):
        return f"above the band, which ends at {high}"
    return ""
