"""Next tests, as the day's page says it."""

import dataclasses
import re
from datetime import UTC, date, datetime, timedelta
from types import SimpleNamespace

import html5lib
import pytest
from msgspec.structs import replace

from generator.reckon.analysis.journal import analyse
from generator.reckon.water.findings import NextTest, Noise
from generator.records.coral import End
from generator.render.pages.sheet_water import _by_evening
from tests.render import sample
from tests.render.pages import drawn, site, texts


def day(*tests: NextTest) -> str:
    """The day's page with these tests ahead in the lagoon, and nothing that needs anybody."""
    ahead = replace(sample.findings(), next_tests={test.kind: test for test in tests})
    found = dataclasses.replace(
        analyse(sample.journal(), sample.AS_OF),
        water={"lagoon": ahead, "back-room": replace(sample.findings("back-room"), next_tests={})},
    )
    page = drawn(site(sample.seen("own"), found, (), sample.AS_OF, sample.PICTURES))["index.html"]
    return " ".join(text.strip() for _, text in texts(page))


def gone():
    """A coral that stood in the lagoon until it died."""
    return sample.coral(end=End(source=sample.line(9), at=date(2026, 3, 1), how="died"))


# The sample's day is a Tuesday, 2026-03-10.
@pytest.mark.parametrize(
    ("days", "said"), [(0, "today"), (1, "tomorrow"), (3, "on Friday"), (30, "on 9\u00a0Apr 2026"), (-5, "today")]
)
def test_a_day_that_needs_nothing_says_which_test_comes_next(days, said):
    page = day(
        NextTest("alkalinity", sample.ago(-days), "usual-interval"),
        NextTest("calcium", sample.ago(-40), "usual-interval"),
    )
    assert ("Nothing to do but test today" if said == "today" else "Nothing to do today") in page
    assert f"Next: test alkalinity in Lagoon {said}." in page


def test_tests_of_one_day_are_said_together():
    at = sample.ago(-2)
    page = day(*(NextTest(kind, at, "usual-interval") for kind in ("alkalinity", "calcium", "nitrate")))
    assert "Next: test alkalinity, calcium and nitrate in Lagoon on Thursday." in page


def test_a_test_that_can_tell_a_change_says_with_what_odds():
    page = day(NextTest("alkalinity", sample.ago(-1), "tells-a-change", 0.93))
    assert "shows the change 93 times in 100" in page


def of_lagoon(*tests: NextTest, **given) -> str:
    """The lagoon's page with these tests ahead."""
    ahead = replace(sample.findings(), next_tests={test.kind: test for test in tests})
    water = {"lagoon": ahead, "back-room": sample.findings("back-room")}
    found = dataclasses.replace(analyse(sample.journal(**given), sample.AS_OF), water=water)
    return drawn(site(sample.seen("own", **given), found, (), sample.AS_OF, sample.PICTURES))["systems/lagoon.html"]


def test_each_day_of_the_first_tests_has_a_line_of_its_own():
    page = of_lagoon(
        NextTest("alkalinity", sample.ago(-1), "usual-interval"), NextTest("calcium", sample.ago(0), "usual-interval")
    )
    lines = [
        " ".join("".join(item.itertext()).split())
        for item in html5lib.parse(page, namespaceHTMLElements=False).iter("li")
    ]
    assert {"Today: calcium", "Tomorrow: alkalinity"} <= set(lines)


def test_a_system_says_which_colony_comes_to_it_and_leads_to_its_sheet():
    (colony,) = sample.planned().coming
    plan = sample.planned(coming=(replace(colony, name="Big table", system="lagoon"),), going=())
    page = of_lagoon(plans={plan.id: plan})
    assert re.search(r'href="[./]*coming/canary-plan.html"><bdi>Big table</bdi></a>, in 4\s+days', page)
    assert "Its sheet says what to dose and when to test." in page
    elsewhere = replace(plan, coming=(replace(plan.coming[0], system="back-room"),))
    assert "Its sheet says" not in of_lagoon(plans={plan.id: elsewhere})


