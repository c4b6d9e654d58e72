"""The water volume that a known dose tells."""

import numpy as np
import pytest
from msgspec.structs import replace

from generator.reckon.dosing.analysis import VolumeByDose, volume
from generator.reckon.finding import CannotTell
from generator.records.log import Dose, PumpRate, SystemLog
from generator.records.system import Water
from generator.units.kinds import MEQ_PER_DKH
from generator.units.quantity import parse_quantity
from tests.reckon.water.journals import here, moment, readings, system

pytestmark = pytest.mark.usefixtures("courses_kept")


def test_a_gram_formula_of_soda_in_100_l_raises_it_by_the_degree_it_should():
    # 2.9961 g of NaHCO3 (35.665 meq) raise 100 L by 1 dKH: standard atomic weights.
    assert pytest.approx(1.0, rel=1e-3) == 2.9961 / 84.006 * 1000.0 / 100.0 / MEQ_PER_DKH


def a_log(true_litres: float, seed: int = 1, kit: float = 0.05, doses: int = 4) -> SystemLog:
    """Forty days of readings twice a day around big doses in water of another volume than is declared."""
    rng = np.random.default_rng(seed)
    soda_dkh = 1000.0 / true_litres
    level, times, values, given = 8.0, [], [], []
    for half_day in range(80):
        at = half_day / 2.0
        times.append(at)
        values.append(level + rng.normal(0.0, kit))
        if half_day % 20 == 10 and len(given) < doses:
            given.append(at + 0.05)
            level += 0.5 * soda_dkh
        level += (0.3 * soda_dkh - 0.75 * 400.0 / true_litres) * 0.5
    return SystemLog(
        system="lagoon",
        readings=tuple(readings("alkalinity", "dKH", times, values)),
        doses=tuple(
            Dose(source=here(2000 + n), at=moment(at), solution="soda", amount=parse_quantity("0.5 L", "volume"))
            for n, at in enumerate(given)
        ),
        pumps=(PumpRate(source=here(3000), at=moment(0.0), solution="soda", rate=parse_quantity("0.3 L/day", "rate")),),
    )


def nothing_learned(kind: str) -> float | None:
    raise AssertionError(f"what readings of {kind} stray by is declared")


def by_log(true_litres: float, seed: int = 1, **kwargs) -> VolumeByDose | CannotTell:
    home, log = system("40 L", kit="0.05 dKH"), a_log(true_litres, seed, **kwargs)
    return volume(home, log, nothing_learned, moment(40.0))


def test_a_wrong_declared_volume_is_found_and_said():
    found = by_log(280.0)
    assert isinstance(found, VolumeByDose)
    assert found.volume.estimate.value == pytest.approx(280.0, rel=0.08)
    assert found.disagrees
    assert found.doses == 4


def test_a_dose_in_two_halves_tells_what_it_tells_in_one():
    home, log = system("40 L", kit="0.05 dKH"), a_log(280.0)
    halves = tuple(
        replace(dose, source=here(4000 + n), amount=parse_quantity("0.25 L", "volume"))
        for n, dose in enumerate(dose for dose in log.doses for _ in range(2))
    )
    whole = volume(home, log, nothing_learned, moment(40.0))
    split = replace(log, doses=halves)
    found = volume(home, split, nothing_learned, moment(40.0))
    assert isinstance(whole, VolumeByDose)
    assert isinstance(found, VolumeByDose)
    assert found.volume.estimate.value == pytest.approx(whole.volume.estimate.value, rel=1e-3)
    assert found.volume.estimate.high == pytest.approx(whole.volume.estimate.high, rel=1e-3)
    assert (found.doses, whole.doses) == (8, 4)


def test_dosing_again_from_the_same_stock_makes_the_dose_no_surer():
    # GUM 5.2.2: what all doses share, 3 % of measure and strength, stays 3 % of the volume.
    found = by_log(280.0)
    assert isinstance(found, VolumeByDose)
    parts = {part.cause: part.standard for part in found.volume.parts}
    assert parts["dose"] == pytest.approx(0.03 * found.volume.estimate.value)
    half = found.volume.estimate.value * np.log(found.volume.estimate.high / found.volume.estimate.value)
    assert half == pytest.approx(1.645 * np.hypot(parts["dose"], parts["readings-around"]), rel=1e-3)


def test_a_right_declared_volume_is_left_in_peace():
    found = by_log(400.0)
    assert isinstance(found, VolumeByDose)
    assert not found.disagrees


@pytest.mark.long
def test_nine_in_ten_logs_have_the_true_volume_in_the_interval():
    held = 0
    for seed in range(20):
        found = by_log(360.0, seed)
        assert isinstance(found, VolumeByDose)
        held += found.volume.estimate.low <= 360.0 <= found.volume.estimate.high
    # The doses of these logs are exact, so the interval, which allows them 3 %, may hold more than nine in ten.
    assert held >= 0.85 * 20


def test_a_log_without_a_dose_tells_no_volume():
    found = by_log(400.0, doses=0)
    assert isinstance(found, CannotTell)
    assert found.what_would_tell == "read-around-a-dose"


def test_the_declared_volume_and_its_uncertainty_stand_beside_it():
    found = by_log(400.0)
    assert isinstance(found, VolumeByDose)
    assert found.declared.value == 400.0
    assert found.declared.high == pytest.approx(400.0 + 1.645 * 40.0, rel=1e-3)
    water = Water(source=here(), volume=parse_quantity("400 L", "volume"), uncertainty=parse_quantity("0 L", "volume"))
    sure = replace(system(), water=water)
    assert sure.water.uncertainty.value == 0.0


def test_a_dose_counts_if_readings_are_before_and_after_it():
    home, log = system("40 L", kit="0.05 dKH"), a_log(400.0)
    for at, counts in ((-1.0, 0), (39.2, 1), (39.6, 0)):
        more = replace(log.doses[0], source=here(2999), at=moment(at), amount=parse_quantity("0.2 L", "volume"))
        dosed = replace(log, doses=tuple(sorted((*log.doses, more), key=lambda dose: dose.at)))
        found = volume(home, dosed, nothing_learned, moment(40.0))
        assert isinstance(found, VolumeByDose)
        assert found.doses == 4 + counts


def test_water_whose_volume_the_doses_told_is_told_the_same_again():
    home, log = system("40 L", kit="0.05 dKH"), a_log(280.0)
    first = volume(home, log, nothing_learned, moment(40.0))
    assert isinstance(first, VolumeByDose)
    told = parse_quantity(f"{first.volume.estimate.value:.3f} L", "volume")
    again = replace(home, water=replace(home.water, volume=told))
    second = volume(again, log, nothing_learned, moment(40.0))
    assert isinstance(second, VolumeByDose)
    assert second.volume.estimate.value == pytest.approx(first.volume.estimate.value, rel=0.003)
    assert not second.disagrees
