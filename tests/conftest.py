"""What holds for every test."""

import fcntl
import os
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.archive import write_archive

ROOT = Path(__file__).parents[1]
AS_OF = "2026-11-22"


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


def build_once(tmp_path_factory: pytest.TempPathFactory, audience: str) -> Path:
    """The demo journal's site for an audience: built by the first worker that asks, shared by all."""
    from generator.__main__ import main

    folder = tmp_path_factory.getbasetemp()
    folder = folder.parent if "PYTEST_XDIST_WORKER" in os.environ else folder
    site = folder / f"demo-{audience}"
    with (folder / f"{audience}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not site.exists():
            words = ["build", "--content", str(ROOT / "content"), "--site", str(site), "--as-of", AS_OF]
            assert main([*words, "--audience", audience]) == 0
    return site


@pytest.fixture
def journal(tmp_path: Path) -> Callable[[str], Path]:
    """Writes a journal from one text (see tests/archive.py) and gives its folder."""
    folder = tmp_path / "content"

    def write(text: str) -> Path:
        folder.mkdir(exist_ok=True)
        return write_archive(text, folder)

    return write
