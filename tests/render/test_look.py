"""The stylesheet: contrast as WCAG 2.2 reckons it, colours as every eye sees them; and nothing from elsewhere."""

import re
from itertools import combinations
from pathlib import Path

import pytest
from colorspacious import cspace_convert, deltaE

from tests.render import sample
from tests.render.pages import drawn, elements

SHEETS = sorted((Path(__file__).parents[2] / "templates" / "assets").glob("*.css"))
CSS = next(sheet for sheet in SHEETS if sheet.name == "style.css").read_text("utf-8")
_COLOUR = re.compile(r"--([\w-]+):\s*(#[0-9a-f]{6});")
LIGHT = dict(_COLOUR.findall(CSS[: CSS.index("@media screen and (prefers-color-scheme: dark)")]))
DARK = {**LIGHT, **dict(_COLOUR.findall(CSS[CSS.index("prefers-color-scheme: dark") : CSS.index("* { box-sizing")]))}


def media() -> list[tuple[str, str]]:
    """Every media query of every stylesheet, and the rules in it."""
    found = []
    for sheet in SHEETS:
        css = re.sub(r"/\*.*?\*/", "", sheet.read_text("utf-8"), flags=re.DOTALL)
        for opening in re.finditer(r"@media([^{]*)\{", css):
            end, depth = opening.end(), 1
            while depth:
                depth += {"{": 1, "}": -1}.get(css[end], 0)
                end += 1
            found.append((opening[1].strip(), css[opening.end() : end - 1]))
    return found


def test_a_scheme_of_colours_changes_the_colours_and_nothing_else() -> None:
    # What a browser finds at one scheme and width about anything but colours, it finds at the other.
    (dark,) = [rules for query, rules in media() if "prefers-color-scheme" in query]
    assert re.fullmatch(r"\s*:root\s*\{(\s*--[\w-]+:\s*#[0-9a-f]{6};)+\s*\}\s*", dark)


def test_no_colour_hangs_on_the_width_of_the_screen() -> None:
    # The label before a cell of a tall table is there on a telephone only.
    rules = [rule for query, inside in media() if "width" in query for rule in re.findall(r"[^{};]*\{[^}]*\}", inside)]
    assert len(rules) > 50
    coloured = [
        rule.split("{")[0].strip() for rule in rules if re.search(r"[;{]\s*(color|background|fill|stroke)\b", rule)
    ]
    assert coloured == [".tall td::before"]


def luminance(colour: str) -> float:
    """Relative luminance. Source: WCAG 2.2, definition of relative luminance."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio. Source: WCAG 2.2, definition of contrast ratio."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_the_measure_is_right() -> None:
    # WCAG's own ends, and #777 on white, printed in many tables as 4.48.
    assert round(contrast("#000000", "#ffffff"), 1) == 21.0
    assert round(contrast("#777777", "#ffffff"), 2) == 4.48


@pytest.mark.parametrize("scheme", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("ground", ["paper", "sheet"])
@pytest.mark.parametrize("text", ["ink", "soft", "sea", "act", "check", "know", "band-edge"])
def test_text_reads_on_every_ground(scheme: dict[str, str], ground: str, text: str) -> None:
    assert contrast(scheme[text], scheme[ground]) >= 4.5  # WCAG 2.2, 1.4.3


@pytest.mark.parametrize("scheme", [LIGHT, DARK], ids=["light", "dark"])
def test_signs_stand_out_from_what_is_behind_them(scheme: dict[str, str]) -> None:
    # WCAG 2.2, 1.4.11: 3:1 for what is needed to understand a drawing.
    assert contrast(scheme["ink"], scheme["band"]) >= 3
    assert contrast(scheme["act"], scheme["sheet"]) >= 3
    assert contrast(scheme["band-edge"], scheme["sheet"]) >= 3
    assert contrast(scheme["band-edge"], scheme["band"]) >= 3
    assert contrast(scheme["edge"], scheme["paper"]) >= 3


SCHEMES = {"light": LIGHT, "dark": DARK}
LINES = ("level", "reading", "doubt", "uptake", "dose", "water", "event")


def lines_of_charts(scheme: str) -> list[str]:
    return [SCHEMES[scheme][f"chart-{line}"] for line in LINES]


@pytest.mark.parametrize("scheme", SCHEMES)
def test_what_a_chart_draws_stands_out_from_its_sheet(scheme: str) -> None:
    for colour in lines_of_charts(scheme):
        assert contrast(colour, SCHEMES[scheme]["sheet"]) >= 3  # WCAG 2.2, 1.4.11


def seen(colour: str, eye: str) -> list[float]:
    """A colour as an eye without one kind of cone sees it. Source: Machado, Oliveira and Fernandes (2009)."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    if eye == "all cones":
        return channels
    return list(cspace_convert(channels, {"name": "sRGB1+CVD", "cvd_type": eye, "severity": 100}, "sRGB1"))


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("eye", ["all cones", "protanomaly", "deuteranomaly", "tritanomaly"])
def test_colours_that_tell_something_differ_to_every_eye(scheme: str, eye: str) -> None:
    signs = [SCHEMES[scheme][sign] for sign in ("act", "check", "know", "band-edge")]
    for told in (signs, lines_of_charts(scheme)):
        for one, other in combinations(told, 2):
            # In CAM02-UCS, where 1 is about what can just be told apart. Source: Luo, Cui and Li (2006).
            assert deltaE(seen(one, eye), seen(other, eye), input_space="sRGB1") > 9


def test_dark_is_a_scheme_of_its_own() -> None:
    assert all(LIGHT[name] != DARK[name] for name in LIGHT)


def test_the_stylesheet_asks_nobody_else_for_anything() -> None:
    assert "url(" not in CSS
    assert "@import" not in CSS


def test_every_class_a_page_uses_has_a_look_or_is_the_usual_one_of_several() -> None:
    known = {name for sheet in SHEETS for name in re.findall(r"\.([a-z][\w-]*)", sheet.read_text("utf-8"))}
    usual = {"drawing", "well", "no-band", "t-tick", "when-0", "measured", "both"}
    pages = [page for audience in ("own", "public") for page in drawn(sample.built(sample.seen(audience))).values()]
    used = {name for page in pages for _, given in elements(page) for name in given.get("class", "").split()}
    # CommonMark names the language of code by a class.
    assert {name for name in used - known if not name.startswith("language-")} <= usual
