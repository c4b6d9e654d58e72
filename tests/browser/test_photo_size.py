"""A size from a photo: pictures drawn of corals of known size, straight, tilted, distorted, and through a pane."""

import math
import re
import shlex
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from msgspec import Struct
from PIL import Image, ImageDraw
from playwright.sync_api import Browser, Page, expect

from generator.commands.asking import known_of
from generator.read.load import load
from generator.shorthand.grammar import understood
from tests.browser.test_writing import NOW
from tests.browser.visits import DESK, PHONE, opened
from tests.conftest import ROOT

WIDTH, HEIGHT = 1600, 1200
INDEX = 1.3389  # of seawater, as in tests/published/constants.yaml
Point = tuple[float, float]


class Camera(Struct, frozen=True, dict=True):
    """A camera in front of a pane, or in the open, as light goes; cm. It is not the page's own arithmetic.

    `bends` is by how much the lens draws the corners smaller or larger; `wide` is its focal length over the usual.
    """

    front: float = 20.0
    pane: bool = True
    bends: float = 0.0
    wide: float = 1.0

    def sees(self, x: float, y: float, depth: float) -> Point:
        """Where a thing `depth` cm behind the pane is in the picture: the ray that Snell's law lets through it."""
        focal, off = WIDTH * 26 / 36 * self.wide, math.hypot(x, y)
        low, high = 0.0, 3000.0
        for _ in range(60):
            r = (low + high) / 2.0
            angle = math.atan(r / focal)
            inside = math.asin(math.sin(angle) / (INDEX if self.pane else 1.0))
            reached = self.front * math.tan(angle) + depth * math.tan(inside)
            low, high = (r, high) if reached < off else (low, r)
        r = low * (1.0 + self.bends * (low / math.hypot(WIDTH / 2, HEIGHT / 2)) ** 2)
        return WIDTH / 2 + (x / off if off else 0.0) * r, HEIGHT / 2 + (y / off if off else 0.0) * r


def ellipse(camera: Camera, length: float, width: float, depth: float, lean: float = 0.0) -> list[Point]:
    """The outline of a coral, turned by a third of a right angle, that leans back by so many degrees."""
    turn, tilt = math.radians(30.0), math.radians(lean)
    found = []
    for step in range(72):
        angle = math.radians(5.0 * step)
        u, v = length / 2 * math.cos(angle), width / 2 * math.sin(angle)
        x, y = u * math.cos(turn) - v * math.sin(turn), u * math.sin(turn) + v * math.cos(turn)
        found.append(camera.sees(x, y * math.cos(tilt), depth + y * math.sin(tilt)))
    return found


def drawn(folder: Path, ruler: list[Point], outline: list[Point]) -> Path:
    """The picture: water, a coral, and a ruler."""
    picture = Image.new("RGB", (WIDTH, HEIGHT), "#1d4a66")
    pen = ImageDraw.Draw(picture)
    pen.polygon(outline, fill="#c98a6b")
    pen.line(ruler, fill="white", width=5)
    picture.save(folder / "coral.png")
    return folder / "coral.png"


@pytest.fixture
def sizing(browser: Browser, own_site: Path) -> Iterator[Page]:
    with opened(browser, (own_site / "photo-size.html").as_uri() + "#of-tide-lantern-1", DESK) as (page, noise):
        yield page
        assert not noise


def opens(page: Page, file: Path, **given: str) -> None:
    page.locator("#file").set_input_files(file)
    expect(page.locator("#stage")).to_be_visible()
    for name, value in given.items():
        if name in ("through", "tilt"):
            page.locator(f'[name="{name}"]').select_option(value)
        else:
            page.locator(f"#{name}").fill(value)


def traces(page: Page, marks: list[Point], outline: list[Point]) -> None:
    """Tap both marks, and draw round the coral in one go."""
    canvas = page.locator("#picture")
    canvas.scroll_into_view_if_needed()
    box = canvas.bounding_box()
    assert box is not None
    scale = box["width"] / WIDTH
    here = [(box["x"] + x * scale, box["y"] + y * scale) for x, y in (*marks, *outline)]
    for x, y in here[:2]:
        page.mouse.click(x, y)
    page.mouse.move(*here[2])
    page.mouse.down()
    for x, y in here[3:]:
        page.mouse.move(x, y)
    page.mouse.up()


def said(page: Page, id: str) -> tuple[float, float, float]:
    """A size and the ends of its likely range."""
    value, low, high = re.findall(r"\d+(?:\.\d+)?", page.locator(f"#{id}").inner_text().replace("cm²", "cm"))
    return float(value), float(low), float(high)


