"""Holds calculations against the published values of generator/nature/published/."""

from typing import Any

import pytest

from generator.nature.methods import Pinned, chapter


def holds(check: Pinned, value: float) -> None:
    """Fail, naming the source, unless the value is as near as the table asks."""
    assert float(value) == pytest.approx(check.expected, rel=0, abs=check.tolerance), f"{check.source} ({check.known})"


def checks(name: str) -> list[Any]:
    """The checks of a chapter as pytest parameters."""
    return [pytest.param(check, id=_id(check)) for check in chapter(name).checks]


def _id(check: Pinned) -> str:
    return f"{check.what} {' '.join(f'{key}={value}' for key, value in check.inputs.items() if key not in 'xy')}"
