"""Slips of the hand in one number, each with the warning it must bring; and no warning where there is no slip.

`kept.txt` is a journal kept for a year, without a slip. `slips.txt` holds one slip after another:
`=== what happened`, `--- file`, the text before (`- …`) and after (`+ …`), `>>>`, and what `check` must say. A `…`
stands for what else follows from the slip. It is Tuesday 31 March 2026, noon in Greenwich.
"""

import re
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

import pytest

from generator.nature.constants import SOLUBILITY
from generator.read.load import Loaded, load
from generator.read.plausible import MOST_DISSOLVED, implausible
from generator.records.source import Problem
from generator.units.quantity import parse_quantity
from tests.archive import sections, write_archive
from tests.conftest import ROOT
from tests.simulator import demo
from tests.simulator.journal import simulate, write

HERE = Path(__file__).parent
KEPT = (HERE / "kept.txt").read_text(encoding="utf-8")
NOW = datetime(2026, 3, 31, 12, 0, tzinfo=UTC)
# At most one false alarm in so many lines of a journal.
LINES_FOR_AN_ALARM = 500


class Slip(NamedTuple):
    name: str
    file: str
    before: str
    after: str
    expected: list[str]


def slips() -> list[Slip]:
    found = []
    for chunk in re.split(r"^=== ", (HERE / "slips.txt").read_text(encoding="utf-8"), flags=re.MULTILINE)[1:]:
        typed, _, said = chunk.partition(">>>\n")
        name, file, *lines = typed.splitlines()
        before, after = ("\n".join(line[2:] for line in lines if line.startswith(sign)) for sign in "-+")
        found.append(Slip(name, file.removeprefix("--- "), before, after, said.strip().split("\n")))
    return found


SLIPS = slips()


def read(folder: Path, *edits: tuple[str, str, str]) -> Loaded:
    """The kept journal with edits: in a file, a text that is there once, and what stands for it."""
    write_archive(KEPT, folder)
    for file, before, after in edits:
        text = (folder / file).read_text(encoding="utf-8")
        assert text.count(before) == 1, f"'{before}' must be once in {file}"
        (folder / file).write_text(text.replace(before, after), encoding="utf-8")
    return load(folder, NOW)


def warnings(told: Loaded) -> list[Problem]:
    return [problem for problem in told.problems if problem.severity == "warning"]


def said(loaded: Loaded) -> list[str]:
    return [str(problem) for problem in loaded.problems]


@pytest.mark.parametrize("slip", SLIPS, ids=[slip.name for slip in SLIPS])
def test_a_slip_is_named_with_its_line_what_is_usual_and_its_cure(slip: Slip, tmp_path: Path) -> None:
    heard = said(read(tmp_path, (slip.file, slip.before, slip.after)))
    if slip.expected[-1] == "…":
        assert set(slip.expected[:-1]) < set(heard)
    else:
        assert heard == slip.expected


def test_at_least_forty_slips_are_caught_and_each_is_another() -> None:
    assert len({(slip.file, slip.before, slip.after) for slip in SLIPS}) == len({slip.name for slip in SLIPS}) >= 40
    # Two are errors, for no water is so salty or so hot; the others are warnings.
    assert all(slip.expected for slip in SLIPS)
    assert sum(any("warning: " in message for message in slip.expected) for slip in SLIPS) >= len(SLIPS) - 2


def test_a_journal_kept_well_has_no_warning(tmp_path: Path) -> None:
    assert said(read(tmp_path)) == []


LOG = "logs/reef/2026-03.yaml"
ORDINARY = {
    "a pump raised by a half": ("pumps: {soda: 68 mL/day}", "pumps: {soda: 100 mL/day}"),
    "a pump stopped": ("pumps: {soda: 68 mL/day}", "pumps: {soda: 0 mL/day}"),
    "a correction of three usual doses": ("doses: {soda: 42 mL}", "doses: {soda: 130 mL}"),
    "a large water change": ("water_change: {volume: 48 L}", "water_change: {volume: 160 L}"),
    "a dry week": ("top_off: {rate: 4.2 L/day}", "top_off: {rate: 7 L/day}"),
    "alkalinity at the end of its band": ("alkalinity: 8.0 dKH", "alkalinity: 9.0 dKH"),
    "a hot day": ("temperature: 25.9 °C", "temperature: 27.6 °C"),
    "nutrients used up": ("nitrate: 5.5 mg/L", "nitrate: 0.5 mg/L"),
    "a value below what the kit can read": ("phosphate: 0.06 mg/L", "phosphate: <0.02 mg/L"),
}


