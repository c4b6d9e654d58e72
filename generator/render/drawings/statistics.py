"""Counts as pictures: who survived, how often predictions came about, and a year of a water week by week."""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from markupsafe import Markup

from generator.render.drawings.timeline import svg

_LEFT, _SPAN = 9.0, 88.0
_HEIGHT, _TOP, _FOOT = 150, 12, 44
_THIN = 'fill="none" stroke="currentColor" vector-effect="non-scaling-stroke"'


def draw_survival(
    id: str,
    title: str,
    said: str,
    last: float,
    steps: Sequence[tuple[float, float, float, float]],
    ticks: Sequence[tuple[float, str, str]],
) -> Markup:
    """How many are left after so many days: a stepped curve, its interval, and how many are still watched.

    `steps`: from each day on (the first is 0) the share left, low and high in per cent, until the `last` day. `ticks`
    are days with how many were still watched then, in words.
    """

    def x(at: float) -> float:
        return round(1000 * at / last, 1)

    ends = [*(step[0] for step in steps[1:]), last]
    line = f"M0 {_y(100)}" + "".join(f"V{_y(left)}H{x(end)}" for (_, left, _, _), end in zip(steps, ends, strict=True))
    there = "".join(
        f"L{x(at)} {_y(high)}L{x(end)} {_y(high)}" for (at, _, _, high), end in zip(steps, ends, strict=True)
    )
    back = "".join(
        f"L{x(end)} {_y(low)}L{x(at)} {_y(low)}"
        for (at, _, low, _), end in reversed(list(zip(steps, ends, strict=True)))
    )
    grid = "".join(f"M0 {_y(share)}H1000" for share in (0, 25, 50, 75, 100))
    parts = [
        f'<svg x="{_LEFT}%" y="{_TOP}" width="{_SPAN}%" height="{_HEIGHT}" viewBox="0 0 1000 {_HEIGHT}"'
        ' preserveAspectRatio="none" aria-hidden="true">'
        f'<path class="t-level" d="M{there[1:]}{back}Z"/>'
        f'<path class="t-grid" {_THIN} d="{grid}"/><path class="t-level-line" {_THIN} d="{line}"/></svg>'
    ]
    parts += [_text(_LEFT - 0.9, _TOP + _y(share) + 4, "end", f"{share}\u00a0%") for share in (0, 50, 100)]
    bottom = _TOP + _HEIGHT
    for at, day, watched in ticks:
        place = _LEFT + _SPAN * at / last
        parts += [_text(place, bottom + 20, "middle", day), _text(place, bottom + 38, "middle", watched)]
    size = f'width="100%" height="{bottom + _FOOT}"'
    return svg(id, "timeline", size, title, parts, said)


def _text(x: float, y: float, anchor: str, words: str) -> str:
    return f'<text class="t-tick" x="{round(x, 2)}%" y="{round(y, 1)}" text-anchor="{anchor}">{escape(words)}</text>'


def _y(share: float) -> float:
    return round(_HEIGHT * (1 - share / 100), 1)


_SIDE, _EDGE, _SIZE, _BELOW, _RIGHT = 44, 12, 200, 40, 20


def draw_calibration(
    id: str,
    title: str,
    said: str,
    axis: str,
    points: Sequence[tuple[float, float]],
    luck: Sequence[tuple[float, float, float]],
) -> Markup:
    """For each stated chance the share found, both in per cent; on the diagonal ranges are as wide as they should be.

    `luck`: for each stated chance the low and high share that luck alone gives.
    """
    width, height = _SIDE + _SIZE + _RIGHT, _EDGE + _SIZE + _BELOW
    there = "L".join(f"{_stated(stated)} {_share(high)}" for stated, _, high in luck)
    back = "L".join(f"{_stated(stated)} {_share(low)}" for stated, low, _ in reversed(luck))
    line = "L".join(f"{_stated(stated)} {_share(found)}" for stated, found in points)
    grid = "".join(f"M{_stated(0)} {_share(share)}H{_stated(100)}" for share in (0, 50, 100))
    straight = f"M{_stated(0)} {_share(0)}L{_stated(100)} {_share(100)}"
    parts = [
        f'<path class="t-level" d="M{there}L{back}Z"/>',
        f'<path class="t-grid" fill="none" stroke="currentColor" d="{grid}"/>',
        f'<path class="t-ahead-line" fill="none" stroke="currentColor" d="{straight}"/>',
        f'<path class="t-level-line" fill="none" stroke="currentColor" d="M{line}"/>',
        *(
            f'<circle class="t-level-dot" cx="{_stated(stated)}" cy="{_share(found)}" r="4"/>'
            for stated, found in points
        ),
        *(_label(_SIDE - 6, _share(share) + 4, "end", f"{share}\u00a0%") for share in (0, 50, 100)),
        *(_label(_stated(share), _share(0) + 18, "middle", f"{share}\u00a0%") for share in (0, 50, 100)),
        _label(_stated(50), _share(0) + 35, "middle", axis),
    ]
    size = f'width="{width}" height="{height}" viewBox="0 0 {width} {height}"'
    return svg(id, "timeline calibration", size, title, parts, said)


def _label(x: float, y: float, anchor: str, words: str) -> str:
    return f'<text class="t-tick" x="{x}" y="{y}" text-anchor="{anchor}">{escape(words)}</text>'


def _stated(share: float) -> float:
    return round(_SIDE + _SIZE * share / 100, 1)


def _share(share: float) -> float:
    return round(_EDGE + _SIZE * (1 - share / 100), 1)


_NAMES, _YEAR, _ROW, _ABOVE, _MONTHS = 24.0, 76.0, 20, 26, 22


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


def draw_weeks(id: str, title: str, said: str, waters: Sequence[Water], months: Sequence[tuple[float, str]]) -> Markup:
    """A year as one SVG element; `months` are shares of the year with their names.

    What is below its band fills the lower half of its week, what is above the upper half: never colour alone.
    """
    wide, top, parts = _YEAR / 53, 0, list[str]()
    for water in waters:
        top += _ABOVE
        parts.append(f'<text class="w-water" x="0" y="{top - 8}">{escape(water.name)}</text>')
        for band in water.bands:
            parts.append(f'<text x="0" y="{top + 14}">{escape(band.name)}</text>')
            parts.append(f'<rect class="w-none" x="{_NAMES}%" y="{top + 2}" width="{_YEAR}%" height="{_ROW - 4}"/>')
            for week, standing, words in band.weeks:
                y = top + 2 + (8 if standing == "low" else 0)
                high = _ROW - 4 if standing == "within" else 8
                place = f'x="{_NAMES + week * wide:.2f}%" y="{y}" width="{wide:.2f}%" height="{high}"'
                parts.append(f'<rect class="w-{standing}" {place}><title>{escape(words)}</title></rect>')
            top += _ROW
    for share, name in months:
        parts.append(f'<text x="{_NAMES + share * _YEAR:.1f}%" y="{top + 15}">{escape(name)}</text>')
    return svg(id, "weeks", f'width="100%" height="{top + _MONTHS}"', title, parts, said)
