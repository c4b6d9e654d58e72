"""What a command costs, measured from outside: time on the clock, CPU of the process and its children, peak memory."""

import os
import subprocess
import time
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from statistics import median
from typing import NamedTuple


class Cost(NamedTuple):
    """Seconds on the clock, seconds of CPU of the process tree, and MB of its largest process at its peak."""

    wall: float
    cpu: float
    memory: float


def cost_of(words: Sequence[str], cwd: Path, environment: Mapping[str, str] | None = None) -> Cost:
    """What one fresh process costs. Raises `RuntimeError` with what it said if it fails."""
    started = time.perf_counter()
    made = subprocess.Popen(
        words, cwd=cwd, env={**os.environ, **(environment or {})}, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE
    )
    said = made.stderr.read() if made.stderr else b""
    _, status, used = os.wait4(made.pid, 0)
    wall = time.perf_counter() - started
    made.returncode = os.waitstatus_to_exitcode(status)
    if made.returncode:
        raise RuntimeError(f"{' '.join(words)} ended with {made.returncode}: {said.decode()}")
    return Cost(wall, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024)


def median_of(every: Iterable[Cost]) -> Cost:
    """The median of some costs, part by part."""
    return Cost(*(median(part) for part in zip(*every, strict=True)))
