"""How each number is calculated, in words, and the published values that the tests hold calculations against.

The texts are in ``methods/*.yaml``, all languages side by side, with the sources and the assumptions. Each file of
``published/`` is a chapter: its name, the method that rests on it, and checks. How a value is known:

- read: seen in the source itself, or in a public file that quotes it
- computed: from the definition, or by the library named; not copied from us
- from memory: a real source that was not opened
- from memory, reproduced: remembered, and an independent computation gave the same
"""

import re
from functools import cache
from typing import Any, Literal

from msgspec import Struct, field

from generator.nature.constants import BY_ID, Texts, table
from generator.records.source import FromFile


class _Text(FromFile, frozen=True):
    name: str
    paragraph: str
    assumptions: tuple[str, ...] = ()


class _Row(FromFile, frozen=True):
    texts: dict[str, _Text]
    sources: tuple[str, ...] = ()


class Method(Struct, frozen=True):
    """One method in one language: the `id` that its findings carry, a paragraph, its assumptions and sources."""

    id: str
    name: str
    paragraph: str
    assumptions: tuple[str, ...]
    sources: tuple[str, ...]


_OF_ROOMS = {
    room: table(f"methods/{room}", dict[str, _Row])
    for room in ("water", "dosing", "arrivals", "growth", "lineage", "trade")
}
_ROWS = {id: row for rows in _OF_ROOMS.values() for id, row in rows.items()}
# Their ids, and those of each room of calculation in the order of the methods page.
METHODS = tuple(_ROWS)
BY_ROOM = {room: tuple(rows) for room, rows in _OF_ROOMS.items()}


# A number in a text: the id of a constant, one of its ends, and whether it is told in per cent.
_NUMBER = re.compile(r"\{([a-z0-9-]+)(?:\.(low|high|standard))?(%?)\}")


@cache
def method(id: str, language: str) -> Method:
    """A method in a language, with the numbers that calculations use. Raises `KeyError` for an unknown id or language.

    Numbers in texts are whole, or whole per cents, so that no language needs its own decimal sign.
    """
    row = _ROWS[id]
    text = row.texts[language]
    filled = tuple(_NUMBER.sub(_number, each) for each in (text.paragraph, *text.assumptions))
    return Method(id, text.name, filled[0], filled[1:], row.sources)


def _number(found: re.Match[str]) -> str:
    value = getattr(BY_ID[found[1]], found[2] or "value") * (100.0 if found[3] else 1.0)
    return f"{value:.0f}{' %' if found[3] else ''}"


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


HowKnown = Literal["read", "computed", "from memory", "from memory, reproduced"]


class Pinned(FromFile, frozen=True):
    """One published value: what it is of, from what, and how near a calculation must come, as it is or as a share."""

    what: str
    expected: float
    source: str
    known: HowKnown
    within: float | None = None
    within_share: float | None = None
    inputs: dict[str, Any] = field(default_factory=dict)

    @property
    def tolerance(self) -> float:
        """How near a calculation must come, in the value's own unit."""
        return self.within if self.within is not None else abs(self.expected) * (self.within_share or 0.0)


class Chapter(FromFile, frozen=True):
    """Published values of one subject, and the method that the reader is led to."""

    name: Texts
    method: str
    checks: tuple[Pinned, ...]


@cache
def chapter(name: str) -> Chapter:
    """A chapter of `CHAPTERS`. Raises `TableError` if its file is wrong."""
    return table(f"published/{name}", Chapter)
