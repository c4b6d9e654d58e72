"""Whether anything at all has changed since the last build: looked at before the program is even loaded."""

import os
import pickle
import subprocess
from collections.abc import Iterator
from contextlib import suppress
from hashlib import blake2b
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from generator.records.source import Problem


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


def same(before: Last | None, files: bytes, content: Path, site: Path, *told: object) -> bool:
    """Whether everything is as it was after the last build: the journal's `files`, the site, and what is `told`."""
    if before is None or before.given != given(files, content, before.by_git, *told):
        return False
    return seen(site) == before.site


def given(files: bytes, content: Path, by_git: bool, *told: object) -> bytes:
    """A digest of all that goes into a build, by what was `seen` of the journal's folder."""
    digest = blake2b(repr((files, *told)).encode(), digest_size=16)
    if by_git:
        head = subprocess.run(
            ["git", "-C", str(content), "rev-parse", "HEAD"], capture_output=True, check=False, timeout=10
        )
        digest.update(head.stdout)
    return digest.digest()


def seen(folder: Path) -> bytes:
    """A digest of what the disk notes of everything below a folder, but hidden folders."""
    digest = blake2b(digest_size=16)
    for line in _below(str(folder)):
        digest.update(line)
    return digest.digest()


def _below(folder: str) -> Iterator[bytes]:
    with suppress(OSError), os.scandir(folder) as entries:
        for entry in sorted(entries, key=lambda entry: entry.name):
            status = entry.stat(follow_symlinks=False)
            whole = (entry.path, status.st_mode, status.st_size, status.st_mtime_ns, status.st_ctime_ns, status.st_ino)
            yield repr(whole).encode()
            if entry.is_dir(follow_symlinks=False) and not entry.name.startswith("."):
                yield from _below(entry.path)
