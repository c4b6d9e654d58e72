"""The ledger lines that only the estimate can write: what water changes and the coral did to the level."""

from collections.abc import Iterator

import numpy as np

from generator.reckon.water.evidence import Evidence
from generator.reckon.water.findings import LedgerLine
from generator.reckon.water.ledger import in_days, moment_of
from generator.reckon.water.state_estimate import StateEstimate
from generator.records.log import SystemLog
from generator.units.kinds import KINDS


def settled(log: SystemLog, evidence: Evidence, found: StateEstimate) -> Iterator[LedgerLine]:
    """Water changes against the level the track has there, and what was taken up from moment to moment.

    What was taken up is what balances the account: all that was paid in, less what the level rose by. After the
    last reading the level is the one forecast, so that the ledger balances up to the track's end.
    """
    unit = KINDS[evidence.kind].canonical
    moments, levels = found.moments, found.middle(found.stands)
    renewed = np.zeros(len(moments))
    for change, renewal in zip(log.water_changes, evidence.account.renewals, strict=True):
        at = in_days(change.at)
        if moments[0] <= at <= moments[-1]:
            difference = renewal.fraction * (renewal.level - float(np.interp(at, moments, levels)))
            renewed[min(int(np.searchsorted(moments, at, "right")), len(moments) - 1)] += difference
            yield LedgerLine(change.at, change.at, evidence.kind, difference, unit, "water-change", change.source)
    if len(evidence.readings) < 2:
        return
    for index in range(1, len(moments)):
        start, end = float(moments[index - 1]), float(moments[index])
        if end > start:
            paid = evidence.account.paid_between(start, end) + float(renewed[index])
            taken = paid - float(levels[index] - levels[index - 1])
            source = evidence.readings[min(index, len(evidence.readings) - 1)].source
            yield LedgerLine(moment_of(start), moment_of(end), evidence.kind, -taken, unit, "uptake", source)
