"""What the log's doses, inflows and water changes pay into the water."""

import numpy as np
import pytest
from msgspec.structs import replace

from generator.reckon.water.account import Account, Renewal, transitions
from generator.reckon.water.analysis import analyse_water
from generator.reckon.water.deliveries import CALCIUM_PER_MEQ, per_litre
from generator.reckon.water.dynamics import OneLevel
from generator.reckon.water.findings import Forecast
from generator.reckon.water.ledger import account_of, given_of_set, in_days, payments, renewals
from generator.records.log import Dose, Effluent, MeasuredRate, PumpRate, SystemLog, TopOff, WaterChange
from generator.records.system import Solution
from generator.units.kinds import MEQ_PER_DKH
from generator.units.quantity import parse_quantity
from tests.reckon.water.journals import here, levels, log_of, moment, readings, system
from tests.simulator.water import simulate_water

AS_OF = moment(30.0)


def of_compound(compound: str, strength: str) -> Solution:
    return Solution(source=here(), compound=compound, strength=parse_quantity(strength, "strength"))


def with_solutions(**solutions: Solution):
    return replace(system(), solutions=solutions)


def pump(solution: str, days: float, rate: str) -> PumpRate:
    return PumpRate(source=here(), at=moment(days), solution=solution, rate=parse_quantity(rate, "rate"))


def test_a_dose_pays_what_its_grams_hold():
    # +1 dKH in 100 L needs 1.8900 g Na2CO3 (arithmetic from standard atomic weights): in 400 L 126 mL at 60 g/L.
    dose = Dose(source=here(), at=moment(1.0), solution="soda", amount=parse_quantity("126 mL", "volume"))
    reef = with_solutions(soda=of_compound("Na2CO3", "60 g/L"))
    (line,) = payments(reef, SystemLog(system="lagoon", doses=(dose,)), "alkalinity", {}, AS_OF)
    assert line.change == pytest.approx(MEQ_PER_DKH, rel=1e-4)


def test_limewater_pays_no_more_than_dissolves():
    assert per_litre(of_compound("Ca(OH)2", "8 g/L"), "alkalinity") == per_litre(
        of_compound("Ca(OH)2", "2 g/L"), "alkalinity"
    )
    # Saturated limewater holds 43 to 47 meq/L (CRC Handbook, from memory).
    assert 43.0 < per_litre(of_compound("Ca(OH)2", "8 g/L"), "alkalinity") < 47.0


def test_a_reactor_pays_by_how_much_stronger_its_effluent_is_than_the_water():
    effluent = Effluent(
        source=here(),
        at=moment(0.0),
        flow=parse_quantity("10 L/day", "rate"),
        alkalinity=parse_quantity("25 dKH", "alkalinity"),
        calcium=None,
        magnesium=None,
    )
    log = SystemLog(system="lagoon", effluents=(effluent,))
    read = {"alkalinity": [(moment(0.0), 8.0 * MEQ_PER_DKH), (moment(10.0), 9.0 * MEQ_PER_DKH)]}
    lines = payments(system(), log, "alkalinity", read, AS_OF)
    # 10 L a day of 25 dKH into 400 L at 8 dKH, and at 9 dKH once that is read.
    per_day = [line.change / (in_days(line.until) - in_days(line.at)) / MEQ_PER_DKH for line in lines]
    assert per_day == pytest.approx([10.0 / 400.0 * 17.0, 10.0 / 400.0 * 16.0])
    # The medium is CaCO3, so calcium follows where its strength is not written.
    calcium = payments(system(), log, "calcium", read, AS_OF)
    assert [c.change for c in calcium] == pytest.approx([CALCIUM_PER_MEQ * line.change for line in lines])


def test_a_pump_set_anew_ends_what_it_gave_before_and_runs_on():
    log = SystemLog(system="lagoon", pumps=(pump("balanced", 0.0, "0.4 L/day"), pump("balanced", 10.0, "0.2 L/day")))
    account = account_of(payments(system(), log, "alkalinity", {}, AS_OF), (), AS_OF)
    first, second = account.steady
    assert (first.end, second.end) == (in_days(moment(10.0)), float("inf"))
    assert first.per_day == pytest.approx(2.0 * second.per_day)


def test_what_a_pump_was_measured_to_give_counts_for_its_own_solution_from_then_on():
    def paid(measured: str, rate: str = "0.3 L/day") -> float:
        given = MeasuredRate(source=here(), at=moment(10.0), solution=measured, rate=parse_quantity(rate, "rate"))
        log = SystemLog(system="lagoon", pumps=(pump("soda", 0.0, "0.4 L/day"),), measured_rates=(given,))
        return sum(line.change for line in payments(system(), log, "alkalinity", {}, AS_OF)) / MEQ_PER_DKH

    # 1000 dKH a litre in 400 L; before it was first measured a pump counts as it is set.
    assert paid("balanced") == pytest.approx(30.0)
    assert paid("soda") == pytest.approx(10.0 + 20.0 * 0.75)
    # A clogged pump gives nothing, whatever it is set to.
    assert paid("soda", "0 mL/day") == pytest.approx(10.0)


