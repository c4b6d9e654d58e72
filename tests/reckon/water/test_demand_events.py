"""What may have changed a system's demand, from its corals' files and its log."""

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from generator.reckon.water.demand_events import demand_events, footprint
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


def test_a_footprint_is_the_ellipse_seen_from_above():
    # 48 x 40 cm: pi/4 * 48 * 40 = 1508 cm².
    length, width = parse_quantity("48 cm", "length"), parse_quantity("40 cm", "length")
    size = Size(source=here(), at=date(2026, 1, 1), length=length, width=width)
    big = replace(coral("table", "2026-01-01"), sizes=(size,))
    assert footprint(big, date(2026, 2, 1)) == pytest.approx(1507.96, abs=0.01)


def test_an_arrival_as_wide_as_all_the_others_may_double_the_demand():
    old = [coral(f"old-{n}", "2025-01-01") for n in range(4)]
    events = found([*old, coral("table", "2026-03-01", "20 cm")])
    assert [(e.coral, e.share) for e in events if e.coral == "table"] == [("table", pytest.approx(1.0))]


def test_a_small_cutting_among_many_is_lost_in_the_drift():
    old = [coral(f"old-{n}", "2025-01-01", "20 cm") for n in range(10)]
    assert not [e for e in found([*old, coral("frag", "2026-03-01", "3 cm")]) if e.coral == "frag"]


def test_a_coral_moved_to_another_system_is_a_loss_here_and_no_event_there_before():
    moved = coral("table", "2025-06-01", "30 cm")
    moved = replace(
        moved, placements=(*moved.placements, Placement(source=here(20), since=date(2026, 2, 1), system="bay"))
    )
    events = [e for e in found([coral("other", "2025-01-01"), moved]) if e.coral == "table"]
    assert [(e.what, e.at.date()) for e in events] == [("arrival", date(2025, 6, 1)), ("loss", date(2026, 2, 1))]


def test_cutting_and_dying_are_events_where_the_coral_stood():
    table = replace(
        coral("table", "2025-06-01", "30 cm"),
        cuttings=(Cutting(source=here(30), at=date(2026, 1, 5), pieces=6),),
        end=End(source=here(40), at=date(2026, 4, 1), how="died"),
    )
    what = [e.what for e in found([coral("other", "2025-01-01", "20 cm"), table]) if e.coral == "table"]
    assert what == ["arrival", "cutting", "loss"]


def test_a_cutting_counts_half_of_what_the_whole_coral_would():
    table = replace(
        coral("table", "2025-06-01", "20 cm"), cuttings=(Cutting(source=here(), at=date(2026, 1, 5), pieces=6),)
    )
    arrived, cut = [e for e in found([coral("other", "2025-01-01", "20 cm"), table]) if e.coral == "table"]
    assert cut.share == pytest.approx(arrived.share / 2.0)


def test_the_log_gives_the_hour_of_what_a_corals_file_dates():
    at = datetime(2026, 3, 1, 14, 30, tzinfo=UTC)
    log = SystemLog(system="lagoon", events=(Event(source=here(60), at=at, what="arrival", coral="table", text=None),))
    events = [e for e in found([coral("old", "2025-01-01"), coral("table", "2026-03-01")], log) if e.coral == "table"]
    assert [e.at for e in events] == [at]


def test_a_change_of_light_opens_the_demand_though_no_coral_came_or_went():
    at = datetime(2026, 3, 1, 9, tzinfo=UTC)
    log = SystemLog(system="lagoon", events=(Event(source=here(), at=at, what="light", coral=None, text="new lamps"),))
    assert [e.what for e in found([], log)] == ["light"]


def test_what_lies_ahead_is_no_event_yet():
    assert not found([coral("table", "2026-07-01")])
