"""A forecast once more is taken up than before."""

from datetime import timedelta

import pytest
from msgspec.structs import replace

from generator.reckon.water.findings import Forecast
from generator.reckon.water.forecast import with_step
from generator.units.quantity import Estimate
from tests.reckon.water.journals import moment


def calm(error: float = 0.02) -> Forecast:
    """Alkalinity that stays at 2.9 meq/L for a month."""
    level = Estimate(2.9, 2.9 - error, 2.9 + error, "meq/L")
    track = tuple((moment(day / 2.0), level) for day in range(61))
    return Forecast("alkalinity", None, None, None, None, 30.0, track)


def test_a_level_falls_by_the_step_every_day_and_leaves_its_band_when_it_gets_there():
    found = with_step(calm(), Estimate(0.1, 0.1, 0.1, "meq/L/day"), 2.5, 3.2)
    assert found.leaves == "low"
    assert found.likely - moment(0.0) == pytest.approx(timedelta(days=4), abs=timedelta(hours=13))
    assert found.earliest <= found.likely <= found.latest


def test_a_level_that_can_only_be_zero_is_below_its_band_for_certain():
    nothing = replace(calm(), track=tuple((at, Estimate(0.0, 0.0, 0.0, "meq/L")) for at, _ in calm().track))
    found = with_step(nothing, Estimate(0.0, 0.0, 0.0, "meq/L/day"), 2.5, 3.2)
    assert (found.leaves, found.latest) == ("low", moment(0.0))


def test_how_unsure_the_step_is_spreads_the_days():
    sure = with_step(calm(), Estimate(0.1, 0.09, 0.11, "meq/L/day"), 2.5, 3.2)
    unsure = with_step(calm(), Estimate(0.1, 0.04, 0.16, "meq/L/day"), 2.5, 3.2)
    assert unsure.latest - unsure.earliest > sure.latest - sure.earliest


def test_a_step_down_leads_out_at_the_top():
    assert with_step(calm(), Estimate(-0.1, -0.12, -0.08, "meq/L/day"), 2.5, 3.2).leaves == "high"


@pytest.mark.parametrize(
    ("step", "low", "high", "leaves"),
    [
        (0.1, 2.5, None, "low"),
        (0.1, None, 3.2, None),
        (-0.1, None, 3.2, "high"),
        (-0.1, 2.5, None, None),
        # Nothing falls below nothing.
        (0.1, 0.0, None, None),
    ],
)
def test_a_band_with_one_end_is_left_there_or_not_at_all(
    step: float, low: float | None, high: float | None, leaves: str | None
):
    found = with_step(calm(), Estimate(step, step - 0.01, step + 0.01, "meq/L/day"), low, high)
    assert found.leaves == leaves
    assert (found.earliest is None) == (leaves is None)
