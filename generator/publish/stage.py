"""Write the finished site to disk: build it in a hidden folder beside the old one, then swap them by renaming."""

import os
import shutil
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path, PurePosixPath

from generator.publish.links import dead_links

MARKER = ".corallite-site"
_MARKER_TEXT = b"corallite made this folder and replaces all of it at every build.\n"
_KEPT = ".gitignore"


class CannotPublish(Exception):
    """The new site was not put in place, and the old one is unchanged. `reasons` are messages for the keeper."""

    def __init__(self, *reasons: str) -> None:
        super().__init__("; ".join(reasons))
        self.reasons = reasons


def publish(files: Mapping[str, bytes], site: Path) -> None:
    """Replace the site's folder by `files` (address → bytes), all of them or none.

    Raises `CannotPublish` for an address outside the site, a dead link, a folder with other files in it, and
    any error of the disk.
    """
    site = Path(os.path.abspath(site))
    site = Path(os.path.realpath(site)) if os.path.islink(site) else site
    if not site.name:
        raise CannotPublish(f"{site} cannot hold a site (give another folder with --site)")
    reasons = _wrong_addresses(files) or dead_links(files)
    if reasons:
        raise CannotPublish(*reasons)
    new, old = (site.with_name(f".{site.name}.{state}-{os.getpid()}") for state in ("new", "old"))
    try:
        _restore(site)
        _refuse_strangers(site)
        _write(files, new, site)
        _swap(site, new, old)
    except OSError as error:
        raise CannotPublish(f"{site}: {error.strerror or error} (the old site is unchanged)") from error
    finally:
        shutil.rmtree(new, ignore_errors=True)
    for left in _old_sites(site):
        shutil.rmtree(left, ignore_errors=True)


def _wrong_addresses(files: Mapping[str, bytes]) -> list[str]:
    wrong: list[str] = []
    folded: dict[str, str] = {}
    for address in files:
        parts = PurePosixPath(address).parts
        if not parts or str(PurePosixPath(address)) != address or parts[0] == "/" or any(p[0] == "." for p in parts):
            wrong.append(f"'{address}' cannot be a page's address")
        twin = folded.setdefault(address.casefold(), address)
        if twin != address:
            wrong.append(f"'{address}' and '{twin}' are the same file on some computers")
    return wrong


def _old_sites(site: Path) -> list[Path]:
    return sorted(site.parent.glob(f".{site.name}.old-*"))


def _restore(site: Path) -> None:
    """Bring back the old site if an earlier build was killed between the two renames."""
    for left in _old_sites(site):
        if not site.exists():
            left.rename(site)


def _refuse_strangers(site: Path) -> None:
    if site.exists() and not site.is_dir():
        raise CannotPublish(f"{site} is not a folder (give a folder with --site)")
    inside = {entry.name for entry in site.iterdir()} if site.exists() else set()
    if inside - {_KEPT} and MARKER not in inside:
        raise CannotPublish(
            f"{site} has files that Corallite did not write (empty it, or give another folder with --site)"
        )


def _write(files: Mapping[str, bytes], new: Path, site: Path) -> None:
    new.mkdir(parents=True)
    made = {new}
    for address, content in sorted(files.items()):
        path = new / address
        if path.parent not in made:
            path.parent.mkdir(parents=True, exist_ok=True)
            made.add(path.parent)
        path.write_bytes(content)
    # GitHub's page host leaves out files it takes for its own template engine's unless this file is there.
    (new / ".nojekyll").write_bytes(b"")
    (new / MARKER).write_bytes(_MARKER_TEXT)
    if (site / _KEPT).is_file():
        shutil.copyfile(site / _KEPT, new / _KEPT)


def _swap(site: Path, new: Path, old: Path) -> None:
    if site.exists():
        site.rename(old)
    try:
        new.rename(site)
    except OSError:
        with suppress(OSError):
            old.rename(site)
        raise
