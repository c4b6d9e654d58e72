"""One thing for the day's page, its name and its weight."""

from dataclasses import dataclass
from datetime import datetime
from math import floor, log10

from generator.reckon.water.findings import WaterFindings
from generator.records.log import AlertKind
from generator.records.source import Source
from generator.units.quantity import Estimate

# What is at stake, highest first; alkalinity moves fastest and harms soonest (common practice, no source).
STAKES: dict[AlertKind, float] = {
    "out-of-band": 8,
    "leaving-band": 7,
    "uptake-changed": 6,
    "unexplained-shift": 5,
    "temperature-swing": 5,
    "aragonite-saturation": 4,
    "unexplained-uptake": 4,
    "salinity-in-doubt": 4,
    "doubtful-reading": 3,
    "two-explanations": 5.5,
    "phosphate-short": 3,
    "salt-out-of-balance": 2,
    "trend": 2,
    "no-reading": 1,
    "missed-dose": 6.5,
    "growth-fell": 4.5,
    "light-step-up": 4.5,
    "neighbours-touch": 3.5,
    "outgrows-place": 2.5,
    "line-at-risk": 1.5,
    "state-check": 3.2,
    "owed": 2.2,
    "planned": 2.4,
    "predicted": 6.5,
}
WEIGHTS = {"alkalinity": 0.9, "salinity": 0.8, "temperature": 0.7, "calcium": 0.5}

# Sizes in an alert's name go up in steps of about a quarter, so that it does not change with every reading.
# Source: preferred numbers, series R10, rounded; ISO 3:1973 (from memory).
STEPS = (1.0, 1.25, 1.6, 2.0, 2.5, 3.2, 4.0, 5.0, 6.3, 8.0, 10.0)


@dataclass(frozen=True, slots=True)
class Alert:
    """One thing for the day's page. `id` stays while the matter is the same, so that it can be dismissed.

    It reads ``kind/system/quantity/mark``, with a `subject` (a coral, two of them, a line) where there is no
    quantity: the mark says which side, which reading or since when, and after
    a ``~`` about how large the matter is. `magnitude` is that exactly; `began` is when the matter began, where
    its name does not say so. `size` is the number shown, in the unit it carries (the quantity's canonical one,
    or per day); `numbers` fill its words: dates in ISO form, counts, which side of the band.
    """

    id: str
    kind: AlertKind
    system: str
    quantity: str
    stake: float
    size: Estimate | None
    numbers: tuple[tuple[str, str], ...] = ()
    inputs: tuple[Source, ...] = ()
    magnitude: float = 0.0
    began: datetime | None = None
    subject: tuple[str, ...] = ()


def alert(
    kind: AlertKind,
    water: WaterFindings,
    quantity: str,
    mark: str,
    size: Estimate | None,
    inputs: tuple[Source, ...],
    magnitude: float = 0.0,
    began: datetime | None = None,
    **numbers: str,
) -> Alert:
    """An alert of a system, with its name and what is at stake."""
    return Alert(
        id=f"{kind}/{water.system}/{quantity}/{mark}{step_of(magnitude)}",
        kind=kind,
        system=water.system,
        quantity=quantity,
        stake=STAKES[kind] + WEIGHTS.get(quantity, 0.0),
        size=size,
        numbers=tuple(sorted(numbers.items())),
        inputs=inputs,
        magnitude=magnitude,
        began=began,
    )


def step_of(magnitude: float) -> str:
    """The first step that is no smaller, as the end of a mark; nothing for what has no size."""
    if magnitude <= 0.0:
        return ""
    exponent = floor(log10(magnitude))
    step = next((step for step in STEPS if step * 10.0**exponent >= magnitude), STEPS[-1])
    return f"~{step * 10.0**exponent:g}"
