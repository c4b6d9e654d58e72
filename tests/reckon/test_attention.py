"""What calls for a person, and what does not."""

from datetime import UTC
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from msgspec.structs import replace

from generator.reckon.analysis.journal import Findings
from generator.reckon.attention import Alert, alerts
from generator.reckon.attention.alert import TRAITS, alert
from generator.reckon.attention.water import of_water
from generator.reckon.water.analysis import analyse_water
from generator.reckon.water.findings import Story
from generator.records.journal import Journal
from generator.records.log import Dismissal, PumpRate, SystemLog
from generator.records.settings import Settings
from generator.units.quantity import Estimate, parse_quantity
from tests.reckon.water.journals import here, levels, log_of, moment, readings, system
from tests.reckon.water.waters import log as log_of_readings
from tests.reckon.water.waters import read, reef
from tests.simulator.water import simulate_water

WATER = analyse_water(reef(), SystemLog(system="lagoon"), [], moment(0.0))
SETTINGS = Settings(source=here(), title="Reef", keeper="Keeper", time_zone=ZoneInfo("UTC"))


def of(log: SystemLog, days: float, kit: str = "0.15 dKH") -> tuple[Alert, ...]:
    lagoon = system(kit=kit)
    journal = Journal(settings=SETTINGS, systems={"lagoon": lagoon}, logs={"lagoon": log})
    as_of = moment(days).astimezone(UTC)
    return alerts(journal, Findings(as_of, {"lagoon": analyse_water(lagoon, log, [], as_of)}))


def kinds(found: tuple[Alert, ...]) -> list[str]:
    return [alert.kind for alert in found]


def steady(values, every: float = 1.0) -> SystemLog:
    times = np.arange(len(values)) * every
    return SystemLog(system="lagoon", readings=tuple(readings("alkalinity", "dKH", times, values)))


def test_water_held_in_its_band_needs_nobody():
    rng = np.random.default_rng(1)
    assert of(steady(8.2 + rng.normal(0, 0.03, 40)), 39.2, kit="0.05 dKH") == ()


def test_a_reading_outside_its_band_comes_first():
    found = of(steady(np.linspace(8.2, 7.2, 30)), 29.1)
    assert found[0].kind == "out-of-band"
    assert found[0].facts["side"] == "low"


def test_water_on_its_way_out_of_the_band_is_said_before_it_is_out():
    found = of(steady(np.linspace(8.6, 7.7, 30)), 29.1)
    assert "leaving-band" in kinds(found)
    assert "out-of-band" not in kinds(found)


def test_only_a_new_test_near_an_end_cannot_tell_when_a_level_leaves_its_band_at_the_earliest():
    log = steady(np.linspace(8.6, 7.61, 30))

    def earliest(days: float):
        return next(each.facts["earliest"] for each in of(log, days) if each.kind == "leaving-band")

    assert earliest(29.1) is None, "it may stand on either side of the end"
    assert earliest(30.5) == moment(30.5).date(), "since the old test it may have left: perhaps today"


def test_a_wild_last_reading_asks_to_be_read_again_rather_than_to_be_acted_on():
    values = np.full(30, 8.2) + np.random.default_rng(2).normal(0, 0.05, 30)
    values[-1] = 9.6
    found = kinds(of(steady(values), 29.1, kit="0.08 dKH"))
    assert {"doubtful-reading", "two-explanations"} & set(found)
    assert "out-of-band" not in found


def test_a_doubtful_reading_followed_by_a_good_one_is_not_asked_again():
    values = np.full(30, 8.2) + np.random.default_rng(2).normal(0, 0.05, 30)
    values[26] = 9.6
    for n, asked in ((27, True), (30, False)):
        found = kinds(of(steady(values[:n]), n - 0.9, kit="0.08 dKH"))
        assert bool({"doubtful-reading", "two-explanations"} & set(found)) == asked


