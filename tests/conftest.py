"""What holds for every test."""

import fcntl
import gc
import hashlib
import os
import pickle
import shutil
import sys
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from datetime import date, datetime
from functools import lru_cache
from pathlib import Path
from typing import TypeVar

import hypothesis
import pytest
from msgspec import structs

# First of all, for it says on how many threads numpy calculates before numpy is there.
import generator  # noqa: F401
from generator.door.door import Door
from generator.door.steps import Steps
from generator.read import files
from generator.read import load as loading
from generator.reckon.analysis import journal as analysis
from generator.reckon.estimate.kept_courses import KEPT_COURSES
from generator.records.journal import Journal
from tests.archive import write_archive

Found = TypeVar("Found")
ROOT = Path(__file__).parents[1]
AS_OF = "2026-11-22"

# Our modules are compiled once, for all workers, for commands that tests start, and for the next run. Those of packages
# were when they were installed: with a folder of our own for compiled files they would all be compiled anew.
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
# To look for garbage among all that thousands of tests have loaded costs a tenth of the time, and finds little.
gc.set_threshold(100_000, 50, 100)

# Each run tries the same cases, so that a change alone decides whether it is green; LOOK_FURTHER=5000 tries
# so many new ones, and prints how to try one that fails again: keep it as an @example.
further = int(os.environ.get("LOOK_FURTHER", "0"))
# No case is timed: a machine with much else to do is no mistake of ours.
slow = hypothesis.settings(deadline=None, suppress_health_check=[hypothesis.HealthCheck.too_slow])
hypothesis.settings.register_profile("same", slow, derandomize=True)
hypothesis.settings.register_profile("further", slow, max_examples=max(further, 100), print_blob=True)
hypothesis.settings.load_profile("further" if further else "same")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    # The keeper's own site is the dearest to build.
    for item in items:
        if "own_site" in getattr(item, "fixturenames", ()):
            item.add_marker(pytest.mark.long)
    # A process is copied several times faster while it is small: those that copy it come first.
    items.sort(key=lambda item: not hasattr(getattr(item, "module", None), "child"))


def pytest_collection_finish() -> None:
    gc.freeze()


def pytest_sessionfinish(session: pytest.Session) -> None:
    # .ci/run sets NO_SKIPS: a test that is skipped there would let a whole kind of check fall silent.
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    skipped = reporter.stats.get("skipped", ()) if reporter else ()
    if os.environ.get("NO_SKIPS") and skipped and session.exitstatus == pytest.ExitCode.OK:
        reporter.write_line(f"{len(skipped)} skipped, and NO_SKIPS is set: counted as failed")
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


@pytest.fixture(scope="session")
def demo_site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo journal's public site, built once."""
    return build_once(tmp_path_factory, "public")


@pytest.fixture(scope="session")
def own_site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo journal's own site, the keeper's, built once."""
    return build_once(tmp_path_factory, "own")


def build_once(tmp_path_factory: pytest.TempPathFactory, audience: str, language: str = "en") -> Path:
    """The demo journal's site for an audience: built by the first worker that asks, shared by all."""
    from generator.__main__ import main

    def build(site: Path) -> None:
        content = ROOT / "content"
        if language != "en":
            content = shutil.copytree(content, site.with_suffix(".content"))
            settings = content / "journal.yaml"
            settings.write_text(settings.read_text("utf-8").replace("language: en", f"language: {language}"), "utf-8")
        words = ["build", "--content", str(content), "--site", str(site), "--as-of", AS_OF]
        assert main([*words, "--audience", audience]) == 0

    return made_once(tmp_path_factory, f"demo-{audience}-{language}", build)


