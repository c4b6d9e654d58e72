"""A real browser, where there is one."""

import shutil
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, sync_playwright

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
