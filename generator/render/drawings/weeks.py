"""A year of a water, week by week: a band of colour for each quantity, by where its readings stood."""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

_LEFT, _SPAN, _ROW, _HEAD, _FOOT = 24.0, 76.0, 20, 26, 22


@dataclass(frozen=True, slots=True)
class Band:
    """One quantity: its name, and of each week (from 0) in which it was tested where it stood, and the words."""

    name: str
    weeks: Sequence[tuple[int, str, str]]


@dataclass(frozen=True, slots=True)
class Water:
    """A system's name and its quantities."""

    name: str
    bands: Sequence[Band]


def draw(id: str, title: str, said: str, waters: Sequence[Water], months: Sequence[tuple[float, str]]) -> str:
    """All of it as one SVG element; `months` are shares of the year with their names.

    What is below its band fills the lower half of its week, what is above the upper half: never colour alone.
    """
    wide, top, parts = _SPAN / 53, 0, list[str]()
    for water in waters:
        top += _HEAD
        parts.append(f'<text class="w-water" x="0" y="{top - 8}">{escape(water.name)}</text>')
        for band in water.bands:
            parts.append(f'<text x="0" y="{top + 14}">{escape(band.name)}</text>')
            parts.append(f'<rect class="w-none" x="{_LEFT}%" y="{top + 2}" width="{_SPAN}%" height="{_ROW - 4}"/>')
            for week, standing, words in band.weeks:
                y = top + 2 + (8 if standing == "low" else 0)
                high = _ROW - 4 if standing == "within" else 8
                place = f'x="{_LEFT + week * wide:.2f}%" y="{y}" width="{wide:.2f}%" height="{high}"'
                parts.append(f'<rect class="w-{standing}" {place}><title>{escape(words)}</title></rect>')
            top += _ROW
    for share, name in months:
        parts.append(f'<text x="{_LEFT + share * _SPAN:.1f}%" y="{top + 15}">{escape(name)}</text>')
    named = escape(id)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="weeks" role="img" width="100%" height="{top + _FOOT}"'
        f' aria-labelledby="{named}-title {named}-said"><title id="{named}-title">{escape(title)}</title>'
        f'<desc id="{named}-said">{escape(said)}</desc>{"".join(parts)}</svg>'
    )
