"""How each number is calculated, in words, for the reader who asks 'why this number'.

The texts are in ``methods/*.yaml``, all languages side by side, with the sources and the assumptions.
"""

import re
from dataclasses import dataclass as plain

from pydantic.dataclasses import dataclass

from generator.nature.constants import BY_ID
from generator.nature.table import STRICT, table


@dataclass(frozen=True, slots=True, config=STRICT)
class _Text:
    name: str
    paragraph: str
    assumptions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, config=STRICT)
class _Row:
    texts: dict[str, _Text]
    sources: tuple[str, ...] = ()


@plain(frozen=True, slots=True)
class Method:
    """One method in one language: the `id` that its findings carry, a paragraph, its assumptions and sources."""

    id: str
    name: str
    paragraph: str
    assumptions: tuple[str, ...]
    sources: tuple[str, ...]


_ROOMS = ("water", "growth", "arrivals", "dosing", "lineage", "trade")
_ROWS = {id: row for room in _ROOMS for id, row in table(f"methods/{room}", dict[str, _Row]).items()}
# Their ids, in the order of the methods page.
METHODS = tuple(_ROWS)


# A number in a text: the id of a constant, one of its ends, and whether it is told in per cent.
_NUMBER = re.compile(r"\{([a-z0-9-]+)(?:\.(low|high|standard))?(%?)\}")


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
