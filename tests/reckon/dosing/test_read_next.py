"""When a plan asks for the next test does not hang on the hour at which somebody looks at it."""

from datetime import datetime, timedelta

import pytest
from msgspec.structs import replace

from generator.reckon.arrivals.known import Waters
from generator.reckon.dosing.outlook import outlook
from generator.reckon.dosing.plan import Plan, dosing_plan
from generator.reckon.dosing.safe import UNSURE_DAYS, safe_share
from generator.units.kinds import MEQ_PER_DKH
from generator.units.quantity import parse_quantity
from tests.reckon.arrivals.colonies import coral, here
from tests.reckon.arrivals.waters import DAYS, LAST, arrived, happened, waters
from tests.reckon.water.journals import STRENGTH, levels, readings

STAG = coral("stag", (30.0, 25.0, 20.0), "Acropora muricata", "branching")
NEW = coral("new", (18.0, 16.0, 9.0), "Pocillopora damicornis", "branching")
AT = LAST + timedelta(hours=12)
ARRIVAL = waters({"lagoon": (400.0, 1.0)}, (STAG, arrived(NEW, AT)), {"lagoon": [happened("arrival", "new", AT)]})
A_DAY = timedelta(days=UNSURE_DAYS)
CALM = waters({"lagoon": (400.0, 1.0)}, (STAG,), {})


def read(dkh: float, told: Waters = ARRIVAL, after: float = 1.0) -> Waters:
    """The same with a reading so many days after the arrival."""
    log = told.logs["lagoon"]
    since = readings("alkalinity", "dKH", [DAYS + 0.5 + after], [dkh], 7000)
    return replace(told, logs={"lagoon": replace(log, readings=(*log.readings, *since))})


def planned(told: Waters, at: datetime) -> Plan:
    known = told.known("lagoon", at, past=False)
    found = dosing_plan(told.systems["lagoon"], told.log_of("lagoon"), known.water, at)
    assert isinstance(found, Plan)
    return found


@pytest.mark.parametrize("dkh", [7.8, 7.5])
def test_a_test_is_asked_for_by_the_last_one_whenever_in_that_day_the_plan_is_made(dkh: float) -> None:
    told, since = read(dkh), AT + A_DAY
    for hours in (0.0, 1.0, 1.5, 6.0, 11.0):
        plan = planned(told, since + timedelta(hours=hours))
        # A day after it, whether all is given or less; a little sooner where the level may leave its band before.
        assert since + A_DAY - timedelta(hours=2.5) <= plan.next_test.at <= since + A_DAY, hours


def test_a_level_in_doubt_is_read_again_at_once_an_hour_later_too() -> None:
    for hours in (0.0, 1.5, 12.0):
        at = AT + A_DAY + timedelta(hours=hours)
        found = planned(read(6.9), at).next_test
        assert (found.at, found.why) == (at, "doubtful-reading")


def test_below_its_band_on_a_dose_that_is_only_safe_a_level_is_read_again_after_half_a_day() -> None:
    plan = planned(read(7.2, read(7.2, CALM), after=1.04), AT + 1.04 * A_DAY)
    assert plan.basis == "cautious"
    assert abs(plan.next_test.at - (AT + 1.54 * A_DAY)) < timedelta(hours=1)


def test_a_test_that_nobody_made_is_due_and_not_put_off() -> None:
    late = AT + 2 * A_DAY
    assert planned(ARRIVAL, AT + timedelta(hours=1)).next_test.at <= AT + A_DAY + timedelta(hours=1)
    assert planned(ARRIVAL, late).next_test.at == late


def test_a_test_that_is_overdue_is_not_put_off_by_what_came_meanwhile() -> None:
    late = AT + timedelta(days=8)
    for told in (ARRIVAL, CALM):
        came = arrived(coral("twig", (16.0, 14.0, 8.0), "Pocillopora damicornis", "branching"), late)
        told = replace(
            told,
            corals={**told.corals, "twig": came},
            logs={"lagoon": replace(told.logs["lagoon"], events=(happened("arrival", "twig", late),))},
        )
        found = planned(told, late + timedelta(hours=2)).next_test
        assert (found.at, found.why) == (late + timedelta(hours=2), "usual-interval")


def test_only_where_the_level_may_leave_its_band_within_the_day_is_a_test_asked_for_sooner() -> None:
    asked = {}
    for half in (0.7, 0.4):
        ends = {"low": levels(alkalinity=f"{8.2 - half} dKH"), "high": levels(alkalinity=f"{8.2 + half} dKH")}
        home = replace(ARRIVAL.systems["lagoon"], **ends)
        asked[half] = planned(replace(ARRIVAL, systems={"lagoon": home}), AT).next_test.at - AT
    assert A_DAY / 2 <= asked[0.4] < asked[0.7] <= A_DAY


