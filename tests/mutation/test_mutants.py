"""A mutant is a mistake of one place, and the function that runs has it."""

import builtins
import gc
import importlib.util
from pathlib import Path
from types import ModuleType

import pytest

from tests.mutation.mutants import code_of, functions_of, marked_codes, mutants_of, put_in

SOURCE = '''
def least(readings, floor=1.5):
    """The least of some readings that are above a floor."""
    found = []
    for reading in readings:
        if not reading <= floor and reading is not None:
            found.append(reading * 2)
    return min(found) + 0.5
'''


@pytest.fixture
def module(tmp_path: Path) -> ModuleType:
    file = tmp_path / "least.py"
    file.write_text(SOURCE, "utf-8")
    spec = importlib.util.spec_from_file_location("least", file)
    assert spec is not None
    assert spec.loader is not None
    made = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(made)
    return made


def test_every_place_of_a_function_is_changed_once_for_each_mistake(tmp_path: Path, module: ModuleType) -> None:
    assert module.least([1.0, 2.0]) == 4.5
    assert sorted((mutant.was, mutant.now) for mutant in mutants_of(tmp_path, "least.py")) == [
        ("0.5", "0.75"),
        ("2", "3"),
        ("found.append(reading * 2)", "pass"),
        ("min(found) + 0.5", "min(found) - 0.5"),
        ("not reading <= floor", "reading <= floor"),
        ("not reading <= floor and reading is not None", "not (not reading <= floor and reading is not None)"),
        ("not reading <= floor and reading is not None", "not reading <= floor or reading is not None"),
        ("reading * 2", "reading / 2"),
        ("reading <= floor", "reading < floor"),
        ("reading is not None", "reading is None"),
        ("return min(found) + 0.5", "return None"),
    ]


def test_the_function_that_runs_has_the_mistake_wherever_it_was_imported_to(tmp_path: Path, module: ModuleType) -> None:
    imported = module.least
    answers = {}
    for mutant in mutants_of(tmp_path, "least.py"):
        gc.freeze()  # as the tests do before they begin
        functions = functions_of([str(tmp_path / "least.py")])
        assert put_in(functions, code_of(tmp_path, mutant)) == 1
        try:
            answers[mutant.now] = imported([1.0, 1.5, 2.0])
        except ValueError as error:
            answers[mutant.now] = str(error)
    assert answers["min(found) - 0.5"] == 3.5
    assert answers["reading / 2"] == 1.5
    assert answers["reading < floor"] == 3.5
    assert answers["return None"] is None
    assert "empty" in answers["pass"]


def test_a_marked_function_says_that_it_was_called_and_answers_as_before(
    tmp_path: Path, module: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    called: list[str] = []
    monkeypatch.setattr(builtins, "__called__", called.append, raising=False)
    assert put_in(functions_of([str(tmp_path / "least.py")]), *marked_codes(tmp_path, "least.py")) == 1
    assert module.least([2.0]) == 4.5
    assert called == ["least.py:least"]
    assert module.least.__doc__ == "The least of some readings that are above a floor."
