"""Processes that are killed at a chosen step of their work on the disk."""

import os
import signal
import sys
from collections.abc import Callable
from itertools import count

_STEPS = ("os.", "open", "shutil.", "fcntl.")


def child(work: Callable[[], None]) -> int:
    """A process that does some work and ends, without any of the tests' own ends."""
    pid = os.fork()
    if pid == 0:
        status = 1
        try:
            work()
            status = 0
        finally:
            os._exit(status)
    return pid


def killed_at(event: int, work: Callable[[], object]) -> bool:
    """Kill some work as it begins its nth step on the disk; whether it was still at work then."""

    def watched() -> None:
        steps = count()

        def kill(name: str, _: object) -> None:
            if name.startswith(_STEPS) and next(steps) == event:
                os.kill(os.getpid(), signal.SIGKILL)

        sys.addaudithook(kill)
        work()

    _, status = os.waitpid(child(watched), 0)
    return os.WIFSIGNALED(status)