@pytest.mark.parametrize(("last", "urgency", "first"), [(9.1, "check", False), (9.6, "act", True)])
def test_a_band_left_by_less_than_the_kit_errs_asks_for_another_test_and_not_for_action(last, urgency, first):
    # The band ends at 9.0 dKH; 90 of 100 repeats of the kit lie within 1.645 times 0.15 dKH (NIST handbook).
    found = of(steady(np.linspace(8.2, last, 30)), 29.1)
    beyond = out_of_band(found)
    assert beyond.urgency == urgency
    assert (beyond.stake > TRAITS["leaving-band"].stake) == first


def test_a_quantity_is_named_once_its_reading_is_twice_as_old_as_it_may_be_and_tells_nothing_more():
    # Alkalinity is read every 7 days at the latest; the last reading is of day 19.
    log = steady(np.full(20, 8.2))
    assert "no-reading" not in kinds(of(log, 32.0))
    assert [alert.facts["usual"] for alert in of(log, 34.0) if alert.kind == "no-reading"] == [7]


def test_an_unlogged_dose_is_named_for_a_month_and_no_longer():
    run = simulate_water(np.random.default_rng(3), 60.0, tests_every=(1.0, 2.0), drift=0.015, unlogged=((20.2, 1.2),))
    assert "unexplained-shift" in kinds(of(log_of(run), 40.0))
    assert "unexplained-shift" not in kinds(of(log_of(run), 59.0))


@pytest.mark.parametrize("when", [28.0, 29.05])
def test_what_the_keeper_dismissed_stays_away(when):
    log = steady(np.linspace(8.2, 7.2, 30))
    alert = next(i for i in of(log, 29.1) if i.kind == "out-of-band")
    told = Dismissal(source=here(), at=moment(when), alert=alert.id, reason="kit swapped, see note")
    found = of(replace(log, dismissals=(told,)), 29.1)
    assert alert.id not in [i.id for i in found]


def test_an_item_carries_the_lines_it_rests_on():
    for found in of(steady(np.linspace(8.2, 7.2, 30)), 29.1):
        assert found.inputs


def out_of_band(found: tuple[Alert, ...]) -> Alert:
    return next(alert for alert in found if alert.kind == "out-of-band")


def dismissing(log: SystemLog, alert: str, day: float) -> SystemLog:
    told = Dismissal(source=here(), at=moment(day), alert=alert, reason="kit swapped, see note")
    return replace(log, dismissals=(*log.dismissals, told))


def test_a_matter_keeps_its_name_while_nothing_new_is_read():
    log = steady(np.linspace(8.6, 7.3, 30))
    names = [
        sorted(alert.id for alert in of(log, 29.0 + later) if alert.kind != "no-reading") for later in (0.1, 1.0, 3.0)
    ]
    assert names[0]
    assert names[0] == names[1] == names[2]


def test_a_band_still_left_by_as_much_at_the_next_reading_is_the_same_matter():
    values = [8.2, 8.2, 8.1, 7.2, 7.2]
    name = out_of_band(of(steady(values), 4.1)).id
    later = dismissing(steady([*values, 7.2, 7.15]), name, 4.2)
    assert "out-of-band" not in kinds(of(later, 6.1))


def test_a_dismissed_matter_that_has_since_grown_by_more_than_half_comes_back():
    values = [8.2, 8.2, 8.1, 7.2, 7.2]
    name = out_of_band(of(steady(values), 4.1)).id
    later = dismissing(steady([*values, 7.0, 6.9]), name, 4.2)
    assert out_of_band(of(later, 6.1)).id != name


def test_a_band_left_anew_after_a_return_is_a_new_matter():
    values = [8.2, 8.2, 8.1, 7.2, 7.2]
    name = out_of_band(of(steady(values), 4.1)).id
    later = dismissing(steady([*values, 8.0, 8.1, 7.2]), name, 4.2)
    assert "out-of-band" in kinds(of(later, 7.1, kit="0.6 dKH"))


def test_a_dismissal_of_the_low_side_says_nothing_of_the_high_side():
    name = out_of_band(of(steady([8.2, 8.2, 7.2]), 2.1)).id
    assert "out-of-band" in kinds(of(dismissing(steady([8.2, 8.2, 9.3]), name, 2.1), 2.2, kit="0.6 dKH"))