@pytest.mark.parametrize("edit", ORDINARY.values(), ids=ORDINARY)
def test_what_a_keeper_does_on_purpose_is_no_slip(edit: tuple[str, str], tmp_path: Path) -> None:
    assert said(read(tmp_path, (LOG, *edit))) == []


def test_a_keeper_who_writes_gallons_and_miles_is_answered_in_them(tmp_path: Path) -> None:
    box, trade = (
        "{length: 40 cm, width: 30 cm, height: 25 cm, mass: 1.5 kg, volume: 25 L}",
        "trades/2025-09-14-two.yaml",
    )
    told = said(
        read(
            tmp_path,
            ("journal.yaml", box, "{length: 16 in, width: 12 in, height: 10 in}"),
            (trade, "water: 12 L", "water: 12 gal"),
            (trade, "duration: 90 min", "duration: 9 min"),
            (trade, "distance: 64 km", "distance: 40 mi"),
        )
    )
    # 1920 cubic inches are 8.31 US gallons of 231 each.
    assert any("12 gal of water is too much for 'small-box', which holds 8.31 gal" in each for each in told), told
    assert any("40 mi in 9 min is 267 mi/h" in each for each in told), told


def test_worths_compare_in_one_currency_only(tmp_path: Path) -> None:
    trade = "trades/2025-09-14-two.yaml"
    assert said(read(tmp_path, (trade, "worth: 25 EUR", "worth: 4000 USD"))) == []


def test_a_coral_that_broke_may_be_smaller_and_one_that_was_treated_may_not(tmp_path: Path) -> None:
    """Between 12 cm in October and 4 cm in March, with something in December."""
    smaller = ("corals/tern.yaml", "length: 13.0 cm, width: 12.0 cm, height: 8.5 cm", "length: 4.0 cm")
    health = "  - {at: 2025-02-01, what: quarantine, until: 2025-03-10}"
    cut = (
        "corals/tern.yaml",
        "cuttings:\n  - {at: 2026-01-09, frags: 1, into: [tern-2], mass: 14 g, healed: 2026-01-24}\n",
        "",
    )
    parent = (
        "corals/tern-2.yaml",
        "parent: tern\narrival: {at: 2026-01-09, how: cutting}",
        "arrival: {at: 2026-01-09, how: gift}",
    )
    found = {}
    for what in ("breakage", "tissue-loss", "bleaching", "treatment"):
        noted = ("corals/tern.yaml", health, f"{health}\n  - {{at: 2025-12-01, what: {what}}}")
        loaded = read(tmp_path / what, smaller, cut, parent, noted)
        found[what] = any("nothing was cut" in each for each in said(loaded))
    assert found == {"breakage": False, "tissue-loss": False, "bleaching": False, "treatment": True}


def test_a_gravity_without_its_point_is_read_in_thousandths_and_no_other_number_is() -> None:
    def cure(text: str, kind: str) -> str:
        found = implausible(parse_quantity(text, kind))
        assert found is not None
        return found[1]

    assert cure("1025 sg 25/25", "salinity") == "did you mean 1.025 sg 25/25?"
    assert cure("-25 °C", "temperature") == "did you mean 25 °C?"
    assert cure("8200 dKH", "alkalinity") == "check the number and its unit"


def test_a_change_that_two_readings_show_is_a_change_of_the_water(tmp_path: Path) -> None:
    fell = "".join(f"- at: 2026-03-{day} 09:00\n  readings: {{calcium: {day}0 mg/L}}\n" for day in (24, 25))
    line = "- at: 2026-03-21 09:00\n  reactor: {flow: 30 mL/min, alkalinity: 25 dKH}\n"
    assert said(read(tmp_path, (LOG, line, line + fell))) == []


