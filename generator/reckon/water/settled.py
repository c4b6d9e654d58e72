"""The ledger lines that only the estimate can write: what water changes and the coral did to the level."""

from collections.abc import Iterator

import numpy as np

from generator.reckon.water.estimate import Track
from generator.reckon.water.findings import LedgerLine
from generator.reckon.water.ledger import in_days, moment_of
from generator.reckon.water.uptake import Evidence
from generator.records.log import SystemLog
from generator.units.kinds import KINDS


def settled(log: SystemLog, evidence: Evidence, found: Track) -> Iterator[LedgerLine]:
    """Water changes against the level the track has there, and its uptake from reading to reading."""
    unit = KINDS[evidence.kind].canonical
    levels = found.averaged.mean[:, 0]
    for change, renewal in zip(log.water_changes, evidence.account.renewals, strict=True):
        at = in_days(change.at)
        if found.moments[0] <= at <= found.moments[-1]:
            difference = renewal.fraction * (renewal.level - float(np.interp(at, found.moments, levels)))
            yield LedgerLine(change.at, change.at, evidence.kind, difference, unit, "water-change", change.source)
    rates = found.averaged.mean[:, 1]
    for index in range(1, len(evidence.readings)):
        start, end = float(found.moments[index - 1]), float(found.moments[index])
        if end > start:
            taken = float(rates[index - 1] + rates[index]) / 2.0 * (end - start)
            source = evidence.readings[index].source
            yield LedgerLine(moment_of(start), moment_of(end), evidence.kind, -taken, unit, "uptake", source)