@pytest.mark.parametrize("size", [0.013, 0.2, 0.99, 1.0, 1.26, 7.7, 8.4, 345.0])
def test_growing_by_half_is_the_same_matter_and_by_twice_another(size):
    def grown(by: float) -> bool:
        name = alert("trend", WATER, "nitrate", "high", None, (), size).id
        told = Dismissal(source=here(), at=moment(0.0), alert=name, reason="on purpose")
        return not alert("trend", WATER, "nitrate", "high", None, (), by * size).is_hidden_by(told)

    assert [grown(by) for by in (0.3, 1.0, 1.5, 2.0, 4.0)] == [False, False, False, True, True]


def test_a_dismissal_without_a_size_holds_however_large_it_grows():
    told = Dismissal(source=here(), at=moment(0.0), alert="trend/lagoon/nitrate/high", reason="on purpose")
    assert alert("trend", WATER, "nitrate", "high", None, (), 80.0).is_hidden_by(told)
    assert not alert("trend", WATER, "nitrate", "low", None, (), 80.0).is_hidden_by(told)


def test_a_change_of_demand_that_began_after_the_dismissal_is_another():
    changed = alert("uptake-changed", WATER, "alkalinity", "more", None, (), 0.2, moment(10.0))
    for day, away in ((5.0, False), (15.0, True)):
        told = Dismissal(source=here(), at=moment(day), alert=changed.id, reason="grown")
        assert changed.is_hidden_by(told) == away


def of_reef(water, *readings, day: float = 30.0) -> dict[str, Alert]:
    journal = Journal(settings=SETTINGS, systems={"lagoon": water}, logs={"lagoon": log_of_readings(*readings)})
    found = {"lagoon": analyse_water(water, journal.logs["lagoon"], [], moment(day))}
    return {alert.kind: alert for alert in alerts(journal, Findings(moment(day), found))}


def test_a_refractometer_two_units_off_is_named_once_for_all_the_salts():
    # Water of 32.5 that a meter calls 35: every salt is at 93 % of the sea's (Millero et al. 2008).
    low = read(29.0, salinity="35.0 psu", calcium="391 mg/L", magnesium="1219 mg/L", potassium="379 mg/L")
    found = of_reef(reef(calcium=("400 mg/L", "450 mg/L")), low)
    assert found["salinity-in-doubt"].size.value == pytest.approx(-2.5, abs=0.2)
    assert found["salinity-in-doubt"].facts == {"side": "less", "salts": 3}
    assert "salt-out-of-balance" not in found


def test_potassium_that_only_salty_water_keeps_in_its_band_is_named():
    # 380 mg/L at 37.5 is some 354 mg/L at 35: simple proportion.
    salty = read(29.0, salinity="37.5 psu", potassium="380 mg/L", calcium="452 mg/L", magnesium="1409 mg/L")
    found = of_reef(reef(potassium=("370 mg/L", "430 mg/L")), salty)
    assert found["salt-out-of-balance"].size.value == pytest.approx(354.0, abs=1.5)
    fresh = read(29.0, salinity="35.0 psu", potassium="380 mg/L", calcium="420 mg/L", magnesium="1310 mg/L")
    assert of_reef(reef(potassium=("370 mg/L", "430 mg/L")), fresh) == {}


@pytest.mark.parametrize(
    ("nitrate", "phosphate", "called"), [("20", "<0.02", True), ("20", "0.08", False), ("<1", "<0.02", False)]
)
def test_phosphate_that_starves_coral_beside_much_nitrate_calls_for_a_person(nitrate, phosphate, called):
    # Source: Wiedenmann et al. 2013; Rosset et al. 2017: under 0.3 µmol/L, over 22 to 1 (from memory).
    found = of_reef(reef(), read(29.0, nitrate=f"{nitrate} mg/L", phosphate=f"{phosphate} mg/L"))
    assert ("phosphate-short" in found) == called


@pytest.mark.parametrize(("evening", "called"), [("27.6", True), ("25.8", False)])
def test_temperature_that_swings_by_more_than_two_degrees_a_day_calls_for_a_person(evening, called):
    # Common practice, no source.
    found = of_reef(reef(), read(29.0, temperature="25.0 °C"), read(29.5, temperature=f"{evening} °C"))
    assert ("temperature-swing" in found) == called


