"""What all drawings share, marks that differ by shape so that nothing depends on colour alone, and the timeline."""

from collections.abc import Iterable, Iterator, Sequence
from html import escape
from typing import Literal

from markupsafe import Markup
from msgspec import Struct

from generator.render.base.scale import Tick, number_ticks, time_ticks
from generator.render.base.words import Words

Sign = Literal["diamond", "below", "drop", "flag", "tick", "above"]

# Outlines around their centre, in px: no meaning depends on colour alone.
SIGNS: dict[Sign, str] = {
    "diamond": "M0,-5.5L5.5,0L0,5.5L-5.5,0Z",
    "below": "M-4.5,-3L4.5,-3L0,4.5Z",
    "above": "M-4.5,3L4.5,3L0,-4.5Z",
    "drop": "M0,-5.5C2.6,-2,4.2,0,4.2,1.8C4.2,4,2.3,5.8,0,5.8C-2.3,5.8,-4.2,4,-4.2,1.8C-4.2,0,-2.6,-2,0,-5.5Z",
    "flag": "M-3,6L-3,-6.5L6,-3.2L-1.5,0L-1.5,6Z",
    "tick": "M-1,-5.5L1,-5.5L1,5.5L-1,5.5Z",
}


def svg(id: str, look: str, size: str, title: str, inside: Iterable[str], said: str = "", role: str = "img") -> Markup:
    """A drawing as one element: its class, its attributes of size, its title, and what else is said of it."""
    named = escape(id)
    words = f'<desc id="{named}-said">{escape(said)}</desc>' if said else ""
    labelled = f"{named}-title {named}-said" if said else f"{named}-title"
    return Markup(
        f'<svg xmlns="http://www.w3.org/2000/svg" class="{look}" role="{role}" {size} aria-labelledby="{labelled}">'
        f'<title id="{named}-title">{escape(title)}</title>{words}{"".join(inside)}</svg>'
    )


# Per cent of the width: the axis begins behind the labels and ends before the edge.
_LEFT, _SPAN = 7.5, 91.5
_HEAD, _LANE, _GAP, _FOOT = 24, 27, 6, 24


class Area(Struct, frozen=True):
    """A band between two lines over time, such as an interval."""

    look: str
    points: Sequence[tuple[float, float, float]]


class Curve(Struct, frozen=True):
    """A line over time; None lifts the pen."""

    look: str
    points: Sequence[tuple[float, float] | None]


class Bars(Struct, frozen=True):
    """Upright bars from low to high at moments: error bars."""

    look: str
    points: Sequence[tuple[float, float, float]]


class Dots(Struct, frozen=True):
    """Round marks."""

    points: Sequence[tuple[float, float]]


class Signs(Struct, frozen=True):
    """Marks of another shape, each with words of its own."""

    look: str
    sign: Sign
    points: Sequence[tuple[float, float, str]]


class Region(Struct, frozen=True):
    """A strip between two values over the whole time, such as the band to hold."""

    look: str
    low: float
    high: float


Shape = Area | Curve | Bars | Dots | Signs | Region


class Panel(Struct, frozen=True):
    """One quantity over time: its heading with the unit, its ends, and what is drawn, from the back."""

    heading: str
    height: int
    low: float
    high: float
    shapes: tuple[Shape, ...]


class Lane(Struct, frozen=True):
    """A row of deeds: spans that lasted and signs for what was done at once, each with its words.

    A span may have a look of its own behind its words.
    `also` are signs of other shapes in the same row; their values are px below its line.
    """

    heading: str
    look: str
    sign: Sign
    spans: Sequence[tuple[float, float, str] | tuple[float, float, str, str]]
    moments: Sequence[tuple[float, str]]
    also: tuple[Signs, ...] = ()


