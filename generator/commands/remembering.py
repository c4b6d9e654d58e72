"""What `build` and `check` remember from one time to the next; and whether anything at all has changed since then."""

import functools
import os
import pickle
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, datetime
from hashlib import blake2b
from operator import attrgetter
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple, TypeVar

from generator.commands.options import cache

if TYPE_CHECKING:
    from generator.door.door import Door
    from generator.door.memory import Remembered
    from generator.door.remembering import News
    from generator.records.source import Problem


T = TypeVar("T")
# The coarsest clock of a disk that we expect, and how long a site is remembered that is not built, seconds.
_TICK, _FORGET_AFTER = 2.0, 90 * 86400.0
# The mark of a file that is read again next time.
_UNSURE = b"unsure"


def file_of(*about: object) -> Path:
    """The file of the memory of a command, by what it works on."""
    return cache() / "builds" / f"{blake2b(repr(about).encode(), digest_size=12).hexdigest()}.sqlite"


def with_memory(file: Path, work: "Callable[[Door], T]") -> T:
    """Do work on a journal's folder through a door that remembers, and without a memory if there is none to be had."""
    from generator.door.steps import Steps

    begun = time.time()

    def learnt(door: "Door", memory: "Remembered | None") -> T:
        done = work(door)
        if memory and isinstance(door, Steps):
            news = door.news()
            unsure(news, begun)
            memory.learn(news)
            forget_others(file.parent, begun)
        return done

    return through_memory(file, learnt)


def through_memory(
    file: Path,
    work: "Callable[[Door, Remembered | None], T]",
    memory_in: "Callable[[Path, str], Remembered] | None" = None,
) -> T:
    """Do work through a door and the memory behind it: none if it is not wanted, in use, others' or spoilt.

    `memory_in` opens it, and need not be given. The memory is closed at the end; the work learns what is to be kept.
    """
    from generator.door.door import Door
    from generator.door.memory import MemoryInUse, Remembered
    from generator.door.remembering import SPOILT
    from generator.door.steps import Steps

    if os.environ.get("CORALLITE_FORGET"):
        return work(Door(), None)
    try:
        memory = (memory_in or Remembered)(file, program())
    except (MemoryInUse, OSError, *SPOILT):
        return work(Door(), None)
    try:
        return work(Steps(memory), memory)
    except SPOILT:
        memory.broken()
        return work(Door(), None)
    finally:
        memory.close()


def unsure(news: "News", begun: float) -> bool:
    """Whether files were written shortly before or while the build ran, which may have read them half-way.

    They are read again next time.
    """
    from generator.read.discover import written_at

    unsure = [key for key, mark in news.given.items() if key[0] == "file" and mark and written_at(mark) > begun - _TICK]
    news.given.update(dict.fromkeys(unsure, _UNSURE))
    return bool(unsure)


def forget_others(folder: Path, now: float) -> None:
    """Remove what is remembered of sites that nobody builds any more, and what was laid by for their next build."""
    import shutil

    for path in folder.iterdir():
        with suppress(OSError):
            if now - path.stat().st_mtime <= _FORGET_AFTER:
                continue
            if path.is_dir():
                # First under another name: a build that begins meanwhile must not make its site in what is removed.
                shutil.rmtree(path.rename(path.with_suffix(".forgotten")))
            else:
                path.unlink()


@functools.cache
def program() -> str:
    """A digest of this program and what it stands on: its files, as they were when first asked, and all versions.

    The files' times differ with each install. Templates are left out: only drawing rests on them.
    """
    from generator.render.base.words import TEMPLATES, template_files

    digest = blake2b(sys.version.encode(), digest_size=16)
    for path in filter(os.path.isdir, sys.path):
        digest.update(repr(sorted(name for name in os.listdir(path) if name.endswith(".dist-info"))).encode())
    for folder in (Path(__file__).parents[1], Path(str(template_files()))):
        for above, folders, names in os.walk(folder):
            folders.sort()
            for name in sorted(names):
                path = f"{above}/{name}"
                if not name.endswith((".pyc", *TEMPLATES)) and os.path.isfile(path):
                    with open(path, "rb", buffering=0) as file:
                        digest.update(name.encode() + file.read())
    return digest.hexdigest()


def clock() -> datetime:
    """The end of the quarter of an hour that runs, or the moment in SOURCE_DATE_EPOCH, which makes builds repeatable.

    All builds of a quarter have one moment, so that what does not change is not calculated again. Clocks of all zones
    differ by whole quarters, so that it is never tomorrow anywhere.
    """
    epoch = os.environ.get("SOURCE_DATE_EPOCH", "")
    # Ten digits reach to the year 2286; more would leave the calendar.
    return datetime.fromtimestamp(int(epoch), UTC) if epoch.isdecimal() and len(epoch) <= 10 else _end_of_quarter()


def _end_of_quarter() -> datetime:
    now = datetime.now(UTC)
    return now.replace(minute=now.minute // 15 * 15 + 14, second=59, microsecond=0)


class Last(NamedTuple):
    """The last build: a digest of all that went in, one of the site it left, its problems, and how many pages it made.

    `by_git` says whether the journal's history went in too.
    """

    given: bytes
    site: bytes
    problems: tuple["Problem", ...]
    pages: int
    by_git: bool

    def kept(self) -> bytes:
        """As bytes that `last` reads."""
        return pickle.dumps(self, pickle.HIGHEST_PROTOCOL)


def last(kept: bytes | None) -> Last | None:
    """The last build as it was kept; None if there is none, or it cannot be read."""
    with suppress(Exception):
        return pickle.loads(kept) if kept else None
    return None


def same(before: Last, files: bytes, content: Path, site: Path, *told: object) -> bool:
    """Whether everything is as it was after the last build: the journal's `files`, the site, and what is `told`."""
    if before.given != digest_of_build(files, content, before.by_git, *told):
        return False
    return stamp_of_files(site) == before.site


def digest_of_build(files: bytes, content: Path, by_git: bool, *told: object) -> bytes:
    """A digest of all that goes into a build, by what was `seen` of the journal's folder."""
    digest = blake2b(repr((files, *told)).encode(), digest_size=16)
    if by_git:
        import subprocess

        head = ["git", "-C", str(content), "rev-parse", "HEAD"]
        with suppress(OSError, subprocess.TimeoutExpired):  # git may not be installed
            digest.update(subprocess.run(head, capture_output=True, check=False, timeout=10).stdout)
    return digest.digest()


def stamp_of_files(folder: Path) -> bytes:
    """A digest of what the disk notes of everything below a folder, but hidden folders."""
    digest, left = blake2b(digest_size=16), [str(folder)]
    while left:
        with suppress(OSError), os.scandir(left.pop()) as entries:
            for entry in sorted(entries, key=attrgetter("name")):
                noted = entry.stat(follow_symlinks=False)
                numbers = (noted.st_mode, noted.st_size, noted.st_mtime_ns, noted.st_ctime_ns, noted.st_ino)
                digest.update(b"%s\0%d %d %d %d %d\n" % (os.fsencode(entry.path), *numbers))
                if entry.is_dir(follow_symlinks=False) and not entry.name.startswith("."):
                    left.append(entry.path)
    return digest.digest()
