"""Whether a colony fits a container: turned in the plane, tilted, and padded on all sides."""

from dataclasses import dataclass
from functools import cache
from math import pi
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from generator.units.quantity import Estimate

Array = NDArray[np.float64]
Outline = Literal["ellipsoid", "box"]
METHOD = "fit"

# A container is filled to so much of what it holds: it is carried, and needs air. Common practice, no source.
_FULL = 0.95
_STEP = 2.5  # degrees between the poses tried; each is a true pose, so what fits does fit
_MOST_TILT = 60.0  # a colony on its side lies on its tips


@dataclass(frozen=True, slots=True)
class Sides:
    """Length, width and height in cm: of a colony, or inside a container."""

    length: float
    width: float
    height: float

    @property
    def array(self) -> Array:
        """The three as an array."""
        return np.array([self.length, self.width, self.height])


@dataclass(frozen=True, slots=True)
class Pose:
    """How a colony lies: tilted about the line `tilted_about` (from its length), then turned; all in degrees."""

    turn: float
    tilt: float
    tilted_about: float


@dataclass(frozen=True, slots=True)
class Fit:
    """The best pose and what it leaves free.

    `clearance` (cm) is the least room beyond the padding on any side, negative if it is too tight.
    `clearance_of_box` is the same for a colony that fills its box to the corners. `extent` (cm) is the room
    the colony takes in that pose.
    """

    fits: bool
    pose: Pose
    clearance: float
    clearance_of_box: float
    extent: Sides
    method: str = METHOD


def fit(colony: Sides, container: Sides, padding: float) -> Fit:
    """The pose that leaves a colony most room beyond the padding; flat, if it fits so.

    The colony counts as the ellipsoid of its three sides, because most are round at the corners. The result
    also says whether its box would fit. Lengths in cm. Of poses within a millimetre, the least tilted wins.
    Source: half the extent of an ellipsoid with semi-axes s turned by R is √Σ(R s)², of a box Σ|R s|; geometry.
    """
    rotations, poses = _poses()
    clearance = _clearance(rotations, colony, container, padding, "ellipsoid")
    tilts = poses[:, 1]
    flat = tilts == 0.0
    allowed = np.flatnonzero(flat) if clearance[flat].max() >= 0.0 else np.arange(len(tilts))
    best = int(allowed[np.lexsort((tilts[allowed], -np.round(clearance[allowed], 1)))[0]])
    turn, tilt, about = (float(angle) for angle in poses[best])
    extent = 2.0 * _half_extents(rotations[best : best + 1], colony, "ellipsoid")[0]
    return Fit(
        fits=bool(clearance[best] >= 0.0),
        pose=Pose(turn, tilt, about),
        clearance=float(clearance[best]),
        clearance_of_box=float(_clearance(rotations[best : best + 1], colony, container, padding, "box")[0]),
        extent=Sides(*(float(side) for side in extent)),
    )


def water_to_cover(
    colony: Sides, extent: Sides, container: Sides, padding: float, cover: float, holds: float | None = None
) -> tuple[Estimate, bool]:
    """Litres that cover a colony on its padding by `cover` cm (all lengths in cm), and whether there is room for them.

    The colony itself displaces between nothing and its whole outline. The container `holds` so many litres (None: as
    much as its sides), and is never filled to the brim.
    """
    depth = padding + extent.height + cover
    outline = pi / 6.0 * colony.length * colony.width * colony.height / 1e3
    full = container.length * container.width * min(depth, container.height) / 1e3
    most = max(container.length * container.width * container.height / 1e3 if holds is None else holds, 0.0) * _FULL
    litres, low, high = (min(each, most) for each in (full - outline / 2.0, full - outline, full))
    return Estimate(litres, low, high, "L"), depth <= container.height and full - outline / 2.0 <= most


def _half_extents(rotations: Array, colony: Sides, outline: Outline) -> Array:
    turned = rotations * (colony.array / 2.0)
    if outline == "box":
        boxed: Array = np.abs(turned).sum(axis=2)
        return boxed
    rounded: Array = np.sqrt((turned**2).sum(axis=2))
    return rounded


def _clearance(rotations: Array, colony: Sides, container: Sides, padding: float, outline: Outline) -> Array:
    room = container.array / 2.0 - padding - _half_extents(rotations, colony, outline)
    least: Array = room.min(axis=1)
    return least


@cache
def _poses() -> tuple[Array, Array]:
    """Every pose tried: rotations (n, 3, 3), and turn, tilt and the line tilted about (n, 3), in degrees."""
    half_circle = np.arange(0.0, 180.0, _STEP)
    tilts = np.arange(0.0, _MOST_TILT + _STEP, _STEP)
    turn, tilt, about = (grid.ravel() for grid in np.meshgrid(half_circle, tilts, half_circle, indexing="ij"))
    # Without tilt the tilt axis means nothing.
    one = (tilt > 0.0) | (about == 0.0)
    turn, tilt, about = turn[one], tilt[one], about[one]
    rotations = _about_z(turn) @ _about_z(about) @ _about_x(tilt) @ _about_z(-about)
    return rotations, np.stack([turn, tilt, about], axis=1)


def _about_z(degrees: Array) -> Array:
    c, s, o = np.cos(np.radians(degrees)), np.sin(np.radians(degrees)), np.zeros_like(degrees)
    return np.stack([c, -s, o, s, c, o, o, o, o + 1.0], axis=1).reshape(-1, 3, 3)


def _about_x(degrees: Array) -> Array:
    c, s, o = np.cos(np.radians(degrees)), np.sin(np.radians(degrees)), np.zeros_like(degrees)
    return np.stack([o + 1.0, o, o, o, c, -s, o, s, c], axis=1).reshape(-1, 3, 3)


@dataclass(frozen=True, slots=True)
class Oval:
    """The outline of a colony from one side: its half axes in cm, and how far the long one is turned (degrees)."""

    half_long: float
    half_short: float
    turned: float


def outlines(colony: Sides, pose: Pose) -> tuple[Oval, Oval]:
    """How a colony looks in a pose from above (length to the right) and from the front (height up).

    Source: the shadow of an ellipsoid with matrix R S² Rᵀ on a plane is the ellipse of its two rows; geometry.
    """
    turn, tilt, about = (np.array([angle]) for angle in (pose.turn, pose.tilt, pose.tilted_about))
    rotation = (_about_z(turn) @ _about_z(about) @ _about_x(tilt) @ _about_z(-about))[0]
    matrix = rotation @ np.diag((colony.array / 2.0) ** 2) @ rotation.T
    return _oval(matrix[np.ix_((0, 1), (0, 1))]), _oval(matrix[np.ix_((0, 2), (0, 2))])


def _oval(shadow: Array) -> Oval:
    values, vectors = np.linalg.eigh(shadow)
    across, up = vectors[:, 1]
    return Oval(float(values[1] ** 0.5), float(values[0] ** 0.5), float(np.degrees(np.arctan2(up, across))) % 180.0)