class Timeline(Struct, frozen=True):
    """The whole picture. `rules` are moments marked through all panels; `today` is where the record ends.

    A picture that is narrow on paper has fewer ticks.
    """

    id: str
    title: str
    description: str
    start: float
    end: float
    panels: tuple[Panel | Lane, ...]
    rules: Sequence[float] = ()
    today: float | None = None
    most_ticks: int = 7


def draw_timeline(timeline: Timeline, words: Words) -> Markup:
    """The timeline as one SVG element."""
    ticks = time_ticks(words, timeline.start, timeline.end, timeline.most_ticks)
    parts: list[str] = []
    top = 0
    for panel in timeline.panels:
        top += _HEAD if isinstance(panel, Panel) else 0
        height = panel.height if isinstance(panel, Panel) else _LANE + _room_above(panel)
        parts += _panel(words, timeline, panel, top, ticks) if isinstance(panel, Panel) else _lane(timeline, panel, top)
        top += height + (_GAP if isinstance(panel, Panel) else 0)
    parts += (text_at(_percent(timeline, tick.at), top + 14, "middle", "tick", tick.label) for tick in ticks)
    parts[:0] = (stretching(0, top), *_through(timeline, top), "</svg>")
    size = f'width="100%" height="{top + _FOOT}"'
    return svg(timeline.id, "timeline", size, timeline.title, parts, timeline.description)


