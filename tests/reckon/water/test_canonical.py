"""Readings as written become values in one unit a kind."""

from datetime import UTC, datetime, timedelta

import pytest

from generator.reckon.water.canonical import (
    STANDARD_CONDITIONS,
    STANDS_FOR,
    Conditions,
    bound_uncertainty,
    canonical_errors,
    canonical_precision,
    canonical_value,
    canonical_values,
    resolution,
)
from generator.reckon.water.carbonate import ph_nbs_from_total
from generator.reckon.water.seawater import density
from generator.records.log import Reading
from generator.records.source import Source
from generator.records.system import Kit, Levels, System, Water
from generator.units.quantity import Quantity, parse_quantity

START = datetime(2026, 3, 1, 8, tzinfo=UTC)
HERE = Source("logs/lagoon/2026-03.yaml")


def _reading(kind: str, text: str, day: float = 0.0, kit: str | None = None) -> Reading:
    return Reading(source=HERE, at=START + timedelta(days=day), kind=kind, value=parse_quantity(text, kind), kit=kit)


def _written(text: str, kind: str) -> Quantity:
    return parse_quantity(text, kind)


def test_values_stay_in_the_order_of_the_readings():
    readings = [_reading("calcium", "420 mg/L", 3), _reading("alkalinity", "2.9 meq/L", 1), _reading("ph", "8.2 NBS")]
    assert canonical_values(readings) == [420.0, 2.9, 8.2]


def test_a_reading_per_kilogram_takes_the_salinity_and_temperature_last_read_before_it():
    alkalinity = _reading("alkalinity", "2400 µmol/kg", 5)
    readings = [
        _reading("salinity", "38.0 psu", 6),
        _reading("temperature", "28.0 °C", 4),
        alkalinity,
        _reading("salinity", "33.0 psu", 2),
        _reading("salinity", "36.0 psu", 0),
    ]
    assert canonical_values(readings)[2] == pytest.approx(2.4 * density(33.0, 28.0), rel=1e-12)


def test_a_salinity_read_with_it_counts():
    readings = [_reading("alkalinity", "2400 µmol/kg", 5), _reading("salinity", "33.0 psu", 5)]
    assert canonical_values(readings)[0] == pytest.approx(2.4 * density(33.0, 25.0), rel=1e-12)


def test_an_old_salinity_gives_way_to_the_standard_one():
    days = STANDS_FOR.days
    for age, salinity in ((days, 33.0), (days + 0.01, 35.0)):
        readings = [_reading("salinity", "33.0 psu", 0), _reading("alkalinity", "2400 µmol/kg", age)]
        assert canonical_values(readings)[1] == pytest.approx(2.4 * density(salinity, 25.0), rel=1e-12)


def test_neglecting_density_would_cost_2_3_percent():
    # Source: gsw 3.6.23, S 35 and 25 °C.
    (value,) = canonical_values([_reading("alkalinity", "2300 µmol/kg")])
    assert value == pytest.approx(2.35369, abs=5e-6)


def test_ph_on_the_total_scale_is_brought_to_the_scale_of_the_probe():
    readings = [_reading("salinity", "33.0 psu"), _reading("temperature", "27.0 °C"), _reading("ph", "8.05 total", 1)]
    assert canonical_values(readings)[2] == pytest.approx(float(ph_nbs_from_total(8.05, 33.0, 27.0)), abs=1e-12)


def test_a_salinity_by_specific_gravity_serves_the_readings_after_it():
    readings = [_reading("salinity", "1.0264 sg 25/25"), _reading("calcium", "412 mg/kg", 1)]
    salinity, calcium = canonical_values(readings)
    assert salinity == pytest.approx(35.035, abs=5e-4)  # Source: TEOS-10 by gsw
    assert calcium == pytest.approx(412.0 * density(salinity, 25.0), rel=1e-12)


