"""Write the finished site: build it in a hidden folder beside the old one, and exchange the two in one step.

Such a folder is marked, and locked while its build runs. One that a killed build left is removed, or becomes the site.
"""

import ctypes
import errno
import os
import secrets
import shutil
import stat
import sys
import time
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from glob import escape
from operator import itemgetter
from pathlib import Path, PurePosixPath

from msgspec import Struct

from generator.render.base.links import dead_links, wrong_addresses

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
    """A new folder beside a site, marked and locked until it is closed."""

    def __init__(self, site: Path) -> None:
        site.parent.mkdir(parents=True, exist_ok=True)
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


def remove(folder: Path) -> None:
    """Remove a folder of ours, its mark last, so that one left half removed is known as ours."""
    with suppress(OSError):
        for entry in folder.iterdir():
            if entry.is_dir() and not entry.is_symlink():
                shutil.rmtree(entry)
            elif entry.name != MARKER:
                entry.unlink()
        (folder / MARKER).unlink(missing_ok=True)
        folder.rmdir()


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


# Some page hosts leave out files that they take for their own template engine's unless the second file is there.
_IGNORED, _PLAIN = ".gitignore", ".nojekyll"
# So many foreign files are named in a message.
_NAMED = 5


class CannotPublish(Exception):
    """The new site was not put in place, and the old one is unchanged. `reasons` are messages for the keeper."""

    def __init__(self, *reasons: str) -> None:
        super().__init__("; ".join(reasons))
        self.reasons = reasons


class Before(Struct, frozen=True):
    """The build before: what the disk noted of each file of the site, and which files are others now."""

    marks: Mapping[str, bytes]
    changed: Callable[[], Collection[str]]


def publish(
    files: Mapping[str, bytes],
    site: Path,
    keep: Sequence[str] = (),
    replace: bool = False,
    dead: Callable[[], list[str]] | None = None,
    before: Before | None = None,
    show: Callable[[], object] = bool,
) -> dict[str, bytes]:
    """Replace the site's folder by `files` (address → bytes), all of them or none.

    `keep` are files and folders of the site that stay as they are: others put them there. Any other file that no build
    wrote stops the build, or goes with `replace`. `dead` knows the dead links already, `before` which files are as they
    were: those are not asked for and not written. `show` is called once the site is there, before the old one is
    removed. Returns what the disk notes of each file. Raises `CannotPublish` for files that no build wrote, for an
    address outside the site, a dead link, a folder that is not a site, and any error of the disk.
    """
    site = Path(os.path.realpath(site))
    if not site.name:
        raise CannotPublish(f"{site} cannot hold a site (give another folder with --site)")
    kept = (_IGNORED, *keep)
    known = before.marks if before else {}
    # The build before has checked the addresses that it wrote.
    reasons = (
        (files.keys() - known.keys() and wrong_addresses(files))
        or _claimed(files, kept)
        or (dead() if dead else dead_links(files))
    )
    if reasons:
        raise CannotPublish(*reasons)
    try:
        tidy(site)
        strangers = _strangers(site, kept, replace)
        same = _same_as_before(site, files, before) if before else frozenset()
        if before and not strangers and len(same) == len(before.marks) == len(files):
            show()
            return dict(before.marks)
        staging = Staging(site)
        try:
            _write(files, staging.folder, site, same)
            _keep(kept, site, staging.folder)
            staging.complete(files)
            # Another name for a file changes nothing of its mark.
            marks = {at: known[at] if at in same else _mark(f"{staging.folder}/{at}") for at in files}
            swap(staging.folder, site)
            show()
        finally:
            staging.close()
        return marks
    except OSError as error:
        raise CannotPublish(f"{site}: {error.strerror or error} (the old site is unchanged)") from error


def _claimed(files: Mapping[str, bytes], kept: Sequence[str]) -> list[str]:
    """What is to be kept in a place where the site has a file of its own."""
    return [
        f"journal.yaml keeps '{name}' in the site, but the site has a file of its own there (leave it out of keep)"
        for name in kept
        if any(above.as_posix() in files for above in (PurePosixPath(name), *PurePosixPath(name).parents))
        or any(address.startswith(f"{name}/") for address in files)
    ]


def _strangers(site: Path, kept: Sequence[str], replace: bool) -> list[str]:
    """The files to delete that no build wrote. Raises `CannotPublish` if there are any and `replace` is not given."""
    if not site.exists():
        return []
    if not site.is_dir():
        raise CannotPublish(f"{site} is not a folder (give a folder with --site)")
    if not marked(site) and {entry.name for entry in site.iterdir()} - set(kept):
        raise CannotPublish(
            f"{site} has files that Corallite did not write (empty it, or give another folder with --site)"
        )
    ours = written_addresses(site) or frozenset()
    foreign = sorted(name for name in _inside(site, kept) if name not in ours)
    if foreign and not replace:
        more = f" and {len(foreign) - _NAMED} more" if len(foreign) > _NAMED else ""
        raise CannotPublish(
            f"{site} has files that Corallite did not write: {', '.join(foreign[:_NAMED])}{more} (list them under "
            "publish: keep: in journal.yaml, or delete them with --replace)"
        )
    return foreign


def _inside(site: Path, kept: Sequence[str]) -> Iterator[str]:
    """Every file in a site by its address, but what is kept and what every site has."""
    left_out = {MARKER, _PLAIN, *kept}
    folders = [""]
    while folders:
        above = folders.pop()
        with os.scandir(site / above) as entries:
            for entry in entries:
                address = f"{above}{entry.name}"
                if address in left_out:
                    continue
                if entry.is_dir(follow_symlinks=False):
                    folders.append(f"{address}/")
                else:
                    yield address


def _same_as_before(site: Path, files: Mapping[str, bytes], before: Before) -> frozenset[str]:
    """The files that are as they were, and in the site as the last build left them."""
    changed = before.changed()
    return frozenset(
        address
        for address in files
        if address in before.marks and address not in changed and _mark(f"{site}/{address}") == before.marks[address]
    )


def _mark(path: str) -> bytes:
    """What the disk notes of a file; nothing of one that is not there."""
    try:
        status = os.lstat(path)
    except OSError:
        return b""
    return b"%d %d" % (status.st_size, status.st_mtime_ns) if stat.S_ISREG(status.st_mode) else b""


def _write(files: Mapping[str, bytes], new: Path, site: Path, same: Collection[str]) -> None:
    made: set[str] = set()
    for address in sorted(files):
        if (folder := address.rpartition("/")[0]) not in made:
            (new / folder).mkdir(parents=True, exist_ok=True)
            made.add(folder)
        if address in same:
            _same(f"{site}/{address}", f"{new}/{address}")
        else:
            (new / address).write_bytes(files[address])
    (new / _PLAIN).write_bytes(b"")


def _keep(kept: Sequence[str], site: Path, new: Path) -> None:
    """Give the new site what it keeps of the old: by another name for the same file where the disk can."""
    for name in kept:
        old, path = site / name, new / name
        if not os.path.lexists(old):
            continue
        path.parent.mkdir(parents=True, exist_ok=True)
        if old.is_dir() and not old.is_symlink():
            shutil.copytree(old, path, symlinks=True, copy_function=_same)
        else:
            _same(str(old), str(path))


def _same(old: str, new: str) -> None:
    with suppress(OSError):
        os.link(old, new, follow_symlinks=False)
        return
    shutil.copy2(old, new, follow_symlinks=False)
