"""The house keeps its shape: who may import whom, what reckoning must not touch, how large a module may grow."""

import ast
import re
import subprocess
import sys
from collections.abc import Callable
from functools import cache
from graphlib import TopologicalSorter
from pathlib import Path

from tests.modules import HOUSE, MODULES, nodes, tree

ROOT = HOUSE.parent

# Room -> the rooms it may import from, besides itself.
ARROWS = {
    "units": set(),
    "door": set(),
    "records": {"units", "door"},
    "nature": {"records", "units", "door"},
    "read": {"nature", "records", "units", "door"},
    "reckon": {"nature", "records", "units", "door"},
    "render": {"nature", "reckon", "records", "units", "door"},
    "exchange": {"records", "units"},
    "publish": {"render"},
    "shorthand": {"read", "records", "units"},
    "gather": {"read", "shorthand", "records", "units"},
    "commands": {
        "read",
        "exchange",
        "reckon",
        "render",
        "publish",
        "records",
        "nature",
        "shorthand",
        "gather",
        "units",
        "door",
    },
    "tables": {"read", "reckon", "records", "render"},
    "__main__": {"commands"},
    "__init__": set(),
}
# Corner of reckon -> the corners it may import from. What is directly in reckon is the base of all and imports none.
CORNERS = {
    "estimate": set(),
    "water": {"estimate"},
    "growth": {"estimate", "water"},
    "dosing": {"estimate", "water"},
    "arrivals": {"estimate", "water", "growth", "dosing"},
    "lineage": {"estimate"},
    "trade": {"estimate", "growth"},
    "planned": {"estimate", "water", "growth", "dosing", "arrivals", "trade"},
    "analysis": {"estimate", "water", "growth", "dosing", "arrivals", "lineage", "trade", "planned"},
    "attention": {"estimate", "water", "growth", "dosing", "arrivals", "lineage", "trade", "planned", "analysis"},
}
# The same within render. What is directly in it says who sees what.
STOREYS = {
    "base": set(),
    "drawings": {"base"},
    "charts": {"base", "drawings"},
    "tables": {"base"},
    "pages": {"base", "drawings", "charts", "tables"},
    "site": {"base", "drawings", "charts", "tables", "pages"},
}
# Package -> the only rooms that may import it.
PACKAGES = {
    "jinja2": {"render"},
    "altair": {"render"},
    "markdown_it": {"render"},
    "mdit_py_plugins": {"render"},
    "PIL": {"publish"},
    "pillow_heif": {"publish"},
    "segno": {"render"},
    "pandas": {"tables", "gather"},
}
# GPL, slow, or a second opinion: the references of tests, never part of the house.
TESTS_ONLY = {"PyCO2SYS", "pint", "scipy", "statsmodels", "molmass", "vl_convert"}
NOT_IN_RECKONING = {"pathlib", "os", "io", "time", "random", "subprocess", "jinja2", "altair"}
CLOCK = {"now", "today", "utcnow"}
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "generator", "content", "templates", "tests", "site"}


def room(path: Path) -> str:
    return path.relative_to(HOUSE).parts[0].removesuffix(".py")


@cache
def imported(path: Path) -> frozenset[str]:
    """Dotted names of all that a module imports, inside functions too."""
    names: set[str] = set()
    for node in nodes(path):
        if isinstance(node, ast.Import):
            names.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name} imports by a relative name"
            names.update(f"{node.module}.{alias.name}" for alias in node.names)
    return frozenset(names)


def those_that(break_a_rule: Callable[[Path], object], *rooms: str) -> dict[str, object]:
    """Of every module (or those of some rooms) what breaks a rule: nothing, in a sound house."""
    asked = [path for path in MODULES if not rooms or room(path) in rooms]
    assert len(asked) > 20
    return {str(path.relative_to(ROOT)): found for path in asked if (found := break_a_rule(path))}


def test_the_walk_over_the_house_finds_it() -> None:
    assert {room(path) for path in MODULES} == set(ARROWS)


def test_arrows_point_one_way() -> None:
    def against(path: Path) -> set[str]:
        own = [name.split(".") for name in imported(path) if name.startswith("generator.")]
        strangers = {parts[1] for parts in own} - ARROWS[room(path)] - {room(path), "__version__"}
        for name, inside in (("reckon", CORNERS), ("render", STOREYS)):
            corner = path.relative_to(HOUSE).parts[1] if room(path) == name else ""
            if corner in inside or (corner and name == "reckon"):
                others = {parts[2] for parts in own if parts[1] == name} & set(inside)
                strangers |= others - inside.get(corner, set()) - {corner}
        return strangers

    assert those_that(against) == {}


def test_no_module_leads_back_to_itself() -> None:
    names = {".".join(path.relative_to(ROOT).with_suffix("").parts): path for path in MODULES}

    def loads(path: Path) -> set[str]:
        found = (node for node in tree(path).body if isinstance(node, ast.ImportFrom) and node.module)
        asked = {each for node in found for name in node.names for each in (node.module, f"{node.module}.{name.name}")}
        return asked & names.keys()

    TopologicalSorter({name: loads(path) - {name} for name, path in names.items()}).prepare()


def test_each_library_stays_in_its_room() -> None:
    def astray(path: Path) -> set[str]:
        packages = {name.split(".")[0] for name in imported(path)}
        return packages & TESTS_ONLY | {each for each in packages & set(PACKAGES) if room(path) not in PACKAGES[each]}

    assert those_that(astray) == {}