def test_a_system_does_not_name_what_the_same_plan_brings_to_another():
    (colony,) = sample.planned().coming
    here, there = replace(colony, name="Big table", system="lagoon"), replace(colony, coral="b", name="Small bush")
    plan = sample.planned(coming=(here, replace(there, system="back-room")), going=())
    page = of_lagoon(plans={plan.id: plan})
    assert re.search(r'coming/canary-plan.html"><bdi>Big table</bdi></a>, in', page)


def test_where_no_test_is_planned_none_is_announced():
    page = day()
    assert "Next: test" not in page
    assert "Next tests" not in page


def test_water_that_was_read_and_never_held_coral_calls_for_its_tests_and_emptied_water_does_not():
    test = {"alkalinity": NextTest("alkalinity", sample.ago(-1), "usual-interval")}
    for here, called in (((), True), ((sample.coral(),), True), ((gone(),), False)):
        water = {"lagoon": replace(sample.findings(), next_tests=test), "back-room": sample.findings("back-room")}
        corals = {coral.id: coral for coral in here}
        found = dataclasses.replace(analyse(sample.journal(corals=corals), sample.AS_OF), water=water)
        page = drawn(site(sample.seen("own", corals=corals), found, (), sample.AS_OF, sample.PICTURES))["index.html"]
        assert ("Next: test alkalinity" in page) is called, here


def test_the_test_that_an_arrival_asks_for_is_among_the_next_tests_of_its_water_and_of_the_day():
    (colony,) = sample.planned().coming
    both = tuple(replace(colony, coral=name.lower(), name=name, system="lagoon") for name in ("Table", "Shelf"))
    plan = sample.planned(coming=both, going=())
    test = NextTest("calcium", sample.ago(-2), "usual-interval")
    page = of_lagoon(test, plans={plan.id: plan})
    told = " ".join(" ".join(text for _, text in texts(page)).split())
    assert "after the arrival of Table and Shelf, as its sheet says" in told
    assert re.search(r'href="[./]*coming/canary-plan.html"><bdi>its sheet says', page)
    assert "the arrival of" not in of_lagoon(test)


@pytest.mark.parametrize(
    ("arrives", "due", "said"),
    [(19, 25, "22:00"), (19, 30, "22:00"), (23, 26, "02:00"), (9, 15, "15:00"), (9, 23, "22:00")],
)
def test_no_test_is_asked_for_at_night_where_the_evening_before_is_after_the_arrival(arrives: int, due: int, said: str):
    """Hours are counted from the midnight that the day of the arrival begins with."""
    ctx = SimpleNamespace(display=SimpleNamespace(zone=UTC))
    day = datetime(2026, 11, 25, tzinfo=UTC)
    assert f"{_by_evening(ctx, day + timedelta(hours=due), day + timedelta(hours=arrives)):%H:%M}" == said


@pytest.mark.parametrize(("known", "helps"), [("declared", False), ("learned", True)])
def test_a_level_too_near_an_end_to_tell_is_said_to_be_so_and_not_to_leave_perhaps_today(known, helps):
    (leaving,) = (each for each in sample.alerts() if each.kind == "leaving-band")
    likely = sample.AS_OF.date() + timedelta(days=5)
    near = replace(leaving, facts={**leaving.facts, "likely": likely, "earliest": None})
    water = sample.findings()
    alkalinity = replace(water.uptake["alkalinity"], kit_error=Noise(0.05, known))
    found = dataclasses.replace(
        analyse(sample.journal(), sample.AS_OF),
        water={
            "lagoon": replace(water, uptake={**water.uptake, "alkalinity": alkalinity}),
            "back-room": sample.findings("back-room"),
        },
    )
    page = drawn(site(sample.seen("own"), found, (near,), sample.AS_OF, sample.PICTURES))["index.html"]
    told = " ".join(" ".join(text for _, text in texts(page)).split())
    assert "too near the band's end for one test to tell" in told
    assert "perhaps today" not in told
    assert ("your kit's precision" in told) is helps