def test_calm_water_is_left_alone_for_two_days_in_a_narrow_band_too() -> None:
    ends = {"low": levels(alkalinity="7.75 dKH"), "high": levels(alkalinity="8.65 dKH")}
    told = replace(CALM, systems={"lagoon": replace(CALM.systems["lagoon"], **ends)})
    plan = planned(told, LAST + timedelta(hours=1))
    assert plan.basis == "measured"
    assert plan.next_test.at - LAST == 2 * A_DAY


def test_a_reading_with_a_finer_kit_is_in_no_doubt_for_what_the_two_kits_differ_by() -> None:
    home, log = CALM.systems["lagoon"], CALM.logs["lagoon"]
    fine = replace(next(iter(home.kits.values())), precision=levels(alkalinity="0.05 dKH"))
    # Most readings are with the finer kit, so that is the error by which a reading is judged.
    read = tuple(replace(each, kit="fine") if i >= 5 else each for i, each in enumerate(log.readings))
    told = replace(
        CALM,
        systems={"lagoon": replace(home, kits={**home.kits, "fine": fine})},
        logs={"lagoon": replace(log, readings=read)},
    )
    plan = planned(told, LAST + timedelta(hours=1))
    assert plan.next_test.why == "could-leave-band"
    assert plan.next_test.at - LAST >= 4 * A_DAY


def test_a_newcomer_that_may_take_a_level_out_of_its_band_within_hours_is_read_within_hours() -> None:
    heavy = arrived(coral("heavy", (54.0, 45.0, 36.0), "Pocillopora verrucosa", "branching"), AT)
    told = waters({"lagoon": (250.0, 1.0)}, (STAG, heavy), {"lagoon": [happened("arrival", "heavy", AT)]})
    asked = planned(told, AT).next_test
    assert A_DAY / 4 <= asked.at - AT < A_DAY / 2
    # Less than it likely takes is given, but more than would be safe for two days: it is read every day.
    known = told.known("lagoon", AT, past=False).water
    believed = outlook(told.systems["lagoon"], known, "alkalinity")
    assert believed is not None
    a_day, two = (safe_share(believed, believed.level.value, days) for days in (1.0, 2.0))
    assert two < a_day < 1.0


def test_where_the_demand_was_never_told_the_plan_gives_what_is_safe_of_what_a_newcomer_is_predicted_to_take() -> None:
    log = ARRIVAL.logs["lagoon"]
    once = replace(
        ARRIVAL, logs={"lagoon": replace(log, readings=tuple(each for each in log.readings if each.at == LAST))}
    )
    before, after = planned(once, AT - timedelta(hours=1)), planned(once, AT + timedelta(hours=1))
    assert (before.basis, after.basis) == ("as-it-runs", "with-newcomers")
    (came,) = once.known("lagoon", AT + timedelta(hours=1), past=False).water.came
    gives = [plan.phases[-1].doses[0].rate.estimate.value * STRENGTH / 400.0 * MEQ_PER_DKH for plan in (before, after)]
    assert gives[0] == pytest.approx(1.0 * MEQ_PER_DKH), "as it runs"
    assert came[1].low <= gives[1] - gives[0] <= came[1].value + 1e-9
    need = next(need for need in after.needs if need.kind == "alkalinity").per_day
    assert need.value / 400.0 == pytest.approx(gives[0] + came[1].value), "all of it is what is thought to be taken"
    # Once the pump is set by that it is what runs, and nothing is given twice.
    rate = parse_quantity(f"{after.phases[-1].doses[0].rate.estimate.value} L/day", "rate")
    pump = replace(log.pumps[0], source=here(9), at=AT + timedelta(hours=2), rate=rate)
    told = replace(once, logs={"lagoon": replace(once.logs["lagoon"], pumps=(*log.pumps, pump))})
    later = planned(told, AT + timedelta(hours=3))
    assert later.basis == "as-it-runs"
    assert later.phases[-1].doses[0].rate.estimate.value == pytest.approx(rate.canonical())


def test_before_a_newcomer_is_read_no_more_is_given_of_it_than_a_day_may_bring_for_it_may_stay_closed() -> None:
    heavy = arrived(coral("heavy", (54.0, 45.0, 36.0), "Pocillopora verrucosa", "branching"), AT)
    told = waters({"lagoon": (250.0, 1.0)}, (STAG, heavy), {"lagoon": [happened("arrival", "heavy", AT)]})
    gives = []
    for at in (AT - timedelta(hours=1), AT + timedelta(hours=1)):
        plan = planned(told, at)
        gives.append(plan.phases[-1].doses[0].rate.estimate.value * STRENGTH / 250.0)
    (came,) = told.known("lagoon", AT + timedelta(hours=1), past=False).water.came
    assert came[1].value > 1.5 * MEQ_PER_DKH, "it likely takes more than a day may bring, in dKH"
    assert 0.5 < gives[1] - gives[0] <= 1.02
