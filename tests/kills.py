"""Processes that are killed, or refused by the disk, at a chosen step of their work on it."""

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


_CHANGES = ("os.mkdir", "os.rename", "os.link", "os.symlink", "os.remove", "os.rmdir", "shutil.")
_WRITES = os.O_WRONLY | os.O_RDWR | os.O_CREAT


def refused_at(event: int, error: int, for_good: bool, work: Callable[[], object]) -> int | None:
    """Let the disk refuse the nth change that some work makes, and all after it if `for_good`.

    What the work did then: 0 it went on, 1 it raised an `Exception`; None if it ended before that change.
    """

    def watched() -> None:
        steps, refused = count(), []

        def refuse(name: str, given: tuple[object, ...]) -> None:
            opened = name == "open" and isinstance(given[2], int) and given[2] & _WRITES
            if (opened or name.startswith(_CHANGES)) and (next(steps) == event or (for_good and refused)):
                refused.append(name)
                raise OSError(error, os.strerror(error), str(given[0]))

        sys.addaudithook(refuse)
        try:
            work()
        except Exception:
            os._exit(1)
        os._exit(0 if refused else 2)

    _, status = os.waitpid(child(watched), 0)
    return {0: 0, 1: 1}.get(os.waitstatus_to_exitcode(status))