def made_once(tmp_path_factory: pytest.TempPathFactory, name: str, make: Callable[[Path], object]) -> Path:
    """A file or folder that is dear to make: made by the first worker that asks, shared by all."""
    folder = tmp_path_factory.getbasetemp()
    folder = folder.parent if "PYTEST_XDIST_WORKER" in os.environ else folder
    made = folder / name
    with (folder / f"{name}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not made.exists():
            make(made)
    return made


def found_once(tmp_path_factory: pytest.TempPathFactory, name: str, find: Callable[[], Found]) -> Found:
    """What is dear to calculate: found by the first worker that asks, and by all others read."""
    kept = made_once(tmp_path_factory, f"{name}.found", lambda path: path.write_bytes(pickle.dumps(find())))
    found: Found = pickle.loads(kept.read_bytes())
    return found


# The findings of a journal, each calculated when it is asked for: for tests that alone ask, and for few of them.
calculated = analysis.analyse


def _remember_findings() -> Callable[[pytest.TempPathFactory], object]:
    """Have the findings of a journal at a moment calculated by the first test that asks, and by all others read.

    They follow from the records and the moment alone, in whatever language they are shown, which is why the same may
    stand for the same.
    """
    factories: list[pytest.TempPathFactory] = []

    def analyse(journal: Journal, as_of: datetime, door: Door | None = None) -> analysis.Findings:
        if not factories or isinstance(door, Steps):
            return calculated(journal, as_of, door)
        shown = replace(journal, settings=structs.replace(journal.settings, language="en"))
        key = hashlib.sha256(pickle.dumps((shown, as_of))).hexdigest()
        return found_once(factories[0], key, lambda: calculated(journal, as_of))

    analysis.analyse = analyse
    return factories.append


_remembers = _remember_findings()


def _remember_files() -> None:
    """Have each text of a journal's file read once.

    Its records follow from its name, its text, a coral's story and the zone and units of the journal alone. Builds
    that remember, and those that are compared with them, read for themselves.
    """
    read, known = files._whole, {}

    def whole(disk: files.Disk, file: str, meaning: files.Meaning) -> object:
        story = f"{file.removesuffix('yaml')}md"
        if os.environ.get("CORALLITE_FORGET") != "1":
            return read(disk, file, meaning)
        told = file.startswith("corals/") and files._stem(file) in disk.stories
        texts = (disk.text(file)[0], disk.text(story)[0] if told else "")
        if None in texts:
            return read(disk, file, meaning)
        key = (file, *texts, told, meaning.zone.key, *sorted(meaning.units.items()))
        if key not in known:
            known[key] = read(disk, file, meaning)
        return known[key]

    files._whole = whole


_remember_files()
_load = loading.load


@lru_cache(maxsize=8)
def _demo(now: datetime | date, _: frozenset[tuple[str, int, int]]) -> loading.Loaded:
    return _load(ROOT / "content", now)


def _remember_the_demo() -> None:
    """Have the demo's journal read and checked once for each moment, as long as no file of it is another.

    Journals are frozen: what many tests ask may be the same one.
    """

    def load(
        folder: Path, now: datetime | date, instead: Mapping[str, str] | None = None, door: Door | None = None
    ) -> loading.Loaded:
        remembers = os.environ.get("CORALLITE_FORGET") != "1" or isinstance(door, Steps)
        if remembers or instead or folder.resolve() != ROOT / "content":
            return _load(folder, now, instead, door)
        stats = ((str(path), path.stat()) for path in (ROOT / "content").rglob("*"))
        return _demo(now, frozenset((path, stat.st_mtime_ns, stat.st_size) for path, stat in stats))

    loading.load = load


_remember_the_demo()
# Most tests build a journal once: what a build remembers for the next would only cost time.
os.environ["CORALLITE_FORGET"] = "1"


@pytest.fixture(scope="session", autouse=True)
def remembered(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Findings are remembered from the first test on."""
    _remembers(tmp_path_factory)


@pytest.fixture(scope="module")
def courses_kept() -> Iterator[None]:
    """For tests that ask about the same water again, a little later: each goes on from the course of one before."""
    KEPT_COURSES.keep(64)
    yield
    KEPT_COURSES.keep(0)


@pytest.fixture
def journal(tmp_path: Path) -> Callable[[str], Path]:
    """Writes a journal from one text (see tests/archive.py) and gives its folder."""
    folder = tmp_path / "content"

    def write(text: str) -> Path:
        folder.mkdir(exist_ok=True)
        return write_archive(text, folder)

    return write


def lately(folder: Path, without: str = "2026-0[1-8]") -> Path:
    """A copy of the demo's journal in a folder, with the logs of its last months alone: calculated in a fraction."""
    old = shutil.ignore_patterns("2025-[01][0-9].yaml", f"{without}.yaml")
    return Path(shutil.copytree(ROOT / "content", folder, ignore=old))
