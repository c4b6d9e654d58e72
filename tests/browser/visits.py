"""Pages to visit, one of each kind, and what a visit hears."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, Page, expect

from tests.conftest import ROOT

# A template is a kind of page; a host shows 404.html at any depth, so it is no page of a folder.
KINDS = sorted(path.stem for path in (ROOT / "templates" / "pages").glob("*.html") if path.stem != "not_found")
PHONE, TABLET, DESK = ({"width": width, "height": height} for width, height in ((390, 844), (768, 1024), (1440, 900)))
# Layout that jumps after it was seen. Source: Web Vitals, cumulative layout shift.
_SHIFTS = """
window.shifted = 0;
new PerformanceObserver((list) => {
  for (const entry of list.getEntries()) if (!entry.hadRecentInput) window.shifted += entry.value;
}).observe({type: "layout-shift", buffered: true});
"""
_KIND = re.compile(r'<body data-page="(\w+)"')


@cache
def pages_by_kind(site: Path) -> dict[str, list[Path]]:
    """Every page of a built site by its kind, the richest first."""
    found: dict[str, list[Path]] = {}
    for path in sorted(site.rglob("*.html"), key=lambda path: (-path.stat().st_size, path)):
        kind = _KIND.search(path.read_text("utf-8"))
        assert kind, f"{path} does not say what kind of page it is"
        found.setdefault(kind[1], []).append(path)
    return found


def address(site: Path, kind: str) -> str:
    """The richest page of a kind."""
    return pages_by_kind(site)[kind][0].as_uri()


@contextmanager
def opened(browser: Browser, url: str, **context: Any) -> Iterator[tuple[Page, list[str]]]:
    """A page, and all that it says on its console or asks of anything but the folder."""
    with browser.new_context(**context) as made:
        page = made.new_page()
        page.add_init_script(_SHIFTS)
        noise: list[str] = []
        page.on("console", lambda message: noise.append(message.text))
        page.on("pageerror", lambda error: noise.append(str(error)))
        page.on("request", lambda asked: None if asked.url.startswith("file://") else noise.append(asked.url))
        page.on("requestfailed", lambda asked: noise.append(f"failed: {asked.url}"))
        page.goto(url)
        yield page, noise


def see_charts(page: Page, most: int = 99) -> None:
    """Scroll to each chart until it is drawn for pointers."""
    for chart in page.locator("[data-chart]").all()[:most]:
        chart.scroll_into_view_if_needed()
        expect(chart).to_have_attribute("data-drawn", "", timeout=15_000)
