"""What may have changed a system's demand, from its corals' files and its log."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from msgspec.structs import replace

from generator.reckon.water.demand_events import demand_events, demand_steps
from generator.reckon.water.ledger import in_days
from generator.reckon.water.process import _come_about
from generator.records.coral import Arrival, Coral, Cutting, End, Placement, Size
from generator.records.log import Event, SystemLog
from generator.units.quantity import parse_quantity
from tests.reckon.water.journals import here

AS_OF = datetime(2026, 6, 1, tzinfo=UTC)


def coral(name: str, since: str, length: str = "10 cm", system: str = "lagoon") -> Coral:
    day = date.fromisoformat(since)
    return Coral(
        source=here(),
        id=name,
        name=name,
        species="Acropora sp.",
        line=name,
        form="tabling",
        arrival=Arrival(source=here(), at=day, how="trade"),
        placements=(Placement(source=here(11), since=day, system=system),),
        sizes=(Size(source=here(12), at=day, length=parse_quantity(length, "length")),),
    )


def found(corals, log=None):
    return demand_events("lagoon", log or SystemLog(system="lagoon"), corals, AS_OF)


def test_an_arrival_as_wide_as_all_the_others_may_double_the_demand():
    old = [coral(f"old-{n}", "2025-01-01") for n in range(4)]
    events = found([*old, coral("thicket", "2026-03-01", "20 cm")])
    assert [(e.coral, e.share) for e in events if e.coral == "thicket"] == [("thicket", pytest.approx(1.0))]


def test_a_coral_twice_as_long_as_another_of_its_form_weighs_four_times_as_much_in_the_demand():
    old = [coral("old", "2025-01-01", "20 cm")]
    (event,) = [e for e in found([*old, coral("frag", "2026-03-01", "10 cm")]) if e.coral == "frag"]
    assert event.share == pytest.approx(0.25)


def test_a_width_counts_as_well_as_a_length():
    narrow = coral("narrow", "2026-03-01", "20 cm")
    size = replace(narrow.sizes[0], width=parse_quantity("10 cm", "length"))
    (event,) = [
        e for e in found([coral("old", "2025-01-01", "20 cm"), replace(narrow, sizes=(size,))]) if e.coral == "narrow"
    ]
    assert event.share == pytest.approx(0.5)


def test_a_coral_counts_by_the_size_it_had_on_the_day():
    grown = coral("grown", "2025-01-01", "5 cm")
    later = Size(source=here(13), at=date(2026, 4, 1), length=parse_quantity("40 cm", "length"))
    grown = replace(grown, sizes=(*grown.sizes, later))
    (event,) = [e for e in found([grown, coral("thicket", "2026-03-01", "5 cm")]) if e.coral == "thicket"]
    assert event.share == pytest.approx(1.0)


def test_a_coral_nobody_measured_counts_as_the_usual_one():
    old = [coral(f"old-{n}", "2025-01-01", f"{length} cm") for n, length in enumerate((4, 30, 6, 10))]
    unmeasured = replace(coral("thicket", "2026-03-01"), sizes=())
    # Of four the third in order of size: 10 cm across.
    usual = 10.0**2 / (4.0**2 + 6.0**2 + 10.0**2 + 30.0**2)
    assert [e.share for e in found([*old, unmeasured]) if e.coral == "thicket"] == [pytest.approx(usual)]


def test_a_coral_as_wide_as_all_the_others_halves_the_demand_when_it_goes():
    old = [coral(f"old-{n}", "2025-01-01") for n in range(4)]
    lost = replace(coral("thicket", "2025-02-01", "20 cm"), end=End(source=here(), at=date(2026, 4, 1), how="died"))
    assert [e.share for e in found([*old, lost]) if e.what == "loss"] == [pytest.approx(0.5)]


def test_a_cutting_counts_half_of_what_the_loss_of_the_whole_coral_would():
    thicket = replace(
        coral("thicket", "2025-06-01"),
        cuttings=(Cutting(source=here(), at=date(2026, 1, 5), frags=6),),
        end=End(source=here(), at=date(2026, 4, 1), how="died"),
    )
    _, cut, lost = [e for e in found([coral("other", "2025-01-01"), thicket]) if e.coral == "thicket"]
    assert (cut.share, lost.share) == (pytest.approx(0.25), pytest.approx(0.5))


def test_a_small_cutting_among_many_is_lost_in_the_drift():
    old = [coral(f"old-{n}", "2025-01-01", "20 cm") for n in range(10)]
    assert not [e for e in found([*old, coral("frag", "2026-03-01", "3 cm")]) if e.coral == "frag"]


def test_a_coral_moved_to_another_system_is_a_loss_here_and_no_event_there_before():
    moved = coral("thicket", "2025-06-01", "30 cm")
    moved = replace(
        moved, placements=(*moved.placements, Placement(source=here(20), since=date(2026, 2, 1), system="bay"))
    )
    events = [e for e in found([coral("other", "2025-01-01"), moved]) if e.coral == "thicket"]
    assert [(e.what, e.at.date()) for e in events] == [("arrival", date(2025, 6, 1)), ("loss", date(2026, 2, 1))]


def test_cutting_and_dying_are_events_where_the_coral_stood():
    thicket = replace(
        coral("thicket", "2025-06-01", "30 cm"),
        cuttings=(Cutting(source=here(30), at=date(2026, 1, 5), frags=6),),
        end=End(source=here(40), at=date(2026, 4, 1), how="died"),
    )
    what = [e.what for e in found([coral("other", "2025-01-01", "20 cm"), thicket]) if e.coral == "thicket"]
    assert what == ["arrival", "cutting", "loss"]


@pytest.mark.parametrize("in_file", [True, False])
@pytest.mark.parametrize("hours", [(), (9,), (9, 15)])
def test_all_cuttings_of_a_coral_on_one_day_are_one_event(in_file, hours):
    days = (date(2026, 1, 6), date(2026, 1, 5), date(2026, 1, 5)) if in_file else ()
    cuttings = tuple(Cutting(source=here(30 + line), at=day, frags=6) for line, day in enumerate(days))
    thicket = replace(coral("thicket", "2025-06-01", "30 cm"), cuttings=cuttings)
    at = [datetime(2026, 1, day, hour, tzinfo=UTC) for day in (5, 6) for hour in hours]
    log = SystemLog(
        "lagoon",
        events=tuple(
            Event(source=here(60 + n), at=each, what="cutting", coral="thicket", text=None) for n, each in enumerate(at)
        ),
    )
    cut = [event for event in found([coral("other", "2025-01-01"), thicket], log) if event.what == "cutting"]
    assert [event.day.day for event in cut] == ([5, 6] if in_file or hours else [])
    assert [event.at.hour for event in cut] == [hours[0] if hours else 0] * len(cut)


def test_the_hour_in_the_log_is_of_the_day_that_the_file_names_not_of_the_next():
    days = (date(2026, 1, 11), date(2026, 1, 10))
    cuttings = tuple(Cutting(source=here(30 + line), at=day, frags=6) for line, day in enumerate(days))
    thicket = replace(coral("thicket", "2025-06-01", "30 cm"), cuttings=cuttings)
    at = datetime(2026, 1, 10, 15, tzinfo=UTC)
    log = SystemLog("lagoon", events=(Event(source=here(60), at=at, what="cutting", coral="thicket", text=None),))
    cut = [event for event in found([coral("other", "2025-01-01"), thicket], log) if event.what == "cutting"]
    assert [event.at for event in cut] == [at, datetime(2026, 1, 11, tzinfo=UTC)]


@pytest.mark.parametrize("zone", ["Pacific/Honolulu", "Pacific/Kiritimati"])
def test_a_day_is_the_keepers_own_wherever_that_is(zone):
    here_at = datetime(2026, 3, 1, 20, 15, tzinfo=ZoneInfo(zone))
    event = Event(source=here(60), at=here_at.astimezone(UTC), what="arrival", coral="thicket", text=None)
    log = SystemLog(system="lagoon", events=(event,))
    corals = [coral("old", "2025-01-01"), coral("thicket", "2026-03-01"), coral("late", "2026-03-05")]
    timed, untimed = demand_events("lagoon", log, corals, AS_OF.astimezone(ZoneInfo(zone)))[-2:]
    assert (timed.coral, timed.day, timed.at, timed.timed) == ("thicket", date(2026, 3, 1), here_at, True)
    assert (untimed.coral, untimed.day, untimed.timed) == ("late", date(2026, 3, 5), False)
    assert untimed.at == datetime(2026, 3, 5, tzinfo=ZoneInfo(zone))


def test_the_log_gives_the_hour_of_what_a_corals_file_dates():
    at = datetime(2026, 3, 1, 14, 30, tzinfo=UTC)
    log = SystemLog(
        system="lagoon", events=(Event(source=here(60), at=at, what="arrival", coral="thicket", text=None),)
    )
    events = [
        e for e in found([coral("old", "2025-01-01"), coral("thicket", "2026-03-01")], log) if e.coral == "thicket"
    ]
    assert [e.at for e in events] == [at]


@pytest.mark.parametrize(
    "at",
    [
        datetime(2026, 2, 28, 20, tzinfo=UTC),  # 1 March, 9 in the morning, in New Zealand
        datetime(2026, 3, 2, 4, tzinfo=UTC),  # 1 March, 6 in the evening, in Hawaii
    ],
)
def test_the_log_gives_the_hour_wherever_on_earth_the_day_was_kept(at):
    log = SystemLog(
        system="lagoon", events=(Event(source=here(60), at=at, what="arrival", coral="thicket", text=None),)
    )
    events = [
        e for e in found([coral("old", "2025-01-01"), coral("thicket", "2026-03-01")], log) if e.coral == "thicket"
    ]
    assert [(e.at, e.share) for e in events] == [(at, pytest.approx(1.0))]


def test_another_event_of_the_day_about_a_coral_is_one_of_its_own():
    at = datetime(2026, 3, 1, 9, tzinfo=UTC)
    log = SystemLog(system="lagoon", events=(Event(source=here(60), at=at, what="light", coral="thicket", text=None),))
    events = [
        e for e in found([coral("old", "2025-01-01"), coral("thicket", "2026-03-01")], log) if e.coral == "thicket"
    ]
    assert sorted(e.what for e in events) == ["arrival", "light"]


def test_a_change_of_light_opens_the_demand_though_no_coral_came_or_went():
    at = datetime(2026, 3, 1, 9, tzinfo=UTC)
    log = SystemLog(system="lagoon", events=(Event(source=here(), at=at, what="light", coral=None, text="new lamps"),))
    assert [e.what for e in found([], log)] == ["light"]


def test_what_lies_ahead_is_no_event_yet():
    assert not found([coral("thicket", "2026-07-01")])


def frag(name: str, since: str, **changes) -> Coral:
    cut = coral(name, since)
    return replace(cut, parent="thicket", arrival=replace(cut.arrival, how="cutting"), **changes)


def cut_up(frags: int) -> Coral:
    cut = Cutting(source=here(15), at=date(2026, 4, 1), frags=frags)
    return replace(coral("thicket", "2025-01-01", "20 cm"), cuttings=(cut,))


def of_april(corals, log=None):
    return [event for event in found(corals, log) if event.day == date(2026, 4, 1)]


def test_a_frag_cut_in_the_same_water_is_no_arrival_even_where_the_log_names_it():
    old = [coral(f"old-{n}", "2025-01-01") for n in range(3)]
    at = datetime(2026, 4, 1, 9, tzinfo=UTC)
    log = SystemLog(system="lagoon", events=(Event(source=here(), at=at, what="arrival", coral="one", text=None),))
    (cut,) = of_april([*old, cut_up(1), frag("one", "2026-04-01")], log)
    assert (cut.what, cut.coral, cut.share, cut.stays) == ("cutting", "thicket", 0.0, 1.0)
    assert all(step.variance(1.0) == 0.0 or step.at != in_days(cut.at) for step in demand_steps([cut], "magnesium"))


def test_of_a_cut_only_what_leaves_the_water_counts():
    old = [coral(f"old-{n}", "2025-01-01") for n in range(4)]
    away = replace(
        frag("two", "2026-04-01"), placements=(Placement(source=here(), since=date(2026, 4, 1), system="bay"),)
    )
    (whole,), (half,) = of_april([*old, cut_up(2)]), of_april([*old, cut_up(2), frag("one", "2026-04-01"), away])
    assert (whole.stays, half.stays) == (0.0, 0.5)
    assert half.share < whole.share


def test_a_frag_cut_in_another_water_comes_to_this_one():
    parent = replace(cut_up(1), placements=(Placement(source=here(), since=date(2025, 1, 1), system="bay"),))
    events = found([coral("old", "2025-01-01"), parent, frag("one", "2026-04-01")])
    assert [event.what for event in events if event.coral == "one"] == ["arrival"]


def test_the_first_coral_of_a_water_is_all_of_its_demand():
    (event,) = found([coral("first", "2026-03-01")])
    assert event.share == 1.0
    gone = replace(coral("only", "2025-03-01"), end=End(source=here(), at=date(2026, 4, 1), how="died"))
    assert [each.share for each in found([gone]) if each.what == "loss"] == [1.0]


def test_a_step_comes_about_evenly_over_its_days_and_then_lasts():
    share, taken = _come_about(np.array([-1.0, 0.0, 2.0, 4.0, 6.0]), 4.0)
    assert share == pytest.approx([0.0, 0.0, 0.5, 1.0, 1.0])
    assert taken == pytest.approx([0.0, 0.0, 0.5, 2.0, 4.0])