CASES: dict[str, tuple[Camera, float, float, float, dict[str, str]]] = {
    # the camera; how far the ruler and the coral are behind the pane; how far it leans; what the keeper writes
    "straight through the pane": (Camera(), 15.0, 15.0, 0.0, {"tilt": "5"}),
    "in the open": (Camera(front=0.0, pane=False), 35.0, 35.0, 0.0, {"through": "air", "tilt": "5"}),
    "leaning by 14 degrees": (Camera(), 15.0, 15.0, 14.0, {"tilt": "15"}),
    "leaning by 28 degrees": (Camera(), 15.0, 15.0, 28.0, {"tilt": "30"}),
    "drawn too small at the edges": (Camera(bends=-0.03), 15.0, 15.0, 0.0, {"tilt": "5"}),
    "drawn too large at the edges": (Camera(bends=0.03), 15.0, 15.0, 0.0, {"tilt": "5"}),
    "4 cm behind the ruler, as written": (Camera(), 15.0, 19.0, 0.0, {"tilt": "5", "behind": "4"}),
    "close to the pane, by a wider lens": (Camera(front=8.0, wide=0.85), 22.0, 22.0, 0.0, {"front": "8", "back": "22"}),
}


@pytest.mark.parametrize("case", CASES)
def test_the_size_of_a_drawn_coral_is_in_its_likely_range(sizing: Page, tmp_path: Path, case: str) -> None:
    camera, ruler_at, coral_at, lean, given = CASES[case]
    marks = [camera.sees(-5.0, 7.5, ruler_at), camera.sees(5.0, 7.5, ruler_at)]
    outline = ellipse(camera, 12.0, 8.0, coral_at, lean)
    opens(sizing, drawn(tmp_path, marks, outline), known="10", **given)
    traces(sizing, marks, outline)
    for name, true in (("length", 12.0), ("width", 8.0), ("area", math.pi / 4 * 12.0 * 8.0)):
        value, low, high = said(sizing, name)
        assert low <= true <= high, (name, value, low, high)
        widest = (0.65 if name == "area" else 0.35) * (1.4 if lean > 20.0 else 1.0)
        assert high - low < widest * true  # not bought by saying nothing
        if not lean:
            assert value == pytest.approx(true, rel=0.05)


def test_a_coral_behind_the_ruler_is_too_small_if_nobody_says_so(sizing: Page, tmp_path: Path) -> None:
    camera = Camera()
    marks = [camera.sees(-5.0, 7.5, 15.0), camera.sees(5.0, 7.5, 15.0)]
    outline = ellipse(camera, 12.0, 8.0, 23.0)
    opens(sizing, drawn(tmp_path, marks, outline), known="10", tilt="5")
    traces(sizing, marks, outline)
    assert said(sizing, "length")[2] < 12.0
    sizing.locator("#behind").fill("8")
    _, low, high = said(sizing, "length")
    assert low <= 12.0 <= high


def test_its_lines_are_understood_and_go_on_to_the_page_to_write_on(sizing: Page, tmp_path: Path) -> None:
    camera = Camera()
    marks = [camera.sees(-5.0, 7.5, 15.0), camera.sees(5.0, 7.5, 15.0)]
    outline = ellipse(camera, 24.0, 20.0, 15.0)
    opens(sizing, drawn(tmp_path, marks, outline), known="10")
    traces(sizing, marks, outline)
    command = sizing.locator("#line").inner_text().splitlines()[0]
    journal = load(ROOT / "content", NOW).journal
    assert journal is not None
    _, _, subject, line = shlex.split(command)
    line = re.sub(r"^\S+:", "2026-11-22:", line)  # the day is that of the device
    found = understood(line, known_of(journal, journal.systems["fore-reef"], subject, NOW))
    assert found.refusals == ()
    size = {name: str(value) for name, value in found.changes[0].values.items()}
    assert set(size) == {"length", "width"}
    sizing.locator("#onward").click()
    expect(sizing.locator("h1")).to_have_text("Write")
    row = sizing.locator(".coral-row")
    assert row.locator('[data-name="coral"]').input_value() == "tide-lantern-1"
    assert [f"{row.locator(f'[data-name={side}]').input_value()} cm" for side in size] == list(size.values())
    sizing.evaluate("localStorage.clear()")


