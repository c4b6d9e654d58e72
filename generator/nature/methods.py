"""How each number is calculated, in words, for the reader who asks 'why this number'.

The texts are in ``methods/*.yaml``, all languages side by side, with the sources and the assumptions.
"""

from dataclasses import dataclass as plain

from pydantic.dataclasses import dataclass

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


def method(id: str, language: str) -> Method:
    """A method in a language. Raises `KeyError` for an unknown id or language."""
    row = _ROWS[id]
    text = row.texts[language]
    return Method(id, text.name, text.paragraph, text.assumptions, row.sources)
