"""The mistakes keepers really make, each with every message it must bring.

`mistakes/*.txt` holds one mistake after another: `=== what happened`, the files it puts over a sound
journal (`sound.txt`; see tests/archive.py for the form), `>>>`, and what `check` must say. It is
Tuesday 31 March 2026, noon in Greenwich.
"""

import ast
import re
from collections.abc import Callable
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path
from typing import NamedTuple

import pytest

from generator.read.discover import discover
from generator.read.load import Loaded, load
from tests.archive import write_archive
from tests.conftest import found_once
from tests.modules import nodes
from tests.read.test_slips import SLIPS
from tests.read.test_slips import read as read_slip

HERE = Path(__file__).parent
ROOM = HERE.parents[1] / "generator"
SOUND = (HERE / "sound.txt").read_text(encoding="utf-8")
NOW = datetime(2026, 3, 31, 12, 0, tzinfo=UTC)


Told = tuple[list[str], set[str], bool, bool]


class Mistake(NamedTuple):
    name: str
    files: str
    expected: list[str]


def mistakes() -> list[Mistake]:
    found = []
    for path in sorted((HERE / "mistakes").glob("*.txt")):
        for chunk in re.split(r"^=== ", path.read_text(encoding="utf-8"), flags=re.MULTILINE)[1:]:
            name, _, rest = chunk.partition("\n")
            files, _, expected = rest.partition("\n>>>\n")
            found.append(Mistake(f"{path.stem}: {name}", files, expected.strip().split("\n")))
    return found


MISTAKES = mistakes()


def read(folder: Path, files: str) -> Loaded:
    write_archive(SOUND, folder)
    write_archive(files, folder)
    return load(folder, NOW)


def test_a_sound_journal_has_no_problem(tmp_path: Path) -> None:
    loaded = read(tmp_path, "")
    assert [str(problem) for problem in loaded.problems] == []
    assert loaded.journal is not None


@pytest.fixture
def told(tmp_path: Path, tmp_path_factory: pytest.TempPathFactory) -> Callable[[str, Callable[[Path], Loaded]], Told]:
    """What was said of an example, its kinds, and whether it is a journal with errors; each is read once for all."""

    def tell(name: str, read: Callable[[Path], Loaded]) -> Told:
        def find() -> Told:
            loaded = read(tmp_path / sha256(name.encode()).hexdigest())
            said = [str(problem) for problem in loaded.problems]
            return said, {problem.kind for problem in loaded.problems}, loaded.journal is None, bool(loaded.errors)

        return found_once(tmp_path_factory, sha256(name.encode()).hexdigest(), find)

    return tell


@pytest.mark.parametrize("mistake", MISTAKES, ids=[mistake.name for mistake in MISTAKES])
def test_a_mistake_is_named_with_its_line_and_its_remedy(mistake: Mistake, told) -> None:
    said, _, without_journal, with_errors = told(mistake.name, lambda folder: read(folder, mistake.files))
    assert said == mistake.expected
    assert without_journal == with_errors


def test_a_tab_before_a_line_gives_one_message_and_none_that_follows_from_it(tmp_path: Path) -> None:
    write_archive(SOUND, tmp_path)
    for path in (each for each in tmp_path.rglob("*") if each.suffix == ".yaml" or each.parent.name == "entries"):
        lines, file = path.read_text("utf-8").split("\n"), path.relative_to(tmp_path).as_posix()
        head = range(1, lines.index("---", 1)) if path.suffix == ".md" else range(len(lines) - 1)
        for at in head:
            for tabbed in (f"\t{lines[at]}", f"\t{lines[at].lstrip()}"):
                text = "\n".join([*lines[:at], tabbed, *lines[at + 1 :]])
                told = [
                    (each.source.file, each.source.line, each.kind)
                    for each in load(tmp_path, NOW, {file: text}).problems
                ]
                assert told == [(file, at + 1, "tab")], tabbed


