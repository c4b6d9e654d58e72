"""Where every record's page is, and how one page points to another: always relative, never a bare folder."""

import posixpath

TODAY = "index.html"
SYSTEMS = "systems/index.html"
CORALS = "corals/index.html"
LINES = "corals/lines.html"
JOURNAL = "journal/index.html"
TRADES = "trades/index.html"
METHODS = "methods.html"
DATA = "data/index.html"
SEARCH = "search.html"
NOT_FOUND = "404.html"

_FOLDERS = {"system": "systems", "coral": "corals", "entry": "journal", "trade": "trades"}
KINDS = tuple(_FOLDERS)


def page_of(kind: str, id: str) -> str:
    """The address of the page of a system, coral, entry or trade."""
    return f"{_FOLDERS[kind]}/{id}.html"


def kind_of(address: str) -> str | None:
    """Of what kind of record an address is the page; None for a page of another sort."""
    folder, _, page = address.partition("/")
    return next((kind for kind in KINDS if _FOLDERS[kind] == folder and page != "index.html"), None)


def relative(here: str, there: str) -> str:
    """The way from one page of the site to another, its fragment kept."""
    target, hash, fragment = there.partition("#")
    if not target or target == here:
        return f"#{fragment}" if fragment else posixpath.basename(here)
    return posixpath.relpath(target, posixpath.dirname(here) or ".") + hash + fragment


def photo_path(file: str) -> str:
    """A photo as records and texts name it, as a path below the journal."""
    return f"photos/{file.removeprefix('../').removeprefix('photos/')}"
