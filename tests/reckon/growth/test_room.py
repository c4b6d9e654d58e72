from datetime import timedelta
from math import hypot

import numpy as np
import pytest
from msgspec.structs import replace

from generator.nature.genera import SAFE_GAPS
from generator.nature.rates import published_extension
from generator.reckon.finding import CannotTell, Finding
from generator.reckon.growth.analysis import analyse_growth
from generator.reckon.growth.forecast import (
    Dates,
    SizeForecast,
    Spread,
    closing,
    extension_of,
    gone_by,
    passing,
    size_forecast,
    spread_of,
)
from generator.reckon.growth.room import analyse_room, free_radius, gap_between, nearing, safe_distance, usual_distance
from generator.records.coral import Touch
from generator.units.quantity import coverage_factor
from tests.reckon.growth.corals import cm, coral, cut, day, here, noted, place, placed, sizes, system, weighing

DAYS = list(range(0, 400, 40))


def spreading(id: str, x: str, y: str = "20 cm", cm_a_year: float = 2.0, start: float = 6.0, **more):
    """A coral measured ten times, whose radius grows evenly."""
    lengths = [start + 2.0 * cm_a_year * at / 365.25 for at in DAYS]
    written = {"placements": (placed(x=cm(x), y=cm(y)),), "sizes": sizes(DAYS, lengths), **more}
    return coral(id, **written)


def analyse(*corals, places=None, own=None, on=400):
    growths = {each.id: analyse_growth(each, {}, day(on)) for each in corals}
    return analyse_room(system(**(places or {"ledge": place(0, 0, 60, 40)})), corals, growths, own or {}, day(on))


def test_neighbours_touch_when_both_have_grown_half_the_gap():
    one, other = spreading("one", "15 cm"), spreading("other", "35 cm")
    found = analyse(one, other)
    meeting = found.meetings[0]
    # 20 cm apart; at day 400 each has a radius of 3 + 2 * 400/365.25 cm, and grows by 2 cm a year.
    gap = 20.0 - 2.0 * (3.0 + 2.0 * 400 / 365.25)
    assert meeting.gap.estimate.value == pytest.approx(gap, abs=0.2)
    assert meeting.touch.likely is not None
    assert abs((meeting.touch.likely - day(400)).days - gap / 4.0 * 365.25) < 45
    assert meeting.touch.earliest < meeting.touch.likely < meeting.touch.latest


def test_the_parts_of_a_gaps_uncertainty_add_in_squares_to_its_interval():
    oval = tuple(replace(size, width=cm("5 cm")) for size in sizes(DAYS, [9.0] * 10))
    found = analyse(spreading("one", "15 cm", sizes=oval), spreading("other", "35 cm"))
    for gap in (found.meetings[0].gap, *(each.room for each in found.leaving)):
        half = (gap.estimate.high - gap.estimate.low) / 2.0
        assert coverage_factor() * hypot(*(part.standard for part in gap.parts)) == pytest.approx(half)
    assert [part.cause for part in found.meetings[0].gap.parts] == ["ruler", "extension", "side"]
    assert here(109) in found.meetings[0].gap.inputs


def test_the_parts_of_a_likely_day_add_in_squares_to_about_its_interval():
    found = analyse(spreading("one", "10 cm"), spreading("other", "30 cm"))
    for dates in (found.meetings[0].touch, found.leaving[0].leaves):
        assert dates.earliest is not None
        assert dates.latest is not None
        half = (dates.latest - dates.earliest).days / 2.0
        assert coverage_factor() * hypot(*(part.standard for part in dates.parts)) == pytest.approx(half, rel=0.2)


def test_a_day_that_is_today_has_no_parts():
    assert analyse(spreading("one", "15 cm"), spreading("other", "20 cm")).meetings[0].touch.parts == ()


def test_corals_of_a_rack_that_says_so_may_touch():
    one, other = spreading("one", "15 cm"), spreading("other", "25 cm")
    rack = place(0, 0, 60, 40, may_touch=True)
    assert analyse(one, other).meetings
    assert not analyse(one, other, places={"ledge": rack}).meetings
    galaxea = replace(other, stings=cm("15 cm"))
    assert analyse(one, galaxea, places={"ledge": rack}).meetings, "its own file says how far it stings"


def test_a_coral_beside_a_rack_keeps_its_distance_from_those_on_it():
    one = spreading("one", "28 cm")
    other = spreading("other", "2 cm", placements=(placed(place="beside", x=cm("2 cm"), y=cm("20 cm")),))
    beside = {"ledge": place(0, 0, 30, 40, may_touch=True), "beside": place(30, 0, 30, 40)}
    assert [(each.one, each.other) for each in analyse(one, other, places=beside).meetings] == [("one", "other")]


