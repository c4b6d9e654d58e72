"""A brush for simple drawings: shapes in a unit picture, painted large and made small, so edges are smooth."""

import itertools
import math
import zlib
from collections.abc import Iterable
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

Point = tuple[float, float]
Colour = tuple[int, int, int]

WIDTH, HEIGHT, LARGER = 960, 640, 3
COLOURS = 128


def mix(first: Colour, second: Colour, part: float) -> Colour:
    """A colour on the way from the first to the second."""
    red, green, blue = (round(a + (b - a) * part) for a, b in zip(first, second, strict=True))
    return red, green, blue


def seeded(name: str) -> np.random.Generator:
    """The same hand for the same picture, everywhere."""
    return np.random.default_rng(zlib.crc32(name.encode()))


class Brush:
    """Paints in coordinates of the finished picture, x from 0 to 960 and y down from 0 to 640."""

    def __init__(self, ground: Colour) -> None:
        self._picture = Image.new("RGB", (WIDTH * LARGER, HEIGHT * LARGER), ground)
        self._draw = ImageDraw.Draw(self._picture, "RGBA")

    def shape(self, points: Iterable[Point], colour: Colour, alpha: float = 1.0) -> None:
        """A filled polygon."""
        self._draw.polygon([(x * LARGER, y * LARGER) for x, y in points], (*colour, round(alpha * 255)))

    def disc(self, x: float, y: float, radius: float, colour: Colour, alpha: float = 1.0, flat: float = 1.0) -> None:
        """A filled circle, or an ellipse `flat` times as high as wide."""
        box = (x - radius, y - radius * flat, x + radius, y + radius * flat)
        self._draw.ellipse([side * LARGER for side in box], (*colour, round(alpha * 255)))

    def limb(self, start: Point, end: Point, thick: float, thin: float, colour: Colour) -> None:
        """A branch that narrows from one end to the other, round at both."""
        (x0, y0), (x1, y1) = start, end
        length = math.hypot(x1 - x0, y1 - y0) or 1.0
        across, along = (y0 - y1) / length, (x1 - x0) / length
        self.shape(
            [
                (x0 + across * thick, y0 + along * thick),
                (x1 + across * thin, y1 + along * thin),
                (x1 - across * thin, y1 - along * thin),
                (x0 - across * thick, y0 - along * thick),
            ],
            colour,
        )
        self.disc(x0, y0, thick, colour)
        self.disc(x1, y1, thin, colour)

    def curve(self, points: list[Point], thick: float, thin: float, colour: Colour) -> None:
        """A limb along a line of points."""
        steps = len(points) - 1
        for place, (start, end) in enumerate(itertools.pairwise(points)):
            here, there = (thick + (thin - thick) * step / steps for step in (place, place + 1))
            self.limb(start, end, here, there, colour)

    def small(self) -> Image.Image:
        """The finished picture."""
        return self._picture.resize((WIDTH, HEIGHT), Image.Resampling.LANCZOS)

    def save(self, path: Path) -> None:
        """Keep it in few colours, so that a drawing is a light file."""
        path.parent.mkdir(parents=True, exist_ok=True)
        self.small().quantize(COLOURS, dither=Image.Dither.NONE).save(path, optimize=True)


def water(brush: Brush, top: Colour, deep: Colour, rng: np.random.Generator) -> None:
    """Water that darkens downward, with slanting light, and a bed of sand."""
    bands = 14
    for band in range(bands):
        y = band * HEIGHT / bands
        wave = [(x, y + 7.0 * math.sin(x / 130.0 + band * 1.7)) for x in range(0, WIDTH + 20, 20)]
        brush.shape([*wave, (WIDTH, HEIGHT), (0, HEIGHT)], mix(top, deep, band / (bands - 1)))
    for _ in range(4):
        x, wide = float(rng.uniform(60, 900)), float(rng.uniform(18, 55))
        brush.shape([(x, 0), (x + wide, 0), (x - 90 + wide * 2, 560), (x - 130, 560)], (255, 255, 255), 0.05)
    sand = (222, 205, 172)
    dune = [(x, 560 + 10 * math.sin(x / 150.0 + 1.0) + 5 * math.sin(x / 47.0)) for x in range(0, WIDTH + 20, 20)]
    brush.shape([*dune, (WIDTH, HEIGHT), (0, HEIGHT)], mix(sand, deep, 0.25))
    low = [(x, y + 26) for x, y in dune]
    brush.shape([*low, (WIDTH, HEIGHT), (0, HEIGHT)], mix(sand, deep, 0.12))
    for _ in range(60):
        x, y = float(rng.uniform(0, WIDTH)), float(rng.uniform(592, 636))
        brush.disc(x, y, float(rng.uniform(1.0, 2.4)), mix(sand, deep, 0.35))


def rock(brush: Brush, x: float, y: float, wide: float, high: float, rng: np.random.Generator) -> None:
    """A rounded rock that stands on y, with a lighter crown."""
    for colour, part in (((74, 78, 92), 1.0), ((92, 95, 108), 0.86), ((108, 110, 120), 0.66)):
        outline = []
        for step in range(25):
            turn = math.pi * step / 24
            rough = 1.0 + float(rng.uniform(-0.05, 0.05))
            outline.append((x - math.cos(turn) * wide * part * rough, y - math.sin(turn) * high * part * rough))
        brush.shape(outline, colour)
