"""The schemas an editor uses say what the reader says, for every file of the demo and for bad ones."""

import json
import re
from pathlib import Path
from typing import Any, ClassVar

import pytest
import yaml
from jsonschema import Draft202012Validator

from generator.exchange.reading import published_schemas
from generator.read.kinds import KINDS_OF_FILE, schema_of, schema_texts
from tests.archive import sections

CONTENT = Path(__file__).parents[2] / "content"
SOUND = sections((Path(__file__).parent / "sound.txt").read_text(encoding="utf-8"))


class EditorLoader(yaml.CSafeLoader):
    """YAML 1.2's core types, as editors see them: whole numbers, decimals, true, false, null; no dates."""

    yaml_implicit_resolvers: ClassVar[dict[str, list[tuple[str, re.Pattern[str]]]]] = {}


for tag, pattern, first in (
    ("bool", r"true|false", "tf"),
    ("int", r"[-+]?[0-9]+", "-+0123456789"),
    ("float", r"[-+]?[0-9]*\.[0-9]+", "-+.0123456789"),
    ("null", r"~|null|", ["~", "n", ""]),
):
    EditorLoader.add_implicit_resolver(f"tag:yaml.org,2002:{tag}", re.compile(f"(?:{pattern})$"), list(first))


def as_an_editor_sees(text: str) -> Any:
    if text.startswith("---\n"):
        text = text.split("---\n")[1]
    return yaml.load(text, EditorLoader)


def errors(kind: str, text: str) -> list[str]:
    validator = Draft202012Validator(schema_of(kind))
    return [error.message for error in validator.iter_errors(as_an_editor_sees(text))]


def kind_of(path: str) -> str:
    return path.removesuffix(".yaml") if "/" not in path else path.split("/")[0]


def demo_files() -> list[str]:
    files = (*CONTENT.rglob("*.yaml"), *CONTENT.glob("entries/*.md"))
    return sorted(path.relative_to(CONTENT).as_posix() for path in files)


@pytest.mark.parametrize("kind", KINDS_OF_FILE)
def test_a_schema_is_one_by_the_standard(kind: str) -> None:
    Draft202012Validator.check_schema(schema_of(kind))


def test_the_schemas_beside_the_demo_are_fresh() -> None:
    shipped = {path.name: path.read_text(encoding="utf-8") for path in (CONTENT / ".schemas").glob("*.json")}
    assert shipped == {**schema_texts(), **published_schemas()}, "run: python -m generator schemas"


def test_every_file_of_the_demo_is_accepted() -> None:
    files = demo_files()
    assert {kind_of(file) for file in files} == set(KINDS_OF_FILE)
    wrong = {file: errors(kind_of(file), (CONTENT / file).read_text(encoding="utf-8")) for file in files}
    assert {file: messages for file, messages in wrong.items() if messages} == {}


@pytest.mark.parametrize("path", [path for path in SOUND if path.endswith((".yaml", "spring.md"))])
def test_a_sound_file_is_accepted(path: str) -> None:
    assert errors(kind_of(path), SOUND[path][0]) == []


def test_an_editor_takes_the_names_that_kits_print() -> None:
    path = "logs/reef/2026-03.yaml"
    text = SOUND[path][0].replace("alkalinity: 8.1 dKH", "KH: 8.1").replace("calcium:", "Ca:")
    assert "KH: 8.1" in text
    assert errors(kind_of(path), text) == []


def test_an_editor_takes_those_names_and_units_for_bare_numbers_too() -> None:
    for instead in ("KH: dKH", "Ca: ppm", "alkalinity: KH", "calcium: ppm", "SG: sg 25/25"):
        text = SOUND["journal.yaml"][0].replace("alkalinity: dKH", instead)
        assert instead in text
        assert errors("journal", text) == []


@pytest.mark.parametrize(
    ("path", "written", "instead", "expected"),
    [
        ("corals/tide-lantern.yaml", "form: branching", "form: branchy", "'branchy' is not one of"),
        ("corals/tide-lantern.yaml", "species: Acropora millepora\n", "", "'species' is a required property"),
        ("corals/tide-lantern.yaml", "line: tide-lantern", "line: Tide Lantern", "does not match"),
        ("corals/tide-lantern.yaml", "frags: 2", "frags: two", "'two' is not of type 'integer'"),
        ("corals/tide-lantern.yaml", "name: Tide", "id: x\nname: Tide", "'id' was unexpected"),
        ("corals/tide-lantern.yaml", "name: Tide", "source: x\nname: Tide", "'source' was unexpected"),
        ("logs/reef/2026-03.yaml", "alkalinity: 8.1", "alkalinty: 8.1", "'alkalinty' does not match any"),
        ("logs/reef/2026-03.yaml", "what: cutting", "what: haircut", "'haircut' is not one of"),
        ("logs/reef/2026-03.yaml", "- at: 2026-03-01 08:10\n ", "-", "'at' is a required property"),
        ("journal.yaml", "alkalinity: dKH", "alkalinity: degrees", "'degrees' is not one of"),
        ("journal.yaml", "keeper: Ines", "keeper: ''", "should be non-empty"),
        ("systems/reef.yaml", "water: {volume: 400 L, uncertainty: 10 L}", "water: 400 L", "is not of type 'object'"),
        ("entries/2026-03-01-spring.md", "corals: [tide-lantern]", "corals: tide-lantern", "is not of type 'array'"),
        ("entries/2026-03-01-spring.md", "title: Spring", "title: Spring\nbody: x", "'body' was unexpected"),
        ("partners/marta.yaml", "name: Marta", "nmae: Marta", "'nmae' was unexpected"),
        ("trades/2025-02-01-first-swap.yaml", "condition: good", "condition: superb", "'superb' is not one of"),
    ],
)
def test_a_mistake_is_underlined(path: str, written: str, instead: str, expected: str) -> None:
    text = SOUND[path][0]
    assert written in text
    messages = errors(kind_of(path), text.replace(written, instead, 1))
    assert any(expected in part for message in messages for part in all_parts(path, text, message, written, instead))


def all_parts(path: str, text: str, message: str, written: str, instead: str) -> list[str]:
    """A message and those of the alternatives below it: an optional part is one alternative among others."""
    validator = Draft202012Validator(schema_of(kind_of(path)))
    wrong = as_an_editor_sees(text.replace(written, instead, 1))
    return [message, *(inner.message for error in validator.iter_errors(wrong) for inner in error.context or ())]


def test_a_schema_is_written_the_same_on_every_run() -> None:
    assert schema_texts() == schema_texts()
    assert all(json.loads(text)["$schema"].endswith("2020-12/schema") for text in schema_texts().values())
