"""A worn pump, told by the gap between alkalinity and calcium. A larger version: ``python -m tests.accuracy``."""

from itertools import product

import numpy as np
from msgspec.structs import replace

from generator.reckon.attention.water import WORN_FROM
from generator.reckon.water.deliveries import Pump, deliveries
from generator.records.log import PumpRate, SystemLog
from generator.records.system import Solution
from generator.units.quantity import parse_quantity
from tests.accuracy.pumps import BEGINS, a_tank, both
from tests.reckon.water.journals import here, levels, moment, system


def test_a_pump_that_lost_a_third_in_seven_weeks_is_named_and_the_other_is_not():
    lost, named, held = 0.2 * 50.0 / 30.0, [], []
    for by_soda, seed in product((True, False), range(3)):
        found = both(a_tank(np.random.default_rng([81, seed]), 0.2, by_soda, BEGINS + 50.0))
        worn = 0 if by_soda else 1
        odds = [float(found.now.weights[found.worn(pump)].sum()) for pump in (0, 1)]
        named.append(odds[worn] >= WORN_FROM)
        assert odds[1 - worn] < WORN_FROM
        _, low, high = found.lacks(worn).interval()
        held.append(low < lost < high)
    assert np.mean(named) >= 0.5
    assert np.mean(held) >= 0.8


def test_good_pumps_are_left_in_peace():
    for seed in range(2):
        kept = a_tank(np.random.default_rng([82, seed]), 0.0, True, 120.0)
        found = both(kept)
        assert max(float(found.now.weights[found.worn(pump)].sum()) for pump in (0, 1)) < WORN_FROM


def test_a_pump_whose_rate_was_measured_lacks_nothing_from_then_on():
    kept = a_tank(np.random.default_rng([81, 0]), 0.2, True, BEGINS + 50.0)
    last = float(kept.times[-1])
    worn, measured = both(kept), both(kept, measured=((last,), ()))
    assert float(worn.lacks(0).moments()[0]) > 0.2
    assert not measured.worn(0).any()
    assert float(np.abs(measured.lacks(0).moments()[0])) < 1e-9


def test_only_a_pump_that_brings_one_of_the_two_can_be_told_by_their_gap():
    home = replace(
        system(),
        solutions={
            "soda": Solution(source=here(), declared=levels(alkalinity="1000 dKH")),
            "chloride": Solution(source=here(), declared=levels(calcium="7000 mg/L")),
            "balanced": Solution(source=here(), declared=levels(alkalinity="1000 dKH", calcium="7147 mg/L")),
        },
    )
    rate = parse_quantity("50 mL/day", "rate")
    log = SystemLog(
        system="lagoon",
        pumps=tuple(
            PumpRate(source=here(n), at=moment(0.0), solution=s, rate=rate) for n, s in enumerate(home.solutions)
        ),
    )
    found = deliveries(home, log)
    columns = len(found.factors), len(found.factors) + 1
    assert found.pumps == (Pump("soda", columns[0], ()), Pump("chloride", columns[1], ()))
    assert columns[0] in found.by["soda", "pump"]
    assert not {*columns} & {*found.by["balanced", "pump"]}
