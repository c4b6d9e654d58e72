"""Every picture of the demo's sites has a name and words that say what it shows."""

import html
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

# What names a picture as one, and none.
_GENERIC = re.compile(
    r"\W*(an?|the)?\W*(picture|image|img|photo|chart|graph|drawing|diagram|figure|svg|plot)?\W*", re.IGNORECASE
)
# What is told by data: the words hold a number, or say that there is nothing to tell.
_OF_DATA = {"timeline", "floor", "weeks", "gauge", "tree", "pose"}
_NOTHING = "There are no corals here."
_HIDDEN = re.compile(r'<(li|span|div|p)\b[^>]*aria-hidden="true"[^>]*>.*?</\1>', re.DOTALL)
_PICTURE = re.compile(r"<(svg|img|canvas)\b([^>]*)>|</svg>")


def pictures(page: str) -> Iterator[tuple[str, str]]:
    """Of each picture that is not hidden from who hears the page: its first class, and its name and words."""
    page, inside = _HIDDEN.sub("", page), 0
    for found in _PICTURE.finditer(page):
        given = dict(re.findall(r'([\w-]+)="([^"]*)"', found[2] or ""))
        if found[1] and not inside and "aria-hidden" not in given:
            ids = given.get("aria-labelledby", "").split()
            named = (re.search(f'id="{re.escape(id)}"[^>]*>([^<]*)<', page) for id in ids)
            said = given.get("alt") or given.get("aria-label") or ". ".join(name[1] for name in named if name)
            yield given.get("class", "").partition(" ")[0], html.unescape(said)
        inside += {"svg": 1, None: -1}.get(found[1], 0)


@pytest.mark.parametrize("site", ["own_site", "demo_site"])
def test_every_picture_has_a_name_and_says_what_it_shows(site: str, request: pytest.FixtureRequest) -> None:
    folder: Path = request.getfixturevalue(site)
    told: set[str] = set()
    for path in folder.rglob("*.html"):
        for look, said in pictures(path.read_text("utf-8")):
            where = f"{path.relative_to(folder)}: {look} '{said}'"
            assert not _GENERIC.fullmatch(said), where
            assert len(said) > 10, where
            assert look not in _OF_DATA or re.search(r"\d", said) or _NOTHING in said, where
            told.add(look)
    assert told >= _OF_DATA - {"pose"}


def test_no_axis_of_time_says_the_same_twice(own_site: Path) -> None:
    ticks = re.compile(r'<text class="[tf]-tick" x="[^"]*" y="([^"]*)" text-anchor="(?:start|middle)">([^<]*)<')
    axes = 0
    for path in own_site.rglob("*.html"):
        for drawn in re.findall(
            r'<svg[^>]* class="(?:timeline|tree)".*?</desc>(.*?)</figure>', path.read_text(), re.DOTALL
        ):
            said = ticks.findall(drawn)
            assert len(said) == len(set(said)), (path.relative_to(own_site), said)
            axes += len(said) > 1
    assert axes > 60
