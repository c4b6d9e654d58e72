"""Reads the tables of published values and holds a value against one."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import yaml

HOW_KNOWN = ("read", "computed", "from memory", "from memory, reproduced")


@dataclass(frozen=True)
class Check:
    """One published value: `tolerance` is absolute (`within`) or relative (`within_share`)."""

    what: str
    inputs: dict[str, Any]
    expected: float
    within: float
    source: str
    known: str

    def holds(self, value: float) -> None:
        """Fail, naming the source, unless the value is as near as the table asks."""
        assert float(value) == pytest.approx(self.expected, rel=0, abs=self.within), f"{self.source} ({self.known})"


def checks(name: str) -> list[Any]:
    """The checks of ``tests/published/<name>.yaml`` as pytest parameters."""
    rows = yaml.safe_load((Path(__file__).parent / f"{name}.yaml").read_text(encoding="utf-8"))
    return [pytest.param(check, id=_id(check)) for check in map(_check, rows)]


def _check(row: dict[str, Any]) -> Check:
    given = dict(row)
    share = given.pop("within_share", None)
    # YAML 1.1 takes 5e-07, which has no point, for text.
    within = float(given.pop("within")) if share is None else abs(given["expected"]) * float(share)
    known = given.pop("known")
    assert known in HOW_KNOWN, known
    return Check(within=within, known=known, inputs=given.pop("inputs", {}), **given)


def _id(check: Check) -> str:
    return f"{check.what} {' '.join(f'{key}={value}' for key, value in check.inputs.items() if key not in 'xy')}"