def _panel(words: Words, timeline: Timeline, panel: Panel, top: int, ticks: Sequence[Tick]) -> Iterator[str]:
    yield text_at(_LEFT, top - 9, "start", "heading", panel.heading)
    marks = number_ticks(words, panel.low, panel.high, max(2, panel.height // 34))
    grid = "".join(f"M0 {_y(panel, tick.at)}H1000" for tick in marks)
    grid += "".join(f"M{_x(timeline, tick.at)} 0v{panel.height}" for tick in ticks)
    yield stretching(top, panel.height)
    regions = [shape for shape in panel.shapes if isinstance(shape, Region)]
    yield from (_region(panel, region) for region in regions)
    yield stroke("grid", grid)
    yield from (_stretched(timeline, panel, shape) for shape in panel.shapes if not isinstance(shape, Region | Signs))
    yield "</svg>"
    yield from (text_at(_LEFT - 0.9, top + _y(panel, tick.at) + 4, "end", "tick", tick.label) for tick in marks)
    for shape in panel.shapes:
        if isinstance(shape, Signs):
            placed = ((at, top + _y(panel, value), words) for at, value, words in shape.points)
            yield _signs(timeline, shape.look, shape.sign, placed)


def _lane(timeline: Timeline, lane: Lane, top: int) -> Iterator[str]:
    yield stretching(top, _LANE + _room_above(lane))
    yield stroke("lane", f"M0 {19 + _room_above(lane)}H1000")
    yield "</svg>"
    yield text_at(_LEFT + 0.4, top + 12, "start", "lane-heading", lane.heading)
    top += _room_above(lane)
    for start, end, words, *look in lane.spans:
        left, right = _percent(timeline, start), _percent(timeline, end)
        yield (
            f'<rect class="{_css(*look or (lane.look,), "span")}" x="{left}%" y="{top + 16.5}"'
            f' width="{max(0.3, round(right - left, 2))}%" height="5" rx="2"><title>{escape(words)}</title></rect>'
        )
    yield _signs(timeline, lane.look, lane.sign, ((at, top + 19, words) for at, words in lane.moments))
    for each in lane.also:
        yield _signs(timeline, each.look, each.sign, ((at, top + 19 + y, words) for at, y, words in each.points))


def _room_above(lane: Lane) -> int:
    """Room for signs above a lane's line, so that none of them is on its name."""
    return 8 if any(y < 0 for each in lane.also for _, y, _ in each.points) else 0


def _css(*looks: str) -> str:
    """Classes of a name space of their own: a stylesheet's word for a part of a page must not reach in here."""
    return " ".join(f"t-{look}" for look in looks)


def stretching(top: int, height: int, left: float = _LEFT, span: float = _SPAN) -> str:
    """What begins a part of a drawing that is stretched to the width: 1000 units from `left`, both in per cent."""
    return (
        f'<svg x="{left}%" y="{top}" width="{span}%" height="{height}" viewBox="0 0 1000 {height}"'
        ' preserveAspectRatio="none" aria-hidden="true">'
    )


def _through(timeline: Timeline, height: int) -> Iterator[str]:
    if timeline.rules:
        yield stroke("rule", "".join(f"M{_x(timeline, at)} 0v{height}" for at in timeline.rules))
    if timeline.today is not None:
        yield stroke("today", f"M{_x(timeline, timeline.today)} 0v{height}")


def _region(panel: Panel, region: Region) -> str:
    top, bottom = _y(panel, min(region.high, panel.high)), _y(panel, max(region.low, panel.low))
    return f'<rect class="{_css(region.look)}" width="1000" y="{top}" height="{round(bottom - top, 1)}"/>'


def _stretched(timeline: Timeline, panel: Panel, shape: Area | Curve | Bars | Dots) -> str:
    match shape:
        case Area():
            there = [f"{_x(timeline, at)} {_y(panel, high):g}" for at, _, high in shape.points]
            back = [f"{_x(timeline, at)} {_y(panel, low):g}" for at, low, _ in reversed(shape.points)]
            return f'<path class="{_css(shape.look)}" d="M{"L".join(there + back)}Z"/>' if there else ""
        case Curve():
            return stroke(shape.look, _pen(timeline, panel, shape.points))
        case Bars():
            ends = ((_x(timeline, at), _y(panel, high), _y(panel, low)) for at, low, high in shape.points)
            return stroke(shape.look, "".join(f"M{x} {high:g}V{low:g}" for x, high, low in ends))
        case Dots():
            # A stroke of no length with round ends is a round dot, however the drawing is stretched.
            dots = "".join(f"M{_x(timeline, at)} {_y(panel, value):g}h0" for at, value in shape.points)
            return stroke("dot", dots)


def _pen(timeline: Timeline, panel: Panel, points: Sequence[tuple[float, float] | None]) -> str:
    path, down = [], False
    for point in points:
        if point is not None:
            path.append(f"{'L' if down else 'M'}{_x(timeline, point[0])} {_y(panel, point[1]):g}")
        down = point is not None
    return "".join(path)


def stroke(look: str, path: str) -> str:
    """A thin line that keeps its width in a part that is stretched."""
    return f'<path class="{_css(look)}" fill="none" d="{path}"/>'


def _signs(timeline: Timeline, look: str, sign: Sign, points: Iterable[tuple[float, float, str]]) -> str:
    """Marks at their days and heights; there are many, so what they share is said once."""
    drawn = "".join(
        f'<svg x="{_percent(timeline, at)}%" y="{round(y, 1)}" overflow="visible">'
        f'<path d="{SIGNS[sign]}"><title>{escape(words)}</title></path></svg>'
        for at, y, words in points
    )
    return f'<g class="{_css(look, "sign")}">{drawn}</g>' if drawn else ""


def text_at(x: float, y: float, anchor: str, look: str, words: str) -> str:
    """A text at a share of the width in per cent."""
    place = f'x="{round(x, 2)}%" y="{round(y, 1)}" text-anchor="{anchor}"'
    return f'<text class="{_css(look)}" {place}>{escape(words)}</text>'


def _x(timeline: Timeline, at: float) -> str:
    return f"{round(1000 * (at - timeline.start) / (timeline.end - timeline.start), 1):g}"


def _percent(timeline: Timeline, at: float) -> float:
    return round(_LEFT + _SPAN * (at - timeline.start) / (timeline.end - timeline.start), 2)


def _y(panel: Panel, value: float) -> float:
    return round(panel.height * (panel.high - value) / (panel.high - panel.low), 1)
