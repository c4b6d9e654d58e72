"""The sheet of a plan: which place, what must move, where that can go, and who may see it."""

import re
from datetime import date, datetime
from pathlib import Path

import pytest

from generator.read.load import load
from generator.reckon.analysis.journal import analyse
from generator.render.audience import Audience, view
from generator.render.base import links
from tests.reckon.planned.evening import evening
from tests.render import sample
from tests.render.pages import drawn, site, texts

pytestmark = pytest.mark.long


def _said(html: str) -> str:
    return " ".join(" ".join(text for _, text in texts(html)).replace("\u00a0", " ").split())


@pytest.fixture(scope="module")
def own() -> dict[str, str]:
    journal, at = evening()
    made = drawn(site(view(journal, "own"), analyse(journal, at), (), at, {}))
    return {url: _said(made[url]) for url in made if url.startswith("coming/")}


@pytest.fixture(scope="module")
def table(own: dict[str, str]) -> str:
    return own[links.page_of("plan", "lot-19")]


def test_the_sheet_says_which_place_what_must_move_and_where_that_can_go(table: str) -> None:
    assert "46 × 37 × 24 cm, branching" in table
    assert "210–280 PAR, strong flow" in table
    assert "The Fore-reef, east-stand its middle 23 cm from the left and 22 cm from the front" in table
    assert "no room there now" in table
    assert "Ballast → no place is free" in table


def test_a_sheet_without_a_journey_says_what_is_missing_and_how_to_write_it(own: dict[str, str]) -> None:
    for name, told in (("lot-19", False), ("brasks-window-sill", False), ("bell-buoy-for-ilo", True)):
        said = own[links.page_of("plan", name)]
        assert ("Container and travel time are not recorded" not in said) is told, name
        assert ("write travel: {container: " in said) is not told, name


def test_a_size_written_in_inches_is_told_in_the_unit_of_the_journal_and_finds_its_places(own: dict[str, str]) -> None:
    sill = own[links.page_of("plan", "brasks-window-sill")]
    assert "14 × 13 × 8 cm, massive" in sill
    assert "Drained 820 g" in sill
    assert " in ×" not in sill
    # The plan says where: 18 cm from the left and 21 cm from the front.
    assert "The Waiting Room, bare-shelf its middle 18 cm from the left and 21 cm from the front" in sill
    assert "10 PAR too dim" in sill


def test_the_sheet_says_what_it_would_take_and_what_that_adds_to_the_doses(table: str) -> None:
    takes = table.split("Predicted uptake in The Fore-reef")[1].split("Predicted uptake in")[0]
    ranged = r"([\d.]+) {unit} a day likely ([\d.]+) to ([\d.]+) {unit} a day"
    grams, alkalinity = (re.search(ranged.format(unit=unit), takes) for unit in ("g", "dKH"))
    assert grams is not None
    assert alkalinity is not None
    for found in (grams, alkalinity):
        value, low, high = map(float, found.groups())
        assert low < value < high
    # A gram of CaCO3 takes 19.98 meq (100.086 g a mole, 2 eq), in 1150 L at 2.80385 dKH a meq/L.
    assert float(alkalinity[1]) == pytest.approx(float(grams[1]) * 19.98 / 1150.0 * 2.80385, rel=0.1)
    dose = r"(\d+) mL a day"
    pumps = re.search(rf"soda Na2CO3, 60 g/L {dose} {dose} (?:the same|{dose}) {dose}", takes)
    assert pumps is not None
    now, first, likely, cap = (int(each or pumps[2]) for each in pumps.groups())
    assert now < first <= likely < cap


def test_the_sheet_says_what_each_outcome_of_the_test_would_mean(table: str) -> None:
    takes = table.split("Predicted uptake in The Fore-reef")[1].split("Predicted uptake in")[0]
    read = r"([\d.]+) dKH"
    every = re.search(rf"Alkalinity {read} or lower on .*?: uptake rose by all that was predicted, or more", takes)
    little = re.search(rf"Above {read}: uptake rose by less than half of that", takes)
    nothing = re.search(rf"With no rise at all it would be about {read}", takes)
    assert every is not None
    assert little is not None
    assert nothing is not None
    assert float(every[1]) < float(little[1]) < float(nothing[1])