def test_reckoning_knows_no_file_no_clock_and_no_global() -> None:
    def known(path: Path) -> set[str]:
        every = nodes(path)
        called = [node.func for node in every if isinstance(node, ast.Call)]
        return (
            {"open"} & {function.id for function in called if isinstance(function, ast.Name)}
            | {function.attr for function in called if isinstance(function, ast.Attribute)} & CLOCK
            | {name.split(".")[0] for name in imported(path)} & NOT_IN_RECKONING
            | {name for node in every if isinstance(node, ast.Global) for name in node.names}
        )

    assert those_that(known, "reckon") == {}


def test_pages_and_files_do_not_decide_who_sees_what() -> None:
    # They ask the view; `texts.py` warns of a photo for fewer people than the text it is in. Its `Editor` asks nothing:
    # it is told which names to leave out.
    def decides(path: Path) -> list[int]:
        shows = path.relative_to(HOUSE).parts[1] in STOREYS and path.name != "texts.py"
        named = (node for node in nodes(path) if isinstance(node, ast.Attribute) and node.attr == "audience")
        return [node.lineno for node in named if shows]

    assert those_that(decides, "render") == {}


def test_a_number_that_crosses_a_border_says_its_unit() -> None:
    # What a room's functions and methods take and give in others: a Quantity, an Estimate, or a number by its unit.
    asked: dict[str, set[str]] = {}
    for path in MODULES:
        for name in imported(path):
            asked.setdefault(name, set()).add(room(path))

    def bare(path: Path) -> list[str]:
        module = ".".join(path.relative_to(ROOT).with_suffix("").parts)
        found = []
        for node in tree(path).body:
            name = getattr(node, "name", "")
            others = asked.get(f"{module}.{name}", set()) | asked.get(module, set())
            if name.startswith("_") or room(path) == "units" or others <= {room(path)}:
                continue
            for part in node.body if isinstance(node, ast.ClassDef) else [node]:
                if isinstance(part, ast.FunctionDef) and not part.name.startswith("_"):
                    given = [each.annotation for each in (*part.args.args, *part.args.kwonlyargs)]
                    types = [each for each in (*given, part.returns) if each is not None]
                    names = {each.id for type in types for each in ast.walk(type) if isinstance(each, ast.Name)}
                    found += [f"{part.lineno}: {part.name}"] * ("float" in names)
        return found

    assert those_that(bare) == {}


def test_a_module_can_be_read_at_one_sitting() -> None:
    def long(path: Path) -> list[str]:
        lines = len(path.read_text(encoding="utf-8").splitlines())
        return [f"{lines} lines"] * (lines > 350) + [
            f"{node.name}: {node.end_lineno - node.lineno + 1}"
            for node in nodes(path)
            if isinstance(node, ast.FunctionDef) and (node.end_lineno or 0) - node.lineno >= 60
        ]

    assert those_that(long) == {}


def test_what_others_call_says_what_it_gives() -> None:
    def silent(path: Path) -> list[str]:
        module = tree(path)
        classes = [node for node in module.body if isinstance(node, ast.ClassDef) and not node.name.startswith("_")]
        return [
            node.name
            for node in (node for owner in (module, *classes) for node in owner.body)
            if isinstance(node, ast.FunctionDef | ast.ClassDef)
            and not node.name.startswith("_")
            and ast.get_docstring(node) is None
        ]

    assert those_that(silent, "units", "records", "reckon", "shorthand") == {}


def test_each_room_says_what_comes_in_what_goes_out_and_what_it_must_not_know() -> None:
    for path in sorted(HOUSE.glob("*/__init__.py")):
        said = ast.get_docstring(tree(path)) or ""
        assert "Must not know" in said, path.parent.name
        assert re.search(r"\bin\b", said, re.IGNORECASE), path.parent.name
        assert re.search(r"\bout\b", said, re.IGNORECASE), path.parent.name


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


def test_an_entry_does_not_wait_for_what_calculates() -> None:
    # Each edit of an entry begins with these; what they import `later` is in `sys.modules`, but not loaded.
    code = (
        "import sys, types\n"
        "from generator.commands import build, making, papers\n"
        "from generator.read import load\n"
        "from generator.reckon import attention\n"
        "from generator.render.pages import journal\n"
        "from generator.render.site import feed, site_map\n"
        "print(sorted(name for name, module in sys.modules.items() if type(module) is types.ModuleType))"
    )
    said = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    loaded = set(ast.literal_eval(said))
    assert "generator.render.site.site_map" in loaded
    assert not loaded & {"numpy", "PIL", "jsonschema", "generator.nature.constants", "generator.reckon.water.findings"}


def test_no_package_with_modules_of_its_own_is_loaded_later() -> None:
    """It would run when one of these is imported, and import it: then that is loaded twice, and its classes differ."""
    for path in MODULES:
        for node in nodes(path):
            if isinstance(node, ast.With) and ast.unparse(node.items[0].context_expr) == "later()":
                for line in (each for each in node.body if isinstance(each, ast.ImportFrom)):
                    folders = [HOUSE.parent.joinpath(*f"{line.module}.{each.name}".split(".")) for each in line.names]
                    starts = [folder / "__init__.py" for folder in folders if folder.is_dir()]
                    assert not any("import" in start.read_text(encoding="utf-8") for start in starts), path