def test_neighbours_that_may_touch_leave_a_coral_all_the_room_of_its_place():
    one, other = spreading("one", "15 cm"), spreading("other", "25 cm")
    for rack, radius in ((place(0, 0, 60, 40, may_touch=True), 15.0), (place(0, 0, 60, 40), None)):
        room = analyse(one, other, places={"ledge": rack})
        first = next(each for each in room.standing if each.coral.id == "one")
        found = free_radius(first, rack, room.standing, {}, day(400))
        assert found == pytest.approx(radius) if radius else found < 10.0


def test_they_are_too_near_before_they_touch():
    one, other = spreading("one", "15 cm"), spreading("other", "35 cm")
    room = analyse(one, other)
    (meeting,) = room.meetings
    assert meeting.safe.cm == 5.0
    assert gone_by(nearing(*room.standing, day(400)), day(400), meeting.safe.cm).likely < meeting.touch.likely


def test_pieces_of_one_line_may_touch():
    one, other = spreading("one", "15 cm", line="tide"), spreading("other", "35 cm", line="tide")
    meeting = analyse(one, other).meetings[0]
    assert meeting.safe.cm == 0.0


def test_neighbours_that_overlap_touch_today():
    meeting = analyse(spreading("one", "15 cm"), spreading("other", "20 cm")).meetings[0]
    assert meeting.touch.earliest == meeting.touch.likely == day(400)


def test_neighbours_that_were_seen_to_touch_do_so_until_one_is_moved():
    touches = (Touch(source=here(), at=day(300), coral="other"),)
    one, other = spreading("one", "15 cm", touches=touches), spreading("other", "35 cm")
    for meeting in (analyse(one, other).meetings[0], analyse(other, one).meetings[0]):
        assert meeting.gap.estimate.high == 0.0
        assert meeting.touch == Dates(day(400), day(400), day(400))
    moved = replace(other, placements=(*other.placements, placed(350, x=cm("36 cm"), y=cm("20 cm"))))
    assert analyse(one, moved).meetings[0].gap.estimate.value > 5.0


def test_neighbours_that_were_seen_to_touch_are_apart_again_once_one_is_cut_or_breaks():
    touches = (Touch(source=here(), at=day(300), coral="other"),)
    one = spreading("one", "15 cm", touches=touches)
    for lost in ({"cuttings": (cut(300),)}, {"cuttings": (cut(320),)}, {"health": (noted(310, "breakage"),)}):
        (meeting,) = analyse(one, spreading("other", "35 cm", **lost)).meetings
        assert meeting.gap.estimate.value > 5.0
    (meeting,) = analyse(one, spreading("other", "35 cm", cuttings=(cut(200), cut(401)))).meetings
    assert meeting.gap.estimate.value == 0.0


def test_corals_that_stay_apart_for_years_are_not_named():
    assert analyse(spreading("one", "5 cm", cm_a_year=0.3), spreading("other", "55 cm", cm_a_year=0.3)).meetings == ()


def test_a_coral_high_above_another_never_touches_it():
    one = spreading("one", "15 cm", placements=(placed(x=cm("15 cm"), y=cm("20 cm"), place="ledge"),))
    other = spreading("other", "15 cm", placements=(placed(x=cm("15 cm"), y=cm("20 cm"), place="floor"),))
    low, high = place(0, 0, 60, 40, height=cm("5 cm")), place(0, 0, 60, 40, height=cm("30 cm"))
    assert len(analyse(one, other, places={"ledge": low, "floor": high}).meetings) == 1  # heights unknown
    tall = sizes(DAYS, [6.0] * 10)
    measured = tuple(replace(size, height=cm("10 cm")) for size in tall)
    one = spreading("one", "15 cm", sizes=measured, placements=one.placements)
    other = spreading("other", "15 cm", sizes=measured, placements=other.placements)
    assert analyse(one, other, places={"ledge": low, "floor": high}).meetings == ()
    tank, sump = place(0, 0, 60, 40, part="tank"), place(0, 0, 60, 40, part="raceway")
    assert analyse(one, other, places={"ledge": tank, "floor": sump}).meetings == ()


