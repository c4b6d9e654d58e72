"""All coral of a journal, day by day: who lives where, how much they lay down, what they weigh.

Arrays over the plans, one place a coral, so that a thousand corals for ten years take a second.
"""

import math
from datetime import date

import numpy as np

from tests.simulator.growth import FORMS, MASS_EXPONENT
from tests.simulator.plan import CoralPlan

VIGOUR_MEMORY = 30.0  # days after which a good or bad spell of a whole system is forgotten
VIGOUR_SPREAD = 0.05
SEASON = 0.04
UNSETTLED = 0.65  # the part of calcification a newcomer from elsewhere lacks on its first day
NEVER = date.max.toordinal()


class Reef:
    """Masses (g, dry) of all planned corals; zero before a coral arrives."""

    def __init__(self, plans: tuple[CoralPlan, ...], systems: tuple[str, ...], rng: np.random.Generator) -> None:
        self.plans = plans
        self.rng = rng
        self.systems = {id: place for place, id in enumerate(systems)}
        self.mass = np.zeros(len(plans))
        self.where = np.array([self.systems[plan.system] for plan in plans], dtype=int)
        self.spells = np.zeros(len(systems))
        self._places = {plan.id: place for place, plan in enumerate(plans)}
        self._rate = np.array([FORMS[plan.form].rate * plan.vigour for plan in plans])
        self._arrives = np.array([plan.arrives.toordinal() for plan in plans], dtype=int)
        self._leaves = np.array([plan.leaves.toordinal() if plan.leaves else NEVER for plan in plans], dtype=int)
        self._most = np.array([plan.most for plan in plans])
        self._first_day = np.array([plan.first_day for plan in plans])
        self._settles = np.array([plan.settles for plan in plans])
        self._lacks = np.array([0.0 if plan.how == "cutting" else UNSETTLED for plan in plans])
        self._moves: dict[int, list[tuple[int, int]]] = {}
        for place, plan in enumerate(plans):
            for day, system in plan.moves:
                self._moves.setdefault(day.toordinal(), []).append((place, self.systems[system]))

    def begin(self, day: date, *, first: bool = False) -> list[CoralPlan]:
        """Take in who arrives on a day (on the first day: or before), cut parents, move who moves."""
        ordinal = day.toordinal()
        arrived = self._arrives <= ordinal if first else self._arrives == ordinal
        came = []
        for place in np.flatnonzero(arrived):
            plan = self.plans[place]
            self.mass[place] = plan.mass
            parent = self._places.get(plan.parent or "")
            if parent is not None and not first and plan.how == "cutting":
                # The saw and the broken tips take a tenth more than the piece; no parent loses over half.
                self.mass[parent] = max(self.mass[parent] * 0.5, self.mass[parent] - 1.1 * plan.mass)
            came.append(plan)
        for place, system in self._moves.get(ordinal, ()):
            self.where[place] = system
        fade = math.exp(-1.0 / VIGOUR_MEMORY)
        kick = VIGOUR_SPREAD * math.sqrt(1.0 - fade**2)
        self.spells = self.spells * fade + self.rng.normal(0.0, kick, len(self.spells))
        return came

    def lay_down(self, day: date) -> np.ndarray:
        """CaCO3 (g) each coral lays down on a day; zero for those not here. The masses grow by it."""
        ordinal = day.toordinal()
        here = (self._arrives <= ordinal) & (self._leaves > ordinal)
        season = 1.0 + SEASON * math.cos(2.0 * math.pi * (day.timetuple().tm_yday - 215) / 365.25)
        settled = 1.0 - self._lacks * np.exp(-np.maximum(ordinal - self._arrives, 0) / self._settles)
        common = season * np.exp(self.spells[self.where])
        there = np.where(self._arrives == ordinal, self._first_day, 1.0)
        grams = np.where(here, self._rate * self.mass**MASS_EXPONENT * settled * common * there, 0.0)
        self.mass += grams
        self.mass = np.where(self.mass > self._most, self.mass * 2.0 / 3.0, self.mass)
        return grams

    def of_systems(self, grams: np.ndarray) -> np.ndarray:
        """The grams summed by system."""
        return np.bincount(self.where, weights=grams, minlength=len(self.systems))
