"""How coral of each form is painted: body, tips and shade, with a brush, at a foot point and a size."""

import math

import numpy as np

from tests.simulator.brush import Brush, Colour, Point, mix

DEEP = (18, 52, 92)
WHITE = (255, 250, 240)


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


def antlered(b: Brush, at: Point, size: float, body: Colour, tip: Colour, rng: np.random.Generator) -> None:
    """A thicket of stout blades that end broad, grey and bare within."""
    for row in range(3):
        for turn in np.linspace(0.2, math.pi - 0.2, 9 - row) + float(rng.uniform(-0.06, 0.06)):
            high = size * (1.12 - row * 0.2) * (0.8 + 0.2 * math.sin(turn)) * float(rng.uniform(0.92, 1.06))
            fork = (at[0] + math.cos(turn) * high * 0.52, at[1] - math.sin(turn) * high * 0.5)
            bare, live = mix((150, 146, 136), DEEP, 0.25 - row * 0.08), mix(mix(body, DEEP, 0.35), body, row / 2.0)
            b.limb((at[0] + math.cos(turn) * size * 0.12, at[1]), fork, size * 0.04, size * 0.055, bare)
            for side in (-0.2, 0.16):
                end = (at[0] + math.cos(turn + side) * high * 1.02, at[1] - math.sin(turn + side) * high * 0.94)
                b.limb(fork, end, size * 0.06, size * 0.082, live)
                b.disc(*end, size * 0.066, mix(live, tip, 0.6))
                for _ in range(9):
                    x, y = (float(rng.uniform(-1.0, 1.0)) * size * 0.07 for _ in range(2))
                    b.disc(end[0] + x, end[1] + y, 2.6, mix(live, tip, 0.9))


def lobed(b: Brush, at: Point, size: float, body: Colour, tip: Colour, rng: np.random.Generator) -> None:
    """A boulder of rounded lobes with deep folds between them, furred with fine polyps."""
    x, y = at
    b.disc(x, y - size * 0.34, size * 0.98, mix(body, DEEP, 0.55), flat=0.5)
    rows = ((0.76, 0.2, 2), (0.6, 0.48, 4), (0.4, 0.7, 5), (0.22, 0.84, 6), (0.06, 0.9, 7))
    for rise, reach, many in rows:
        for side in np.linspace(-1.0, 1.0, many):
            cx = x + side * size * reach + float(rng.uniform(-16, 16))
            cy, wide = y - rise * size + float(rng.uniform(-12, 12)), size * float(rng.uniform(0.18, 0.29))
            _lobe(b, (cx, cy), wide, 0.16 + 0.3 * rise - 0.22 * side, body, tip, rng)


def _lobe(b: Brush, at: Point, wide: float, light: float, body: Colour, tip: Colour, rng: np.random.Generator) -> None:
    x, y = at
    b.disc(x, y + 4, wide * 1.1, mix(body, DEEP, 0.5), flat=0.82)
    b.disc(x, y, wide, mix(body, DEEP, max(0.0, 0.34 - light)), flat=0.82)
    b.disc(x - wide * 0.18, y - wide * 0.2, wide * 0.66, mix(body, tip, max(0.05, light)), flat=0.78)
    for _ in range(40):
        turn, far = float(rng.uniform(0, 2 * math.pi)), wide * math.sqrt(float(rng.uniform(0, 0.86)))
        b.disc(x + math.cos(turn) * far, y + math.sin(turn) * far * 0.8, 1.9, mix(body, tip, 0.62))


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
