"""An open page of the live site, in a real browser: it loads again by itself, under the policy of every page."""

import re
from pathlib import Path
from threading import Thread

from playwright.sync_api import Browser, expect

from generator.publish.serve import LiveSite
from generator.publish.stage import publish
from tests.browser.visits import PHONE
from tests.conftest import ROOT

POLICY = re.search(r"<meta http-equiv.*?>", (ROOT / "templates/page.html").read_text("utf-8"))


def page(heading: str) -> dict[str, bytes]:
    assert POLICY
    head = f'<head><meta charset="utf-8">{POLICY[0]}<title>{heading}</title></head>'
    return {"index.html": f'<!doctype html><html lang="en">{head}<body><h1>{heading}</h1></body></html>'.encode()}


def test_an_open_page_loads_again_and_shows_what_is_wrong_as_text(browser: Browser, tmp_path: Path) -> None:
    noise: list[str] = []
    with LiveSite(tmp_path / "site", 0, ROOT / "templates/watch") as live:
        Thread(target=live.serve_forever, args=(0.01,), daemon=True).start()
        tab = browser.new_context(viewport=PHONE).new_page()
        tab.on("console", lambda message: noise.append(message.text))
        tab.goto(live.url)
        assert "404" in noise.pop(), "there is no site yet"
        publish(page("Monday"), tmp_path / "site")
        live.show("", good=True)
        expect(tab.locator("h1")).to_have_text("Monday")
        wrong = "corals/a.yaml:1: <img src=x onerror=alert(1)> (write " + "a name, " * 200 + "or none)"
        live.show(wrong, good=False)
        expect(tab.locator("details.watched pre")).to_have_text(wrong)
        box = tab.locator(".watched").bounding_box()
        assert box is not None
        assert box["width"] <= PHONE["width"], "its style is loaded, and it fits a telephone"
        assert box["y"] >= 0.39 * PHONE["height"], "the page can still be read above it"
        publish(page("Tuesday"), tmp_path / "site")
        live.show("", good=True)
        expect(tab.locator("h1")).to_have_text("Tuesday")
        expect(tab.locator(".watched")).to_have_count(0)
        tab.context.close()
        live.shutdown()
    assert noise == []
