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

TOP, DEEP = (104, 176, 196), (18, 52, 92)
WHITE = (255, 250, 240)
Paint = Callable[[Brush, Point, float, Colour, Colour, np.random.Generator], None]


def branching(b: Brush, at: Point, size: float, body: Colour, tip: Colour, rng: np.random.Generator) -> None:
    """Forked branches, thinner and lighter outward."""

    def grow(start: Point, turn: float, length: float, thick: float, left: int) -> None:
        end = (start[0] + math.cos(turn) * length, start[1] - math.sin(turn) * length)
        b.limb(start, end, thick, thick * 0.72, mix(tip, body, left / 5.0))
        if left == 0:
            b.disc(*end, thick * 0.85, mix(tip, WHITE, 0.45))
            return
        for side in (-1, 1):
            grow(end, turn + side * float(rng.uniform(0.22, 0.55)), length * 0.78, thick * 0.72, left - 1)

    for turn in np.linspace(0.45, math.pi - 0.45, 6):
        grow(at, float(turn + rng.uniform(-0.1, 0.1)), size * 0.34, size * 0.055, 4)


def corymbose(b: Brush, at: Point, size: float, body: Colour, tip: Colour, rng: np.random.Generator) -> None:
    """A cushion of short upright branchlets on a low base."""
    b.disc(at[0], at[1] - size * 0.02, size * 0.62, mix(body, DEEP, 0.4), flat=0.5)
    for row in range(9):
        far = 1.0 - row / 10.0
        for turn in np.linspace(0.05, math.pi - 0.05, 16) + float(rng.uniform(-0.1, 0.1)):
            reach = size * (0.7 + 0.3 * math.sin(turn)) * (0.3 + 0.7 * far) * float(rng.uniform(0.9, 1.08))
            end = (at[0] + math.cos(turn) * reach * 1.1, at[1] - math.sin(turn) * reach * 0.85 - 10)
            root = (at[0] + math.cos(turn) * reach * 0.72, at[1] - math.sin(turn) * reach * 0.5)
            shade = mix(mix(body, DEEP, 0.35), body, row / 8.0)
            b.limb(root, end, size * 0.06, size * 0.035, shade)
            b.disc(*end, size * 0.036, mix(shade, tip, 0.75))


def tabling(b: Brush, at: Point, size: float, body: Colour, tip: Colour, rng: np.random.Generator) -> None:
    """A wide flat table on a stalk, its top a lawn of branchlets."""
    x, y = at
    top = y - size * 0.62
    b.curve([(x - 12, y), (x - 4, y - size * 0.3), (x, top)], size * 0.17, size * 0.3, mix(body, DEEP, 0.45))
    for turn in np.linspace(-1.0, 1.0, 15):
        b.limb((x + turn * size * 0.2, top + 22), (x + turn * size * 1.15, top + 6), 7, 4, mix(body, DEEP, 0.35))
    b.disc(x, top, size * 1.35, mix(body, DEEP, 0.2), flat=0.16)
    for row in range(7):
        for side in np.linspace(-1.0, 1.0, 47):
            depth = (row - 3) / 3.0 * 0.13
            wide = size * 1.33 * math.sqrt(max(0.0, 1.0 - (depth / 0.165) ** 2))
            here = (x + side * wide + float(rng.uniform(-5, 5)), top + depth * size * 1.2)
            end = (here[0] + side * 7, here[1] - size * float(rng.uniform(0.06, 0.11)))
            b.limb(here, end, 4.6, 2.9, mix(mix(body, DEEP, 0.15), body, row / 6.0))
            b.disc(*end, 3.0, mix(body, tip, 0.55 + 0.3 * row / 6.0))


def plating(b: Brush, at: Point, size: float, body: Colour, tip: Colour, rng: np.random.Generator) -> None:
    """Tiers of thin cups with a bright growing rim."""
    x, y = at
    for tier in range(6):
        shift = float(rng.uniform(-0.28, 0.28)) * size
        wide, level = size * (1.15 - tier * 0.12), y - size * (0.14 + tier * 0.19)
        for part, colour in ((1.0, tip), (0.965, mix(body, DEEP, 0.28 - tier * 0.04))):
            rim = [
                (
                    x + shift + math.cos(turn) * wide * part,
                    level - math.sin(turn) * wide * 0.15 * part + math.sin(turn * 9) * 3,
                )
                for turn in np.linspace(0.0, 2.0 * math.pi, 60)
            ]
            b.shape(rim, colour)
        for _ in range(34):
            turn, far = float(rng.uniform(0, 2 * math.pi)), math.sqrt(float(rng.uniform(0, 0.8)))
            b.disc(
                x + shift + math.cos(turn) * wide * far,
                level - math.sin(turn) * wide * 0.15 * far,
                3.0,
                mix(body, tip, 0.45),
                flat=0.6,
            )


