"""The true water of one system, moved in closed form.

Everything that flows is constant from one moment to the next (coral and nitrate makers change at
midnight, pumps when they are set), so each quantity obeys dC/dt = gain - loss * C, whose solution
C(t) = C_inf + (C_0 - C_inf) exp(-loss t) is used as it stands: no steps, whatever the gap.
"""

import math
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from msgspec import Struct, field

from tests.simulator.growth import uptake_per_litre
from tests.simulator.plan import Reactor, Solution, SystemPlan

KINDS = ("alkalinity", "calcium", "magnesium", "nitrate", "phosphate", "salinity")
IONS = ("alkalinity", "calcium", "magnesium")
EPOCH = datetime(2000, 1, 1, tzinfo=UTC)
START = {"alkalinity": 2.92, "calcium": 425.0, "magnesium": 1300.0, "nitrate": 6.0, "phosphate": 0.06, "salinity": 35.0}


class Tank(Struct):
    """Levels now (meq/L, mg/L, psu) and the totals of all that came and went since the start.

    `paid`, `taken`, `changed` and `reacted` are in meq or mg: the ledger that must balance.
    `delivery` is the part of a pump's logged dose that really arrives.
    """

    plan: SystemPlan
    litres: float
    levels: dict[str, float] = field(default_factory=dict)
    pumps: dict[str, float] = field(default_factory=dict)
    delivery: dict[str, float] = field(default_factory=dict)
    limewater: float = 0.0
    reactor: Reactor | None = None
    grams_per_day: float = 0.0
    zone: ZoneInfo = ZoneInfo("UTC")
    now: float = 0.0
    started_with: dict[str, float] = field(default_factory=dict)
    paid: dict[str, float] = field(default_factory=lambda: dict.fromkeys(IONS, 0.0))
    taken: dict[str, float] = field(default_factory=lambda: dict.fromkeys(IONS, 0.0))
    changed: dict[str, float] = field(default_factory=lambda: dict.fromkeys(IONS, 0.0))
    reacted: dict[str, float] = field(default_factory=lambda: dict.fromkeys(IONS, 0.0))

    def __post_init__(self) -> None:
        self.levels = START | self.plan.start
        self.started_with = dict(self.levels)

    def solution(self, id: str) -> Solution:
        """The plan's solution of that id."""
        return next(solution for solution in self.plan.solutions if solution.id == id)

    def days(self, local: datetime) -> float:
        """A local time in days since 2000, so that a clock change makes a day of 23 or 25 hours."""
        return (local.replace(tzinfo=self.zone).astimezone(UTC) - EPOCH).total_seconds() / 86400.0

    def run_to(self, local: datetime) -> None:
        """Let everything flow until a local time."""
        moment = self.days(local)
        gap = moment - self.now
        if gap <= 0.0:
            return
        uptake = uptake_per_litre(self.grams_per_day, self.litres)
        inflow = self._inflow()
        flow = self.reactor.flow / self.litres if self.reactor else 0.0
        for kind in IONS:
            comes, goes = inflow[kind], uptake[kind]
            effluent = getattr(self.reactor, kind) * flow if self.reactor else 0.0
            before = self.levels[kind]
            self.levels[kind] = _settle(before, comes - goes + effluent, flow, gap)
            self.paid[kind] += comes * gap * self.litres
            self.taken[kind] += goes * gap * self.litres
            self.reacted[kind] += (
                effluent * gap - flow * _integral(before, effluent + comes - goes, flow, gap)
            ) * self.litres
        for kind in ("nitrate", "phosphate"):
            gain, loss = self.plan.sources[kind], self.plan.sinks[kind]
            self.levels[kind] = _settle(self.levels[kind], gain, loss, gap)
        self.now = moment

    def _inflow(self) -> dict[str, float]:
        """What pumps and limewater pay in, per litre of tank and day."""
        total = dict.fromkeys(IONS, 0.0)
        flows = [(id, rate * self.delivery.get(id, 1.0)) for id, rate in self.pumps.items()]
        if self.plan.limewater and self.limewater:
            flows.append((self.plan.limewater[0], self.limewater))
        for id, rate in flows:
            for kind, amount in self.solution(id).pays().items():
                total[kind] += amount * rate / self.litres
        return total

    def dose(self, solution: str, litres: float) -> None:
        """Pour in an amount of a solution at once."""
        for kind, amount in self.solution(solution).pays().items():
            self.levels[kind] += amount * litres / self.litres
            self.paid[kind] += amount * litres

    def change_water(self, litres: float, salinity: float | None = None) -> None:
        """Replace old water by the plan's mix, or by the same mix made too salty, all its ions with it."""
        fraction = min(1.0, litres / self.litres)
        stretch = salinity / self.plan.mix["salinity"] if salinity else 1.0
        for kind in KINDS:
            new = self.plan.mix.get(kind, 0.0) * stretch
            change = fraction * (new - self.levels[kind])
            self.levels[kind] += change
            if kind in IONS:
                self.changed[kind] += change * self.litres


def _settle(level: float, gain: float, loss: float, gap: float) -> float:
    if loss == 0.0:
        return level + gain * gap
    end = gain / loss
    return end + (level - end) * math.exp(-loss * gap)


def _integral(level: float, gain: float, loss: float, gap: float) -> float:
    """The level summed over the gap, level times days, on the same path."""
    if loss == 0.0:
        return level * gap + gain * gap**2 / 2.0
    end = gain / loss
    return end * gap + (level - end) * -math.expm1(-loss * gap) / loss
