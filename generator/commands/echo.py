"""What a line of shorthand was understood as: each fact, what changed since last time, and if it was to be expected."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from generator.units.quantity import Quantity

if TYPE_CHECKING:
    from generator.records.coral import Coral
    from generator.records.journal import Journal
    from generator.records.log import Reading
    from generator.records.system import System
    from generator.render.base.numbers import Display
    from generator.shorthand.finish import Change, Moment
    from generator.units.quantity import Estimate

_FACTS = {
    "doses": "dose of {}",
    "pumps": "pump of {}",
    "measured_rate": "measured rate of {}",
    "filled": "filled {}",
}
_OF_CORALS = {
    "weighings": "weighed",
    "sizes": "measured",
    "placements": "moved",
    "cuttings": "cut",
    "end": "no longer here",
    "photos": "photo",
    "solutions": "described",
}


@dataclass(frozen=True, slots=True)
class _Since:
    """What readings are compared with: the last reading of each quantity, and what was predicted for now."""

    last: Mapping[str, "Reading"]
    predicted: Mapping[str, "Estimate"]


def echo(journal: "Journal", system: "System", changes: "Iterable[Change]", now: datetime) -> Iterator[str]:
    """The lines for the keeper, by moment. `journal` is as it was before the changes."""
    from generator.render.base.numbers import display_of

    display = display_of(journal.settings, {system.id: system}, {system.id: journal.log_of(system.id)})
    moments: dict[Moment, list[Change]] = {}
    for change in changes:
        moments.setdefault(change.at, []).append(change)
    for at, of_moment in moments.items():
        clock = f" {at.clock:%H:%M}" if at.clock and any(not change.coral for change in of_moment) else ""
        yield f"{system.name}, {at.day}{clock}"
        since = _since(journal, system, of_moment, at, now)
        for change in of_moment:
            grown = _grown(change, journal.corals[change.coral]) if change.coral in journal.corals else ""
            yield from (f"  {line}{grown}".replace("\u00a0", " ") for line in _said(change, since, system, display))


def _since(journal: "Journal", system: "System", changes: "Iterable[Change]", at: "Moment", now: datetime) -> _Since:
    from generator.reckon.water.analysis import TAKEN_UP

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


def _said(change: "Change", since: _Since, system: "System", display: "Display") -> Iterator[str]:
    values = change.values
    if change.into == "readings":
        for kind, value in values.items():
            assert isinstance(value, Quantity)
            yield _reading(kind, value, since, system, display)
    elif change.into in _FACTS:
        for name, value in values.items():
            yield f"{_FACTS[change.into].format(name)}: {value}"
    elif change.into == "note":
        yield f"{'private note' if 'private' in values else 'note'}: {values['note']}"
    else:
        parts = ", ".join(_part(name, value) for name, value in values.items())
        what = _OF_CORALS.get(change.into, change.into.replace("_", " "))
        yield f"{change.coral}, {what}: {parts}" if change.coral else f"{what}: {parts}"


def _grown(change: "Change", coral: "Coral") -> str:
    """How much more or less a coral weighs or measures than the last time it was weighed or measured the same way."""
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


def _reading(kind: str, value: Quantity, since: _Since, system: "System", display: "Display") -> str:
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


def _against(kind: str, change: float, like: Quantity, than: str, display: "Display") -> str:
    size, unit, digits = _change(kind, change, like, display)
    if round(abs(size), digits) == 0.0:
        return f"as {than}"
    return f"{abs(size):.{digits}f} {unit} {'higher' if size > 0 else 'lower'} than {than}"


def _expected(kind: str, now: float, like: Quantity, expected: "Estimate", display: "Display") -> str:
    shown = display.estimate(kind, expected, of_level=True)
    _, _, digits = _change(kind, 0.0, like, display)
    told = f"predicted {shown.value:.{digits}f} {shown.unit} ({shown.low:.{digits}f} to {shown.high:.{digits}f})"
    if expected.low <= now <= expected.high:
        return f"{told}: it fits"
    size, unit, _ = _change(kind, now - expected.value, like, display)
    return f"{told}: {abs(size):.{digits}f} {unit} {'higher' if size > 0 else 'lower'} than expected. Test again?"


def _change(kind: str, change: float, like: Quantity, display: "Display") -> tuple[float, str, int]:
    """A difference in the unit shown, that unit, and how many decimals a reading of this kind is written with."""
    unit = display.unit(kind)
    return display.change(kind, change), unit, like.digits if like.unit == unit else max(like.digits, 1)


def _band(kind: str, now: float, system: "System") -> str:
    from generator.reckon.water.canonical import canonical_value

    low, high = system.low.of(kind), system.high.of(kind)
    if low is not None and now < canonical_value(low):
        return f"below the band, which begins at {low}"
    if high is not None and now > canonical_value(high):
        return f"above the band, which ends at {high}"
    return ""
