"""The chart of a change among the corals: predicted, by the readings, and both together, day by day."""

from collections.abc import Sequence
from datetime import timedelta

from markupsafe import Markup
from msgspec import Struct

from generator.reckon.arrivals.observed import ChangeDay, Observed
from generator.reckon.arrivals.story import CoralChange
from generator.render.base.blocks import Chart, Columns, Key
from generator.render.base.numbers import Say, hundredths
from generator.render.base.scale import columns, wall_clock
from generator.render.base.words import Words
from generator.render.drawings.timeline import Area, Curve, Panel, Region, Shape, Timeline, draw_timeline
from generator.units.quantity import Estimate

_BEFORE, _AFTER = timedelta(days=2), timedelta(days=1)
RISE_HEIGHT, CHANCE_HEIGHT = 200, 84
_CHANCES = (0.0, 104.0)
# A long interval in the first days runs off the chart, so that the later ones can still be read.
_TALLEST = 1.6


class _Day(Struct, frozen=True):
    """What was known after one reading, in the unit shown; `chance` in per cent."""

    at: int
    moment: str
    alone: Estimate
    both: Estimate | None
    chance: float
    words: str


class _Rows(Struct, frozen=True):
    """All that the chart shows, from just before the change to its last reading."""

    start: int
    end: int
    event: int
    ends: tuple[float, float]
    prior: Estimate | None
    days: tuple[_Day, ...]

    def shut(self, value: float) -> float:
        """A value within the ends of the chart."""
        return min(max(value, self.ends[0]), self.ends[1])


def change_chart(change: CoralChange, name: str, say: Say) -> Chart | None:
    """The chart of a change; None with fewer than two readings since: no line can be drawn."""
    seen = change.observed
    if not isinstance(seen, Observed) or len(seen.days) < 2:
        return None
    words, rows = say.words, _rows(change, seen, say)
    heads = (words("chart.change.rise", unit=say.unit("alkalinity")), words("chart.change.chance"))
    last = rows.days[-1]
    title = words("chart.change.title", name=name)
    description = words("chart.change.description", n=len(rows.days), at=last.moment, said=last.words)
    id = "chart-change"
    return Chart(
        id=id,
        kind="change",
        title=title,
        description=description,
        svg=_picture(id, title, description, rows, heads, words),
        data=_data(rows, heads),
        keys=_keys(rows, words),
        columns=(words("chart.columns.at"), words("chart.change.known")),
        rows=tuple((day.moment, day.words) for day in reversed(rows.days)),
        rows_note=words("chart.change.rows_note", n=len(rows.days)),
    )


def _rows(change: CoralChange, seen: Observed, say: Say) -> _Rows:
    display, days = say.display, tuple(_day(day, say) for day in seen.days)
    prior = display.estimate("alkalinity", change.step, of_level=False) if change.step else None
    return _Rows(
        wall_clock(change.at - _BEFORE, display.zone),
        wall_clock(seen.days[-1].at + _AFTER, display.zone),
        wall_clock(change.at, display.zone),
        _ends([*([prior] if prior else []), *(day.both or day.alone for day in days)]),
        prior,
        days,
    )


def _day(day: ChangeDay, say: Say) -> _Day:
    display, best = say.display, say.per_day("alkalinity", day.combined or day.measured)
    return _Day(
        wall_clock(day.at, display.zone),
        say.moment(day.at).text,
        display.estimate("alkalinity", day.measured, of_level=False),
        display.estimate("alkalinity", day.combined, of_level=False) if day.combined else None,
        100.0 * day.chance,
        say.words("chart.change.day", said=f"{best.value}, {best.interval}", chance=hundredths(day.chance)),
    )


def _ends(found: Sequence[Estimate]) -> tuple[float, float]:
    """The ends of the chart: all of the last day's interval, and what else is not too far off."""
    furthest = max(*(abs(each.value) * _TALLEST for each in found), abs(found[-1].low), abs(found[-1].high)) or 1.0
    low = max(min(0.0, *(each.low for each in found)), -furthest)
    high = min(max(0.0, *(each.high for each in found)), furthest)
    room = 0.06 * (high - low or 1.0)
    return low - room, high + room


def _picture(id: str, title: str, description: str, rows: _Rows, heads: tuple[str, str], words: Words) -> Markup:
    shut, days, behind = rows.shut, rows.days, list[Shape]()
    if rows.prior:
        value = shut(rows.prior.value)
        behind = [
            Region("prior", shut(rows.prior.low), shut(rows.prior.high)),
            Curve("prior-line", [(rows.start, value), (rows.end, value)]),
        ]
    together = [(day.at, day.both) for day in days if day.both]
    rise: tuple[Shape, ...] = (
        *behind,
        Curve("nothing", [(rows.start, 0.0), (rows.end, 0.0)]),
        Area("uptake", [(day.at, shut(day.alone.low), shut(day.alone.high)) for day in days]),
        Curve("alone-line", [(day.at, shut(day.alone.value)) for day in days]),
        Area("level", [(at, shut(both.low), shut(both.high)) for at, both in together]),
        Curve("level-line", [(at, shut(both.value)) for at, both in together]),
    )
    panels = (
        Panel(heads[0], RISE_HEIGHT, *rows.ends, rise),
        Panel(heads[1], CHANCE_HEIGHT, *_CHANCES, (Curve("chance-line", [(day.at, day.chance) for day in days]),)),
    )
    return draw_timeline(Timeline(id, title, description, rows.start, rows.end, panels, (rows.event,)), words)


def _data(rows: _Rows, heads: tuple[str, str]) -> dict[str, Columns]:
    def short(value: float) -> float:
        return float(f"{rows.shut(value):.5g}")

    return {
        "frame": {"t": (rows.start, rows.end), "rise": rows.ends, "chance": _CHANCES},
        "heads": {"panel": ("rise", "chance"), "words": heads},
        "event": {"t": (rows.event,)},
        "nothing": {"value": (0.0,)},
        "prior": columns(
            [rows.prior] if rows.prior else [],
            low=lambda found: short(found.low),
            high=lambda found: short(found.high),
            value=lambda found: short(found.value),
        ),
        "track": columns(
            rows.days,
            t=lambda day: day.at,
            value=lambda day: short(day.alone.value),
            low=lambda day: short(day.alone.low),
            high=lambda day: short(day.alone.high),
            both=lambda day: short(day.both.value) if day.both else None,
            both_low=lambda day: short(day.both.low) if day.both else None,
            both_high=lambda day: short(day.both.high) if day.both else None,
            chance=lambda day: float(f"{day.chance:.3g}"),
            words=lambda day: f"{day.moment}: {day.words}",
        ),
    }


def _keys(rows: _Rows, words: Words) -> tuple[Key, ...]:
    there = {"prior": rows.prior is not None, "uptake": True, "level": any(day.both for day in rows.days)}
    return tuple(Key(look, words(f"chart.change.keys.{look}")) for look, shown in there.items() if shown)
