"""What a coral took before it moved is what it took in the water where it stood the day before."""

from datetime import UTC, datetime, timedelta

import pytest
from msgspec.structs import replace

from generator.reckon.arrivals.known import Waters
from generator.reckon.water.demand_events import DemandEvent
from generator.records.coral import Placement
from tests.reckon.arrivals.colonies import DAY, coral, here
from tests.reckon.water.journals import system


def test_what_a_coral_took_is_asked_of_where_it_stood_the_day_before(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []
    monkeypatch.setattr(Waters, "_just_before", lambda _, id, __: (asked.append(id), None, None))
    stays = [("first", 30), ("quarantine", 1), ("lagoon", 0)]
    moved = replace(
        coral("one"),
        placements=tuple(
            Placement(source=here(), since=DAY - timedelta(days=days), system=name) for name, days in stays
        ),
    )
    waters = Waters({name: system() for name, _ in stays}, {}, {"one": moved}, UTC)
    came = datetime(DAY.year, DAY.month, DAY.day, 12, tzinfo=UTC)
    waters.taken_before(moved, DemandEvent(came, 0.2, "arrival", "one", here(), DAY))
    assert asked == ["quarantine"]
