"""The house keeps its shape: who may import whom, what reckoning must not touch, how large a module may grow."""

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
HOUSE = ROOT / "generator"
MODULES = sorted(HOUSE.rglob("*.py"))
NAMES = [str(path.relative_to(ROOT)) for path in MODULES]

# Room -> the rooms it may import from, besides itself.
ARROWS = {
    "units": set(),
    "records": {"units"},
    "read": {"records", "units"},
    "reckon": {"records", "units"},
    "render": {"reckon", "records", "units"},
    "exchange": {"records", "units"},
    "publish": {"render"},
    "commands": {"read", "exchange", "reckon", "render", "publish", "records", "units"},
    "__main__": {"commands"},
    "__init__": set(),
}
# Corner of reckon -> the corners it may import from; a module directly in reckon may see them all.
CORNERS = {
    "estimate": set(),
    "water": {"estimate"},
    "growth": {"estimate", "water"},
    "dosing": {"estimate", "water"},
    "arrivals": {"estimate", "water", "growth", "dosing"},
    "lineage": {"estimate"},
    "trade": {"estimate", "growth"},
}
# Package -> the only rooms that may import it.
PACKAGES = {
    "jinja2": {"render"},
    "altair": {"render"},
    "markdown_it": {"render"},
    "mdit_py_plugins": {"render"},
    "PIL": {"publish"},
    "segno": {"render"},
}
# GPL, slow, or a second opinion: the references of tests, never part of the house.
TESTS_ONLY = {"PyCO2SYS", "pint", "scipy", "statsmodels", "molmass", "vl_convert"}
NOT_IN_RECKONING = {"pathlib", "os", "io", "time", "random", "subprocess", "jinja2", "altair"}
CLOCK = {"now", "today", "utcnow"}
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "generator", "content", "templates", "tests", "site"}


def room(path: Path) -> str:
    return path.relative_to(HOUSE).parts[0].removesuffix(".py")


def imported(path: Path) -> Iterator[str]:
    """Dotted names of all that a module imports, inside functions too."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name} imports by a relative name"
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def test_the_walk_over_the_house_finds_it() -> None:
    assert len(MODULES) > 20
    assert {room(path) for path in MODULES} <= set(ARROWS)


@pytest.mark.parametrize("path", MODULES, ids=NAMES)
def test_arrows_point_one_way(path: Path) -> None:
    own = [name.split(".") for name in imported(path) if name.startswith("generator.")]
    strangers = {parts[1] for parts in own} - ARROWS[room(path)] - {room(path), "__version__"}
    assert not strangers, f"{room(path)} may not import {strangers}"
    corner = path.relative_to(HOUSE).parts[1] if room(path) == "reckon" else ""
    if corner in CORNERS:
        others = {parts[2] for parts in own if parts[1] == "reckon"} & set(CORNERS)
        assert others <= CORNERS[corner] | {corner}, f"reckon/{corner} may not import {others}"


@pytest.mark.parametrize("path", MODULES, ids=NAMES)
def test_each_library_stays_in_its_room(path: Path) -> None:
    packages = {name.split(".")[0] for name in imported(path)}
    assert not packages & TESTS_ONLY
    for package in packages & set(PACKAGES):
        assert room(path) in PACKAGES[package], f"{package} belongs to {PACKAGES[package]}"


@pytest.mark.parametrize("path", [path for path in MODULES if room(path) == "reckon"], ids=str)
def test_reckoning_knows_no_file_no_clock_and_no_global(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    called = [node.func for node in ast.walk(tree) if isinstance(node, ast.Call)]
    assert "open" not in {function.id for function in called if isinstance(function, ast.Name)}
    assert not {function.attr for function in called if isinstance(function, ast.Attribute)} & CLOCK
    assert not {name.split(".")[0] for name in imported(path)} & NOT_IN_RECKONING
    assert not any(isinstance(node, ast.Global) for node in ast.walk(tree))


@pytest.mark.parametrize("path", MODULES, ids=NAMES)
def test_a_module_can_be_read_at_one_sitting(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert len(text.splitlines()) < 300
    long = [
        f"{node.name}: {node.end_lineno - node.lineno + 1}"
        for node in ast.walk(ast.parse(text))
        if isinstance(node, ast.FunctionDef) and (node.end_lineno or 0) - node.lineno >= 60
    ]
    assert not long


@pytest.mark.parametrize(
    "path", [path for path in MODULES if room(path) in ("units", "records", "reckon")], ids=lambda path: path.stem
)
def test_what_others_call_says_what_it_gives(path: Path) -> None:
    module = ast.parse(path.read_text(encoding="utf-8"))
    classes = [node for node in module.body if isinstance(node, ast.ClassDef) and not node.name.startswith("_")]
    silent = [
        node.name
        for node in (node for owner in (module, *classes) for node in owner.body)
        if isinstance(node, ast.FunctionDef | ast.ClassDef)
        and not node.name.startswith("_")
        and ast.get_docstring(node) is None
    ]
    assert not silent


@pytest.mark.parametrize("path", sorted(HOUSE.glob("*/__init__.py")), ids=lambda path: path.parent.name)
def test_each_room_says_what_comes_in_what_goes_out_and_what_it_must_not_know(path: Path) -> None:
    said = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or ""
    assert "Must not know" in said
    assert re.search(r"\bin\b", said, re.IGNORECASE)
    assert re.search(r"\bout\b", said, re.IGNORECASE)


def tracked() -> list[str]:
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=True)
    return listed.stdout.split("\0")[:-1]


def test_the_top_level_holds_only_what_belongs_there() -> None:
    top = {name.split("/")[0] for name in tracked()}
    assert not {name for name in top if not name.startswith(".")} - TOP_LEVEL
    assert [name for name in tracked() if name.startswith("site/")] == ["site/.gitignore"]


def test_no_file_names_a_place_on_somebodys_machine() -> None:
    place = re.compile("|".join(("/" + "work/", "/" + "home/", "/" + "root/", "/" + "Users/", "C:" + r"\\")))
    named = []
    for name in tracked():
        path = ROOT / name
        if "/vendor/" in name or not path.is_file():
            continue
        try:
            named += [f"{name}: {found}" for found in place.findall(path.read_text(encoding="utf-8"))]
        except UnicodeDecodeError:
            continue  # a picture, or a file whose bytes are wrong on purpose
    assert not named


def test_help_does_not_wait_for_slow_libraries() -> None:
    code = (
        "import sys; from generator.__main__ import main\n"
        "try: main(['build', '--help'])\n"
        "except SystemExit: pass\n"
        "print(sorted({name.split('.')[0] for name in sys.modules}))"
    )
    said = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    assert "--content" in said
    loaded = set(ast.literal_eval(said.splitlines()[-1]))
    assert not loaded & {"numpy", "pandas", "altair", "pydantic", "gsw", "jinja2", "yaml", "PIL", "markdown_it"}