def test_a_note_that_repeats_the_number_settles_it(tmp_path: Path) -> None:
    typed = "calcium: 240 mg/L"
    noted = "- at: 2026-03-07 12:00\n  note: Calcium really is 240, by two kits.\n- at: 2026-03-14 09:20"
    alone = read(tmp_path / "alone", (LOG, "calcium: 420 mg/L", typed))
    assert len(warnings(alone)) == 1
    write_archive(KEPT, tmp_path / "noted")
    text = sections(KEPT)[LOG][0].replace("calcium: 420 mg/L", typed).replace("- at: 2026-03-14 09:20", noted)
    (tmp_path / "noted" / LOG).write_text(text, encoding="utf-8")
    assert said(load(tmp_path / "noted", NOW)) == []


@pytest.mark.parametrize("extreme", ["0", "0.000000001", "100000000000"])
def test_no_number_is_too_extreme_for_the_checks(extreme: str, tmp_path: Path) -> None:
    """Every seventh number of the journal in turn: whatever is wrong with it is said, and nothing breaks."""
    numbers = list(re.finditer(r"(?<=[ :])\d+(?:\.\d+)?(?= [a-zA-Z°])", KEPT))[::7]
    assert len(numbers) > 20
    for number in numbers:
        write_archive(KEPT[: number.start()] + extreme + KEPT[number.end() :], tmp_path)
        loaded = load(tmp_path, NOW)
        assert loaded.sound is not None or loaded.errors


def test_no_more_is_said_to_dissolve_than_the_handbook_says() -> None:
    """Against grams in 100 g of water (CRC Handbook, from memory): a litre of solution holds about ten times that."""
    both = MOST_DISSOLVED.keys() & SOLUBILITY.keys()
    assert len(both) >= 8
    for formula in both:
        assert 0.7 < MOST_DISSOLVED[formula] / (10.0 * SOLUBILITY[formula].value) < 1.6, formula


def lines_of(folder: Path) -> int:
    files = [path for path in folder.rglob("*") if path.suffix in (".yaml", ".md")]
    return sum(len(path.read_text(encoding="utf-8").splitlines()) for path in files)


def test_the_demo_has_fewer_than_one_false_alarm_in_five_hundred_lines() -> None:
    content = ROOT / "content"
    assert len(warnings(load(content, demo.LAST))) * LINES_FOR_AN_ALARM <= lines_of(content)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_simulated_keeper_hears_of_the_slip_and_of_little_else(seed: int, tmp_path: Path) -> None:
    simulated = simulate(seed)
    write(simulated, tmp_path)
    heard = warnings(load(tmp_path, datetime(2027, 1, 1, tzinfo=UTC)))
    slip = next(one for one in simulated.truth.unlogged if one.what.startswith("mistyped"))
    log = f"logs/{slip.system}/{slip.at:%Y-%m}.yaml"
    about_it = [each for each in heard if each.source.file == log and each.kind == "unusual-reading"]
    assert len(about_it) == 1
    assert f"did you mean {slip.amount.removeprefix('was ').split()[0]}" in about_it[0].remedy
    assert (len(heard) - 1) * LINES_FOR_AN_ALARM <= lines_of(tmp_path)


def edges() -> dict[str, list[list[str]]]:
    found = {}
    for chunk in (HERE / "edges.txt").read_text(encoding="utf-8").split("=== ")[1:]:
        name, *rows = chunk.strip().splitlines()
        found[name] = [[part.replace("\\n", "\n") for part in row.split(" | ")] for row in rows]
    return found


EDGES = edges()


@pytest.mark.parametrize("name", EDGES)
def test_how_far_is_far(name: str, tmp_path: Path) -> None:
    """What is still all right brings no warning, and the next number one, in its own line."""
    rows = EDGES[name]
    assert said(read(tmp_path / "right", *((file, before, right) for file, before, right, *_ in rows))) == []
    odd = read(tmp_path / "odd", *((file, before, after) for file, before, _, after, *_ in rows))
    lines = set()
    for file, before, _, _, *where in rows:
        line = sections(KEPT)[file][0].partition(before)[0].count("\n") + 1
        lines.add(where[0] if where and ":" in where[0] else f"{file}:{where[0] if where else line}")
    assert {f"{each.source.file}:{each.source.line}" for each in warnings(odd)} == lines
    assert not odd.errors