def test_a_coral_under_another_place_counts_once_it_has_grown_up_to_it():
    lengths = [6.0 + 4.0 * at / 365.25 for at in DAYS]
    tall = tuple(replace(size, height=cm("20 cm")) for size in sizes(DAYS, lengths))
    below = spreading("below", "15 cm", sizes=tall, placements=(placed(x=cm("15 cm"), y=cm("20 cm"), place="floor"),))
    above = spreading("above", "15 cm", placements=(placed(x=cm("15 cm"), y=cm("20 cm"), place="shelf"),))
    places = {"floor": place(0, 0, 60, 40, height=cm("0 cm")), "shelf": place(0, 0, 60, 40, height=cm("25 cm"))}
    # 20 cm high and 10 cm across when last measured; a year later it is 14 cm across, and as much higher.
    assert analyse(below, above, places=places, on=400).meetings == ()
    assert len(analyse(below, above, places=places, on=765).meetings) == 1


def test_a_coral_leaves_its_place_over_the_nearest_edge():
    found = analyse(spreading("one", "50 cm", cm_a_year=2.0)).leaving[0]
    assert (found.side, found.place) == ("right", "ledge")
    room = 10.0 - (3.0 + 2.0 * 400 / 365.25)
    assert found.room.estimate.value == pytest.approx(room, abs=0.1)
    assert found.leaves.likely is not None
    assert abs((found.leaves.likely - day(400)).days - room / 2.0 * 365.25) < 40


def test_a_coral_whose_spot_is_not_written_counts_as_in_the_middle_and_meets_nobody():
    found = analyse(spreading("one", "50 cm", placements=(placed(),)), spreading("other", "30 cm"))
    assert [each.position_known for each in found.leaving if each.coral == "one"] == [False]
    assert found.meetings == ()


def test_corals_of_which_too_little_is_written_are_named_with_the_reason():
    found = analyse(coral("bare", placements=(placed(),)), spreading("lost", "5 cm", placements=(placed(place=None),)))
    assert {id: why.why for id, why in found.cannot_tell} == {"bare": "never-measured", "lost": "no-place"}


def test_the_dates_are_right_in_as_many_of_a_hundred_as_they_say():
    rng = np.random.default_rng(8)
    dates = passing(10.0, 0.5, 0.02, lambda days: 0.004 * days, day(0))
    gaps = rng.normal(10.0, 0.5, 4000)
    speeds = rng.normal(0.02, 0.004, 4000)
    for moment, share in ((dates.earliest, 0.05), (dates.likely, 0.5), (dates.latest, 0.95)):
        assert moment is not None
        days = (moment - day(0)).days
        assert np.mean(gaps - speeds * days <= 0.0) == pytest.approx(share, abs=0.015)


def test_what_does_not_grow_never_arrives():
    def never(_: float) -> float:
        return 0.0

    assert passing(10.0, 0.1, 0.0, never, day(0)).latest is None
    assert passing(10.0, 0.0, 0.01, never, day(0)).likely == day(1000)


def test_the_coral_that_reaches_farther_sets_the_gap():
    galaxea, acropora = coral("g", species="Galaxea fascicularis"), coral("a")
    gap = gap_between(safe_distance(galaxea, {}), safe_distance(acropora, {}))
    assert gap.cm == SAFE_GAPS.genera["Galaxea"]
    assert gap.known == "common practice, no source"


def test_the_keepers_own_distance_goes_before_the_usual_one():
    galaxea = coral("g", species="Galaxea fascicularis")
    assert safe_distance(galaxea, {"galaxea": cm("25 cm")}).cm == 25.0
    seen = coral("g", species="Galaxea fascicularis", stings=cm("12 cm"))
    assert safe_distance(seen, {"galaxea": cm("25 cm")}).cm == 12.0


def test_a_former_name_and_a_name_nobody_knows_have_distances_too():
    assert safe_distance(coral("s", species="Scolymia australis"), {}).cm == 5.0
    assert usual_distance("Nemo").cm == 8.0


def test_a_size_forecast_adds_the_extension_to_both_sides():
    grew = spreading("one", "15 cm", cm_a_year=2.0)
    growth = analyse_growth(grew, {}, day(400))
    found = size_forecast(grew, growth, day(360 + 365))
    assert isinstance(found, SizeForecast)
    assert found.known == "measured"
    assert found.length.value == pytest.approx(6.0 + 4.0 * 360 / 365.25 + 4.0, abs=0.15)
    assert found.length.low < found.length.value < found.length.high
    later = size_forecast(grew, growth, day(360 + 730))
    assert isinstance(later, SizeForecast)
    assert later.length.high - later.length.low > found.length.high - found.length.low


def test_a_coral_measured_once_grows_by_the_published_range():
    new = coral(form="tabling", sizes=sizes([0], [8.0]))
    found = size_forecast(new, analyse_growth(new, {}, day(10)), day(0) + timedelta(days=1461))
    assert isinstance(found, SizeForecast)
    assert found.known == "published"
    # 6.61 cm of radius a year, four years on: Perry et al. 2018, ReefBudget, tabular Acropora of the Indo-Pacific.
    assert found.length.low < 8.0 + 2.0 * 4.0 * 6.61 < found.length.high
    assert isinstance(size_forecast(coral(), analyse_growth(coral(), {}, day(1)), day(2)), CannotTell)


