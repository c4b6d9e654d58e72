"""When a plan asks for the next test does not hang on the hour at which somebody looks at it."""

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from generator.reckon.arrivals.known import Waters
from generator.reckon.dosing.plan import UNSURE_DAYS, Plan, dosing_plan
from tests.reckon.arrivals.colonies import coral
from tests.reckon.arrivals.waters import DAYS, LAST, arrived, happened, waters
from tests.reckon.water.journals import readings

STAG = coral("stag", (30.0, 25.0, 20.0), "Acropora muricata", "branching")
NEW = coral("new", (18.0, 16.0, 9.0), "Pocillopora damicornis", "branching")
AT = LAST + timedelta(hours=12)
ARRIVAL = waters({"lagoon": (400.0, 1.0)}, (STAG, arrived(NEW, AT)), {"lagoon": [happened("arrival", "new", AT)]})
A_DAY = timedelta(days=UNSURE_DAYS)


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
        # Where less than all is given, half a day after it.
        expected = since + (A_DAY if plan.basis == "measured" else A_DAY / 2)
        assert abs(plan.next_test.at - expected) <= timedelta(hours=1.5), hours


def test_a_level_in_doubt_is_read_again_at_once_an_hour_later_too() -> None:
    for hours in (0.0, 1.5, 12.0):
        at = AT + A_DAY + timedelta(hours=hours)
        found = planned(read(6.9), at).next_test
        assert (found.at, found.why) == (at, "doubtful-reading")


def test_below_its_band_on_a_dose_that_is_only_safe_a_level_is_read_again_after_half_a_day() -> None:
    plan = planned(read(7.2, read(7.2), after=1.04), AT + 1.04 * A_DAY)
    assert plan.basis == "cautious"
    assert abs(plan.next_test.at - (AT + 1.54 * A_DAY)) < timedelta(hours=1)


def test_a_test_that_nobody_made_is_due_and_not_put_off() -> None:
    late = AT + 2 * A_DAY
    assert planned(ARRIVAL, AT + timedelta(hours=1)).next_test.at <= AT + A_DAY + timedelta(hours=1)
    assert planned(ARRIVAL, late).next_test.at == late
