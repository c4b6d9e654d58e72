"""The demo's pictures, drawn here and nowhere else: ``python -m tests.simulator.drawings``.

One a line of coral, in the line's colours and the form's shape, one a system, and a few scenes. Same
name, same bytes.
"""

import math
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np

from tests.simulator.brush import Brush, Colour, Point, mix, rock, seeded, water
from tests.simulator.shapes import (
    DEEP,
    WHITE,
    antlered,
    branching,
    columnar,
    corymbose,
    encrusting,
    flowered,
    lobed,
    massive,
    plating,
    tentacled,
)

TOP = (104, 176, 196)
Paint = Callable[[Brush, Point, float, Colour, Colour, np.random.Generator], None]


# The picture's name, how it is painted, body and tip colours.
CORALS: dict[str, tuple[Paint, Colour, Colour]] = {
    "tide-lantern": (corymbose, (196, 92, 104), (255, 214, 170)),
    "saltmarsh-ember": (plating, (176, 74, 52), (250, 190, 120)),
    "harbour-glass": (branching, (222, 128, 150), (250, 214, 216)),
    "slate-garden": (columnar, (96, 116, 140), (176, 200, 208)),
    "kelp-witch": (tentacled, (72, 120, 78), (196, 232, 140)),
    "old-ferry": (flowered, (142, 96, 60), (238, 206, 150)),
    "bell-buoy": (flowered, (96, 132, 110), (214, 120, 190)),
    "wet-slipway": (plating, (86, 110, 74), (186, 206, 132)),
    "grey-heron": (corymbose, (128, 138, 160), (206, 226, 250)),
    "night-trawler": (branching, (92, 74, 128), (196, 160, 220)),
    "copper-tern": (plating, (150, 96, 62), (112, 190, 160)),
    "rainward": (branching, (226, 190, 96), (255, 240, 196)),
    "ballast": (lobed, (150, 128, 62), (232, 222, 140)),
    "drowned-orchard": (antlered, (112, 132, 84), (246, 190, 208)),
    "pilot-light": (encrusting, (150, 50, 60), (250, 176, 72)),
    "dry-stone": (massive, (104, 118, 78), (214, 214, 140)),
}
PAINTED: dict[str, tuple[str, ...]] = {
    "the-lagoon": ("dry-stone", "kelp-witch", "slate-garden", "bell-buoy", "pilot-light"),
    "the-fore-reef": ("tide-lantern", "saltmarsh-ember", "night-trawler", "ballast", "drowned-orchard"),
    "the-raceway": ("grey-heron", "harbour-glass", "tide-lantern", "wet-slipway", "slate-garden", "rainward"),
}


def coral_picture(name: str) -> Brush:
    """One line's coral on a rock."""
    paint, body, tip = CORALS[name]
    rng = seeded(name)
    brush = Brush(TOP)
    water(brush, TOP, DEEP, rng)
    rock(brush, 480, 590, 300, 120, rng)
    size = {encrusting: 210.0, massive: 220.0, lobed: 220.0, branching: 250.0, antlered: 270.0}.get(paint, 215.0)
    paint(brush, (480.0, 500.0), size, body, tip, rng)
    return brush


def system_picture(name: str) -> Brush:
    """A tank from the front, with what grows in it."""
    rng = seeded(name)
    brush = Brush(TOP)
    water(brush, mix(TOP, WHITE, 0.12), mix(DEEP, TOP, 0.15), rng)
    lines = PAINTED[name]
    step = 960 / (len(lines) + 0.4)
    for place, line in enumerate(lines):
        paint, body, tip = CORALS[line]
        x, low = step * (place + 0.7), (560.0 if name == "the-raceway" else 470.0) - 40 * (place % 2)
        if name != "the-raceway":
            rock(brush, x, 610, step * 0.55, 650 - low, rng)
        else:
            brush.shape([(x - 62, low + 8), (x + 62, low + 8), (x + 50, low + 34), (x - 50, low + 34)], (214, 208, 196))
        paint(brush, (x, low), step * (0.5 if name == "the-raceway" else 0.66), body, tip, rng)
    brush.shape([(0, 0), (960, 0), (960, 16), (0, 16)], (44, 50, 60))
    return brush


def _room() -> Brush:
    brush = Brush((236, 228, 214))
    brush.shape([(0, 430), (960, 430), (960, 640), (0, 640)], (190, 168, 140))
    brush.shape([(0, 430), (960, 430), (960, 440), (0, 440)], (160, 138, 112))
    return brush