def test_a_coral_cut_after_it_was_measured_is_said_to_be_smaller():
    grew = spreading("one", "15 cm", cuttings=(cut(380),))
    spread = spread_of(grew, analyse_growth(grew, {}, day(400)))
    assert isinstance(spread, Spread)
    assert spread.cut_since
    healthy = spreading("one", "15 cm", cuttings=(cut(200),), health=(noted(380, "well"),))
    again = spread_of(healthy, analyse_growth(healthy, {}, day(400)))
    assert isinstance(again, Spread)
    assert not again.cut_since
    assert here(109) in again.inputs


def test_a_wild_slope_from_two_hasty_measurements_gives_way_to_what_its_kind_does():
    hasty = coral(form="tabling", sizes=sizes([0, 14], [30.0, 33.0]))
    growth = analyse_growth(hasty, {}, day(20))
    own, published = growth.radial_extension, published_extension("Acropora", "tabling")
    assert isinstance(own, Finding)
    assert own.estimate.value > 30.0  # cm a year, which no coral does
    extension = extension_of(hasty, growth)
    assert extension.known == "measured"
    assert published.low < extension.rate < published.high + 2.0
    assert 2.0 * 1.645 * extension.error < published.high - published.low


def test_a_well_measured_rate_stands_whatever_its_kind_does():
    grew = spreading("one", "15 cm", cm_a_year=0.4)
    extension = extension_of(grew, analyse_growth(grew, {}, day(400)))
    assert extension.rate == pytest.approx(0.4, abs=0.15)
    told = extension.finding()
    total = hypot(*(part.standard for part in told.parts))
    assert told.estimate.high - told.estimate.value == pytest.approx(1.645 * total, rel=1e-3)


def test_a_day_to_touch_is_less_sure_for_a_rate_that_wanders():
    one, other = (spread_of(each, analyse_growth(each, {}, day(400))) for each in (spreading("a", "15 cm"),) * 2)
    assert isinstance(one, Spread)
    assert isinstance(other, Spread)
    steady = replace(one, strays=0.0), replace(other, strays=0.0)
    wide, narrow = (gone_by(closing(20.0, pair, day(400)), day(400)) for pair in ((one, other), steady))
    assert one.strays > 0.0
    assert wide.earliest is not None
    assert narrow.earliest is not None
    assert wide.earliest < narrow.earliest
    assert wide.likely == narrow.likely


def test_the_room_of_a_coral_ends_at_its_places_edge_or_short_of_its_neighbour():
    one, other = spreading("one", "20 cm"), spreading("other", "40 cm")
    here, neighbour = analyse(one, other).standing
    ledge = place(0, 0, 60, 40)
    assert free_radius(here, ledge, [here], {}, day(400)) == pytest.approx(20.0)
    to_neighbour = free_radius(here, ledge, [here, neighbour], {}, day(400))
    reach = here.spread.reach(day(400))[0]
    assert to_neighbour == pytest.approx(reach + (20.0 - 2.0 * reach - 5.0) / 2.0)
    close = analyse(one, spreading("other", "32 cm")).standing
    assert free_radius(close[0], ledge, close, {}, day(400)) == pytest.approx(reach), "no room beyond the safe gap"


def test_the_mass_ahead_is_as_far_below_as_above_by_ratio():
    weighed = coral(weighings=tuple(weighing(at, f"{40 * 1.004**at:.2f} g") for at in range(0, 100, 14)))
    for _, grams in analyse_growth(weighed, {}, day(120)).mass_ahead:
        assert grams.low * grams.high == pytest.approx(grams.value**2)
        assert grams.low < grams.value < 1000.0


def test_the_mass_ahead_begins_at_the_last_weighing_and_ends_half_a_year_from_now():
    weighed = coral(weighings=tuple(weighing(at, f"{40 * 1.004**at:.2f} g") for at in range(0, 100, 14)))
    found = analyse_growth(weighed, {}, day(120)).mass_ahead
    assert (found[0][0], found[-1][0]) == (day(98), day(120 + 183))
    widths = [grams.high / grams.low for _, grams in found]
    assert widths == sorted(widths)
    # It slows down as it grows: less than the same share each day.
    assert found[0][1].value < found[-1][1].value < found[0][1].value * 1.004**205
    shorter = coral(weighings=weighed.weighings, cuttings=(cut(110),))
    assert analyse_growth(shorter, {}, day(120)).mass_ahead == ()