def test_the_sheet_goes_through_the_day_in_its_order(table: str) -> None:
    order = [
        "Ask your authority",
        "Lifting it out by hand",
        "On arrival",
        "Light It comes from",
        "If the test shows the predicted uptake",
    ]
    assert [place for place in order if place in table] == order
    assert sorted(order, key=table.index) == order
    assert "It comes from 180 PAR." in table
    assert "Seen on earlier arrivals from them:" in table


def test_what_goes_is_judged_for_its_container(own: dict[str, str]) -> None:
    sheet = own[links.page_of("plan", "bell-buoy-for-ilo")]
    assert "It fits" in sheet
    assert "For 3.0 h on the way." in sheet
    assert "A battery air pump" in sheet


@pytest.mark.parametrize("audience", ["public", "partners", "own"])
def test_a_plan_is_nobody_elses_business(audience: Audience) -> None:
    html = drawn(sample.built(sample.seen(audience)))
    own = audience == "own"
    assert (links.PLANNED in html) == (links.page_of("plan", "canary-plan") in html) == own
    said = _said(" ".join(html.values()))
    assert ("CANARY-colony" in said) == ("CANARY-plan" in said) == ("Each plan has a sheet" in said) == own


def test_a_trip_to_come_shows_its_pose_its_risks_what_to_pack_and_the_cautions():
    html = drawn(sample.built(sample.seen("own")))[links.page_of("plan", "canary-plan")]
    page = _said(html)
    assert "It fits, with" in page
    assert html.count('<svg xmlns="http://www.w3.org/2000/svg" class="pose"') == 4, "two of each colony"
    for caution in ("Water is heavy.", "Stony corals are listed by CITES.", "Never release animals"):
        assert caution in page
    for risk in ("Fit: low", "Cover: low", "Temperature:", "Oxygen:"):
        assert risk in page
    assert "The record of origin, with its paper in the bag" in page
    assert re.search(r"Water to cover it [\d.]+ L likely [\d.]+ to [\d.]+ L", page)


def test_the_sheet_of_what_leaves_says_what_each_water_takes_up_afterwards(own: dict[str, str]) -> None:
    afterwards = own[links.page_of("plan", "moving-house")].split("After all of it: ")[1:]
    assert [each.split(" Night Trawler 1")[0] for each in afterwards] == ["The Fore-reef", "The Lagoon"]
    here, there = afterwards
    assert re.search(r"Night Trawler 1 takes about [\d.]+ dKH a day of uptake away", here)
    assert re.search(r"Night Trawler 1 adds about [\d.]+ dKH a day of uptake", there)
    doses = [
        re.search(r"Never more than .*?\bsoda [^ ]+ [^ ]+ g/L ((?:(?:\d+ mL a day|the same) ?){4})", each)
        for each in afterwards
    ]
    rates = [[int(n) for n in re.findall(r"(\d+) mL", dose[1])] for dose in doses if dose]
    assert len(rates) == 2
    (here_now, *less), (there_now, *more) = rates
    assert less == sorted(less)
    assert more == sorted(more)
    assert less[0] < here_now
    assert there_now < more[0]
    assert "uptake fell by all that was predicted, or more" in here
    assert "uptake rose by all that was predicted, or more" in there


