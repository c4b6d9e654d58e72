"""`corallite what-if`, with the demo journal."""

import re
from pathlib import Path

import pytest

from generator.__main__ import main
from tests.commands.two_tanks import write
from tests.conftest import AS_OF, ROOT

pytestmark = pytest.mark.usefixtures("courses_kept")


def what_if(*words: str) -> int:
    return main(["what-if", *words, "--content", str(ROOT / "content"), "--as-of", AS_OF])


@pytest.mark.long
def test_cut_taken_out_or_moved_the_demand_is_told_with_its_interval(capsys: pytest.CaptureFixture[str]):
    assert what_if("ballast-1", "--cut", "40 %") == 0
    said = capsys.readouterr().out
    numbers = [float(n) for n in re.findall(r": (\d+(?:\.\d+)?) dKH a day, likely", said)]
    cut, gone, *moved = numbers
    now = float(re.search(r"Today it is (\d+\.\d+) dKH a day, likely", said)[1])
    assert "Cut by 40 %" in said
    assert gone < cut < now
    assert len(moved) == 3, "every other system of the demo"
    assert said.count(", likely ") == 18, "so have the uptakes there, what it takes there, and what light and flow do"
    assert said.endswith(
        "Before you cut:\n  Wear goggles and gloves. Chips and slime fly.\n"
        "  Cut skeleton is sharp, and the wounds get infected. Rinse and clean every one.\n"
    )


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("balast-1",), "there is no coral 'balast-1' (did you mean ballast-1?)"),
        (("ballast-1", "--cut", "3/2"), "'3/2' is not a part of a coral (write for example '1/3' or '40 %')"),
        (("ballast-1", "--cut", "1/0"), "'1/0' is not a part of a coral"),
        (("pilot-light-9",), "there is no coral"),
        (("rainward-01",), "there is no coral 'rainward-01' (did you mean rainward-2?)"),
    ],
)
def test_words_that_are_not_understood_get_one_clear_line(words, said, capsys: pytest.CaptureFixture[str]):
    assert what_if(*words) == 1
    assert said in capsys.readouterr().err


def test_a_planned_colony_is_told_as_if_it_were_here(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    write(tmp_path, "newcomer")
    asked = ["what-if", "Newcomer", "--content", str(tmp_path), "--as-of", "2026-10-29 12:00"]
    assert main(asked) == 0
    said = capsys.readouterr().out
    assert said.startswith("As if plans/newcomer.yaml were carried out now.\n")
    assert "Today it is predicted to be" in said
    assert "Taken out: 1.10 dKH a day, likely 0.98 to 1.22 dKH a day." in said, "as sure as it is without it"
    plan = tmp_path / "plans/newcomer.yaml"
    plan.write_text(re.sub(r"    (system|place|x|y): .*\n", "", plan.read_text("utf-8")), "utf-8")
    assert main(asked) == 1
    assert "(write 'system:' in plans/newcomer.yaml, or run: corallite sheet newcomer)" in capsys.readouterr().err
