"""`corallite predict` and `corallite recipe`, with the demo journal and with none."""

import re
from pathlib import Path

import pytest

from generator.__main__ import main
from generator.render.base.words import words_of
from tests.commands import two_tanks
from tests.commands.test_commands import corallite
from tests.conftest import AS_OF, ROOT

pytestmark = pytest.mark.usefixtures("courses_kept")

WORDS = words_of("en")
THICKET = ("--genus", "Hydnophora", "--form", "branching", "--size", "33 x 27 x 25 cm", "--mass", "2.9 kg")


def predict(*words: str) -> int:
    return main(["predict", *words, "--content", str(ROOT / "content"), "--as-of", AS_OF])


def test_a_colony_in_no_file_is_predicted_method_by_method(capsys: pytest.CaptureFixture[str]):
    assert predict("--system", "lagoon", *THICKET) == 0
    said = capsys.readouterr().out
    for key in ("changes.basis.planar-area", "changes.basis.mass", "changes.row.published", "changes.share"):
        assert WORDS(key) in said
    assert re.search(r"dKH a day, .*\d", said)
    assert "soda" in said
    assert WORDS("dose_cautions.maker-and-local-codes") in said
    # Common practice, no source: the first reading worth making is one day after.
    assert f"2026-11-23: {WORDS('changes.plan.why.first')}" in said
    (unchanged,) = (line for line in said.splitlines() if line.startswith(WORDS("changes.if_unchanged")))
    assert len(re.findall(r"2026-11-\d\d", unchanged)) >= 2, "a likely day and the earliest one"
    assert "\u00a0" not in said


def test_weighed_in_water_it_is_as_heavy_as_its_skeleton_displaces(capsys: pytest.CaptureFixture[str]):
    only_mass = ("--genus", "Acropora", "--form", "branching", "--mass", "420 g", "--holder", "20 g")
    assert predict("--system", "lagoon", *only_mass) == 0
    in_air = capsys.readouterr().out
    assert predict("--system", "lagoon", *only_mass, "--in-water") == 0
    in_water = capsys.readouterr().out
    assert in_air != in_water
    assert WORDS("changes.basis.planar-area") not in in_air, "without a size only its mass speaks"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--system", "lagon", *THICKET), "there is no system 'lagon' (did you mean lagoon?)"),
        (("--system", "lagoon", "--genus", "Acropora", "--form", "massive", "--size", "large"), "is not a size"),
        (("--system", "lagoon", "--genus", "Acropora", "--form", "massive", "--mass", "6 cm"), "not measured in cm"),
        (("--system", "lagoon", "--genus", "Acropora", "--form", "massive"), WORDS("cannot.no-size-no-mass")),
    ],
)
def test_words_that_are_not_understood_get_one_clear_line(words, said, capsys: pytest.CaptureFixture[str]):
    assert predict(*words) == 1
    captured = capsys.readouterr()
    assert said in captured.err + captured.out


def recipe(*words: str) -> int:
    return main(["recipe", *words])


def test_five_litres_of_calcium_chloride_at_eighty_grams_a_litre(capsys: pytest.CaptureFixture[str]):
    assert recipe("--compound", "CaCl2.2H2O", "--strength", "80 g/L", "--volume", "5 L") == 0
    said = capsys.readouterr().out
    assert "Weigh 400 g of CaCl2.2H2O" in said
    # 80 g over 147.01 g/mol times 40.078 g/mol: standard atomic weights.
    assert "Its calcium is 21810 mg/L." in said
    assert "gives off heat" in said
    assert "maker's safety sheet" in said


def test_a_stock_may_be_asked_for_by_what_it_gives(capsys: pytest.CaptureFixture[str]):
    assert recipe("--compound", "Na2CO3", "--alkalinity", "3000 dKH", "--volume", "1 L") == 0
    said = capsys.readouterr().out
    assert "Its alkalinity is 3000 dKH." in said
    assert "burn skin and eyes" in said


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--compound", "NaHCO3", "--strength", "120 g/L"), "does not stay dissolved at 120 g/L"),
        (("--compound", "NaHC03", "--strength", "50 g/L"), "did you mean NaHCO3?"),
        (("--compound", "NaHCO3"), "one strength and a volume"),
        (("--compound", "NaHCO3", "--calcium", "400 mg/L"), "contains none of it"),
        (("--compound", "NaHCO3", "--strength", "50 cm"), "cm"),
    ],
)
def test_what_cannot_be_mixed_is_refused_in_one_line(words, said, capsys: pytest.CaptureFixture[str]):
    assert recipe(*words, "--volume", "5 L") == 1
    captured = capsys.readouterr()
    assert said in (captured.err + captured.out).replace("\u00a0", " ")


def test_a_colony_that_is_predicted_can_be_planned_at_once_and_arrive(tmp_path: Path) -> None:
    content = two_tanks.write(tmp_path / "content")
    told = ("--system", "bay", "--genus", "Acropora", "--form", "tabling", "--content", content)
    plan = ("--plan", "Bell Rock 1", "--date", "2026-11-01 15:00", "--as-of", "2026-10-30")
    assert "add --size" in corallite("predict", *told, *plan, "--mass", "2 kg").stderr
    said = corallite("predict", *told, "--size", "8 x 7 x 3.5 in", "--mass", "2.1 kg", *plan)
    assert said.returncode == 0, said.stderr
    assert said.stdout.startswith("wrote plans/bell-rock-1.yaml; next: corallite sheet bell-rock-1, ")
    assert "All methods together" in said.stdout
    tests = [line.split()[0] for line in said.stdout.partition("When to test")[2].splitlines() if ": " in line]
    assert min(tests) > "2026-11-01", "days count from when it comes"
    assert corallite("check", "--content", content, "--as-of", "2026-10-30").returncode == 0
    sheet = corallite("sheet", "bell-rock-1", "--content", content, "--as-of", "2026-10-30").stdout
    assert "When: 2026-11-01, 15:00" in sheet
    assert "Size: 20 × 18 × 9 cm, tabling" in sheet.replace("\u00a0", " ")
    again = corallite("predict", *told, "--size", "20 x 18 x 9 cm", *plan)
    assert again.returncode == 1
    assert again.stderr.startswith("nothing was written: ")


@pytest.mark.parametrize(
    ("genus", "name"), [("Acropora", "Bell\x1b[2J"), ("Acropora", "Bell\udcff"), ("Acropora millepora &x", "Bell")]
)
def test_a_plan_that_cannot_be_read_is_not_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], genus: str, name: str
) -> None:
    content = two_tanks.write(tmp_path / "content")
    told = ("--system", "bay", "--form", "tabling", "--size", "8 x 7 x 3 in", f"--content={content}")
    assert main(["predict", *told, f"--genus={genus}", f"--plan={name}", "--as-of=2026-10-30"]) == 1
    assert capsys.readouterr().err.endswith("nothing was written\n")
    assert not (content / "plans").exists()
