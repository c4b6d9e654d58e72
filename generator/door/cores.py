"""Work on all cores: copies of this process do a part of it and hand over what they made."""

import os
import pickle
import signal
import threading
import warnings
from array import array
from collections.abc import Callable, Sequence
from contextlib import ExitStack, suppress
from typing import Any, TypeVar

from generator.door.remembering import pickled

T = TypeVar("T")
# The tickets must fit into a pipe that nobody reads yet: 4096 bytes at least, by POSIX.1-2017, <limits.h>.
_TICKETS = 512
# Each copy needs about as much memory as the process itself.
_AT_MOST = 4


def share_out(work: Sequence[T], do: Callable[[T], object], handed: Callable[[], object]) -> list[Any]:
    """Do every part of the work in this process or in a copy of it; returns what the copies hand over at the end.

    A copy that fails or is ended hands over nothing: its part must be done again.
    """
    many = min(_cores(), _AT_MOST, len(work))
    if many < 2:
        for part in work:
            do(part)
        return []
    with ExitStack() as open_files:
        mine, theirs = os.pipe()
        tickets = open_files.enter_context(os.fdopen(mine, "rb", buffering=0))
        with os.fdopen(theirs, "wb", buffering=0) as given_out:
            given_out.write(array("I", range(min(_TICKETS, len(work)))).tobytes())
        copies = [_copy(lambda: _worked(tickets.fileno(), work, do), handed) for _ in range(many - 1)]
        try:
            _worked(tickets.fileno(), work, do)
            return [whole for _, result in copies if (whole := _read(result))]
        finally:
            for process, result in copies:
                os.close(result)
                with suppress(ProcessLookupError):
                    os.kill(process, signal.SIGKILL)
                os.waitpid(process, 0)


def _cores() -> int:
    # A copy of a process with threads has the locks that they held, and nobody who opens them.
    if not hasattr(os, "fork") or threading.active_count() > 1:
        return 1
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _worked(tickets: int, work: Sequence[T], do: Callable[[T], object]) -> None:
    """Do the parts for which this process draws the tickets."""
    for ticket in iter(lambda: os.read(tickets, 4), b""):
        for part in work[array("I", ticket)[0] :: _TICKETS]:
            do(part)


def _copy(work: Callable[[], None], handed: Callable[[], object]) -> tuple[int, int]:
    """A copy of this process that works, hands over and ends: its number, and where to read what it hands over."""
    mine, theirs = os.pipe()
    with warnings.catch_warnings():
        # Threads of libraries are not ours to count: those for sums of numbers are made for copies.
        warnings.simplefilter("ignore", DeprecationWarning)
        process = os.fork()
    if process:
        os.close(theirs)
        return process, mine
    try:
        # What is said, and what goes wrong, is said by the process itself.
        for stream in (1, 2):
            os.dup2(os.open(os.devnull, os.O_WRONLY), stream)
        work()
        with os.fdopen(theirs, "wb") as result:
            result.write(pickled(handed()))
    finally:
        os._exit(0)


def _read(result: int) -> Any:
    """What a copy handed over; None if it ended before all was there."""
    with suppress(EOFError, pickle.UnpicklingError), os.fdopen(result, "rb", closefd=False) as handed:
        return pickle.load(handed)
