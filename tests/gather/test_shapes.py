"""Thirty and more sheets, no two of one shape, and what each of them means."""

import re
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
import yaml
from msgspec.structs import replace

from generator.gather.found import SheetFact
from generator.gather.opening import sheets_of
from generator.gather.understanding import gathered
from generator.shorthand.finish import Terms

KNOWN = Terms(
    now=datetime(2026, 11, 22, 20, 0, tzinfo=ZoneInfo("Europe/Berlin")),
    units={
        "alkalinity": "dKH", "calcium": "mg/L", "magnesium": "mg/L", "potassium": "mg/L", "nitrate": "mg/L",
        "phosphate": "mg/L", "salinity": "psu", "temperature": "°C", "ph": "NBS", "volume": "L", "rate": "mL/day",
        "mass": "g", "length": "cm",
    },
    names={
        "system": {"reef": "reef", "fore reef": "reef", "frags": "frags", "frag tank": "frags"},
        "solution": {"soda": "soda", "chloride": "chloride"},
        "coral": {"tide lantern 1": "tide-lantern-1", "kelp witch 2": "kelp-witch-2"},
        "place": {"ledge": "ledge"},
        "partner": {"tamsin": "tamsin"},
    },
    homes={"tide-lantern-1": "reef", "kelp-witch-2": "frags"},
    places={"reef": ("ledge",)},
)  # fmt: skip
SHAPES = (Path(__file__).parent / "shapes.txt").read_text(encoding="utf-8")


def shapes() -> list[object]:
    made = []
    for shape in re.split(r"(?m)^=== ", SHAPES)[1:]:
        name, rest = shape.split("\n", 1)
        sheet, *parts = re.split(r"(?m)^--- ", rest)
        said = dict(part.split("\n", 1) for part in parts)
        assert set(said) <= {"answers", "facts", "doubts", "asks"}, name
        made.append(pytest.param(sheet, said, id=name))
    return made


def told(fact: SheetFact) -> str:
    change = fact.change
    values = " ".join(f"{name} {value}" for name, value in change.values.items())
    into = {"readings": "", "note": ""}.get(change.into, f"{change.into} ")
    if change.coral and change.into != "new":
        return f"{change.coral} {change.at.day} {into}{values}"
    return f"{fact.system} {change.at.day} {change.at.clock:%H:%M} {into}{values}"


@pytest.mark.parametrize(("sheet", "said"), shapes())
def test_a_sheet_means(sheet: str, said: dict[str, str]) -> None:
    answers = {
        key.rpartition(": ")[0]: yaml.safe_load(key.rpartition(": ")[2]) for key in said.get("answers", "").splitlines()
    }
    found = gathered(sheets_of("sheet", sheet.encode()), KNOWN, answers)
    assert [told(fact) for fact in found.facts] == said.get("facts", "").splitlines()
    assert [str(doubt).removeprefix("sheet, ") for doubt in found.doubts] == said.get("doubts", "").splitlines()
    assert list(found.questions) == said.get("asks", "").splitlines()


def test_there_are_more_than_thirty_of_them() -> None:
    assert len(shapes()) > 30


def test_a_column_that_may_be_of_a_solution_says_how_to_describe_it() -> None:
    found = gathered(
        sheets_of("sheet", b"Date,KH,Soda ml\n2026-03-01,8.1,40\n"),
        replace(KNOWN, names={"system": {"frags": "frags", "reef": "reef"}}),
        {"system": "reef", "unit:alkalinity": "meq/L"},
    )
    (question,) = found.questions.values()
    assert ("", "KH", "alkalinity, dKH") in found.columns
    assert question.text.endswith("corallite note reef 'solution soda Na2CO3 60 g/L'")
