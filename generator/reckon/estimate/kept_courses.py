"""Courses that were followed before, for a process that lives on: a course goes on from where it parts from one.

What is followed is the same to the last bit: a reading added at the end of a long log takes the time of that reading
alone.
"""

import numpy as np
from msgspec import Struct

from generator.reckon.estimate.multiprocess import Branches, Cast, Followed, Process
from generator.reckon.estimate.uncertainty import Array

# Stories are kept of every so many moments, and of so many before the end.
EVERY, LAST = 24, 24
_OF_MODEL = ("F", "c", "drift", "fixed", "h", "y", "noise")
_WHOLE = ("q2", "r2", "log_prior", "rate", "least", "most", "scale", "considered", "telling", "apart", "fresh")
_OF_BRANCHES = Branches.__struct_fields__


class Checkpoint(Struct, frozen=True):
    """The stories before a moment, by its place; the log-likelihood up to there, and when something was read last."""

    place: int
    cast: Cast
    likelihood: float
    read: float


class KeptCourses:
    """What was followed last, up to so many courses: none, unless a process asks for it."""

    def __init__(self) -> None:
        self._most = 0
        self._kept: list[tuple[Followed, list[Checkpoint]]] = []

    def keep(self, most: int) -> None:
        """Keep so many courses from now on, and forget what was kept."""
        self._most, self._kept = most, []

    def places(self, count: int) -> frozenset[int]:
        """The places, of so many moments, whose stories are to be kept."""
        return frozenset([*range(0, count, EVERY), *range(max(count - LAST, 0), count)] if self._most else ())

    def add(self, followed: Followed, checkpoints: list[Checkpoint]) -> None:
        """Keep what was followed, in place of the course that it went on from."""
        if self._most:
            first = checkpoints[0]
            others = [each for each in self._kept if each[1][0] is not first]
            self._kept = [(followed, checkpoints), *others[: self._most - 1]]

    def begun(self, process: Process) -> tuple[Followed, list[Checkpoint]] | None:
        """What was followed of the course that is longest like this one, with its checkpoints up to where they part."""
        best = None
        for followed, checkpoints in self._kept:
            alike = min(_alike(followed.process, process), len(process.times) - 1)
            before = [each for each in checkpoints if each.place <= alike]
            if before and (best is None or before[-1].place > best[1][-1].place):
                best = followed, before
        return best


def _alike(one: Process, other: Process) -> int:
    """At how many moments, from the first on, two courses are the same; -1 where they do not even begin alike."""
    if one.model.F.shape[1:] != other.model.F.shape[1:] or one.model.reach != other.model.reach:
        return -1
    begins = ((getattr(one.model, name), getattr(other.model, name)) for name in ("start", "spread"))
    wholes = ((getattr(one, name), getattr(other, name)) for name in _WHOLE)
    if not all(np.array_equal(*pair) for pair in (*begins, *wholes)):
        return -1
    parts: list[tuple[Array, Array]] = [(one.times, other.times)]
    parts += [(getattr(one.model, name), getattr(other.model, name)) for name in _OF_MODEL]
    count = min(len(one.times), len(other.times))
    same = np.ones(count, dtype=np.bool_)
    for mine, theirs in parts:
        equal = (mine[:count] == theirs[:count]) | (np.isnan(mine[:count]) & np.isnan(theirs[:count]))
        same &= equal.reshape(count, -1).all(axis=1)
    until = int(np.argmin(same)) if not same.all() else count
    return next((t for t in range(until) if not _same(one.branches[t], other.branches[t])), until)


def _same(one: Branches | None, other: Branches | None) -> bool:
    if one is None or other is None:
        return one is other
    return all(np.array_equal(getattr(one, name), getattr(other, name)) for name in _OF_BRANCHES)


KEPT_COURSES = KeptCourses()
