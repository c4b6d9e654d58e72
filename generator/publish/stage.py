"""Write the finished site: check its links, build it in a hidden folder beside the old one, exchange the two."""

import os
import posixpath
import re
import shutil
import stat
from collections.abc import Callable, Collection, Container, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache
from html import unescape
from pathlib import Path, PurePosixPath
from typing import NamedTuple
from urllib.parse import unquote, urlsplit

from generator.publish.staging import MARKER, Staging, marked, swap, tidy, written_addresses

# Our own templates write the pages: attributes are double-quoted and text is escaped, so a tag ends at the
# first '>'. A whole HTML parser would find the same links and take fifty times as long.
_TAG = re.compile(r"<[a-zA-Z][^<>]*>")
_ATTRIBUTE = re.compile(r'\s(href|src|srcset|id|data-library|data-beside)="([^"]*)"')
_OUTSIDE = ("https", "mailto")


class Links(NamedTuple):
    """The anchors of a page, its links, and the anchors that it has twice."""

    anchors: tuple[str, ...]
    links: tuple[str, ...]
    twice: tuple[str, ...]


def dead_links(files: Mapping[str, bytes]) -> list[str]:
    """One sentence for each link, image, script or anchor of a page that is not in the site; sorted."""
    pages = {address: links_in(content) for address, content in files.items() if address.endswith(".html")}
    anchors = {address: page.anchors for address, page in pages.items()}
    return sorted({wrong for page, here in pages.items() for wrong in dead_links_of(page, here, anchors, files)})


def links_in(page: bytes) -> Links:
    """Where a page's bytes lead, and what leads into it."""
    told = list(_attributes(page.decode("utf-8")))
    anchors = [value for attribute, value in told if attribute == "id"]
    links = dict.fromkeys(value for attribute, value in told if attribute != "id")
    there = dict.fromkeys(anchors)
    twice = dict.fromkeys(each for each in there if anchors.count(each) > 1) if len(there) < len(anchors) else ()
    return Links(tuple(there), tuple(links), tuple(twice))


def dead_links_of(
    page: str, here: Links, anchors: Mapping[str, Container[str]], files: Container[str]
) -> tuple[str, ...]:
    """One sentence for each dead link and double anchor of a page.

    `here` is where it leads, `anchors` are those of all pages, `files` the addresses of the site.
    """
    wrong = [f"two elements have the id '{anchor}'" for anchor in here.twice]
    wrong += [dead for link in here.links if (dead := _wrong(page, link, files, anchors))]
    return tuple(f"{page}: {each}" for each in wrong)


def _attributes(html: str) -> Iterator[tuple[str, str]]:
    for tag in _TAG.finditer(html):
        for name, value in _ATTRIBUTE.findall(tag.group()):
            if name == "srcset":
                yield from (("src", unescape(part.split()[0])) for part in value.split(",") if part.strip())
            else:
                yield name, unescape(value)


def _wrong(page: str, link: str, files: Container[str], anchors: Mapping[str, Container[str]]) -> str | None:
    wrong, target, fragment = _way(page.rpartition("/")[0], link)
    if wrong or not (target or fragment):
        return wrong
    if target and target not in files:
        return f"'{link}' leads to {target}, which is not in the site"
    if fragment and (not target or target in anchors) and fragment not in anchors[target or page]:
        return f"'{link}' leads to an anchor that {target or page} does not have"
    return None


@lru_cache(maxsize=4096)
def _way(folder: str, link: str) -> tuple[str | None, str, str]:
    """What is wrong with a link on a page in a folder, if anything; the address it leads to, and the anchor."""
    parts, wrong = urlsplit(link), None
    if parts.scheme in _OUTSIDE:
        return None, "", ""
    if parts.scheme or parts.netloc:
        wrong = f"'{link}' leaves the site, but not by https: or mailto:"
    elif parts.path.startswith("/"):
        wrong = f"'{link}' starts with /, but a site in a folder has no root"
    target = posixpath.normpath(posixpath.join(folder, unquote(parts.path))) if parts.path else ""
    return wrong, target, unquote(parts.fragment)


# Some page hosts leave out files that they take for their own template engine's unless the second file is there.
_IGNORED, _PLAIN = ".gitignore", ".nojekyll"
# An empty part of an address, or a hidden one.
_NO_ADDRESS = re.compile(r"(?:^|/)(?:[./]|$)")
# So many foreign files are named in a message.
_NAMED = 5


class CannotPublish(Exception):
    """The new site was not put in place, and the old one is unchanged. `reasons` are messages for the keeper."""

    def __init__(self, *reasons: str) -> None:
        super().__init__("; ".join(reasons))
        self.reasons = reasons


@dataclass(frozen=True, slots=True)
class Before:
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

    `keep` are files and folders of the site that stay as they are: others put them there. Any other file that
    no build wrote stops the build, or goes with `replace`. `dead` knows the dead links
    already, `before` which files are as they were: those are not asked for and not written. `show` is called once the
    site is there, before the old one is removed. Returns what the disk notes of each file. Raises `CannotPublish` for
    files that no build wrote, for an address outside the site, a dead link, a folder that is
    not a site, and any error of the disk.
    """
    site = Path(os.path.realpath(site))
    if not site.name:
        raise CannotPublish(f"{site} cannot hold a site (give another folder with --site)")
    kept = (_IGNORED, *keep)
    known = before.marks if before else {}
    # The build before has checked the addresses that it wrote.
    reasons = (
        (files.keys() - known.keys() and _wrong_addresses(files))
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


def _wrong_addresses(files: Mapping[str, bytes]) -> list[str]:
    wrong: list[str] = []
    folded: dict[str, str] = {}
    for address in files:
        if _NO_ADDRESS.search(address):
            wrong.append(f"'{address}' cannot be a page's address")
        twin = folded.setdefault(address.casefold(), address)
        if twin != address:
            wrong.append(f"'{address}' and '{twin}' are the same file on some computers")
    return wrong


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
