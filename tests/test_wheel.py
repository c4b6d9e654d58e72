"""What a newcomer installs builds a journal anywhere, far from the checkout."""

import ast
import os
import re
import subprocess
import sys
import venv
import zipfile
from pathlib import Path

import pytest

from tests.conftest import AS_OF, ROOT
from tests.modules import MODULES, nodes

# Without docstrings the modules of all packages are compiled once more: here, and not beside theirs.
COMPILED = ROOT / ".pytest_cache" / "compiled"


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built as `pip install .` builds it, with no network."""
    out = tmp_path_factory.mktemp("wheel")
    built = subprocess.run(
        [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(out), str(ROOT)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert built.returncode == 0, built.stdout + built.stderr
    (made,) = out.glob("*.whl")
    return made


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A fresh virtual environment's folder of commands, with the wheel in it."""
    folder = tmp_path_factory.mktemp("elsewhere") / "venv"
    # pip only needs to unpack the wheel; it is taken from the environment the tests run in.
    venv.create(folder, with_pip=False, symlinks=True)
    commands = folder / ("Scripts" if sys.platform == "win32" else "bin")
    (packages,) = folder.glob("lib/python*/site-packages")
    pip = [sys.executable, "-m", "pip", "--python", str(commands / "python"), "install", "--quiet", "--no-index"]
    subprocess.run([*pip, "--no-deps", str(wheel)], check=True)
    # What corallite stands on comes from there too, so that nothing is fetched; editable installs do not follow.
    theirs = [path for path in sys.path if path.endswith("-packages")]
    (packages / "dependencies.pth").write_text("\n".join(theirs) + "\n")
    return commands


def test_the_wheel_ships_templates_words_the_demo_and_its_schemas_and_nothing_else(wheel: Path) -> None:
    names = zipfile.ZipFile(wheel).namelist()
    for needed in (
        "generator/templates/page.html",
        "generator/templates/begin/github.yaml",
        "generator/shorthand/words.yaml",
        "generator/templates/words/en.yaml",
        "generator/templates/assets/vendor/vega.js",
        "generator/templates/assets/vendor/LICENSES.txt",
        "generator/demo/journal.yaml",
        "generator/demo/.schemas/logs.json",
    ):
        assert needed in names
    assert {name.split("/")[0] for name in names} == {"generator", "corallite-0.1.0.dist-info"}
    assert not [name for name in names if name.endswith(".pyc") or "__pycache__" in name]


@pytest.mark.long
def test_the_installed_command_makes_the_demo_and_builds_the_same_bytes_of_it_anywhere(
    installed: Path, tmp_path: Path, demo_site: Path
) -> None:
    # Another place, zone, language, order of sets, cache and day; without docstrings, on one core, for no other user.
    elsewhere = {
        "TZ": "Pacific/Kiritimati",
        "LC_ALL": "C",
        "PYTHONUTF8": "0",
        "PYTHONHASHSEED": "18",
        "PYTHONOPTIMIZE": "2",
        "PYTHONPYCACHEPREFIX": str(COMPILED),
        "XDG_CACHE_HOME": str(tmp_path / "cache"),
        "SOURCE_DATE_EPOCH": "2000000000",
    }

    def alone() -> None:
        os.umask(0o077)
        if hasattr(os, "sched_setaffinity"):
            os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})

    def corallite(*words: str) -> str:
        said = subprocess.run(
            [installed / "corallite", *words],
            cwd=tmp_path,
            env={**os.environ, **elsewhere},
            preexec_fn=alone,
            capture_output=True,
            text=True,
            check=False,
        )
        assert said.returncode == 0, said.stdout + said.stderr
        assert not said.stderr, "a command that is well says nothing on the side"
        return said.stdout

    where = subprocess.run(
        [installed / "python", "-c", "import generator; print(generator.__file__)"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=True,
    )
    assert Path(where.stdout.strip()).is_relative_to(installed.parent), "not the checkout's own modules"
    corallite("demo", "my-reef")
    corallite("check", "--content", "my-reef", "--as-of", AS_OF)
    said = corallite("build", "--content", "my-reef", "--site", "out", "--as-of", AS_OF)
    assert re.search(r"\d+ pages in \d+\.\d s; open .*out/index\.html\n$", said)
    assert (tmp_path / "out" / "data" / "journal.json").is_file()
    assert tree(tmp_path / "out") == tree(demo_site)
    corallite("schemas", "--content", "my-reef")
    assert tree(tmp_path / "my-reef") == tree(ROOT / "content")


@pytest.mark.long
def test_what_the_program_stands_on_needs_no_docstrings() -> None:
    """Every import, within functions too, as `python -OO` makes it: no command needs altair, which fails."""
    others = ("altair", "_specification import", "specification_parts", "charts.making", "pillow_heif", "msvcrt")
    every = (node for path in MODULES for node in nodes(path))
    imports = {ast.unparse(node) for node in every if isinstance(node, ast.Import | ast.ImportFrom)}
    imports = {line for line in imports if not any(part in line for part in others)}
    assert len(imports) > 500
    script = "\n".join(sorted(imports, key=lambda line: "__future__" not in line))
    ours = {**os.environ, "PYTHONPYCACHEPREFIX": str(COMPILED)}
    done = subprocess.run([sys.executable, "-OO", "-c", script], cwd=ROOT, env=ours, capture_output=True, check=False)
    assert done.returncode == 0, done.stderr.decode()


def tree(site: Path) -> dict[str, bytes]:
    return {str(path.relative_to(site)): path.read_bytes() for path in site.rglob("*") if path.is_file()}