def test_a_pump_that_is_measured_and_set_anew_in_one_entry_was_measured_as_it_ran_before():
    def given(*pumps: PumpRate) -> float | None:
        rate = MeasuredRate(source=here(), at=moment(10.0), solution="soda", rate=parse_quantity("0.3 L/day", "rate"))
        return given_of_set(SystemLog(system="lagoon", pumps=pumps, measured_rates=(rate,)), "soda", moment(11.0))

    assert given(pump("soda", 0.0, "0.4 L/day"), pump("soda", 10.0, "0.5 L/day")) == pytest.approx(0.75)
    # What began with it, or stood still until then, was measured at the rate of the entry.
    assert given(pump("soda", 10.0, "0.5 L/day")) == pytest.approx(0.6)
    assert given(pump("soda", 0.0, "0 L/day"), pump("soda", 10.0, "0.5 L/day")) == pytest.approx(0.6)
    assert given(pump("soda", 11.0, "0.5 L/day")) is None


def test_plain_top_off_pays_nothing_and_with_limewater_it_pays():
    reef = with_solutions(limewater=of_compound("Ca(OH)2", "1.6 g/L"))

    def paid(solution: str | None, days: float = 1.0) -> float:
        top_off = TopOff(source=here(), at=moment(0.0), rate=parse_quantity("2 L/day", "rate"), solution=solution)
        lines = payments(reef, SystemLog(system="lagoon", top_offs=(top_off,)), "alkalinity", {}, moment(days))
        return sum(line.change for line in lines)

    assert paid(None) == 0.0
    assert paid("limewater") == pytest.approx(2.0 * 1.6 / 74.092 * 2000.0 / 400.0, rel=1e-4)
    assert paid("limewater", 3.0) == pytest.approx(3.0 * paid("limewater"))


def test_new_water_of_no_known_mix_leaves_the_level_less_sure_than_a_mix_does():
    def change(mix: str | None) -> WaterChange:
        return WaterChange(source=here(), at=moment(1.0), volume=parse_quantity("40 L", "volume"), mix=mix)

    reef = replace(system(), mixes={"sea": levels(alkalinity="8.0 dKH")})
    log = SystemLog(system="lagoon", water_changes=(change("sea"), change(None)))
    known, unknown = renewals(reef, log, "alkalinity", 8.0 * MEQ_PER_DKH)
    assert known.fraction == pytest.approx(0.1)
    assert unknown.error > 3.0 * known.error > 0.0


def test_a_water_change_leaves_the_rest_of_the_excess_and_the_mixs_own_doubt():
    renewal = Renewal(at=0.5, fraction=0.25, level=8.0, error=0.4)
    _, step = transitions(OneLevel(0.0), [Account(renewals=(renewal,))], [], [0.0, 1.0])
    assert (step.F @ np.array([10.0, 0.0, 0.0]) + step.c)[0] == pytest.approx(8.0 + 0.75 * 2.0)
    assert step.fixed[0, 0] == pytest.approx((0.25 * 0.4) ** 2)


def test_a_standing_dose_holds_the_level_in_the_forecast_and_one_switched_off_does_not():
    times = np.arange(0.0, 30.0)
    read = tuple(readings("alkalinity", "dKH", times, np.full(30, 8.2)))
    running = SystemLog(system="lagoon", readings=read, pumps=(pump("soda", 0.0, "0.4 L/day"),))
    stopped = replace(running, pumps=(*running.pumps, pump("soda", 29.4, "0 L/day")))
    ahead = [analyse_water(system(), log, [], moment(29.5)).forecasts["alkalinity"] for log in (running, stopped)]
    assert all(isinstance(forecast, Forecast) for forecast in ahead)
    assert ahead[0].likely is None
    # 0.4 L of 1000 dKH a day in 400 L is 1 dKH a day: without it the band's end at 7.5 dKH is near.
    assert (ahead[1].likely - moment(29.5)).total_seconds() / 86400.0 == pytest.approx(0.7, abs=0.5)


def test_where_no_kit_is_declared_its_error_is_learned_from_the_readings_and_said_so():
    run = simulate_water(np.random.default_rng(3), 80.0, tests_every=(1.0, 2.0), kit_error=0.4, drift=0.01)
    log = log_of(run, with_calcium=False)
    bare = replace(log, readings=tuple(replace(reading, kit=None) for reading in log.readings))
    found = analyse_water(system(), bare, [], moment(run.end)).uptake["alkalinity"]
    assert found.kit_error.known == "learned"
    assert found.kit_error.value / MEQ_PER_DKH == pytest.approx(0.4, rel=0.35)
