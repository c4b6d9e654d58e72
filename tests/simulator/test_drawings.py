"""Drawings are light, of one size, and the same every time."""

from pathlib import Path

import pytest
from PIL import Image

from tests.simulator.drawings import SCENES


@pytest.mark.long
def test_a_drawing_is_the_same_every_time_and_light(tmp_path: Path):
    for name in ("ballast", "drowned-orchard", "gravel-lighter", "canal-handcart", "worn-tube"):
        for copy in ("one", "two"):
            SCENES[name](name).save(tmp_path / copy / f"{name}.png")
        first, second = ((tmp_path / copy / f"{name}.png").read_bytes() for copy in ("one", "two"))
        assert first == second
        assert 3_000 < len(first) < 60_000
        assert Image.open(tmp_path / "one" / f"{name}.png").size == (960, 640)


def test_a_drawing_shows_something():
    picture = SCENES["tide-lantern"]("tide-lantern").small()
    # Water, rock and coral: the middle of the picture is not the colour of its upper corner.
    assert picture.getpixel((480, 430)) != picture.getpixel((20, 20))
