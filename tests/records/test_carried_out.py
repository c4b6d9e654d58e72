"""A plan that has arrived is in the journal what its corals, its trade and its log would be, written by hand."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from generator.read.load import load
from generator.records.journal import Journal, as_it_stood
from tests.archive import write_archive

SOUND = (Path(__file__).parents[1] / "read" / "sound.txt").read_text(encoding="utf-8")
CAME = datetime(2026, 3, 20, 15, 10, tzinfo=UTC)
NOW = datetime(2026, 3, 31, 12, 0, tzinfo=UTC)
SWAP = """\
--- trades/2026-01-10-promise.yaml
at: 2026-01-10
partner: marta
received: []
owed:
  - {by: us, what: a twig, due: 2026-04-01}
  - {by: them, what: a table, due: 2026-04-01}
--- systems/nook.yaml
name: Nook
water: {volume: 90 L, uncertainty: 3 L}
low: {alkalinity: 7.0 dKH}
high: {alkalinity: 9.0 dKH}
--- plans/the-table.yaml
since: 2026-03-01
partner: marta
keeps: 2026-01-10-promise/2
date: 2026-03-20 14:00
coming:
  - coral: table-1
    name: The table
    species: Acropora hyacinthus
    form: tabling
    length: 48 cm
    mass: 6.3 kg
    worth: 90 EUR
    system: reef
    place: bay
    x: 30 cm
    y: 30 cm
going:
  - {coral: tide-lantern-2, whole: true, worth: 50 EUR}
moving:
  - {coral: tide-lantern, to: nook}
