"""What moves or comes finds its place, what must move first, and its light, before anyone lifts it."""

from datetime import timedelta
from pathlib import Path

import pytest
from msgspec.structs import replace

from generator.nature.constants import LIGHT_RISE_PER_WEEK
from generator.read.load import load
from generator.reckon.analysis.journal import analyse
from generator.reckon.planned.analysis import PlanFindings
from generator.reckon.planned.places import Settling
from generator.records.journal import as_it_stood
from tests.commands.two_tanks import AT, write
from tests.conftest import calculated
from tests.render import sample

pytestmark = pytest.mark.usefixtures("courses_kept")

BEFORE = AT - timedelta(hours=1)
PLAN = "since: 2026-10-20\ndate: 2026-10-30 14:00\n"


def planned(
    folder: Path, text: str, added: dict[str, str] | None = None, pond: tuple[str, str] = ("", "")
) -> PlanFindings:
    """What is found of a plan of the two tanks, with texts added to some files, and one text of the pond changed."""
    write(folder)
    (folder / "plans").mkdir()
    (folder / "plans/moves.yaml").write_text(PLAN + text, encoding="utf-8")
    file = folder / "systems/pond.yaml"
    file.write_text(file.read_text(encoding="utf-8").replace(*pond), encoding="utf-8")
    for name, more in (added or {}).items():
        with (folder / name).open("a", encoding="utf-8") as file_of_more:
            file_of_more.write(more)
    journal = load(folder, BEFORE).journal
    assert journal is not None
    (plan,) = calculated(as_it_stood(journal, BEFORE), BEFORE).plans
    return plan


def settled(folder: Path, *lines: str, pond: tuple[str, str] = ("", "")) -> dict[str, Settling]:
    """What is found of each coral that moves."""
    found = planned(folder, "moving:\n" + "".join(f"  - {line}\n" for line in lines), pond=pond)
    return {each.coral.id: each for each in found.settlings}


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


def test_two_that_come_at_once_are_never_sent_to_the_same_spot(tmp_path: Path) -> None:
    coming = "".join(
        f"  - {{coral: new-{n}, name: New {n}, species: Porites lutea, form: massive, length: 20 cm, system: bay}}\n"
        for n in (1, 2)
    )
    one, other = (each.places[0].spot for each in planned(tmp_path, f"coming:\n{coming}").landings)
    assert ((one.x - other.x) ** 2 + (one.y - other.y) ** 2) ** 0.5 > 20.0


def test_what_goes_leaves_its_room_to_what_comes(tmp_path: Path) -> None:
    swap = (
        "going:\n  - {coral: stag-1, whole: true}\npartner: lowell\ncoming:\n  - {coral: new-1, name: New, "
        "species: Acropora muricata, form: branching, length: 24 cm, width: 20 cm, system: bay, place: ledge, "
        "x: 20 cm, y: 25 cm}\n"
    )
    (new,) = planned(tmp_path, swap).landings
    assert new.places[0].moves == ()


def test_a_move_is_brought_in_by_what_is_known_of_both_waters_and_of_what_showed_in_the_first(tmp_path: Path) -> None:
    (quiet,) = planned(tmp_path, "moving:\n  - {coral: stag-1, to: pond}\n").care
    assert (quiet.system, quiet.home, quiet.newest, quiet.brought, quiet.waiting) == ("pond", "bay", None, (), ())
    assert quiet.acclimation.temperature is None


def test_pests_that_could_show_yet_hold_up_every_coral_of_the_water(tmp_path: Path) -> None:
    added = {
        "corals/boulder-1.yaml": "health:\n  - {at: 2026-10-10, what: treatment, note: flatworms}\n",
        "corals/stag-1.yaml": "health:\n  - {at: 2026-10-20, what: quarantine}\n",
        "logs/bay/2026-10.yaml": "- at: 2026-10-29 08:00\n  readings: {temperature: 25.0 °C, salinity: 35.0 psu}\n",
        "logs/pond/2026-10.yaml": "- at: 2026-10-29 08:00\n  readings: {temperature: 26.0 °C, salinity: 33.0 psu}\n",
    }
    (found,) = planned(tmp_path, "moving:\n  - {coral: stag-1, to: pond}\n", added).care
    assert [(each.coral, each.said) for each in found.brought] == [("Lutea", "flatworms")]
    assert [coral.id for coral in found.waiting] == ["stag-1"]
    assert found.acclimation.temperature == pytest.approx(-1.0)
    assert found.acclimation.salinity == pytest.approx(2.0)
    assert found.acclimation.minutes == 60


def test_where_its_system_is_decided_on_no_other_is_told() -> None:
    new = replace(sample.planned().coming[0], system="lagoon")
    plan = sample.planned(coming=(new,))
    found = analyse(sample.journal(plans={plan.id: plan}), sample.AS_OF).plans[0].landings[0]
    assert [water.system for water in found.waters] == ["lagoon"]
    assert {place.spot.system for place in found.places} == {"lagoon"}


def test_where_its_spot_is_decided_the_sheet_says_that_spot() -> None:
    new = replace(sample.planned().coming[0], system="lagoon", place="crest")
    new = replace(new, x=sample.of(31, "cm", "length", 0), y=sample.of(14, "cm", "length", 0))
    plan = sample.planned(coming=(new,))
    (place,) = analyse(sample.journal(plans={plan.id: plan}), sample.AS_OF).plans[0].landings[0].places
    # The crest begins 5 cm from the left and 4 cm from the front of its tank.
    assert (place.spot.place, place.spot.x, place.spot.y) == ("crest", 36.0, 18.0)
