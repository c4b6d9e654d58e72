"""The address of every record's page, and links between pages: always relative, never to a bare folder."""

import posixpath
from datetime import date

HOME = "index.html"
SYSTEMS = "systems/index.html"
CORALS = "corals/index.html"
LINES = "corals/lines.html"
SURVIVAL = "corals/survival.html"
PLANNED = "coming/index.html"
SINCE = "since.html"
GUIDES = "guides.html"
TRACK_RECORD = "track-record.html"
JOURNAL = "journal/index.html"
TRADES = "trades/index.html"
OFFERS = "offers.html"
TRAVEL = "travel/index.html"
ORIGIN = "origin/index.html"
METHODS = "methods.html"
DATA = "data/index.html"
SEARCH = "search.html"
WRITE = "write.html"
PHOTO_SIZE = "photo-size.html"
FEED = "feed.xml"
NOT_FOUND = "404.html"

_FOLDERS = {"system": "systems", "coral": "corals", "entry": "journal", "trade": "trades", "plan": "coming"}
# What a keeper's own words can lead to.
KINDS = ("system", "coral", "entry", "trade")


# Pages of the site's own, whose names a record may have too.
_TAKEN = ("index", "lines", "survival")


def _name(id: str) -> str:
    """The name of a record's page. No id ends with a hyphen, so no two have the same."""
    return f"{id}-" if id in _TAKEN else id


def page_of(kind: str, id: str) -> str:
    """The address of the page of a system, coral, entry or trade, or the sheet of a plan."""
    return f"{_FOLDERS[kind]}/{_name(id)}.html"


def plan_of(system: str) -> str:
    """The address of the plan of a system's places."""
    return f"plans/{system}.html"


def feed_of(system: str) -> str:
    """The address of the feed of a system."""
    return f"systems/{system}.xml"


def dosing_of(system: str) -> str:
    """The address of a system's dosing plan."""
    return f"systems/{system}/dosing.html"


def log_sheet_of(system: str) -> str:
    """The address of a system's test log of the month, to print."""
    return f"systems/{system}/log-sheet.html"


def shares_of(system: str) -> str:
    """The address of every coral's share of a system's demand."""
    return f"systems/{system}/shares.html"


def change_of(system: str, day: date, coral: str, what: str) -> str:
    """The address of the report of a coral that came, was cut or left."""
    return f"systems/{system}/changes/{day.isoformat()}-{coral}-{what}.html"


def calendar_of(system: str | None = None) -> str:
    """The address of the calendar of next tests, of one system or of all."""
    return f"data/systems/{system}/tests.ics" if system else "data/tests.ics"


def month_page(on: date) -> str:
    """The address of what happened in a day's month."""
    return f"journal/{on:%Y-%m}.html"


def year_page(year: int) -> str:
    """The address of what happened in a year."""
    return f"journal/{year:04}.html"


def paper_of(coral: str) -> str:
    """The address of a coral's record of origin on paper."""
    return f"origin/{_name(coral)}.html"


def trade_paper_of(trade: str, ending: str = "html") -> str:
    """The address of the record of origin of a trade, as a sheet to print or as the record itself (json)."""
    return f"origin/trades/{trade}.{ending}"


def relative(here: str, there: str) -> str:
    """The relative link from one page of the site to another, with its fragment."""
    target, hash, fragment = there.partition("#")
    if not target or target == here:
        return f"#{fragment}" if fragment else posixpath.basename(here)
    return posixpath.relpath(target, posixpath.dirname(here) or ".") + hash + fragment


def photo_path(file: str) -> str:
    """A photo as records and texts name it, as a path below the journal."""
    return f"photos/{file.removeprefix('../').removeprefix('photos/')}"
