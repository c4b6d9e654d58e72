"""The data files of a system's dosing, next tests and large changes. Their columns are in `downloads`."""

from collections.abc import Iterator, Sequence

from generator.reckon.arrivals.changes import CoralChange
from generator.reckon.arrivals.observed import Observed
from generator.reckon.dosing.plan import Plan
from generator.reckon.finding import Finding
from generator.reckon.water.findings import NextTest
from generator.render.downloads import CHANGES, DOSING, NEXT_TESTS, Cell, csv_of
from generator.render.pages.desk import Desk
from generator.units.quantity import Estimate

Rows = Iterator[Sequence[Cell]]


def dosing_downloads(desk: Desk) -> dict[str, bytes]:
    """The three files of every system that is shown, by their address."""
    files = {}
    for id in desk.view.systems:
        if id in desk.findings:
            changes = (change for change in desk.found.changes.get(id, ()) if change.coral in desk.view.corals)
            tests = desk.findings[id].next_tests.values()
            files[NEXT_TESTS.address.format(system=id)] = csv_of(NEXT_TESTS, (_test(desk, test) for test in tests))
            files[CHANGES.address.format(system=id)] = csv_of(CHANGES, (_change(desk, each) for each in changes))
        if id in desk.found.dosing:
            files[DOSING.address.format(system=id)] = csv_of(DOSING, _doses(desk.found.dosing[id].plan))
    return files


def _test(desk: Desk, test: NextTest) -> Sequence[Cell]:
    return test.at.astimezone(desk.display.zone).isoformat(), test.kind, test.why, test.odds


def _doses(plan: object) -> Rows:
    if not isinstance(plan, Plan):
        return
    for number, phase in enumerate(plan.phases, 1):
        for dose in phase.doses:
            rate = dose.rate.estimate
            days = None if phase.days is None else float(phase.days)
            yield float(number), days, dose.supply, dose.how, dose.now, rate.value, rate.low, rate.high, "L/day"


def _change(desk: Desk, change: CoralChange) -> Sequence[Cell]:
    """The predicted and the measured size of one change, in the unit shown."""
    seen = change.observed if isinstance(change.observed, Observed) else None
    measured = _ends(desk, seen.rise.estimate) if seen and isinstance(seen.rise, Finding) else (None, None, None)
    foreseen = _ends(desk, change.step) if change.step else (None, None, None)
    matters = desk.display.change("alkalinity", seen.matters) if seen else None
    at, unit = change.at.astimezone(desk.display.zone).isoformat(), f"{desk.display.unit('alkalinity')}/day"
    return at, change.coral, change.what, *foreseen, *measured, matters, seen.chance if seen else None, unit


def _ends(desk: Desk, found: Estimate) -> tuple[float, float, float]:
    shown = desk.display.estimate("alkalinity", found, of_level=False)
    return shown.value, shown.low, shown.high
