"""systems/<id>.yaml: one body of water and all that shares it."""

import re
from typing import Annotated, Any, Literal

from msgspec import field

from generator.records import fields
from generator.records.source import FromFile, Source
from generator.units.quantity import Quantity

_PER_CENT = re.compile(r"(\d{1,2}(?:\.\d+)?) ?%")


def _per_cent(value: Any) -> float:
    if isinstance(value, float):
        return value
    match = _PER_CENT.fullmatch(value.strip()) if isinstance(value, str) else None
    if match is None:
        raise fields.mistake("per-cent", f"'{value}' is not a number of per cent below 100", "write for example 3 %")
    return float(match[1]) / 100.0


# A share, written in per cent.
Share = Annotated[
    float,
    fields.WrittenAs(
        _per_cent, {"type": "string", "pattern": f"^{_PER_CENT.pattern}$", "description": "a share in per cent: 3 %"}
    ),
]


Flow = Literal["weak", "moderate", "strong"]


class Water(FromFile, frozen=True, kw_only=True):
    """The water volume the system really holds, and its standard uncertainty."""

    source: Source
    volume: fields.Volume
    uncertainty: fields.VolumeSpread


class Part(FromFile, frozen=True, kw_only=True):
    """A tank of the system: the display, a sump, a raceway."""

    source: Source
    name: fields.Name
    volume: fields.Volume | None = None
    length: fields.Side | None = None
    width: fields.Side | None = None
    height: fields.Side | None = None


class Levels(FromFile, frozen=True, kw_only=True):
    """Values by quantity: readings, a salt mix, or one end of the bands."""

    source: Source
    alkalinity: fields.Alkalinity | None = None
    calcium: fields.Calcium | None = None
    magnesium: fields.Magnesium | None = None
    potassium: fields.Potassium | None = None
    strontium: fields.Strontium | None = None
    boron: fields.Boron | None = None
    nitrate: fields.Nitrate | None = None
    nitrite: fields.Nitrite | None = None
    ammonium: fields.Ammonium | None = None
    phosphate: fields.Phosphate | None = None
    silicate: fields.Silicate | None = None
    salinity: fields.Salinity | None = None
    temperature: fields.Temperature | None = None
    ph: fields.PH | None = None

    def of(self, kind: str) -> Quantity | None:
        """The value given for a quantity, if any."""
        value: Quantity | None = getattr(self, kind)
        return value


class Kit(FromFile, frozen=True, kw_only=True):
    """A test kit or instrument. `precision` is the standard deviation of repeat tests on the same water.

    A reading that names no kit was made with the first kit listed for its quantity. If no kit lists the
    quantity, its error is estimated from the readings.
    """

    source: Source
    name: fields.Name | None = None
    precision: Levels


class Solution(FromFile, frozen=True, kw_only=True):
    """A solution to dose: a compound in g/L, or the declared strength of a litre.

    `stock` is how much its full container holds.
    `strength_error` is how far the strength of a batch differs, `pump_error` how far its pump differs from the set
    rate (one standard uncertainty each).
    """

    source: Source
    compound: fields.Text | None = None
    strength: fields.Strength | None = None
    declared: Levels | None = None
    stock: fields.Volume | None = None
    strength_error: Share | None = None
    pump_error: Share | None = None
    note: fields.Text | None = None


class Place(FromFile, frozen=True, kw_only=True):
    """Where corals can be placed, seen from above: corner x, y from the front left, width and depth.

    `may_touch`: its corals are set close on purpose, as frags on a rack.
    """

    source: Source
    part: fields.Text | None = None
    x: fields.Length
    y: fields.Length
    width: fields.Side
    depth: fields.Side
    height: fields.Length | None = None
    light: fields.Light | None = None
    light_to: fields.Light | None = None
    flow: Flow | None = None
    may_touch: fields.Flag = False


class LikelyRanges(FromFile, frozen=True, kw_only=True):
    """How many times as wide as calculated the ranges of what is taken up are, by quantity, from a day on."""

    source: Source
    since: fields.Day
    alkalinity: fields.Times | None = None
    calcium: fields.Times | None = None
    magnesium: fields.Times | None = None

    def of(self, kind: str) -> float:
        """By how much those of one quantity are wider."""
        return getattr(self, kind, None) or 1.0


class System(FromFile, frozen=True, kw_only=True):
    """systems/<id>.yaml.

    `smallest_change` is the smallest change of daily uptake worth a report, by quantity. `likely_ranges` corrects how
    wide its ranges are, as its track record advises.
    """

    source: Source
    id: fields.Id
    name: fields.Name
    water: Water
    started: fields.Day | None = None
    about: fields.Text | None = None
    parts: tuple[Part, ...] = ()
    low: Levels
    high: Levels
    target: Levels | None = None
    smallest_change: Levels | None = None
    likely_ranges: LikelyRanges | None = None
    kits: dict[fields.Id, Kit] = field(default_factory=dict)
    solutions: dict[fields.Id, Solution] = field(default_factory=dict)
    mixes: dict[fields.Id, Levels] = field(default_factory=dict)
    places: dict[fields.Id, Place] = field(default_factory=dict)
    photoperiod: fields.Duration | None = None
    evaporation: fields.Rate | None = None
    audience: Literal["public", "partners", "own"] = "public"