def _one_sheet(folder: Path, plan: str, language: str = "en", dosed: str = "", logged: str = "") -> str:
    """What the sheet of a plan says, of a journal without places and corals but one, and without solutions or so."""
    files = {
        "journal.yaml": f"title: T\nkeeper: K\ntime_zone: Europe/Lisbon\nlanguage: {language}\n",
        "systems/reef.yaml": "name: Reef\nwater: {volume: 200 L, uncertainty: 60 L}\n"
        f"low: {{alkalinity: 7 dKH}}\nhigh: {{alkalinity: 9 dKH}}\n{dosed}",
        "logs/reef/2026-11.yaml": logged
        + "".join(
            f"- at: 2026-11-{day:02d} 08:00\n  readings: {{alkalinity: 8.{day % 3} dKH}}\n" for day in range(1, 24)
        ),
        "corals/hammer.yaml": "name: Hammer\nspecies: Galaxea fascicularis\nline: hammer\nform: massive\n"
        "arrival: {at: 2024-05-01, how: bought}\nplacements: [{since: 2024-05-01, system: reef}]\n",
        "partners/rowan.yaml": "name: Rowan Wick\n",
        "plans/big.yaml": f"since: 2026-11-20\ndate: 2026-11-25 15:00\n{plan}",
    }
    for name, text in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text)
    loaded = load(folder, date(2026, 11, 24))
    assert loaded.journal is not None, loaded.problems
    at = datetime(2026, 11, 24, 20, 0, tzinfo=loaded.journal.settings.time_zone)
    made = drawn(site(view(loaded.journal, "own"), analyse(loaded.journal, at), (), at, {}))
    return _said(made[links.page_of("plan", "big")])


def test_a_journal_without_places_and_solutions_is_told_to_record_them(tmp_path: Path) -> None:
    plan = (
        "coming:\n  - {coral: big-1, name: Big, species: Acropora hyacinthus, form: tabling, "
        "length: 30 cm, width: 25 cm, height: 15 cm, system: reef}\n"
    )
    said = _one_sheet(tmp_path, plan)
    assert "No places are recorded." in said
    assert "No solution is recorded that could make up for its uptake." in said
    assert "uptake rose by all that was predicted, or more." in said
    for wrong in ("large enough", "These solutions", "Set the pumps", "first step"):
        assert wrong not in said


@pytest.mark.parametrize(("gave", "mends"), [("20 mL/day", True), ("58 mL/day", False)])
def test_a_pump_to_mend_is_set_by_the_sheet_only_once_it_is_mended(tmp_path: Path, gave: str, mends: bool) -> None:
    plan = (
        "coming:\n  - {coral: big-1, name: Big, species: Acropora hyacinthus, form: tabling, "
        "length: 30 cm, width: 25 cm, height: 15 cm, system: reef}\n"
    )
    solution = "solutions: {soda: {compound: Na2CO3, strength: 60 g/L}}\n"
    runs = f"- at: 2026-11-01 07:00\n  pumps: {{soda: 60 mL/day}}\n  measured_rate: {{soda: {gave}}}\n"
    said = _one_sheet(tmp_path, plan, dosed=solution, logged=runs)
    assert re.search(r"soda: from 60 mL a day to \d+ mL a day", said)
    # In the first screen and in the table.
    assert said.count("once its pump is mended") == 2 * mends


@pytest.mark.parametrize(
    ("language", "poison", "sting", "sharp"),
    [
        ("en", "Mat: This group can contain palytoxin", "Hammer: It stings.", "Hammer: Cut skeleton is sharp"),
        ("de", "Mat: Diese Gruppe kann Palytoxin", "Hammer: Sie nesselt.", "Hammer: Geschnittenes Skelett ist scharf"),
    ],
)
def test_the_sheet_warns_of_what_poisons_stings_or_is_cut_and_only_of_that(
    tmp_path: Path, language: str, poison: str, sting: str, sharp: str
) -> None:
    small = "length: 6 cm, width: 5 cm, height: 1 cm, system: reef"
    plan = (
        f"coming:\n  - {{coral: mat-1, name: Mat, species: Palythoa grandis, form: encrusting, {small}}}\n"
        f"  - {{coral: twig-1, name: Twig, species: Acropora millepora, form: branching, {small}}}\n"
        "partner: rowan\ngoing:\n  - {coral: hammer, frags: 1}\n"
    )
    said = _one_sheet(tmp_path, plan, language)
    assert poison in said
    assert sting in said
    assert sharp in said
    assert not re.search(
        r"Twig[^.]*: (This group|It stings|Cut|Wear|Diese Gruppe|Sie nesselt|Geschnitten|Tragen)", said
    )
