"""systems/<id>.yaml: one body of water and all that shares it."""

import re
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, WithJsonSchema
from pydantic.dataclasses import dataclass

from generator.records.fields import (
    PH,
    STRICT,
    Alkalinity,
    Ammonium,
    Boron,
    Calcium,
    Day,
    Duration,
    Id,
    Length,
    Light,
    Magnesium,
    Name,
    Nitrate,
    Nitrite,
    Phosphate,
    Potassium,
    Rate,
    Salinity,
    Side,
    Silicate,
    Strength,
    Strontium,
    Temperature,
    Text,
    Times,
    Volume,
    VolumeSpread,
    mistake,
)
from generator.records.source import Source
from generator.units.quantity import Quantity

_PER_CENT = re.compile(r"(\d{1,2}(?:\.\d+)?) ?%")


def _per_cent(value: Any) -> float:
    if isinstance(value, float):
        return value
    match = _PER_CENT.fullmatch(value.strip()) if isinstance(value, str) else None
    if match is None:
        raise mistake("per-cent", f"'{value}' is not a number of per cent below 100", "write for example 3 %")
    return float(match[1]) / 100.0


# A share, written in per cent.
Share = Annotated[
    float,
    BeforeValidator(_per_cent),
    WithJsonSchema({"type": "string", "pattern": f"^{_PER_CENT.pattern}$", "description": "a share in per cent: 3 %"}),
]


Flow = Literal["weak", "moderate", "strong"]


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class Water:
    """The water volume the system really holds, and its standard uncertainty."""

    source: Source
    volume: Volume
    uncertainty: VolumeSpread


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class Part:
    """A tank of the system: the display, a sump, a raceway."""

    source: Source
    name: Name
    volume: Volume | None = None
    length: Side | None = None
    width: Side | None = None
    height: Side | None = None


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class Levels:
    """Values by quantity: readings, a salt mix, or one end of the bands."""

    source: Source
    alkalinity: Alkalinity | None = None
    calcium: Calcium | None = None
    magnesium: Magnesium | None = None
    potassium: Potassium | None = None
    strontium: Strontium | None = None
    boron: Boron | None = None
    nitrate: Nitrate | None = None
    nitrite: Nitrite | None = None
    ammonium: Ammonium | None = None
    phosphate: Phosphate | None = None
    silicate: Silicate | None = None
    salinity: Salinity | None = None
    temperature: Temperature | None = None
    ph: PH | None = None

    def of(self, kind: str) -> Quantity | None:
        """The value given for a quantity, if any."""
        value: Quantity | None = getattr(self, kind)
        return value


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class Kit:
    """A test kit or instrument. `precision` is the standard deviation of repeat tests on the same water.

    A reading that names no kit was made with the first kit listed for its quantity. If no kit lists the
    quantity, its error is estimated from the readings.
    """

    source: Source
    name: Name | None = None
    precision: Levels


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class Solution:
    """A solution to dose: a compound in g/L, or the declared strength of a litre.

    `stock` is how much its full container holds.
    `strength_error` is how far the strength of a batch differs, `pump_error` how far its pump differs from the set
    rate (one standard uncertainty each).
    """

    source: Source
    compound: Text | None = None
    strength: Strength | None = None
    declared: Levels | None = None
    stock: Volume | None = None
    strength_error: Share | None = None
    pump_error: Share | None = None
    note: Text | None = None


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class Place:
    """Where corals can be placed, seen from above: corner x, y from the front left, width and depth."""

    source: Source
    part: Text | None = None
    x: Length
    y: Length
    width: Side
    depth: Side
    height: Length | None = None
    light: Light | None = None
    light_to: Light | None = None
    flow: Flow | None = None


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class LikelyRanges:
    """How many times as wide as calculated the ranges of what is taken up are, by quantity, from a day on."""

    source: Source
    since: Day
    alkalinity: Times | None = None
    calcium: Times | None = None
    magnesium: Times | None = None

    def of(self, kind: str) -> float:
        """By how much those of one quantity are wider."""
        return getattr(self, kind, None) or 1.0


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class System:
    """systems/<id>.yaml.

    `smallest_change` is the smallest change of daily uptake worth a report, by quantity. `likely_ranges` corrects how
    wide its ranges are, as its track record advises.
    """

    source: Source
    id: Id
    name: Name
    water: Water
    started: Day | None = None
    about: Text | None = None
    parts: tuple[Part, ...] = ()
    low: Levels
    high: Levels
    target: Levels | None = None
    smallest_change: Levels | None = None
    likely_ranges: LikelyRanges | None = None
    kits: dict[Id, Kit] = Field(default_factory=dict)
    solutions: dict[Id, Solution] = Field(default_factory=dict)
    mixes: dict[Id, Levels] = Field(default_factory=dict)
    places: dict[Id, Place] = Field(default_factory=dict)
    photoperiod: Duration | None = None
    evaporation: Rate | None = None
    audience: Literal["public", "partners", "own"] = "public"
