"""Whatever unit the page to write on gives a number in, the grammar takes it for that quantity."""

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest
from msgspec.structs import replace

from generator.shorthand.grammar import understood
from generator.shorthand.log_text import at_as_written
from generator.units.kinds import KINDS, WATER_KINDS
from generator.units.quantity import bounds
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


@pytest.mark.parametrize("unit", [unit.symbol for unit in KINDS["length"].units])
def test_a_size_is_understood_in_every_unit(unit: str) -> None:
    found = understood(f"2026-11-21: measured 4.5 {unit} x 3.2 {unit} x 2 {unit}", replace(KNOWN, coral="kelp-witch-1"))
    assert found.refusals == ()
    sides = {name: str(value) for name, value in found.changes[0].values.items()}
    assert sides == {"length": f"4.5 {unit}", "width": f"3.2 {unit}", "height": f"2 {unit}"}


@pytest.mark.parametrize("unit", [unit.symbol for unit in KINDS["mass"].units])
def test_a_weighing_is_understood_in_every_unit(unit: str) -> None:
    line = f"2026-11-21: weighed 4.5 {unit} holder 1.2 {unit} in water"
    found = understood(line, replace(KNOWN, coral="kelp-witch-1"))
    assert found.refusals == ()
    assert [str(found.changes[0].values[name]) for name in ("mass", "holder")] == [f"4.5 {unit}", f"1.2 {unit}"]


@pytest.mark.parametrize(
    ("word", "kind"), [("pump soda", "rate"), ("dosed soda", "volume"), ("water change", "volume")]
)
def test_what_is_given_is_understood_in_every_unit(word: str, kind: str) -> None:
    for unit in KINDS[kind].units:
        found = understood(f"2026-11-21 08:00: calcium 420 mg/L, {word} 4.5 {unit.symbol}", KNOWN)
        assert found.refusals == ()
        assert f"4.5 {unit.symbol}" in map(str, found.changes[1].values.values())
