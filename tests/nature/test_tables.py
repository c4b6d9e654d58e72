"""The tables of nature: whole, in every language, and clear about what is wrong in them."""

from pathlib import Path

import pytest
import yaml

from generator.nature.constants import ALL, Constant, TableError, parsed

ROOT = Path(__file__).parents[2]
TABLES = sorted((ROOT / "generator" / "nature").rglob("*.yaml"))
LANGUAGES = {path.stem for path in (ROOT / "templates" / "words").glob("*.yaml")}


@pytest.mark.parametrize("path", TABLES, ids=lambda path: path.stem)
def test_no_row_hides_another(path: Path) -> None:
    nodes = [yaml.compose(path.read_text(encoding="utf-8"), yaml.CSafeLoader)]
    while nodes:
        node = nodes.pop()
        if isinstance(node, yaml.MappingNode):
            keys = [key.value for key, _ in node.value]
            assert sorted(set(keys)) == sorted(keys)
            nodes += [value for _, value in node.value]
        elif isinstance(node, yaml.SequenceNode):
            nodes += node.value


def test_every_number_has_a_name_of_its_own_in_every_language() -> None:
    for constant in ALL:
        assert set(constant.name) == LANGUAGES
        assert all(constant.name.values())
        assert constant.source
        assert constant.unit


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("a:\n  name: {en: x}\n  unit: g\n  source: s\n  value: much\n", "5: a.value: Input should be a valid number"),
        ("a:\n  name: {en: x}\n  unit: g\n  source: s\n  value: .nan\n", "5: a.value: Input should be a finite number"),
        ("a:\n  name: {en: x}\n  value: 1\n  source: s\n", "2: a.unit: Field required"),
        ("a:\n  name: {en: x}\n  unit: g\n  source: s\n  value: 2\n  hihg: 3\n", "6: a.hihg: Extra inputs"),
        ("a:\n  name: {en: x}\n  unit: g\n  source: s\n  value: 2\n  high: 1\n", "2: a: Value error, the value is not"),
        ("a:\n  name: {en: x\n", "3: "),
    ],
)
def test_a_mistake_in_a_table_is_told_with_its_file_and_line(text: str, wrong: str) -> None:
    with pytest.raises(TableError) as told:
        parsed("constants", text, dict[str, Constant])
    assert str(told.value).startswith(f"generator/nature/constants.yaml:{wrong}")
