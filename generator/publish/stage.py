"""Write the finished site: all of it or nothing. It is made in a folder beside the old one, which it then replaces."""

import os
import shutil
import stat
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import suppress
from pathlib import Path, PurePosixPath

from msgspec import Struct

from generator.publish.staging import MARKER, Staging, make_writable, marked, swap, tidy, written_addresses
from generator.render.base.links import dead_links, wrong_addresses

# Some page hosts leave out files that they take for their own template engine's unless the second file is there.
_IGNORED, _PLAIN = ".gitignore", ".nojekyll"
# So many foreign files are named in a message.
_NAMED = 5


class CannotPublish(Exception):
    """The site could not be published; `reasons` are messages for the keeper. They say if the new one is there."""

    def __init__(self, *reasons: str) -> None:
        super().__init__("; ".join(reasons))
        self.reasons = reasons


class Before(Struct, frozen=True):
    """The build before: what the disk noted of each file of the site, and which files are others now.

    `laid_by` is where it laid by the site that it replaced, and where this build lays by the one that it replaces.
    """

    marks: Mapping[str, bytes]
    changed: Callable[[], Collection[str]]
    laid_by: Path | None = None


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
    left = "the old site is unchanged"
    try:
        tidy(site)
        strangers = _strangers(site, kept, replace)
        same = _same_as_before(site, files, before) if before else {}
        if before and not strangers and len(same) == len(before.marks) == len(files):
            show()
            return dict(before.marks)
        staging = Staging(site, before.laid_by if before else None)
        try:
            _write(files, staging.folder, site, same)
            _keep(kept, site, staging.folder)
            staging.complete(files)
            # Another name for a file changes nothing of its mark.
            marks = {at: known[at] if at in same else _mark(f"{staging.folder}/{at}") for at in files}
            swap(staging.folder, site)
            left = "the new site is in place"
            show()
            # What is kept is not ours: it gets no second name elsewhere. With few files in common, two sites take room.
            if before and before.laid_by and 2 * len(same) > len(files) and not _there(kept, site):
                staging.lay_by(before.laid_by)
        finally:
            staging.close()
        return marks
    except OSError as error:
        raise CannotPublish(f"{site}: {error.strerror or error} ({left})") from error


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


def _same_as_before(site: Path, files: Mapping[str, bytes], before: Before) -> dict[str, tuple[bytes, int]]:
    """The files that are as they were and stand as the last build left them, with what the disk notes of each."""
    changed, same = before.changed(), {}
    for address in files:
        if address in before.marks and address not in changed:
            noted = _noted(f"{site}/{address}")
            if noted[0] == before.marks[address]:
                same[address] = noted
    return same


def _mark(path: str) -> bytes:
    """What the disk notes of a file; nothing of one that is not there."""
    return _noted(path)[0]


def _noted(path: str) -> tuple[bytes, int]:
    """What the disk notes of a file, and its number there, which all names of the file share."""
    try:
        status = os.lstat(path)
    except OSError:
        return b"", 0
    mark = b"%d %d" % (status.st_size, status.st_mtime_ns) if stat.S_ISREG(status.st_mode) else b""
    return mark, status.st_ino


def _write(files: Mapping[str, bytes], new: Path, site: Path, same: Mapping[str, tuple[bytes, int]]) -> None:
    there = frozenset(_cleared(new, "", same))
    made: set[str] = set()
    for address in sorted(files.keys() - there):
        if (folder := address.rpartition("/")[0]) not in made:
            (new / folder).mkdir(parents=True, exist_ok=True)
            made.add(folder)
        if address in same:
            _same(f"{site}/{address}", f"{new}/{address}")
            if _mark(f"{new}/{address}") == same[address][0]:
                continue
            # Another build has put its own site there since, perhaps one that others must not see.
            os.unlink(new / address)
        (new / address).write_bytes(files[address])
    (new / _PLAIN).write_bytes(b"")


def _cleared(new: Path, folder: str, same: Mapping[str, tuple[bytes, int]]) -> Iterator[str]:
    """Remove all that a folder was laid by with, but the very files of the site that stay. Yields their addresses.

    Nothing is written into a file that has another name in the site that is there.
    """
    make_writable(new / folder)
    with os.scandir(new / folder) as entries:
        for entry in [*entries]:
            address = f"{folder}{entry.name}"
            if entry.is_dir(follow_symlinks=False):
                yield from _cleared(new, f"{address}/", same)
                with suppress(OSError):  # it is not empty
                    os.rmdir(entry.path)
            elif address in same and same[address][1] == entry.inode():
                yield address
            elif address != MARKER:
                os.unlink(entry.path)


def _there(kept: Sequence[str], site: Path) -> list[str]:
    return [name for name in kept if os.path.lexists(site / name)]


def _keep(kept: Sequence[str], site: Path, new: Path) -> None:
    """Give the new site what it keeps of the old: by another name for the same file where the disk can."""
    for name in _there(kept, site):
        old, path = site / name, new / name
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
