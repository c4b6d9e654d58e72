"""What is remembered of steps between builds, answers as bytes (to keep, to compare), and work done on all cores."""

import io
import os
import pickle
import signal
import threading
import warnings
from array import array
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from contextlib import ExitStack, suppress
from copyreg import dispatch_table
from datetime import date, datetime, timedelta, tzinfo
from hashlib import blake2b
from operator import attrgetter, methodcaller
from pathlib import Path
from typing import Any, NamedTuple, Protocol, TypeVar
from zlib import crc32

from msgspec import Struct, field

# A step's name and the id of what it is about; the id is empty where there is only one.
Key = tuple[str, str]


class Done(NamedTuple):
    """A step that was done in this build: what it asked for, in order, and the fingerprint of its answer.

    Its `height` is more than that of all it asked for. `kept` is its answer, pickled; None if it is not to be kept.
    """

    asked: tuple[Key, ...]
    fingerprint: bytes
    height: int
    kept: bytes | None


class Known(NamedTuple):
    """What is known of a step that an earlier build did: its height, and the fingerprint of its answer."""

    height: int
    fingerprint: bytes


class Same(NamedTuple):
    """Kept in place of an answer that another step gave: that step, and which item of its answer it is, if not all."""

    key: Key
    at: int | None = None


def handed_on(answer: object, asked: Iterable[Key], answers: Mapping[Key, object]) -> Same | None:
    """The step that gave this very object, alone or in a tuple: it is not written twice. None if it was made anew."""
    if not answer or isinstance(answer, (bool, int, float, str, bytes)):
        return None
    for key in asked:
        given = answers.get(key)  # none of a step that failed
        if given is answer:
            return Same(key)
        if isinstance(given, tuple) and given and type(given[0]) is type(answer):
            for at, part in enumerate(given):
                if part is answer:
                    return Same(key, at)
    return None


class News(Struct):
    """What a build adds to a memory.

    `given` is all that came from outside, by fingerprint, `done` the steps that were done, `gone` the steps that
    cannot be done any more.
    """

    given: dict[Key, bytes] = field(default_factory=dict)
    done: dict[Key, Done] = field(default_factory=dict)
    gone: set[Key] = field(default_factory=set)


class BrokenMemory(Exception):
    """What is known of the build before cannot be read, and is gone."""


# What reading raises if the disk has changed a line of the memory.
SPOILT = (BrokenMemory, AttributeError, LookupError, TypeError)


class Memory(Protocol):
    """What is known of the build before."""

    def given(self) -> Mapping[Key, bytes]:
        """All that came from outside, by fingerprint."""

    def known(self, key: Key) -> Known | None:
        """What is known of a step; None if it was not done."""

    def asked(self, key: Key) -> Iterable[Key]:
        """What a step asked for, in order."""

    def askers(self, key: Key) -> Iterable[tuple[int, Key]]:
        """The steps that asked for something, each with its height."""

    def answer(self, key: Key) -> tuple[Any] | None:
        """The answer of a step; None if it was not kept."""

    def ids(self, name: str) -> Collection[str]:
        """The ids of all steps of a name."""

    def broken(self) -> BrokenMemory:
        """Forget everything, since an answer cannot be read."""

    def in_copy(self) -> None:
        """Go on in a copy of the process."""


def answer_before(memory: Memory, key: Key) -> tuple[Any] | None:
    """The answer of a step in the build before; None if it was not kept."""
    kept = memory.answer(key)
    if kept and isinstance(same := kept[0], Same):
        kept = answer_before(memory, same.key)
        return (kept[0][same.at],) if kept and same.at is not None else kept
    return kept


def pickled(answer: object) -> bytes:
    """An answer as bytes that `pickle.loads` reads."""
    return _written(answer, _KEPT)


def fingerprint_of(answer: object) -> bytes:
    """A digest of all that an answer holds, whatever parts of it are one and the same object in memory."""
    if answer is None or answer is True or answer is False:
        return b"%r" % answer  # what many steps answer
    return blake2b(answer if isinstance(answer, bytes) else _written(answer, _COMPARED), digest_size=16).digest()


def _written(answer: object, reducers: "_Reducers") -> bytes:
    written = io.BytesIO()
    pickler = pickle.Pickler(written, pickle.HIGHEST_PROTOCOL)
    pickler.dispatch_table = reducers
    if reducers is _COMPARED:
        # Each object is written in full each time, so that equal answers are equal bytes, whichever of their parts are
        # one object. References are used only to what nearly all answers hold.
        pickler.fast, pickler.memo = True, {id(known): (at, known) for at, known in enumerate(_OFTEN)}
    pickler.dump(answer)
    return written.getvalue()


class _Reducers(dict[type, Callable[[Any], Any]]):
    """How pickle takes objects apart, by their class; found out when the first one of a class is written."""

    def __missing__(self, kind: Any) -> Callable[[Any], Any]:
        if issubclass(kind, type):
            raise KeyError
        compared, named = self is _COMPARED, f"{kind.__module__}.{kind.__qualname__}"
        if issubclass(kind, Struct) and (names := kind.__struct_fields__):
            # Of one name alone, `attrgetter` would give no tuple.
            parts = attrgetter(*names) if names[1:] else lambda one: (getattr(one, names[0]),)
            if compared or kind.__match_args__ != names:
                head = (named if compared else kind,)
                self[kind] = lambda one: (_made, head + parts(one))
            else:
                self[kind] = lambda one: (kind, parts(one))
        elif compared and hasattr(kind, "_fields"):
            self[kind] = lambda record: (_made, (named, *record))
        elif compared and issubclass(kind, tzinfo):
            self[kind] = lambda zone: (_made, (named, str(zone)))
        else:
            self[kind] = methodcaller("__reduce_ex__", pickle.HIGHEST_PROTOCOL)
        return self[kind]


