"""Slips in readings: far from all others of one quantity in one system."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from math import log

from generator.read.draft import Draft
from generator.read.plausible import implausible
from generator.read.usual import Usual, amount, likely, or_noted, shown, slipped, usual_beside, warn
from generator.records.log import Reading, SystemLog
from generator.records.problem import Problem
from generator.units.kinds import KINDS
from generator.units.quantity import Quantity

# The least spread of readings that counts, by quantity in its canonical unit: what a kit and an ordinary
# month do. Of nutrients, the spread of the logarithm. Common practice, no source.
_LEAST_SPREAD = {
    "alkalinity": 0.15,
    "calcium": 15.0,
    "magnesium": 40.0,
    "potassium": 20.0,
    "strontium": 1.5,
    "boron": 1.0,
    "salinity": 0.5,
    "temperature": 0.6,
    "ph": 0.1,
}
_LEAST_SPREAD_OF_FORM = {"specific gravity": 0.0006, "conductivity": 0.8, "pH scale": 0.1}
_LEAST_LOG_SPREAD = 0.45
# How many spreads off a reading is odd: where a slip explains it, and where nothing does.
_ODD, _BEYOND = 4.5, 12.0


def noted(records: SystemLog, at: datetime, name: str, value: Quantity) -> bool:
    """Whether a note of that day or the next names the odd value: the keeper has seen it."""
    number = f"{value.value:.{value.digits}f}"
    near = [note.text.casefold() for note in records.notes if abs(note.at - at) <= timedelta(days=1)]
    return any(name.casefold() in text or number in text for text in near)


def unusual_readings(draft: Draft) -> Iterator[Problem]:
    """A reading far from all others around it, most of all where a slip of the hand explains it."""
    for records in draft.logs.values():
        series: dict[tuple[str, str], list[Reading]] = {}
        for reading in records.readings:
            form = "" if reading.value.has_factor else reading.value.unit
            series.setdefault((reading.kind, form), []).append(reading)
        for readings in series.values():
            values = [amount(reading.value) for reading in readings]
            for index, reading in enumerate(readings):
                doubt = _of_reading(reading.value, values, index)
                if doubt and not noted(records, reading.at, reading.kind, reading.value):
                    yield warn(reading.source, "unusual-reading", *doubt)


def _of_reading(written: Quantity, values: list[float], index: int) -> tuple[str, str] | None:
    value, usual = values[index], usual_beside(values, index)
    if usual is None or written.below or _distance(written, value, usual) < _ODD or implausible(written):
        return None
    # A change that the reading before or after shows too is a change of the water.
    beside = values[max(0, index - 1) : index] + values[index + 1 : index + 2]
    if any(abs(value - other) < 0.5 * abs(value - usual.middle) for other in beside):
        return None

    def fits(meant: Quantity) -> bool:
        return _distance(meant, amount(meant), usual) < 2.0

    if not slipped(written, fits) and _distance(written, value, usual) < _BEYOND:
        return None
    name = KINDS[written.kind].words or written.kind
    wrong = f"{name} of {written} is far from the readings around it, about {shown(usual.middle, written)}"
    return wrong, or_noted(likely(written, fits, usual.middle, "test again"))


def _distance(written: Quantity, value: float, usual: Usual) -> float:
    """How many spreads a value is from the usual one; of nutrients, only above it."""
    unit = KINDS[written.kind].unit(written.unit)
    if unit and unit.form:
        return abs(value - usual.middle) / max(usual.spread, _LEAST_SPREAD_OF_FORM[unit.form])
    if written.kind in _LEAST_SPREAD:
        return abs(value - usual.middle) / max(usual.spread, _LEAST_SPREAD[written.kind])
    if value <= 0.0 or usual.middle <= 0.0:
        return 0.0
    off = log(value / usual.middle) / max(_LEAST_LOG_SPREAD, usual.spread / usual.middle)
    return off if off > 0.0 else -off / 3.0