def test_the_keys_alone_measure_too(sizing: Page, tmp_path: Path) -> None:
    opens(sizing, drawn(tmp_path, [(200, 1000), (1400, 1000)], [(400, 300), (1200, 300), (800, 900)]), known="12")
    sizing.locator("#picture").focus()

    def goes(keys: str, times: int) -> None:
        for _ in range(times):
            sizing.keyboard.press(keys)

    goes("ArrowLeft", 20)
    sizing.keyboard.press("Enter")
    goes("ArrowRight", 40)
    sizing.keyboard.press("Enter")
    for keys, times in (("ArrowUp", 15), ("ArrowLeft", 40), ("ArrowDown", 30)):
        goes(keys, times)
        sizing.keyboard.press("Enter")
    expect(sizing.locator("#state")).to_have_text("Outline of 3 points.")
    sizing.keyboard.press("Backspace")
    expect(sizing.locator("#state")).to_have_text("Trace the coral, or set points around it.")
    sizing.keyboard.press("Enter")
    # The side between the marks is 40 steps, that across 30; on one plane the scale is 12 cm for 40 steps.
    assert said(sizing, "length")[0] == pytest.approx(15.0, rel=0.04)


def test_a_finger_traces_on_a_telephone_and_nothing_is_asked_of_a_host(
    any_fonts: Browser, own_site: Path, tmp_path: Path
) -> None:
    camera = Camera()
    marks = [camera.sees(-5.0, 7.5, 15.0), camera.sees(5.0, 7.5, 15.0)]
    outline = ellipse(camera, 12.0, 8.0, 15.0)
    with opened(any_fonts, (own_site / "photo-size.html").as_uri(), PHONE, has_touch=True) as (page, noise):
        opens(page, drawn(tmp_path, marks, outline), known="10")
        traces(page, marks, outline)
        _, low, high = said(page, "length")
        assert low <= 12.0 <= high
        assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
        assert not noise


def test_a_file_that_is_no_picture_is_said_to_be_none(sizing: Page, tmp_path: Path) -> None:
    (tmp_path / "note.png").write_text("no picture", "utf-8")
    sizing.locator("#file").set_input_files(tmp_path / "note.png")
    expect(sizing.locator("#state")).to_contain_text("cannot open that file")


FORMULAS: dict[str, tuple[str, Any]] = {
    # tan a = 1 and so sin a = 0.7071; behind the pane sin b = 0.7071/1.3389, tan b = 0.6219. Worked by hand.
    "20 + 15 * 0.6219": ("sizeFromPhoto.lateral(1000, 1000, 20, 15, 1.3389)", 29.329),
    # Water makes a thing look nearer, by its index: r/f * (20 + 15/n) near the axis.
    "near the axis": ("sizeFromPhoto.lateral(1, 1000, 20, 15, 1.3389) * 1000", 31.203),
    "a square's diagonal": ("sizeFromPhoto.shape([[0,0],[3,0],[3,3],[0,3]]).length", 18**0.5),
    "a square's breadth": ("sizeFromPhoto.shape([[0,0],[3,0],[3,3],[0,3]]).width", 18**0.5),
    "a square's area": ("sizeFromPhoto.shape([[0,0],[3,0],[3,3],[0,3]]).area", 9.0),
    "a triangle's area": ("sizeFromPhoto.shape([[0,0],[4,0],[0,3]]).area", 6.0),
}


@pytest.mark.parametrize("name", FORMULAS)
def test_a_formula_gives_what_hand_and_book_give(sizing: Page, name: str) -> None:
    script, expected = FORMULAS[name]
    assert sizing.evaluate(script) == pytest.approx(expected, rel=1e-4)


def test_each_cause_makes_the_size_less_sure(sizing: Page) -> None:
    base = "{width:1600,height:1200,focal:1156,marks:[[300,900],[1300,900]],known:10,air:20,depth:15,behind:0,n:1.34}"
    outline = "Array.from({length:36},(_,i)=>[800+300*Math.cos(i/36*6.2832),600+200*Math.sin(i/36*6.2832)])"

    def half(change: str = "", slip: float = 2.0, tilt: float = 5.0) -> float:
        script = f"sizeFromPhoto.estimate({{...{base},outline:{outline},{change}}},{{slip:{slip},tilt:{tilt}}}).length"
        found = sizing.evaluate(script)
        return float(found["high"] - found["low"]) / float(found["value"])

    assert half() < half(slip=10.0)
    assert half() < half(tilt=15.0) < half(tilt=30.0)
    assert half() < half("behind:6")
    assert half() < half("known:1")
