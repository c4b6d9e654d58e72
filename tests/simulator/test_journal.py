"""Simulated journals are whole, repeatable, and their truth keeps the laws."""

import subprocess
import sys
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
import yaml
from msgspec.structs import replace

from tests.simulator.growth import grams_per_day, mass_of, size, uptake_per_litre
from tests.simulator.journal import random_plan, simulate
from tests.simulator.plan import Faults
from tests.simulator.run import run
from tests.simulator.tank import IONS


@pytest.fixture(scope="module")
def simulated():
    return simulate(7, systems=3, days=400, corals=24, entries=5)


def test_all_that_came_and_went_accounts_for_what_is_there(simulated):
    # Conservation of mass; no source needed.
    for system in simulated.truth.systems.values():
        for kind in IONS:
            ledger = system.ledger[kind]
            sums = ledger["start"] + ledger["paid"] + ledger["changed"] + ledger["reacted"] - ledger["taken"]
            assert ledger["end"] == pytest.approx(sums, rel=1e-9)
            assert ledger["paid"] + ledger["reacted"] > 0.0 or kind == "magnesium"


def test_calcium_taken_up_follows_from_alkalinity_taken_up(simulated):
    # Source: Dickson et al. 2007, ch. 2, with IUPAC 2021 weights: 7.14696 mg/L Ca a dKH.
    for system in simulated.truth.systems.values():
        for day in system.days:
            assert day.calcium_uptake == pytest.approx(7.14696 * day.alkalinity_uptake, rel=1e-6)


def test_a_gram_of_calcium_carbonate_a_day_in_200_litres():
    # 0.28014 dKH and 2.00218 mg/L Ca a day; arithmetic from abridged atomic weights.
    uptake = uptake_per_litre(1.0, 200.0)
    assert uptake["alkalinity"] * 2.80385 == pytest.approx(0.28014, rel=1e-4)
    assert uptake["calcium"] == pytest.approx(2.00218, rel=1e-4)


@pytest.mark.parametrize("mass", [900.0, 3100.0])
def test_a_tabling_colony_lays_down_on_its_plan_what_such_colonies_do(mass):
    # 18.5 to 27.6 kg a square metre of plan a year: Courtney et al. 2024, tabulate Acropora, 25 to 75 %.
    length, width, _ = size("tabling", mass)
    square_metres = np.pi / 4.0 * length * width / 1e4
    assert 18.5 < grams_per_day("tabling", mass, 1.0) * 0.36525 / square_metres < 27.6
    assert mass_of("tabling", length) == pytest.approx(mass)


def test_a_boulder_weighs_what_half_an_ellipsoid_of_porites_does():
    # Skeleton of massive Porites 1.264 g/cm3: Perry et al. 2018, ReefBudget, rates of the Indo-Pacific, version 1.3.
    length, width, height = size("massive", 8900.0)
    assert 2.0 / 3.0 * np.pi * length / 2.0 * width / 2.0 * height * 1.264 == pytest.approx(8900.0, rel=0.05)


def test_the_same_seed_gives_the_same_bytes(simulated):
    assert simulate(7, systems=3, days=400, corals=24, entries=5).files == simulated.files
    assert simulate(8, systems=3, days=400, corals=24, entries=5).files != simulated.files


def test_the_log_and_the_true_uptake_lead_to_the_true_level():
    """An account by hand of pumps, doses, new water and uptake ends where the water truly ended."""
    drawn = random_plan(np.random.default_rng(11), 1, 120, 6)
    plan = replace(drawn, faults=Faults(forgotten=0.0))
    happened = run(plan, 11)
    truth, system, zone = happened.truth.systems["system-1"], plan.systems[0], ZoneInfo(plan.zone)
    strength = system.solutions[0].alkalinity / truth.litres
    happenings = [(moment.at.replace(tzinfo=zone), moment.parts) for moment in happened.logs[system.id]]
    happenings += [
        (datetime.combine(day.day, time(), zone), {"uptake": day.alkalinity_uptake / 2.80385}) for day in truth.days
    ]
    happenings.append((datetime.combine(truth.days[-1].day + timedelta(days=1), time(), zone), {}))
    level, rate, uptake, before = 2.92, 0.0, 0.0, happenings[-1][0]
    for at, parts in sorted(happenings, key=lambda one: one[0].astimezone(UTC)):
        gap = max(0.0, (at.astimezone(UTC) - before.astimezone(UTC)).total_seconds() / 86400.0)
        level += (rate * strength - uptake) * gap
        before, uptake = at, parts.get("uptake", uptake)
        rate = float(parts["pumps"]["soda"].split()[0]) / 1e3 if "pumps" in parts else rate
        level += float(parts["doses"]["soda"].split()[0]) / 1e3 * strength if "doses" in parts else 0.0
        level += system.change_litres / truth.litres * (2.85 - level) if "water_change" in parts else 0.0
    assert rate > 0.0
    assert level * 2.80385 == pytest.approx(truth.days[-1].levels["alkalinity"], abs=1e-3)


def test_readings_stray_from_the_truth_by_the_kit_error(simulated):
    strays = []
    for id, system in simulated.truth.systems.items():
        levels = {day.day: day.levels["calcium"] for day in system.days}
        for path, text in simulated.files.items():
            if path.startswith(f"logs/{id}/"):
                for moment in yaml.load(text, yaml.CSafeLoader):
                    read = moment.get("readings", {}).get("calcium")
                    if read:
                        day = date.fromisoformat(str(moment["at"])[:10])
                        strays.append(float(read.split()[0]) - levels[day])
    # 8 mg/L a repeat, 5 mg/L steps, and up to a day between the reading and the midnight compared.
    assert 6.5 < np.std(strays) < 10.5
    assert abs(np.mean(strays)) < 3.0


def test_people_are_people(simulated):
    """A mistyped reading, a forgotten line, gaps on holidays."""
    whats = {one.what.split()[0] for one in simulated.truth.unlogged}
    assert "mistyped" in whats
    assert "a" in whats
    days = sorted(
        str(moment["at"])[:10]
        for path, text in simulated.files.items()
        if path.startswith("logs/system-1/")
        for moment in yaml.load(text, yaml.CSafeLoader)
        if "readings" in moment
    )
    gaps = np.diff([date.fromisoformat(day).toordinal() for day in days])
    assert gaps.max() >= 8


def test_the_command_writes_a_journal(tmp_path: Path):
    command = [sys.executable, "-m", "tests.simulator", str(tmp_path / "out"), "--days", "60", "--corals", "4"]
    done = subprocess.run([*command, "--entries", "2"], capture_output=True, text=True, check=True)
    assert "files in" in done.stdout
    assert (tmp_path / "out" / "journal.yaml").is_file()
    assert len(list((tmp_path / "out" / "corals").iterdir())) == 4