def test_a_week_that_swings_by_more_than_the_band_calls_though_it_ended_within():
    week = [read(day, temperature=f"{t} °C") for day, t in ((25.0, 24.0), (26.5, 25.2), (28.0, 26.8), (29.5, 25.3))]
    found = of_reef(reef(temperature=("24.4 °C", "26.6 °C")), *week)
    assert found["temperature-swing"].facts["side"] == "week"


@pytest.mark.parametrize(
    ("alkalinity", "ph", "side"),
    [("6.5", "7.70", "low"), ("8.0", "8.20", None), ("7.5", "7.95", None), ("14.0", "8.60", "high")],
)
def test_saturation_calls_only_where_skeletons_or_heaters_would_show_it(alkalinity, ph, side):
    # Common practice, no source: 8 dKH at 8.2 is a healthy reef, 14 dKH at 8.6 snows.
    water = read(29.0, alkalinity=f"{alkalinity} dKH", ph=f"{ph} NBS", salinity="35.0 psu", temperature="25.5 °C")
    found = of_reef(reef(), water)
    assert (found["aragonite-saturation"].facts["side"] if "aragonite-saturation" in found else None) == side


def test_a_dose_set_anew_makes_another_matter_of_a_band_about_to_be_left():
    def pump(day: float, rate: str) -> PumpRate:
        return PumpRate(source=here(int(day)), at=moment(day), solution="balanced", rate=parse_quantity(rate, "rate"))

    running = replace(steady(np.linspace(8.6, 7.7, 30)), pumps=(pump(1.0, "200 mL/day"),))
    name = next(i.id for i in of(running, 29.1) if i.kind == "leaving-band")
    put_off = dismissing(running, name, 29.2)
    assert "leaving-band" not in kinds(of(put_off, 29.5))
    assert "leaving-band" in kinds(of(replace(put_off, pumps=(*running.pumps, pump(29.3, "199 mL/day"))), 29.5))


def test_a_change_of_demand_that_the_keeper_says_matters_is_told_before_it_is_a_quarter():
    run = simulate_water(
        np.random.default_rng(3), 70.0, tests_every=(0.9, 1.1), kit_error=0.05, drift=0.004, step=(55.0, 0.18)
    )
    log = log_of(run)
    told = {}
    for written in (None, levels(alkalinity="0.1 dKH"), levels(alkalinity="0.5 dKH")):
        lagoon = replace(system(kit="0.05 dKH"), smallest_change=written)
        water = {"lagoon": analyse_water(lagoon, log, [], moment(70.0))}
        journal = Journal(settings=SETTINGS, systems={"lagoon": lagoon}, logs={"lagoon": log})
        told[written] = "uptake-changed" in kinds(alerts(journal, Findings(moment(70.0), water)))
    assert list(told.values()) == [False, True, False]
    # Where no dose is recorded there is none to check.
    lagoon = replace(system(kit="0.05 dKH"), smallest_change=levels(alkalinity="0.1 dKH"))
    for ledger, said in ((water["lagoon"].ledger, "more"), ((), "rose")):
        undosed = replace(water["lagoon"], ledger=ledger)
        (changed,) = [a for a in of_water(lagoon, undosed, moment(70.0), UTC) if a.kind == "uptake-changed"]
        assert changed.facts["side"] == said
    # Nor is it said that it rose while that is one of several explanations.
    story = Story("more", moment(68.0), moment(69.0), 0.6, Estimate(0.1, 0.05, 0.15, "meq/L/day"), (here(1),))
    uptake = water["lagoon"].uptake
    rivals = replace(water["lagoon"], uptake={**uptake, "alkalinity": replace(uptake["alkalinity"], stories=(story,))})
    journal = Journal(settings=SETTINGS, systems={"lagoon": lagoon}, logs={"lagoon": log})
    found = kinds(alerts(journal, Findings(moment(70.0), {"lagoon": rivals})))
    assert "two-explanations" in found
    assert "uptake-changed" not in found
