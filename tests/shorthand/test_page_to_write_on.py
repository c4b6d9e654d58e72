"""Whatever unit the page to write on gives a number in, the grammar takes it for that quantity."""

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from generator.shorthand.grammar import understood
from generator.shorthand.log_text import at_as_written
from generator.units.bounds import bounds
from generator.units.kinds import KINDS, WATER_KINDS
from tests.shorthand.known import KNOWN


@pytest.mark.parametrize(("kind", "unit"), [(kind, unit.symbol) for kind in WATER_KINDS for unit in KINDS[kind].units])
def test_every_quantity_is_understood_in_each_of_its_units(kind: str, unit: str) -> None:
    low, high = bounds(kind, unit)
    written = f"{low + 0.4 * (high - low):.4f} {unit}"
    found = understood(f"2026-11-21 08:00: {kind} {written}, calcium 430 mg/L", KNOWN)
    assert found.refusals == ()
    assert str(found.changes[0].values[kind]) == written


def test_an_hour_that_clocks_show_twice_is_written_with_its_offset() -> None:
    azores = ZoneInfo("Atlantic/Azores")
    assert at_as_written(datetime(2026, 10, 25, 0, 30, tzinfo=azores)) == "2026-10-25 00:30+00:00"
    assert at_as_written(datetime(2026, 10, 25, 0, 30, fold=1, tzinfo=azores)) == "2026-10-25 00:30-01:00"
    assert at_as_written(datetime(2026, 10, 25, 8, 30, tzinfo=azores)) == "2026-10-25 08:30"
