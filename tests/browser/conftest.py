"""A real browser, where there is one."""

import os
import shutil
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path

import pytest
from playwright.sync_api import Browser, sync_playwright

from tests.browser import fonts
from tests.conftest import build_once

_NAMES = ("chromium", "chromium-browser", "google-chrome")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if item.path.is_relative_to(Path(__file__).parent):
            item.add_marker(pytest.mark.browser)


@pytest.fixture(scope="session")
def browser_with(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Callable[[str], Browser]]:
    """Debian's chromium or its like, with one family of fonts; skipped, saying so, where none is installed."""
    path = next((found for name in _NAMES if (found := shutil.which(name))), None)
    if path is None:
        pytest.skip(f"no browser: none of {', '.join(_NAMES)} is installed")
    with sync_playwright() as playwright:

        @cache
        def launched(family: str) -> Browser:
            config = fonts.only(family, tmp_path_factory.mktemp("fonts"))
            environment = {**os.environ, "FONTCONFIG_FILE": str(config)}
            return playwright.chromium.launch(executable_path=path, env=environment)

        yield launched


@pytest.fixture(scope="session")
def browser(browser_with: Callable[[str], Browser]) -> Browser:
    """A browser for what does not hang on the fonts."""
    return browser_with("Liberation")


@pytest.fixture(scope="session", params=fonts.FAMILIES)
def any_fonts(request: pytest.FixtureRequest, browser_with: Callable[[str], Browser]) -> Browser:
    """A browser with narrow fonts, and one with wide ones: a layout must hold in both."""
    return browser_with(request.param)


@pytest.fixture(scope="session")
def german_site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo journal as its keeper would see it in German: longer words."""
    return build_once(tmp_path_factory, "own", "de")
