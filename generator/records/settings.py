"""journal.yaml: who keeps the journal, where, and what a bare number means."""

import re
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, Annotated, Any, Literal
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from msgspec import field

from generator.records.fields import (
    Count,
    Duration,
    Flag,
    Id,
    Length,
    Mass,
    Name,
    Side,
    Text,
    Volume,
    WrittenAs,
    line,
    mistake,
)
from generator.records.source import FromFile, Source
from generator.units.kinds import ANY_OTHER_NAME, KINDS, WATER_KINDS, kind_named

if TYPE_CHECKING:
    from pydantic_core import InitErrorDetails

# Files beside the zones: they name no place, or have another time on another computer.
NO_ZONE = re.compile(r"localtime|posixrules|Factory|(?:posix|right)/.*")


def zone_named(name: str) -> ZoneInfo:
    """The time zone of a name. Raises `ValueError` if none has this name on every computer."""
    try:
        if NO_ZONE.fullmatch(name):
            raise ValueError
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise ValueError(f"unknown time zone '{name}'") from None


def _zone(value: Any) -> ZoneInfo:
    try:
        return zone_named(str(value))
    except ValueError as unknown:
        raise mistake("time-zone", str(unknown), "write a name such as Europe/Lisbon") from None


Zone = Annotated[ZoneInfo, WrittenAs(_zone, {"type": "string", "examples": ["Europe/Lisbon"]})]


def _units(value: Any) -> dict[str, str]:
    if not isinstance(value, dict):
        raise mistake("units", "units must map a quantity to its unit", "write for example alkalinity: dKH")
    found, wrongs = {}, list["InitErrorDetails"]()
    for kind_id, name in value.items():
        kind = KINDS.get(kind_named(kind_id) or kind_id)
        unit = kind.unit(str(name)) if kind else None
        if kind and unit:
            found[kind.id] = unit.symbol
            continue
        if kind is None:
            error = mistake("units", f"unknown quantity '{kind_id}'", f"write one of {', '.join(KINDS)}")
        else:
            allowed = ", ".join(unit.symbol for unit in kind.units)
            error = mistake("units", f"'{name}' is not a unit of {kind_id}", f"write one of {allowed}")
        wrongs.append({"type": error, "loc": (kind_id,), "input": name})
    if wrongs:
        from pydantic_core import ValidationError

        raise ValidationError.from_exception_data("units", wrongs)
    return found


Units = Annotated[
    dict[str, str],
    WrittenAs(
        _units,
        {
            "type": "object",
            "properties": {
                k.id: {"enum": [name for u in k.units for name in (u.symbol, *u.aliases)]} for k in KINDS.values()
            },
            "patternProperties": {
                ANY_OTHER_NAME: {
                    "enum": sorted(
                        {n for kind in WATER_KINDS for u in KINDS[kind].units for n in (u.symbol, *u.aliases)}
                    )
                }
            },
            "additionalProperties": False,
        },
    ),
]


# A public address: letters of any language in its host, in its path those that an address may have, and no way up.
_ADDRESS = re.compile(
    r"https://(?!.*/\.\.?(/|$))\w[\w-]*(\.\w[\w-]*)*(:(\d{1,4}|[1-5]\d{4}|6[0-4]\d{3}))?"
    r"(/([A-Za-z0-9._~!$&'()*+,;=:@/-]|%[0-9A-Fa-f]{2})*)?"
)


def _address(value: Any) -> str:
    if isinstance(value, str) and _ADDRESS.fullmatch(value.strip()):
        return value.strip()
    raise mistake("address", f"'{value}' is not an address", "write for example https://example.org/reef/")


Address = Annotated[str, WrittenAs(_address, {"type": "string", "format": "uri", "pattern": "^https://"})]


_MAIL = re.compile(r"[A-Za-z0-9._+-]+@[A-Za-z0-9-]+(\.[A-Za-z0-9-]+)+")


def _contact(value: Any) -> str:
    text = line(value)
    looks = " " not in text and ("://" in text or "@" in text)
    if looks and not way_to(text):
        raise mistake("address", f"'{text}' is not an address", "write for example ines@reef.example, or https://…")
    return text


Contact = Annotated[str, WrittenAs(_contact, {"type": "string", "minLength": 1})]


def way_to(contact: str) -> str:
    """The address that a contact leads to; "" for words."""
    return f"mailto:{contact}" if _MAIL.fullmatch(contact) else contact if _ADDRESS.fullmatch(contact) else ""


# The newest form of the files. A journal that names none has the first; what has changed since is in read/formats.py.
FORMAT = 2


def _format(value: Any) -> int:
    text = str(value).strip()
    if not re.fullmatch(r"[1-9]\d{0,8}", text, re.ASCII):
        raise mistake("format", f"'{text}' is not a format of journals", f"write {FORMAT}")
    if int(text) > FORMAT:
        wrong = f"the journal has format {text}, and this version of Corallite reads formats 1 to {FORMAT}"
        raise mistake("later-format", wrong, "install a newer version of Corallite")
    return int(text)


Format = Annotated[int, WrittenAs(_format, {"type": "integer", "minimum": 1, "maximum": FORMAT})]