def test_below_what_the_kit_sees_counts_as_half_the_bound():
    # Common practice; the spread of an even distribution is its width over the root of 12 (GUM 4.3.7).
    below = _written("<0.02 mg/L", "phosphate")
    assert canonical_value(below) == pytest.approx(0.01)
    assert bound_uncertainty(below) == pytest.approx(0.02 / 12**0.5)
    assert bound_uncertainty(_written("0.02 mg/L", "phosphate")) == 0.0


def test_a_bound_on_salinity_temperature_or_ph_is_not_halved():
    for text, kind, value in (("<20 °C", "temperature", 20.0), ("<7.5 NBS", "ph", 7.5), ("<30 psu", "salinity", 30.0)):
        assert canonical_value(_written(text, kind)) == value


@pytest.mark.parametrize(
    ("text", "kind", "expected"),
    [
        ("0.3 dKH", "alkalinity", 0.3 * 0.356652),
        ("0.9 °F", "temperature", 0.5),
        ("0.05 total", "ph", 0.05),
        ("0.5 psu", "salinity", 0.5),
        ("10 mg/kg", "calcium", 10.23344),
        ("0.0005 sg 25/25", "salinity", 0.0005 / 0.0010 * 1.320),
    ],
)
def test_a_precision_converts_as_a_difference(text: str, kind: str, expected: float):
    # The last: 1.0260 to 1.0270 is 1.319 of salinity (TEOS-10 by gsw).
    assert canonical_precision(_written(text, kind)) == pytest.approx(expected, rel=1e-3)


def test_a_precision_per_kilogram_takes_the_waters_density():
    heavy = canonical_precision(_written("10 mg/kg", "calcium"), Conditions(40.0, 20.0))
    assert heavy == pytest.approx(10.0 * density(40.0, 20.0))
    assert heavy > canonical_precision(_written("10 mg/kg", "calcium"), STANDARD_CONDITIONS)


@pytest.mark.parametrize(
    ("text", "kind", "step"),
    [("8.10 dKH", "alkalinity", 0.00356652), ("425 mg/L", "calcium", 1.0), ("<0.02 mg/L", "phosphate", 0.02)],
)
def test_the_step_written_to_is_the_last_digit_or_the_whole_bound(text: str, kind: str, step: float):
    assert resolution(_written(text, kind)) == pytest.approx(step, rel=1e-5)


def _system() -> System:
    def levels(**of: str) -> Levels:
        return Levels(source=HERE, **{kind: parse_quantity(text, kind) for kind, text in of.items()})

    return System(
        source=HERE,
        id="lagoon",
        name="Lagoon",
        water=Water(source=HERE, volume=_written("400 L", "volume"), uncertainty=_written("20 L", "volume")),
        low=levels(),
        high=levels(),
        kits={
            "drops": Kit(source=HERE, precision=levels(alkalinity="0.3 dKH", phosphate="0.01 mg/L")),
            "meter": Kit(source=HERE, precision=levels(alkalinity="0.1 dKH")),
        },
    )


def test_each_reading_has_the_error_of_its_own_kit():
    readings = [_reading("alkalinity", "8.1 dKH", 0, "drops"), _reading("alkalinity", "8.15 dKH", 1, "meter")]
    assert canonical_errors(_system(), readings) == pytest.approx([0.3 * 0.356652, 0.1 * 0.356652], rel=1e-5)


def test_a_bound_adds_its_own_spread_to_the_kits():
    errors = canonical_errors(_system(), [_reading("phosphate", "<0.06 mg/L", 0, "drops")])
    assert errors == pytest.approx([(0.01**2 + 0.06**2 / 12) ** 0.5])


def test_where_a_kit_declares_nothing_the_readings_must_tell():
    declared = _reading("alkalinity", "8.1 dKH", 0, "drops")
    for other in (_reading("alkalinity", "8.1 dKH", 1), _reading("phosphate", "0.1 mg/L", 1, "meter")):
        assert canonical_errors(_system(), [declared, other]) is None
