"""What holds for every test."""

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
    from generator.__main__ import main

    site = tmp_path_factory.mktemp("demo") / "site"
    assert main(["build", "--content", str(ROOT / "content"), "--site", str(site), "--as-of", AS_OF]) == 0
    return site


@pytest.fixture
def journal(tmp_path: Path) -> Callable[[str], Path]:
    """Writes a journal from one text (see tests/archive.py) and gives its folder."""
    folder = tmp_path / "content"

    def write(text: str) -> Path:
        folder.mkdir(exist_ok=True)
        return write_archive(text, folder)

    return write