travel: {container: small-box, duration: 50 min, expected: {water: 25 °C, air: 12 °C}}
"""


def journal(tmp_path: Path, lines: str = "") -> Journal:
    write_archive(SOUND, tmp_path)
    write_archive(SWAP, tmp_path)
    with (tmp_path / "plans/the-table.yaml").open("a", encoding="utf-8") as file:
        file.write(lines)
    loaded = load(tmp_path, NOW)
    assert [str(problem) for problem in loaded.errors] == []
    assert loaded.journal is not None
    return loaded.journal


@pytest.fixture
def done(tmp_path: Path) -> Journal:
    return journal(tmp_path, "arrived: 2026-03-20 15:10\n")


def test_what_came_is_a_coral_with_all_that_was_known_of_it(done: Journal) -> None:
    table = done.corals["table-1"]
    assert (table.species, table.form, table.line) == ("Acropora hyacinthus", "tabling", "table")
    arrival = table.arrival
    assert (arrival.at, arrival.how, arrival.partner) == (date(2026, 3, 20), "trade", "marta")
    assert arrival.trade == "2026-03-20-the-table"
    (stands,) = table.placements
    assert (stands.system, stands.place, str(stands.x), str(stands.y)) == ("reef", "bay", "30 cm", "30 cm")
    assert str(table.sizes[0].length) == "48 cm"
    assert (str(table.weighings[0].mass), str(table.weighings[0].resolution)) == ("6.3 kg", "0.1 kg")


def test_what_went_has_an_end_and_what_moved_another_place(done: Journal) -> None:
    end = done.corals["tide-lantern-2"].end
    assert end is not None
    assert (end.at, end.how, end.partner, end.trade) == (date(2026, 3, 20), "given", "marta", "2026-03-20-the-table")
    assert [each.system for each in done.corals["tide-lantern"].placements] == ["reef", "nook"]


def test_the_trade_is_there_and_the_promise_is_kept(done: Journal) -> None:
    trade = done.trades["2026-03-20-the-table"]
    assert [(got.coral, str(got.worth)) for got in trade.received] == [("table-1", str(trade.received[0].worth))]
    assert [given.coral for given in trade.gave] == ["tide-lantern-2"]
    assert trade.travel is not None
    assert trade.travel.temperatures == (), "what was only expected was not read"
    promised = done.trades["2026-01-10-promise"].owed
    assert [owed.settled for owed in promised] == [None, date(2026, 3, 20)]


def test_the_logs_have_the_hour_of_each(done: Journal) -> None:
    told = {(id, e.what, e.coral) for id, log in done.logs.items() for e in log.events if e.at == CAME}
    assert told == {
        ("reef", "arrival", "table-1"),
        ("reef", "loss", "tide-lantern-2"),
        ("reef", "loss", "tide-lantern"),
        ("nook", "arrival", "tide-lantern"),
    }


def test_until_it_arrives_nothing_of_it_is_there(tmp_path: Path) -> None:
    before = journal(tmp_path)
    assert before.plans["the-table"].stage == "agreed"
    assert "table-1" not in before.corals
    assert "2026-03-20-the-table" not in before.trades


def test_an_hour_before_the_journal_is_as_if_it_were_still_planned(done: Journal, tmp_path: Path) -> None:
    other = tmp_path / "other"
    other.mkdir()
    eve = CAME - timedelta(hours=1)
    before, planned = as_it_stood(done, eve), as_it_stood(journal(other), eve)
    assert before.corals == planned.corals
    assert before.trades == planned.trades
    assert before.plans.keys() == planned.plans.keys()
    assert {id: log.events for id, log in before.logs.items() if log.events} == {
        id: log.events for id, log in planned.logs.items() if log.events
    }
    after = as_it_stood(done, CAME)
    assert "table-1" in after.corals
    assert after.plans == {}


def test_a_coral_that_has_its_own_file_is_as_that_file_tells(tmp_path: Path) -> None:
    (tmp_path / "corals").mkdir()
    (tmp_path / "corals/table-1.yaml").write_text(
        "name: The table\nspecies: Acropora hyacinthus\nline: table\nform: tabling\n"
        "arrival: {at: 2026-03-20, how: trade, partner: marta, trade: 2026-03-20-the-table}\n"
        "placements:\n  - {since: 2026-03-20, system: reef, place: bay}\n"
        "sizes:\n  - {at: 2026-03-20, length: 47 cm}\n",
        encoding="utf-8",
    )
    done = journal(tmp_path, "arrived: 2026-03-20 15:10\n")
    assert str(done.corals["table-1"].sizes[0].length) == "47 cm"
    assert "2026-03-20-the-table" in done.trades


@pytest.mark.usefixtures("done")
def test_an_event_the_log_has_already_is_not_told_twice(tmp_path: Path) -> None:
    with (tmp_path / "logs/reef/2026-03.yaml").open("a", encoding="utf-8") as log:
        log.write("- at: 2026-03-20 15:25\n  event: {what: arrival, coral: table-1}\n")
    again = load(tmp_path, NOW).journal
    assert again is not None
    told = [event.at for event in again.logs["reef"].events if event.coral == "table-1"]
    assert told == [CAME + timedelta(minutes=15)]


def test_all_of_a_system_moves_when_the_system_is_named(tmp_path: Path) -> None:
    write_archive(
        "--- plans/house.yaml\nsince: 2026-03-01\narrived: 2026-03-21 10:00\nmoving:\n  - {all_of: reef, to: nook}\n",
        tmp_path,
    )
    moved = journal(tmp_path)
    standing = {id: coral.placement_on(date(2026, 3, 21)) for id, coral in moved.corals.items()}
    assert {id: place.system for id, place in standing.items() if place} == {
        "tide-lantern": "nook",
        "tide-lantern-2": "nook",
    }


def test_of_an_arrival_of_a_day_no_hour_is_told(tmp_path: Path) -> None:
    done = journal(tmp_path, "arrived: 2026-03-20\n")
    assert "table-1" in done.corals
    assert not any(event.coral == "table-1" for event in done.logs["reef"].events)
    assert "table-1" in as_it_stood(done, datetime(2026, 3, 20, 0, 30, tzinfo=UTC)).corals


def test_with_its_own_hour_in_the_log_a_coral_is_not_here_before_it(done: Journal) -> None:
    """The hour counts the same for corals that plans did not bring."""
    alone = replace(done, plans={})
    assert "table-1" not in as_it_stood(alone, CAME - timedelta(minutes=1)).corals
    assert "table-1" in as_it_stood(alone, CAME).corals
