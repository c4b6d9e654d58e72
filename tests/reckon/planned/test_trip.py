"""The way a plan foretells, for each colony of it."""

from datetime import date

import pytest
from msgspec.structs import replace

from generator.reckon.finding import CannotTell
from generator.reckon.planned.analysis import Passenger, floor_share, passenger, together
from generator.reckon.planned.places import care
from generator.reckon.trade.journey import Journey, oxygen_together
from generator.records.coral import Placement
from generator.records.settings import Container
from generator.records.trade import Expected, Partner, Travel
from tests.reckon.trade.deals import AT, coral, got, health, q, trade, travel

pytestmark = pytest.mark.usefixtures("courses_kept")

TODAY = date(2026, 6, 1)
TOTE = Container(source=AT, length=q("70 cm", "length"), width=q("52 cm", "length"), height=q("44 cm", "length"))
LANTERN = coral("lantern", placements=(Placement(source=AT, since=date(2025, 1, 1), system="reef"),))
COLD = Expected(source=AT, water=q("24 °C", "temperature"), air=q("10 °C", "temperature"))


def going(planned: Travel | None, water: float | None = None, of=LANTERN) -> Passenger:
    return passenger(of, "going", planned, {"tote": TOTE}, {"reef": {"temperature": water}} if water else {}, (), TODAY)


def judged(planned: Travel, water: float | None = None) -> Journey:
    found = going(planned, water).judged
    assert isinstance(found, Journey)
    return found


def test_the_way_is_judged_by_what_is_expected_of_it():
    found = judged(travel("3 h", container="tote", expected=COLD))
    assert found.plan.hours == 3
    assert (found.plan.start, found.plan.air[0]) == (24, 10)
    assert found.fit.fits


def test_without_a_way_there_is_none_to_judge():
    assert going(None).judged is None


def test_a_coral_that_was_never_measured_is_to_be_measured_even_without_a_way():
    found = going(None, of=replace(LANTERN, sizes=()))
    assert found.weights is None
    assert isinstance(found.judged, CannotTell)
    assert found.judged.what_would_tell == "measure-it"


def test_what_is_not_expected_is_taken_from_its_water_and_common_practice():
    bare = travel("3 h", container="tote")
    assert judged(bare, water=26.5).plan.start == 26.5
    assert judged(bare).plan.start == 25.0
    assert judged(bare).plan.air[1] > judged(travel("3 h", container="tote", expected=COLD)).plan.air[1]


@pytest.mark.parametrize(
    ("planned", "size", "why"),
    [(travel("3 h"), "8 cm", "no-container"), (travel("3 h", container="tote"), None, "never-measured")],
)
def test_without_container_or_measures_nothing_is_pretended(planned: Travel, size: str | None, why: str):
    found = going(planned, of=coral("lantern", length=size)).judged
    assert isinstance(found, CannotTell)
    assert found.why == why


def test_what_a_floor_holds_is_the_colonies_with_the_padding_about_each():
    journey = judged(travel("3 h", container="tote", expected=COLD))
    padding, extent = journey.plan.padding, journey.fit.extent
    of_each = (extent.length + padding) * (extent.width + padding)
    assert floor_share([journey] * 2) == pytest.approx(2.0 * of_each / ((70.0 - padding) * (52.0 - padding)))


def test_what_goes_does_not_share_a_container_with_what_comes():
    goes = going(travel("3 h", container="tote", expected=COLD))
    comes, untold = replace(goes, way="coming"), going(None)
    assert together([goes, comes, untold]) == ()
    assert together([goes, comes, goes, untold]) == ((goes.judged, goes.judged),)


def test_the_oxygen_of_one_container_is_used_by_all_the_colonies_in_it():
    alone = judged(travel("3 h", container="tote", expected=COLD))
    three = oxygen_together([alone] * 3)
    of_one, water = alone.oxygen.estimate, alone.water
    # Two more displace as much again, each half its outline.
    share = (water.value - (water.high - water.low)) / water.value / 3.0
    ends = (of_one.value * share, of_one.low * share, of_one.high * share)
    assert (three.value, three.low, three.high) == pytest.approx(ends)
    # A colony that uses next to nothing takes next to nothing from the other.
    frag = going(
        travel("3 h", container="tote", expected=COLD), of=coral("frag", length="2 cm", placements=LANTERN.placements)
    )
    assert isinstance(frag.judged, Journey)
    two = oxygen_together([alone, frag.judged])
    assert 0.8 * of_one.value < two.value < of_one.value


def test_what_fell_ill_counts_to_who_gave_it_though_only_the_trade_says_so():
    ill = coral("two", came="2026-01-01", health=(health("2026-01-20", "tissue-loss"),))
    for partner, told in (("ada", [("two", "tissue-loss")]), ("ben", [])):
        swap = trade("2026-01-01", partner, received=(got("two"),))
        found = care(Partner(source=AT, id="ada", name="Ada"), [swap], {"two": ill}, "reef", {}, None, None)
        assert [(each.coral, each.health) for each in found.brought] == told
