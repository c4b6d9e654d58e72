"""When a test will tell a newcomer, by the kit that reads it."""

import numpy as np
import pytest
from msgspec.structs import replace

from generator.reckon.arrivals.observed import baseline_of, readings_that_tell
from tests.reckon.water.journals import log_of, moment, system
from tests.simulator.water import simulate_water


def test_a_kit_nobody_described_tells_a_newcomer_about_as_soon_as_one_described_as_it_is() -> None:
    run = simulate_water(np.random.default_rng(3), 60.0, tests_every=(1.0, 2.0), kit_error=0.15)
    described = log_of(run, with_calcium=False)
    unknown = replace(described, readings=tuple(replace(reading, kit=None) for reading in described.readings))
    at = moment(run.end)
    first = []
    for log in (described, unknown):
        plan = readings_that_tell(baseline_of(system(kit="0.15 dKH"), log, (), at), at, 2.0)
        assert plan is not None
        first.append((plan.readings[0].at - at).total_seconds())
    assert first[1] == pytest.approx(first[0], rel=0.5)