def _quay(sky: Colour, sea: Colour, rng: np.random.Generator) -> Brush:
    """A harbour seen from the quay: sky, water with its glints, and the edge of the stones one stands on."""
    brush = Brush(sky)
    brush.shape(
        [(0, 250), (160, 214), (330, 236), (520, 206), (760, 238), (960, 220), (960, 330), (0, 330)],
        mix(sky, DEEP, 0.4),
    )
    for band in range(10):
        y = 300 + band * 26
        brush.shape([(0, y), (960, y), (960, 640), (0, 640)], mix(sea, DEEP, band / 14))
    for _ in range(60):
        x, y = float(rng.uniform(0, 960)), float(rng.uniform(312, 520))
        brush.shape([(x, y), (x + float(rng.uniform(16, 50)), y), (x + 12, y + 2.4)], mix(sea, WHITE, 0.5))
    brush.shape([(0, 540), (960, 540), (960, 640), (0, 640)], (138, 132, 122))
    for place in range(9):
        x = place * 118 - 30
        brush.shape(
            [(x, 546), (x + 108, 546), (x + 104, 590), (x - 4, 590)],
            mix((156, 150, 138), (120, 116, 110), float(rng.uniform(0, 1))),
        )
    return brush


def lighter_picture(name: str) -> Brush:
    """A gravel lighter at the quay before dark; a lidded crate hangs from its derrick."""
    rng = seeded(name)
    brush = _quay((226, 178, 142), (120, 132, 148), rng)
    brush.disc(770, 232, 40, (250, 226, 176))
    hull, wood = (66, 54, 52), (120, 84, 58)
    brush.shape([(60, 372), (640, 372), (612, 486), (112, 486)], hull)
    brush.shape([(52, 356), (650, 356), (646, 380), (58, 380)], (176, 84, 58))
    brush.shape([(84, 440), (630, 440), (627, 452), (90, 452)], (226, 214, 190))
    for place in range(5):
        brush.shape(
            [(220 + place * 44, 356), (262 + place * 44, 318), (304 + place * 44, 356)],
            mix((154, 142, 126), (118, 108, 98), place / 5),
        )
    brush.shape([(84, 356), (84, 286), (180, 286), (180, 356)], (214, 202, 180))
    brush.shape([(76, 286), (188, 286), (182, 272), (82, 272)], (86, 68, 60))
    brush.shape([(104, 306), (134, 306), (134, 330), (104, 330)], (250, 220, 140))
    brush.limb((430, 356), (430, 70), 10, 7, wood)
    brush.limb((430, 322), (772, 108), 8, 5, wood)
    for foot in ((200, 290), (640, 358)):
        brush.limb((430, 80), foot, 1.6, 1.6, (60, 52, 48))
    brush.limb((430, 82), (772, 108), 1.8, 1.8, (60, 52, 48))
    brush.limb((772, 108), (772, 330), 2.2, 2.2, (60, 52, 48))
    for x in (700, 844):
        brush.limb((772, 330), (x, 398), 2.2, 2.2, (60, 52, 48))
    brush.shape([(690, 398), (854, 398), (854, 506), (690, 506)], (216, 222, 218))
    brush.shape([(690, 398), (854, 398), (854, 420), (690, 420)], (84, 116, 126))
    for y in (440, 466, 492):
        brush.shape([(690, y), (854, y), (854, y + 4), (690, y + 4)], (182, 190, 188))
    brush.curve([(846, 412), (880, 440), (866, 500), (900, 546)], 3.4, 3.4, (70, 110, 90))
    return brush