def _repository(value: Any) -> str:
    text = value.strip().rstrip("/") if isinstance(value, str) else ""
    if _ADDRESS.fullmatch(text.replace("http://", "https://", 1)):
        return text
    raise mistake("address", f"'{value}' is not an address", "write for example https://forge.example/ines/reef")


RepositoryAddress = Annotated[str, WrittenAs(_repository, {"type": "string", "format": "uri", "pattern": "^https?://"})]
# As much of a branch's name as an address takes as it is.
_BRANCH = re.compile(r"[A-Za-z0-9][\w.-]*(/[\w.-]+)*", re.ASCII)


def _branch(value: Any) -> str:
    if isinstance(value, str) and _BRANCH.fullmatch(value.strip()) and ".." not in value:
        return value.strip()
    raise mistake("branch", f"'{value}' leads nowhere in a repository", "write for example main")


Branch = Annotated[str, WrittenAs(_branch, {"type": "string", "pattern": f"^{_BRANCH.pattern}$", "examples": ["main"]})]


class Repository(FromFile, frozen=True, kw_only=True):
    """Where the journal's files are online, so that the page to write on can open one of them in the forge's editor.

    `folder` is the journal's folder in the repository, if it is not the whole of it. `editor` is the part of
    the editor's address between the repository's and the branch; left out, it follows from the name of the host.
    """

    source: Source
    address: RepositoryAddress
    branch: Branch = "main"
    folder: Branch | None = None
    editor: Literal["edit", "-/edit", "_edit"] | None = None

    @property
    def way(self) -> str:
        """`editor`, or the one that hosts of this name have. From memory of their public addresses."""
        host = self.address.partition("://")[2].partition("/")[0].lower()
        return self.editor or ("-/edit" if "gitlab" in host else "edit" if "github" in host else "_edit")


class Container(FromFile, frozen=True, kw_only=True):
    """A container for transport: its inner size and its own mass."""

    source: Source
    length: Side
    width: Side
    height: Side
    mass: Mass | None = None
    volume: Volume | None = None


# What every build writes itself.
_OURS = (".corallite-site", ".nojekyll", ".")


def _site_path(value: Any) -> str:
    parts = PurePosixPath(str(value)).parts
    if not parts or parts[0] == "/" or ".." in parts or str(value) in _OURS or "\\" in str(value):
        raise mistake("site-path", f"'{value}' leads out of the site", "write for example CNAME or .well-known")
    return str(PurePosixPath(*parts))


SitePath = Annotated[str, WrittenAs(_site_path, {"type": "string", "examples": ["CNAME"]})]


class Publish(FromFile, frozen=True, kw_only=True):
    """What the public site may show, and what others put into it. Everything not named here stays out.

    `offers`: corals that are ready to offer. `containers`: containers for transport, and results of their trips.
    `weeks`: what changed in a week, as a page and in the feed.
    `contact`: the journal's contact, for everybody who is not the keeper.
    `history`: when each record was written and changed, by git; `authors`: and who did it.
    `keep`: files and folders in the site's folder that each build leaves as they are, such as CNAME or .git.
    """

    source: Source
    partner_names: Flag = False
    worth: Flag = False
    log_notes: Flag = False
    region_of_origin: Flag = True
    offers: Flag = False
    containers: Flag = False
    weeks: Flag = False
    contact: Flag = False
    history: Flag = False
    authors: Flag = False
    keep: tuple[SitePath, ...] = ()


class Offers(FromFile, frozen=True, kw_only=True):
    """The rules a coral must meet before it is offered. A rule that is not here takes its usual threshold.

    `corals_left`: how many living corals of its line must stay if it is given whole. `line_safe`: no single
    loss may end the line. `false` turns a rule off.
    """

    source: Source
    out_of_quarantine: Flag | None = None
    well: Flag | None = None
    healed_for: Duration | None = None
    here_for: Duration | None = None
    length: Length | None = None
    corals_left: Count | None = None
    line_safe: Flag | None = None


class Settings(FromFile, frozen=True, kw_only=True):
    """journal.yaml as a whole.

    `format` is the form of all its files, which `corallite tidy` brings to the newest; without it, the first.
    `units` gives the unit of bare numbers and of the pages. `language` is the language of the pages.
    `history: git` puts on each record's page of the keeper's own site when it was written and changed, and who did it.
    `contact` is how to reach the keeper: an e-mail address, an https address, or words.
    `safe_distances` are the keeper's own safe distances by genus, in lower case (galaxea).
    """

    source: Source
    format: Format = 1
    title: Name
    keeper: Name
    time_zone: Zone
    language: Literal["de", "en"] = "en"
    base_url: Address | None = None
    repository: Repository | None = None
    about: Text | None = None
    contact: Contact | None = None
    units: Units = field(default_factory=dict)
    date_order: Literal["year-month-day", "day-month-year", "month-day-year"] = "year-month-day"
    publish: Publish | None = None
    containers: dict[Id, Container] = field(default_factory=dict)
    offers: Offers | None = None
    history: Literal["git", "none"] = "none"
    safe_distances: dict[Id, Length] = field(default_factory=dict)
