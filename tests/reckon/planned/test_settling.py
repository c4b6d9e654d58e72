"""A coral that moves finds its place, what must move first, and its light, before anyone lifts it."""

from datetime import timedelta
from pathlib import Path

import pytest

from generator.nature.constants import LIGHT_RISE_PER_WEEK
from generator.read.load import load
from generator.reckon.analysis.journal import analyse
from generator.reckon.planned.settling import Settling
from generator.records.past import as_it_stood
from tests.commands.two_tanks import AT, write

BEFORE = AT - timedelta(hours=1)
PLAN = "since: 2026-10-20\ndate: 2026-10-30 14:00\nmoving:\n"


def settled(folder: Path, *lines: str, pond: tuple[str, str] = ("", "")) -> dict[str, Settling]:
    """What is found of each coral that moves, with the pond's file changed from one text to the other."""
    write(folder)
    (folder / "plans").mkdir()
    (folder / "plans/moves.yaml").write_text(PLAN + "".join(f"  - {line}\n" for line in lines), encoding="utf-8")
    file = folder / "systems/pond.yaml"
    file.write_text(file.read_text(encoding="utf-8").replace(*pond), encoding="utf-8")
    journal = load(folder, BEFORE).journal
    assert journal is not None
    (plan,) = analyse(as_it_stood(journal, BEFORE), BEFORE).plans
    return {each.coral.id: each for each in plan.settlings}


def test_what_stands_in_the_decided_spot_must_move_first(tmp_path: Path) -> None:
    (place,) = settled(tmp_path, "{coral: stag-1, to: pond, place: ledge, x: 27 cm, y: 25 cm}")["stag-1"].places
    assert [move.coral for move in place.moves] == ["dish-1"]
    assert (place.spot.x, place.spot.y) == (37.0, 30.0)


def test_two_that_move_at_once_are_never_sent_to_the_same_spot(tmp_path: Path) -> None:
    found = settled(
        tmp_path, "{coral: boulder-1, to: pond}", "{coral: stag-1, to: pond, place: ledge, x: 12 cm, y: 12 cm}"
    )
    stag, boulder = (found[id].places[0].spot for id in ("stag-1", "boulder-1"))
    apart = ((stag.x - boulder.x) ** 2 + (stag.y - boulder.y) ** 2) ** 0.5
    # Half of 24 by 20 cm and of 14 by 13 cm, at the least.
    assert apart > 11.0 + 6.7
    assert (stag.x, stag.y) == (22.0, 17.0)


def test_a_whole_tank_that_moves_finds_a_place_for_each(tmp_path: Path) -> None:
    found = settled(tmp_path, "{all_of: bay, to: pond}")
    assert set(found) == {"stag-1", "boulder-1"}
    assert all(each.places and each.places[0].spot.system == "pond" for each in found.values())
    moves = [move for each in found.values() for move in each.places[0].moves]
    assert all(move.to is None or move.to.system == "pond" for move in moves), "the bay is emptied"


def test_more_light_than_it_is_used_to_comes_in_steps(tmp_path: Path) -> None:
    light = settled(tmp_path, "{coral: stag-1, to: pond, place: ledge}", pond=("200 PAR", "300 PAR"))["stag-1"].light
    assert light is not None
    assert light.used_to == pytest.approx(200.0)
    up = 1.0 + LIGHT_RISE_PER_WEEK.value
    assert [step.par for step in light.steps] == pytest.approx([200.0 * up, 200.0 * up**2, 300.0])
    assert light.steps[0].since == AT.date()


def test_light_that_nobody_measured_is_asked_for(tmp_path: Path) -> None:
    light = settled(tmp_path, "{coral: stag-1, to: pond, place: ledge}", pond=(", light: 200 PAR", ""))["stag-1"].light
    assert light is not None
    assert light.used_to is None