def handcart_picture(name: str) -> Brush:
    """A half barrel on a handcart by a canal in the morning; branches of coral under wet sailcloth."""
    rng = seeded(name)
    brush = _quay((190, 210, 214), (104, 138, 140), rng)
    for x, high in ((40, 190), (100, 150), (860, 210), (925, 170)):
        brush.limb((x, 330), (x, 330 - high), 7, 3, (92, 82, 70))
        for _ in range(16):
            brush.disc(
                x + float(rng.uniform(-34, 34)),
                330 - high + float(rng.uniform(-34, 60)),
                21,
                mix((116, 138, 96), (166, 172, 110), float(rng.uniform(0, 1))),
                0.85,
            )
    wood, iron = (140, 96, 60), (64, 60, 62)
    _, body, tip = CORALS["drowned-orchard"]
    antlered(brush, (462, 330), 178, body, tip, rng)
    brush.shape([(286, 300), (640, 300), (606, 506), (320, 506)], wood)
    for place in range(8):
        x, low = 294 + place * 44, 326 + place * 35
        brush.limb((x, 304), (low, 504), 1.8, 1.8, mix(wood, iron, 0.5))
    for y, inset in ((338, 6), (462, 26)):
        brush.shape([(286 + inset, y), (640 - inset, y), (637 - inset, y + 16), (289 + inset, y + 16)], iron)
    brush.shape([(276, 286), (650, 286), (646, 312), (280, 312)], mix(wood, WHITE, 0.2))
    cloth = [
        (280, 290),
        (326, 232),
        (404, 254),
        (470, 214),
        (548, 246),
        (612, 228),
        (648, 292),
        (610, 336),
        (560, 300),
        (480, 330),
        (400, 298),
        (330, 334),
    ]
    brush.shape(cloth, (226, 214, 186), 0.82)
    for start, end in ((2, 10), (3, 9), (4, 8)):
        brush.limb(cloth[start], cloth[end], 2.0, 1.2, (188, 172, 142))
    brush.limb((196, 508), (884, 470), 10, 8, mix(wood, iron, 0.35))
    brush.limb((884, 470), (912, 430), 8, 8, mix(wood, iron, 0.35))
    brush.disc(440, 548, 74, iron)
    brush.disc(440, 548, 60, (138, 132, 122))
    for turn in np.linspace(0, 2 * math.pi, 11)[:-1]:
        brush.limb((440, 548), (440 + math.cos(turn) * 64, 548 + math.sin(turn) * 64), 4, 4, wood)
    brush.disc(440, 548, 15, iron)
    for x, y, radius in ((300, 606, 40), (350, 614, 24), (540, 610, 32)):
        brush.disc(x, y, radius, (118, 130, 134), 0.7, flat=0.2)
    return brush


def tube_picture(name: str) -> Brush:
    """A dosing pump's head: three rollers press a tube that has gone flat."""
    rng = seeded(name)
    brush = _room()
    brush.disc(480, 310, 220, (60, 70, 84))
    brush.disc(480, 310, 190, (206, 212, 214))
    arc = [(480 + math.cos(turn) * 160, 310 + math.sin(turn) * 160) for turn in np.linspace(0.3, math.pi * 2 - 0.9, 50)]
    brush.curve(arc, 22, 22, (226, 190, 140))
    brush.curve(arc, 11, 11, (178, 130, 84))
    for turn in (0.9, 0.9 + math.pi * 2 / 3, 0.9 + math.pi * 4 / 3):
        x, y = 480 + math.cos(turn) * 112, 310 + math.sin(turn) * 112
        brush.limb((480, 310), (x, y), 20, 20, (120, 130, 140))
        brush.disc(x, y, 46, (84, 96, 110))
        brush.disc(x, y, 16, (206, 212, 214))
    for _ in range(5):
        turn = float(rng.uniform(2.0, 3.0))
        x, y = 480 + math.cos(turn) * 160, 310 + math.sin(turn) * 160
        brush.limb((x - 12, y - 8), (x + 12, y + 8), 2.5, 1.5, (110, 60, 40))
    brush.curve([(640, 350), (700, 470), (690, 630)], 22, 22, (226, 190, 140))
    return brush


def bench_picture(name: str) -> Brush:
    """The test bench: vials in a row, one the colour of an end point."""
    rng = seeded(name)
    brush = _room()
    colours = ((96, 160, 190), (130, 180, 150), (220, 150, 90), (206, 96, 96), (180, 110, 170))
    for place, colour in enumerate(colours):
        x, low = 170 + place * 155, 470.0
        fill = float(rng.uniform(200, 250))
        brush.shape([(x - 40, 180), (x + 40, 180), (x + 40, low), (x - 40, low)], (248, 248, 244))
        brush.shape([(x - 33, low - fill), (x + 33, low - fill), (x + 33, low - 8), (x - 33, low - 8)], colour)
        brush.shape(
            [(x - 33, low - fill), (x - 22, low - fill), (x - 22, low - 8), (x - 33, low - 8)], mix(colour, WHITE, 0.4)
        )
        brush.shape([(x - 46, 160), (x + 46, 160), (x + 46, 186), (x - 46, 186)], (70, 78, 90))
        for line in range(5):
            brush.shape(
                [
                    (x + 12, 250 + line * 40),
                    (x + 33, 250 + line * 40),
                    (x + 33, 253 + line * 40),
                    (x + 12, 253 + line * 40),
                ],
                (60, 66, 76),
            )
    return brush


SCENES: dict[str, Callable[[str], Brush]] = {
    **dict.fromkeys(CORALS, coral_picture),
    **dict.fromkeys(PAINTED, system_picture),
    "gravel-lighter": lighter_picture,
    "canal-handcart": handcart_picture,
    "worn-tube": tube_picture,
    "test-bench": bench_picture,
}


def main(folder: Path) -> None:
    """Draw every picture into a folder."""
    for name, paint in SCENES.items():
        paint(name).save(folder / f"{name}.png")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parents[2] / "content" / "photos")
