"""Pages to visit, one of each kind, and what a visit hears."""

import json
import re
from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, Page, expect

# Every kind of page but 404.html, which a host shows at any depth, so that it is no page of a folder.
KINDS = (
    "change",
    "coral",
    "corals",
    "data",
    "dosing",
    "entry",
    "front",
    "guides",
    "journal",
    "lines",
    "log_sheet",
    "methods",
    "month",
    "offers",
    "origin",
    "paper",
    "photo_size",
    "plan",
    "planned",
    "search",
    "shares",
    "sheet",
    "since",
    "survival",
    "system",
    "systems",
    "today",
    "track_record",
    "trade",
    "trades",
    "travel",
    "write",
    "year",
)
# What is there for visitors only; the keeper's own site has every other kind.
VISITORS = ("front",)
PHONE, TABLET, DESK = ({"width": width, "height": height} for width, height in ((390, 844), (768, 1024), (1440, 900)))
# As wide as A4 within its margins: 190 mm.
PAPER = {"width": 718, "height": 1000}
# A page at 1280 px enlarged to 400 % has the width of 320. Source: WCAG 2.2, 1.4.10.
ENLARGED = {"width": 320, "height": 256}
# Layout that jumps after it was seen. Source: Web Vitals, cumulative layout shift.
_SHIFTS = """
window.shifted = 0;
new PerformanceObserver((list) => {
  for (const entry of list.getEntries()) if (!entry.hadRecentInput) window.shifted += entry.value;
}).observe({type: "layout-shift", buffered: true});
"""
_LEFT = "net::ERR_ABORTED"
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


# Most of what a visit costs is a tab of its own; so tabs that are not in use are kept, by browser and options.
_TABS: dict[tuple[Browser, str], list[Page]] = defaultdict(list)


@contextmanager
def opened(browser: Browser, url: str, size: dict[str, int] = DESK, **options: Any) -> Iterator[tuple[Page, list[str]]]:
    """A page loaded anew, and all that it says on its console or asks of anything but the folder.

    `options` are a browser context's (scripts, touch, time zone) and what `seen` takes.
    """
    media = {name: options.pop(name) for name in ("color_scheme", "reduced_motion", "forced_colors") if name in options}
    free = _TABS[browser, json.dumps(options, sort_keys=True)]
    page = free.pop() if free else _new_tab(browser, options)
    noise: list[str] = []
    hears = {
        "console": lambda message: noise.append(message.text),
        "pageerror": lambda error: noise.append(str(error)),
        "request": lambda asked: None if asked.url.startswith("file://") else noise.append(asked.url),
        # What was still on its way when the reader went on is no failure.
        "requestfailed": lambda asked: None if asked.failure == _LEFT else noise.append(f"failed: {asked.url}"),
    }
    seen(page, size, **media)
    for event, hear in hears.items():
        page.on(event, hear)  # type: ignore[call-overload]
    page.goto(url)
    yield page, noise
    for event, hear in hears.items():
        page.remove_listener(event, hear)
    page.goto("about:blank")
    free.append(page)


def _new_tab(browser: Browser, options: dict[str, Any]) -> Page:
    page = browser.new_context(**options).new_page()
    page.add_init_script(_SHIFTS)
    return page


def seen(
    page: Page,
    size: Any,
    color_scheme: Any = "light",
    reduced_motion: Any = "no-preference",
    forced_colors: Any = "none",
) -> Page:
    """The page as a reader with this screen and these wishes sees it."""
    page.set_viewport_size(size)
    page.emulate_media(
        media="null", color_scheme=color_scheme, reduced_motion=reduced_motion, forced_colors=forced_colors
    )
    return page


def see_charts(page: Page, most: int = 99) -> None:
    """Scroll to each chart until it is drawn for pointers."""
    for chart in page.locator("[data-chart]").all()[:most]:
        chart.scroll_into_view_if_needed()
        expect(chart).to_have_attribute("data-drawn", "", timeout=15_000)
