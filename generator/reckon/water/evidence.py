"""Everything the estimate of one quantity rests on."""

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from generator.reckon.estimate.mixture import Array
from generator.reckon.water.account import Account, DemandStep
from generator.reckon.water.deliveries import Deliveries
from generator.reckon.water.findings import LedgerLine
from generator.reckon.water.ledger import in_days
from generator.reckon.water.process import Series
from generator.records.log import Reading
from generator.records.source import Source

# What a kit strays by where its keeper declared nothing, by kind in its canonical unit. Common practice, no source;
# only where learning starts.
USUAL_KIT_ERROR = {"alkalinity": 0.054, "calcium": 10.0, "magnesium": 30.0}
# How far one kit reads from another, or from the truth, beside each one's own scatter (one standard deviation): some
# 0.3 dKH, 10 mg/L, 40 mg/L. Common practice, no source.
USUAL_OFFSET = {"alkalinity": 0.107, "calcium": 10.0, "magnesium": 40.0}
# The least demand a day worth thinking of. Common practice, no source.
LEAST_DEMAND = {"alkalinity": 0.1, "calcium": 2.0, "magnesium": 1.0}


@dataclass(frozen=True, slots=True)
class Evidence:
    """Everything the estimate of one quantity rests on, readings in order of time.

    `deeds` are the log's lines that pay nothing in and yet count: water changes, and events that opened the uptake.
    `kit_names` are the kits it was read with, in order of their first reading. `wider` is how many times as wide as
    calculated ranges are, and from when on (days).
    """

    kind: str
    readings: tuple[Reading, ...]
    values: Array
    errors: Array | None
    account: Account
    lines: tuple[LedgerLine, ...]
    demand_steps: tuple[DemandStep, ...]
    deliveries: Deliveries
    deeds: tuple[tuple[datetime, Source], ...] = ()
    kit_names: tuple[str, ...] = ()
    wider: tuple[float, float] = (1.0, np.inf)

    @property
    def times(self) -> Array:
        """Times of the readings, in days."""
        return np.array([in_days(reading.at) for reading in self.readings])

    def pumped(self, solution: str) -> list[Source]:
        """The lines by which a pump gives a solution, in order of time; none where it brings none of the quantity."""
        return [line.source for line in self.lines if line.solution == solution and line.cause == "pump"]

    def times_as_wide(self, at: Array | float) -> Array:
        """How many times as wide as calculated ranges are at some times (days)."""
        times, since = self.wider
        return np.where(np.asarray(at) >= since, times, 1.0)

    def series(self, errors: Array | float | None = None) -> Series:
        """The readings with their errors, or with others."""
        own = self.errors if errors is None else errors
        usual = USUAL_KIT_ERROR[self.kind] if own is None else own
        kits = np.array([self.kit_names.index(reading.kit) for reading in self.readings if reading.kit], dtype=np.intp)
        others = (USUAL_OFFSET[self.kind],) * (len(self.kit_names) - 1)
        spread = np.broadcast_to(usual, len(self.readings))
        return Series(self.times, self.values, spread, kits if others else None, others)
