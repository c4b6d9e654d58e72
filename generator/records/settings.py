"""journal.yaml: who keeps the journal, where, and what a bare number means."""

from typing import Annotated, Any, Literal
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import BeforeValidator, Field, ValidationError, WithJsonSchema
from pydantic.dataclasses import dataclass
from pydantic_core import InitErrorDetails

from generator.records.fields import STRICT, Count, Duration, Flag, Id, Length, Mass, Side, Text, Volume, mistake
from generator.records.source import Source
from generator.units.kinds import KINDS


def _zone(value: Any) -> ZoneInfo:
    if isinstance(value, ZoneInfo):
        return value
    try:
        return ZoneInfo(str(value))
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise mistake("time-zone", f"unknown time zone '{value}'", "write a name such as Europe/Lisbon") from None


Zone = Annotated[ZoneInfo, BeforeValidator(_zone), WithJsonSchema({"type": "string", "examples": ["Europe/Lisbon"]})]


def _units(value: Any) -> dict[str, str]:
    if not isinstance(value, dict):
        raise mistake("units", "units must map a quantity to its unit", "write for example alkalinity: dKH")
    found, wrongs = {}, []
    for kind_id, name in value.items():
        kind = KINDS.get(kind_id)
        unit = kind.unit(str(name)) if kind else None
        if kind and unit:
            found[kind_id] = unit.symbol
            continue
        if kind is None:
            error = mistake("units", f"unknown quantity '{kind_id}'", f"write one of {', '.join(KINDS)}")
        else:
            allowed = ", ".join(unit.symbol for unit in kind.units)
            error = mistake("units", f"'{name}' is not a unit of {kind_id}", f"write one of {allowed}")
        wrongs.append(InitErrorDetails(type=error, loc=(kind_id,), input=name))
    if wrongs:
        raise ValidationError.from_exception_data("units", wrongs)
    return found


Units = Annotated[
    dict[str, str],
    BeforeValidator(_units),
    WithJsonSchema(
        {
            "type": "object",
            "properties": {k.id: {"enum": [u.symbol for u in k.units]} for k in KINDS.values()},
            "additionalProperties": False,
        }
    ),
]


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class Container:
    """Something coral travels in: inner measures, and its own mass."""

    source: Source
    length: Side
    width: Side
    height: Side
    mass: Mass | None = None
    volume: Volume | None = None


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class Publish:
    """What the public site may show; everything not named here stays out.

    `offers`: what is ready to offer; `containers`: what coral travels in, and what its trips taught.
    """

    source: Source
    partner_names: Flag = False
    worth: Flag = False
    log_notes: Flag = False
    region_of_origin: Flag = True
    offers: Flag = False
    containers: Flag = False


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class Offers:
    """What a coral must be before it is offered; a rule not written here takes its usual threshold.

    `corals_left` counts the living corals of its line that stay when it is given whole, and `line_safe` asks
    that no one loss would end the line. A rule that is false is not asked.
    """

    source: Source
    out_of_quarantine: Flag | None = None
    well: Flag | None = None
    healed_for: Duration | None = None
    here_for: Duration | None = None
    length: Length | None = None
    corals_left: Count | None = None
    line_safe: Flag | None = None


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class Settings:
    """journal.yaml as a whole.

    `units` gives the unit of bare numbers and of the pages. `language` names a catalogue of words.
    `safe_distances` are the keeper's own by genus, in lower case (galaxea), instead of the usual ones.
    """

    source: Source
    title: Text
    keeper: Text
    time_zone: Zone
    language: Literal["de", "en"] = "en"
    base_url: Text | None = None
    about: Text | None = None
    units: Units = Field(default_factory=dict)
    date_order: Literal["year-month-day", "day-month-year", "month-day-year"] = "year-month-day"
    publish: Publish | None = None
    containers: dict[Id, Container] = Field(default_factory=dict)
    offers: Offers | None = None
    safe_distances: dict[Id, Length] = Field(default_factory=dict)
