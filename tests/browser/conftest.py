"""A real browser, where there is one."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, sync_playwright

from tests.conftest import build_once

_NAMES = ("chromium", "chromium-browser", "google-chrome")


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Debian's chromium or its like; the tests are skipped, saying so, where none is installed."""
    path = next((found for name in _NAMES if (found := shutil.which(name))), None)
    if path is None:
        pytest.skip(f"no browser: none of {', '.join(_NAMES)} is installed")
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=path)
        yield opened
        opened.close()


@pytest.fixture(scope="session")
def every_site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo journal as its keeper sees it: every kind of page is in it."""
    return build_once(tmp_path_factory, "own")