_KEPT, _COMPARED = _Reducers(dispatch_table), _Reducers(dispatch_table)


def _made(kind: type[Struct], *values: Any) -> Struct:
    """A struct whose fields have to be named, from their values."""
    return kind(**dict(zip(kind.__struct_fields__, values, strict=True)))


_OFTEN: tuple[object, ...] = (_made, datetime, date, timedelta)


def sealed_answer(answer: bytes) -> bytes:
    """An answer behind its check sum: a disk may give back other bytes than it was given."""
    return crc32(answer).to_bytes(4) + answer


def unsealed_answer(sealed: bytes) -> bytes | None:
    """An answer without its check sum; None if they do not agree."""
    return sealed[4:] if sealed[:4] == crc32(memoryview(sealed)[4:]).to_bytes(4) else None


def only_ours(file: Path) -> bool:
    """Whether nobody else can write a memory: its answers are unpickled as they are, and can run any code."""
    if not hasattr(os, "getuid"):
        return True
    folder = file.parent.resolve()
    of_us = all(path.stat().st_uid == os.getuid() for path in (folder, file) if path.exists())
    # The file's own mode counts only where others can get through the folder.
    through = folder.stat().st_mode & 0o011 and file.exists()
    writable = (folder.stat().st_mode | (file.stat().st_mode if through else 0)) & 0o022
    # Whoever may rename a folder can put another in its place; one that is sticky, as /tmp, lets only owners.
    open_above = any(above.stat().st_mode & 0o1002 == 0o0002 for above in folder.parents)
    return of_us and not writable and not open_above


T = TypeVar("T")
# A process that takes a number from the pipe, a ticket, does that share of the work. All tickets are in the pipe before
# anybody reads it: it holds 4096 bytes at least, by POSIX.1-2017, <limits.h>.
_TICKETS = 512
# Each copy needs about as much memory as the process itself.
_AT_MOST = 4


def share_out(
    work: Sequence[T], do: Callable[[T], object], handed: Callable[[], object], begin: Callable[[], object]
) -> list[Any]:
    """Do every part of the work in this process or in a copy of it; returns what the copies hand over at the end.

    A copy calls `begin` first. One that fails or is ended hands over nothing: its part must be done again.
    """
    many = min(cores(), _AT_MOST, len(work))
    if many < 2:
        for part in work:
            do(part)
        return []
    with ExitStack() as open_files:
        mine, theirs = os.pipe()
        tickets = open_files.enter_context(os.fdopen(mine, "rb", buffering=0))
        with os.fdopen(theirs, "wb", buffering=0) as given_out:
            given_out.write(array("I", range(min(_TICKETS, len(work)))).tobytes())
        copies = [_copy(begin, lambda: _worked(tickets.fileno(), work, do), handed) for _ in range(many - 1)]
        try:
            _worked(tickets.fileno(), work, do)
            return [whole for _, result in copies if (whole := _read(result))]
        finally:
            for process, result in copies:
                os.close(result)
                with suppress(ProcessLookupError):
                    os.kill(process, signal.SIGKILL)
                os.waitpid(process, 0)


def cores() -> int:
    """How many copies of this process can work at once, itself among them."""
    # A copy of a process gets the locks that its other threads hold, but not the threads that would open them.
    if not hasattr(os, "fork") or threading.active_count() > 1:
        return 1
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _worked(tickets: int, work: Sequence[T], do: Callable[[T], object]) -> None:
    """Do the parts for which this process draws the tickets."""
    for ticket in iter(lambda: os.read(tickets, 4), b""):
        for part in work[array("I", ticket)[0] :: _TICKETS]:
            do(part)


def _copy(begin: Callable[[], object], work: Callable[[], None], handed: Callable[[], object]) -> tuple[int, int]:
    """Start a copy of this process that works, hands over and ends. Gives its id, and the pipe to read that from."""
    mine, theirs = os.pipe()
    with warnings.catch_warnings():
        # Python warns if there are threads. Those left here belong to libraries for numbers, which allow for copies.
        warnings.simplefilter("ignore", DeprecationWarning)
        process = os.fork()
    if process:
        os.close(theirs)
        return process, mine
    try:
        # A copy prints nothing. What goes wrong in it is done again by the first process, which then says so.
        for stream in (1, 2):
            os.dup2(os.open(os.devnull, os.O_WRONLY), stream)
        begin()
        work()
        with os.fdopen(theirs, "wb") as result:
            result.write(pickled(handed()))
    finally:
        os._exit(0)


def _read(result: int) -> Any:
    """What a copy handed over; None if it ended before all was there."""
    with suppress(EOFError, pickle.UnpicklingError), os.fdopen(result, "rb", closefd=False) as handed:
        return pickle.load(handed)
