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
    branching,
    columnar,
    corymbose,
    encrusting,
    flowered,
    massive,
    plating,
    tabling,
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
    "long-table": (tabling, (84, 128, 120), (206, 236, 190)),
    "pilot-light": (encrusting, (150, 50, 60), (250, 176, 72)),
    "dry-stone": (massive, (104, 118, 78), (214, 214, 140)),
}
PAINTED: dict[str, tuple[str, ...]] = {
    "the-lagoon": ("dry-stone", "kelp-witch", "slate-garden", "bell-buoy", "pilot-light"),
    "the-fore-reef": ("tide-lantern", "night-trawler", "long-table", "saltmarsh-ember"),
    "the-raceway": ("grey-heron", "harbour-glass", "tide-lantern", "wet-slipway", "slate-garden", "rainward"),
}


def coral_picture(name: str) -> Brush:
    """One line's coral on a rock."""
    paint, body, tip = CORALS[name]
    rng = seeded(name)
    brush = Brush(TOP)
    water(brush, TOP, DEEP, rng)
    rock(brush, 480, 590, 300 if paint is not tabling else 170, 120, rng)
    size = {tabling: 250.0, encrusting: 210.0, massive: 220.0, branching: 250.0}.get(paint, 215.0)
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


def tote_picture(name: str) -> Brush:
    """A coral table tilted in a big lidless tote, with foam around it."""
    rng = seeded(name)
    brush = _room()
    brush.shape([(190, 190), (770, 190), (730, 560), (230, 560)], (92, 120, 150))
    brush.shape([(212, 214), (748, 214), (712, 542), (248, 542)], (120, 180, 200))
    for x, y in ((240, 300), (230, 400), (680, 300), (670, 400), (330, 510), (470, 515), (600, 510)):
        brush.disc(x + 20, y, 46, (238, 232, 214), flat=0.7)
    for place in range(150):
        side = float(rng.uniform(-1, 1))
        x, y = 480 + side * 190, 380 + side * 66 + float(rng.uniform(-24, 24))
        brush.limb(
            (x, y), (x + 6, y - float(rng.uniform(14, 30))), 6, 3, mix((84, 128, 120), (206, 236, 190), place / 150)
        )
    brush.shape([(180, 182), (780, 182), (780, 204), (180, 204)], (70, 92, 118))
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
    "big-tote": tote_picture,
    "worn-tube": tube_picture,
    "test-bench": bench_picture,
}


def main(folder: Path) -> None:
    """Draw every picture into a folder."""
    for name, paint in SCENES.items():
        paint(name).save(folder / f"{name}.png")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parents[2] / "content" / "photos")
