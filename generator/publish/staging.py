"""The hidden folder beside a site in which the new one is made, and how the two are exchanged in one step.

Such a folder is marked, and locked while its build runs. One that a killed build left is removed, or becomes the site.
Of the old site, most files are the new one's too, under another name: its folder is laid by, out of the keeper's sight,
and the next site is made in it.
"""

import ctypes
import errno
import os
import secrets
import shutil
import stat
import sys
import time
from collections.abc import Iterable
from contextlib import suppress
from glob import escape
from operator import itemgetter
from pathlib import Path

MARKER = ".corallite-site"
_MARK = "Corallite made this folder and replaces all of it at every build. What it wrote:\n"
_COMPLETE = "That is all.\n"

# renameat2 of Linux and renamex_np of macOS exchange two names in one step with the same flag; -100 is "from here".
_EXCHANGE = 2
_HERE = -100
# Where nothing is locked, a folder counts as left behind a day after it was made, seconds.
_NO_LOCK, _DAY = -1, 86400.0
_UNABLE = (errno.EINVAL, errno.ENOSYS, errno.ENOTSUP, errno.EOPNOTSUPP)


class Staging:
    """A new folder beside a site, marked and locked until it is closed.

    It is made of the folder that was laid by, if there is one and the disk can move it there, and is empty otherwise.
    """

    def __init__(self, site: Path, laid_by: Path | None = None) -> None:
        site.parent.mkdir(parents=True, exist_ok=True)
        if laid_by and (taken := _taken(laid_by, folder := _beside(site))) is not None:
            self.folder, self._lock = folder, taken
            return
        while True:
            self.folder = _beside(site)
            self.folder.mkdir()
            # Until it is locked, another build may take the folder for one that was left behind, and remove it.
            try:
                (self.folder / MARKER).write_text(_MARK, encoding="utf-8")
                lock = _locked(self.folder)
                if lock is not None and (self.folder / MARKER).exists():
                    self._lock = lock
                    break
            except FileNotFoundError:
                continue
            except OSError:
                remove(self.folder)
                raise

    def complete(self, addresses: Iterable[str]) -> None:
        """Note what the folder holds: it can be the site now."""
        with (self.folder / MARKER).open("a", encoding="utf-8", newline="\n") as marker:
            marker.writelines([*(f"{address}\n" for address in sorted(addresses)), _COMPLETE])

    def lay_by(self, place: Path) -> None:
        """Lay what is there now, the old site, by in a place for the next build, if the disk can move it there."""
        with suppress(OSError):
            # Another build may be about to remove it, as one that was left behind.
            if (lock := _locked(self.folder)) is not None:
                try:
                    self.folder.rename(place)
                finally:
                    _unlock(lock)

    def close(self) -> None:
        """Let go of the folder, and remove what is there now: a site that was not published, or the old one."""
        _unlock(self._lock)
        remove(self.folder)


def written_addresses(site: Path) -> frozenset[str] | None:
    """The addresses that the last build wrote into a folder; None if it is not a finished site of ours."""
    try:
        text = (site / MARKER).read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError):
        return None
    if not text.startswith(_MARK) or not text.endswith(_COMPLETE):
        return None
    return frozenset(text.removeprefix(_MARK).removesuffix(_COMPLETE).splitlines())


def marked(folder: Path) -> bool:
    """Whether a folder bears the mark of this program, finished or not."""
    return not folder.is_symlink() and (folder / MARKER).is_file()


def swap(new: Path, site: Path) -> None:
    """Put a new folder in the place of the site; the old one, if any, takes the new one's place.

    Where the system cannot exchange two folders there is no site for an instant. A build that is killed then
    leaves two finished folders, and the next makes the newer one the site.
    """
    if not site.exists():
        new.rename(site)
    elif not _exchanged(new, site):
        aside = _beside(site)
        site.rename(aside)
        try:
            new.rename(site)
        except OSError:
            aside.rename(site)
            raise
        with suppress(OSError):  # the new site is there, and the next build removes what is left aside
            aside.rename(new)


def tidy(site: Path) -> None:
    """Bring back a site that a killed build left aside, and remove what other killed builds left behind."""
    beside = list(site.parent.glob(f".{escape(site.name)}.corallite-*"))
    for folder in beside:
        with suppress(OSError):
            folder.rmdir()  # a build was killed before its first file, or after its last
    left = [(folder, (folder / MARKER).stat().st_mtime) for folder in beside if marked(folder)]
    for folder, made in sorted(left, key=itemgetter(1), reverse=True):
        if sys.platform == "win32" and time.time() - made < _DAY:
            continue
        with suppress(OSError):
            lock = _locked(folder)
            if lock is None:
                continue
            try:
                if not site.exists() and written_addresses(folder) is not None:
                    folder.rename(site)
                else:
                    remove(folder)
            finally:
                _unlock(lock)


def make_writable(folder: Path) -> None:
    """Let us write into a folder of ours again, if its keeper made it read-only."""
    if not (mode := folder.stat().st_mode) & stat.S_IWUSR:
        folder.chmod(stat.S_IMODE(mode) | stat.S_IRWXU)


def remove(folder: Path) -> None:
    """Remove a folder of ours, its mark last, so that one left half removed is known as ours."""
    with suppress(OSError):
        make_writable(folder)
        for entry in folder.iterdir():
            if entry.is_dir() and not entry.is_symlink():
                for above, _, _ in os.walk(entry):
                    make_writable(Path(above))
                shutil.rmtree(entry)
            elif entry.name != MARKER:
                entry.unlink()
        (folder / MARKER).unlink(missing_ok=True)
        folder.rmdir()


def _taken(laid_by: Path, folder: Path) -> int | None:
    """Make the folder that was laid by a new one, unfinished and locked before it is seen; None if that cannot be."""
    if not laid_by.exists():
        return None
    with suppress(OSError):
        (laid_by / MARKER).unlink(missing_ok=True)
        (laid_by / MARKER).write_text(_MARK, encoding="utf-8")
        if (lock := _locked(laid_by)) is not None:
            try:
                laid_by.rename(folder)
                return lock
            except OSError:
                _unlock(lock)
    remove(laid_by)
    return None


def _beside(site: Path) -> Path:
    return site.with_name(f".{site.name}.corallite-{secrets.token_hex(8)}")


def _locked(folder: Path) -> int | None:
    """Lock a folder's mark, until `_unlock`; None if another build has it. A build that dies loses its lock."""
    if sys.platform == "win32":  # which moves no folder with an open file in it
        return _NO_LOCK
    import fcntl

    lock = os.open(folder / MARKER, os.O_RDWR)
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        os.close(lock)
        return None
    return lock


def _unlock(lock: int) -> None:
    if lock != _NO_LOCK:
        os.close(lock)


def _exchanged(one: Path, other: Path) -> bool:
    """Exchange two folders in one step; False where the system or the disk cannot."""
    names = os.fsencode(one), os.fsencode(other)
    try:
        library = ctypes.CDLL(None, use_errno=True)
        if sys.platform == "darwin":
            failed = library.renamex_np(*names, _EXCHANGE)
        else:
            failed = library.renameat2(_HERE, names[0], _HERE, names[1], _EXCHANGE)
    except (AttributeError, TypeError, OSError):
        return False
    if failed and ctypes.get_errno() not in _UNABLE:
        raise OSError(ctypes.get_errno(), os.strerror(ctypes.get_errno()))
    return not failed
