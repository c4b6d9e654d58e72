"""Published values that the tests hold calculations against, as the methods page shows them and the tests read them.

Each file of ``published/`` is a chapter: its name, the method that rests on it, and checks. How a value is known:

- read: seen in the source itself, or in a public file that quotes it
- computed: from the definition, or by the library named; not copied from us
- from memory: a real source that was not opened
- from memory, reproduced: remembered, and an independent computation gave the same
"""

from dataclasses import field
from functools import cache
from typing import Any, Literal

from pydantic.dataclasses import dataclass

from generator.nature.table import STRICT, Texts, table

CHAPTERS = (
    "seawater",
    "composition",
    "equilibrium",
    "carbonate",
    "gum",
    "conversions",
    "molar_masses",
    "stoichiometry",
    "robust_slope",
    "growth",
    "calcification",
    "kaplan_meier",
    "travel",
)


Known = Literal["read", "computed", "from memory", "from memory, reproduced"]


@dataclass(frozen=True, slots=True, config=STRICT)
class Check:
    """One published value: what it is of, from what, and how near a calculation must come, as it is or as a share."""

    what: str
    expected: float
    source: str
    known: Known
    within: float | None = None
    within_share: float | None = None
    inputs: dict[str, Any] = field(default_factory=dict)

    @property
    def tolerance(self) -> float:
        """How near a calculation must come, in the value's own unit."""
        return self.within if self.within is not None else abs(self.expected) * (self.within_share or 0.0)


@dataclass(frozen=True, slots=True, config=STRICT)
class Chapter:
    """Published values of one subject, and the method that the reader is led to."""

    name: Texts
    method: str
    checks: tuple[Check, ...]


@cache
def chapter(name: str) -> Chapter:
    """A chapter of `CHAPTERS`. Raises `TableError` if its file is wrong."""
    return table(f"published/{name}", Chapter)