def massive(b: Brush, at: Point, size: float, body: Colour, tip: Colour, rng: np.random.Generator) -> None:
    """A boulder with winding valleys."""
    x, y = at
    for part, shade in ((1.0, 0.4), (0.95, 0.2), (0.88, 0.05)):
        dome = [
            (x + math.cos(turn) * size * part, y - math.sin(turn) * size * 0.78 * part)
            for turn in np.linspace(0, math.pi, 40)
        ]
        b.shape(dome, mix(body, DEEP, shade))
    for _ in range(62):
        turn, far = float(rng.uniform(0.2, math.pi - 0.2)), math.sqrt(float(rng.uniform(0.03, 0.72)))
        px, py, way = (
            x + math.cos(turn) * size * far,
            y - math.sin(turn) * size * 0.78 * far,
            float(rng.uniform(0, 6.3)),
        )
        walk = [(px, py)]
        for _ in range(6):
            way += float(rng.uniform(-0.7, 0.7))
            px, py = px + math.cos(way) * 9, py - abs(math.sin(way)) * 6
            if math.hypot((px - x) / size, (py - y) / (size * 0.78)) < 0.9 and py < y - 6:
                walk.append((px, py))
        if len(walk) > 1:
            b.curve(walk, 3.6, 3.6, mix(tip, body, 0.25))


def columnar(b: Brush, at: Point, size: float, body: Colour, tip: Colour, rng: np.random.Generator) -> None:
    """Blunt fingers, close together."""
    for side in sorted(np.linspace(-1.0, 1.0, 15), key=lambda place: -abs(place)):
        high = size * (1.1 - 0.55 * abs(side)) * float(rng.uniform(0.85, 1.1))
        root = (at[0] + side * size * 0.6, at[1])
        end = (at[0] + side * size * 0.95 + float(rng.uniform(-8, 8)), at[1] - high)
        shade = mix(body, DEEP, 0.1 + 0.3 * abs(side))
        b.limb(root, end, size * 0.1, size * 0.085, shade)
        b.disc(end[0], end[1] - 2, size * 0.07, mix(shade, tip, 0.7))


def tentacled(b: Brush, at: Point, size: float, body: Colour, tip: Colour, rng: np.random.Generator) -> None:
    """Long tentacles that sway, each with a round end."""
    for row in range(5):
        for side in np.linspace(-1.0, 1.0, 19):
            sway = side * 0.9 + float(rng.uniform(-0.25, 0.25))
            high = size * (1.05 - 0.35 * abs(side) - row * 0.13) * float(rng.uniform(0.85, 1.1))
            root = (at[0] + side * size * 0.55, at[1] - 10)
            path = [
                (root[0] + sway * size * 0.45 * step**1.4 + math.sin(step * 4 + side * 5) * 7, root[1] - high * step)
                for step in np.linspace(0.0, 1.0, 7)
            ]
            shade = mix(mix(body, DEEP, 0.4), body, row / 4.0)
            b.curve(path, 8.0, 6.0, shade)
            b.disc(*path[-1], 10.0, mix(shade, tip, 0.8))
            b.disc(path[-1][0] - 2.5, path[-1][1] - 3, 3.5, mix(tip, WHITE, 0.55))


def flowered(b: Brush, at: Point, size: float, body: Colour, tip: Colour, rng: np.random.Generator) -> None:
    """Stalks that each end in a ring of petals."""
    stalks = []
    for row in range(4):
        for side in np.linspace(-1.0, 1.0, 9):
            high = size * (1.05 - 0.45 * side**2 - row * 0.2) * float(rng.uniform(0.9, 1.1))
            stalks.append((float(side + rng.uniform(-0.06, 0.06)), high, row))
    for side, high, row in stalks:
        shade = mix(mix(body, DEEP, 0.4), body, row / 3.0)
        end = (at[0] + side * size * 1.05, at[1] - high)
        b.curve(
            [(at[0] + side * size * 0.55, at[1]), (at[0] + side * size * 0.85, at[1] - high * 0.5), end], 7, 5, shade
        )
        for turn in np.linspace(0, 2 * math.pi, 15)[:-1]:
            petal = (end[0] + math.cos(turn) * 25, end[1] + math.sin(turn) * 15)
            b.limb(end, petal, 3.0, 3.4, mix(shade, tip, 0.45))
        b.disc(*end, 8, mix(tip, WHITE, 0.25), flat=0.7)


def encrusting(b: Brush, at: Point, size: float, body: Colour, tip: Colour, rng: np.random.Generator) -> None:
    """A low crust of wide polyps with bright mouths."""
    b.disc(at[0], at[1] - 6, size * 1.25, mix(body, DEEP, 0.4), flat=0.3)
    spots = [(float(rng.uniform(-1.05, 1.05)), float(rng.uniform(-0.85, 0.55))) for _ in range(46)]
    for side, depth in sorted(spots, key=lambda spot: spot[1]):
        if side**2 / 1.2 + depth**2 < 0.95:
            x, y = at[0] + side * size * 1.08, at[1] - 16 + depth * size * 0.3
            b.disc(x, y, 27, mix(body, DEEP, 0.12), flat=0.62)
            b.disc(x, y - 2, 22, mix(body, tip, 0.3), flat=0.6)
            b.disc(x, y - 3, 11, tip, flat=0.6)
            b.disc(x, y - 3, 4, mix(body, DEEP, 0.7), flat=0.6)


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
