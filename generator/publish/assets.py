"""Stylesheets and scripts under names that carry a digest, so that no browser shows an old one."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from hashlib import sha256
from importlib.resources.abc import Traversable

_FINGERPRINTED = (".css", ".js")


@dataclass(frozen=True, slots=True)
class Assets:
    """`addresses` maps a name below the assets folder to its address in the site; `files` hold the bytes."""

    addresses: dict[str, str]
    files: dict[str, bytes]


def gather(folder: Traversable) -> Assets:
    """Every file below the assets folder; licences and the like keep their names."""
    addresses, files = {}, {}
    for name, content in _walk(folder, ""):
        content = _tight(content) if name.endswith(".css") else content
        addresses[name] = f"assets/{_fingerprinted(name, content)}"
        files[addresses[name]] = content
    return Assets(addresses, files)


def _tight(css: bytes) -> bytes:
    """A stylesheet without comments and spare white space, because every page loads it."""
    bare = re.sub(r'("[^"]*")|/\*.*?\*/', r"\1", css.decode(), flags=re.DOTALL)
    # Text between quotes is shown on the page, so it stays unchanged.
    pieces = re.split(r'("[^"]*")', bare)
    pieces[::2] = map(_without_room, pieces[::2])
    return "".join(pieces).strip().encode()


def _without_room(css: str) -> str:
    # A space before a colon changes a selector's meaning, so it stays.
    return re.sub(r" ?([{};,]) ?|(?<=:) ", r"\1", re.sub(r"\s+", " ", css)).replace(";}", "}")


def _walk(folder: Traversable, above: str) -> Iterator[tuple[str, bytes]]:
    for entry in sorted(folder.iterdir(), key=lambda entry: entry.name):
        if entry.is_dir():
            yield from _walk(entry, f"{above}{entry.name}/")
        elif not entry.name.startswith("."):
            yield f"{above}{entry.name}", entry.read_bytes()


def _fingerprinted(name: str, content: bytes) -> str:
    stem, dot, suffix = name.rpartition(".")
    if dot + suffix not in _FINGERPRINTED:
        return name
    return f"{stem}.{sha256(content).hexdigest()[:10]}.{suffix}"
