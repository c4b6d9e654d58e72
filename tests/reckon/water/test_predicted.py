"""What is only predicted keeps its own two sides: a newcomer takes up something, and may take up much."""

from datetime import timedelta
from math import exp, hypot
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from generator.read.load import load
from generator.reckon.analysis.journal import Findings, analyse
from generator.reckon.finding import Finding
from generator.reckon.water.calcification import _of, two_sides
from generator.reckon.water.findings import Forecast
from generator.records.journal import as_it_stood
from generator.units.kinds import MEQ_PER_DKH
from generator.units.quantity import Estimate, coverage_factor
from tests.commands.two_tanks import AT, write

# As wide as the published methods leave a species of which only the genus is known.
COMING = """\
since: 2026-10-20
date: 2026-10-30 14:00
coming:
  - {coral: heavy-1, name: Heavy, species: Pocillopora sp., form: branching, length: 61 cm, width: 46 cm, height: 28 cm,
     mass: 9.5 kg, system: bay}
"""


@pytest.fixture(scope="module")
def arrived(tmp_path_factory: pytest.TempPathFactory) -> Findings:
    journal = load(write(tmp_path_factory.mktemp("arrived"), "newcomer", arrived=True), AT).journal
    assert journal is not None
    return analyse(as_it_stood(journal, AT), AT)


@given(st.floats(0.01, 5.0), st.floats(0.1, 1.5), st.floats(0.0, 2.0))
def test_uptake_with_a_predicted_rise_is_never_less_than_before_and_reaches_as_far_up_as_predicted(
    middle: float, spread: float, measured: float
) -> None:
    reach = coverage_factor() * spread
    step = Estimate(middle, middle * exp(-reach), middle * exp(reach), "meq/L/day")
    as_normal = hypot(measured, coverage_factor() * step.standard)
    below, above = two_sides(as_normal, as_normal, [step])
    assert below == pytest.approx(hypot(measured, middle - step.low))
    assert above == pytest.approx(hypot(measured, step.high - middle))
    assert below <= measured + middle


def test_the_first_step_of_a_heavy_colony_is_more_than_what_runs_before_it(tmp_path: Path) -> None:
    write(tmp_path)
    (tmp_path / "plans").mkdir()
    (tmp_path / "plans/heavy.yaml").write_text(COMING, encoding="utf-8")
    journal = load(tmp_path, AT).journal
    assert journal is not None
    (plan,) = analyse(as_it_stood(journal, AT), AT).plans
    steps = plan.landings[0].waters[0].steps
    assert steps is not None
    assert {step.supply for step in steps.pumps} == {"soda", "chloride"}
    assert all(step.base < step.first <= step.likely <= step.cap for step in steps.pumps)


def test_uptake_after_an_arrival_is_at_least_what_was_measured_before_and_what_it_takes_at_least(
    arrived: Findings,
) -> None:
    (event,) = arrived.predicted["bay"]
    uptake = arrived.water["bay"].uptake["alkalinity"].per_day
    assert isinstance(uptake, Finding)
    assert event.step is not None
    assert uptake.estimate.low > uptake.estimate.value - event.step.value - 0.1
    assert uptake.estimate.high - uptake.estimate.value >= event.step.high - event.step.value


def test_a_first_reading_soon_after_an_arrival_does_not_silence_what_was_predicted(tmp_path: Path) -> None:
    write(tmp_path)
    (tmp_path / "plans").mkdir()
    (tmp_path / "plans/heavy.yaml").write_text(f"{COMING}arrived: {AT:%Y-%m-%d %H:%M}\n", encoding="utf-8")
    soon = AT + timedelta(minutes=90)
    with (tmp_path / "logs/bay/2026-10.yaml").open("a", encoding="utf-8") as log:
        log.write(f"- at: {soon:%Y-%m-%d %H:%M}\n  readings: {{alkalinity: 7.6 dKH}}\n")
    journal = load(tmp_path, soon).journal
    assert journal is not None
    water = analyse(as_it_stood(journal, soon), soon).water["bay"]
    uptake = water.uptake["alkalinity"].per_day
    assert isinstance(uptake, Finding)
    assert uptake.estimate.value > 1.1 * MEQ_PER_DKH, "what was measured before it"
    assert uptake.estimate.low >= 0.0


def test_a_forecast_falls_as_far_as_the_most_it_may_take_and_rises_no_further_than_if_it_took_nothing(
    arrived: Findings,
) -> None:
    (event,) = arrived.predicted["bay"]
    forecast = arrived.water["bay"].forecasts["alkalinity"]
    assert isinstance(forecast, Forecast)
    assert event.step is not None
    (_, now), (at, level) = forecast.track[0], forecast.track[4]
    days = (at - event.event.at).total_seconds() / 86400.0
    assert level.value - level.low >= (event.step.high - event.step.value) * days
    above = level.high - level.value
    assert above < level.value - level.low
    assert above <= hypot((event.step.value - event.step.low) * days, now.high - now.value + 0.2 * days)


def test_an_uptake_keeps_the_sides_of_what_is_predicted_in_it_and_never_falls_below_nothing():
    step = Estimate(0.3, 0.1, 0.9, "meq/L/day")
    normal = coverage_factor() * step.standard
    read = Finding(Estimate(0.5, 0.5 - normal, 0.5 + normal, "meq/L/day"), "uptake")
    widened = _of(read, [(AT, step)], 1.0)
    assert isinstance(widened, Finding)
    assert (widened.estimate.low, widened.estimate.high) == pytest.approx((0.5 - 0.2, 0.5 + 0.6))
    # In 100 L the same is a hundred times as much.
    amount = _of(replace(read, estimate=read.estimate.scaled(100.0, "meq/day")), [(AT, step)], 100.0)
    assert isinstance(amount, Finding)
    assert (amount.estimate.low, amount.estimate.high) == pytest.approx((50.0 - 20.0, 50.0 + 60.0))
    little = _of(replace(read, estimate=Estimate(0.1, 0.0, 0.1 + normal, "meq/L/day")), [(AT, step)], 1.0)
    assert isinstance(little, Finding)
    assert little.estimate.low == pytest.approx(0.0)