def test_there_are_at_least_eighty_distinct_mistakes() -> None:
    names = {mistake.name for mistake in MISTAKES}
    assert len(names) == len(MISTAKES)
    assert len({(mistake.files, *mistake.expected) for mistake in MISTAKES}) == len(MISTAKES) >= 80


def test_every_message_says_what_to_write_and_fits_a_line() -> None:
    for mistake in MISTAKES:
        for message in mistake.expected:
            assert re.fullmatch(r"\S.*?:\d+: (warning: )?.+ \(.+\)", message), message
            assert len(message) < 260, message


@pytest.mark.long
def test_every_kind_of_problem_has_an_example(told, tmp_path: Path) -> None:
    shown = set()
    for mistake in MISTAKES:
        shown |= told(mistake.name, lambda folder, mistake=mistake: read(folder, mistake.files))[1]
    # What no example can show on every machine, each with its own test below or in test_hostile.py.
    elsewhere = {"unreadable", "too-large"}
    # A field's own check of its type, which the reader's `shape` comes before.
    never_reached = {"not-a-value"}
    missing = kinds_in_the_code() - shown - elsewhere - never_reached
    for number, slip in enumerate(SLIPS):
        if missing:
            loaded = read_slip(tmp_path / f"slip-{number}", (slip.file, slip.before, slip.after))
            missing -= {problem.kind for problem in loaded.problems}
    assert not missing


_A_KIND = re.compile(r"[a-z]+(-[a-z0-9]+)*")
_SAYING = {"Problem", "mistake", "say", "warn", "_refuse", "_problem"}


def kinds_in_the_code() -> set[str]:
    """The kinds written in read/ and records/: the first such word of each call or answer that makes a problem."""
    kinds = set()
    for path in (*(ROOM / "read").glob("*.py"), *(ROOM / "records").glob("*.py")):
        for node in nodes(path):
            if isinstance(node, ast.Call) and _name(node.func) in _SAYING:
                parts = node.args
            elif path.name in ("messages.py", "slips.py", "syntax.py") and isinstance(node, ast.Tuple):
                parts = [] if all(isinstance(part, ast.Constant) for part in node.elts) else node.elts
            else:
                continue
            words = [part.value for part in parts if isinstance(part, ast.Constant) and isinstance(part.value, str)]
            kinds |= set([word for word in words if _A_KIND.fullmatch(word)][:1])
    return kinds


def _name(function: ast.expr) -> str:
    return function.attr if isinstance(function, ast.Attribute) else getattr(function, "id", "")


def test_a_file_no_one_may_read_is_a_problem_not_a_crash(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_archive(SOUND, tmp_path)

    def refuse(path: Path, _at_most: int = 0) -> bytes:
        raise PermissionError(13, "Permission denied", str(path))

    monkeypatch.setattr("generator.read.discover.read_bytes", refuse)
    problem = load(tmp_path, NOW).errors[0]
    assert (problem.kind, problem.wrong) == ("unreadable", "the file cannot be read: Permission denied")


def test_a_file_whose_head_cannot_be_read_is_named_and_a_photo_is_left_to_the_page_that_shows_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_archive(SOUND, tmp_path)
    (tmp_path / "photos").mkdir(exist_ok=True)
    (tmp_path / "photos/one.jpg").write_bytes(b"x")

    def refuse(path: Path, _at_most: int = 0) -> bytes:
        raise (FileNotFoundError if path.name == "journal.yaml" else PermissionError)(
            13, "Permission denied", str(path)
        )

    monkeypatch.setattr("generator.read.discover.read_bytes", refuse)
    found = discover(tmp_path)
    assert "photos/one.jpg" in found.photos
    named = {each.source.file for each in found.problems}
    assert {(each.kind, each.wrong) for each in found.problems} == {
        ("unreadable", "the file cannot be read: Permission denied")
    }
    assert "systems/reef.yaml" in named
    assert not named & {"journal.yaml", "photos/one.jpg"}
