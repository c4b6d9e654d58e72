"""The shapes of what is found about a water's health. All values are in the quantity's canonical unit."""

from dataclasses import dataclass
from datetime import datetime

from generator.reckon.finding import Answer


@dataclass(frozen=True, slots=True)
class SaltStanding:
    """One salt as last read, brought to S = 35: when, how much, and its ratio to what the sea has."""

    kind: str
    at: datetime
    normalised: Answer
    ratio: Answer


@dataclass(frozen=True, slots=True)
class SaltBalance:
    """The salts beside the sea's, and what they say together of the salinity reading.

    `factor` is what all of them share (× sea). `together`: they agree on it, and it is not 1; then it is
    the salinity reading that strays, by `salinity_error` (psu; positive: there is more salt than was read).
    """

    salts: tuple[SaltStanding, ...]
    factor: Answer
    salinity_error: Answer
    together: bool


@dataclass(frozen=True, slots=True)
class Nutrients:
    """Nitrate and phosphate read about together, in µmol/L, and nitrogen per phosphorus in mol/mol.

    Where one of them is below what the kit can see, there is no `ratio`, but it is `at_least` or `at_most`
    so much. Their changes are among the water's trends.
    """

    nitrate: Answer
    phosphate: Answer
    ratio: Answer
    at_least: float | None = None
    at_most: float | None = None


@dataclass(frozen=True, slots=True)
class TemperatureSwing:
    """How far temperature went up and down in the last week, °C: within any 24 hours, and in all.

    `band` is the width of the band it should stay in; None without one.
    """

    day: Answer
    week: Answer
    band: float | None


@dataclass(frozen=True, slots=True)
class WaterHealth:
    """What the readings say of the water together that none says alone."""

    saturation: Answer
    salts: SaltBalance
    nutrients: Nutrients
    temperature: TemperatureSwing
