import ast
from pathlib import Path

import generator.reckon
from generator.reckon.growth.methods import GROWTH
from generator.reckon.lineage.methods import LINEAGE
from generator.reckon.methods import METHODS

ROOMS = [Path(generator.reckon.__file__).parent / room for room in ("growth", "lineage")]


def words_of(room: Path) -> set[str]:
    return {
        node.value
        for path in room.glob("*.py")
        if path.name != "methods.py"
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    }


def test_every_method_of_growth_and_lineage_is_on_the_methods_page():
    assert {method.id for method in (*GROWTH, *LINEAGE)} <= set(METHODS)
    assert all(method.sources for method in (*GROWTH, *LINEAGE))


def test_what_a_finding_names_as_its_method_is_explained():
    found = {"weighed-mass", "buoyant-weight", "grown-mass", "growth-rate", "growth-ahead"}
    found |= {"doubling-time", "expected-mass", "daily-light", "cutting-plan", "survival"}
    assert found <= words_of(ROOMS[0]) | words_of(ROOMS[1])
    assert found <= set(METHODS)
