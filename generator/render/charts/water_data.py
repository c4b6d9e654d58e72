"""The water chart's data sets, under the names its specification knows them by."""

from generator.render.base.chart import Columns, columns
from generator.render.base.numbers import NBSP
from generator.render.base.words import Words
from generator.render.charts.water_rows import WaterRows, deeds_by_lane, runs, strip


def water_data(rows: WaterRows, heads: tuple[str, str], words: Words) -> dict[str, Columns]:
    """Every data set of the specification; one with nothing to show is empty."""
    at_once = [deed for deed in rows.deeds if deed.until == deed.at]
    lasting = [deed for deed in rows.deeds if deed.until > deed.at]
    lanes = [name for name, _ in deeds_by_lane(rows)]
    return {
        "frame": {"t": (rows.start, rows.end), "level": rows.level_ends, "rate": rows.uptake_ends or (0, 1)},
        "today": {"t": (rows.today,)},
        "heads": {"panel": ("level", "uptake"), "words": heads},
        "band": columns([strip(rows)] if rows.has_band else [], low=lambda b: b[0], high=lambda b: b[1]),
        "readings": columns(
            rows.readings,
            t=lambda seen: seen.at,
            value=lambda seen: _short(seen.value),
            low=lambda seen: _short(seen.low),
            high=lambda seen: _short(seen.high),
            standing=lambda seen: seen.standing,
            words=lambda seen: _said(f"{seen.moment}: {seen.words}"),
        ),
        "joined": columns(
            [(at, value, number) for number, run in enumerate(runs(rows)) for at, value in run],
            t=lambda point: point[0],
            value=lambda point: _short(point[1]),
            run=lambda point: point[2],
        )
        if not rows.level
        else {"t": (), "value": (), "run": ()},
        "track": _track(rows),
        "supply": columns(rows.supply, t=lambda step: step[0], value=lambda step: _short(step[1])),
        "ahead": columns(
            rows.ahead,
            t=lambda point: point.at,
            value=lambda point: _short(point.value),
            low=lambda point: _short(point.low),
            high=lambda point: _short(point.high),
        ),
        "events": columns([d for d in rows.deeds if d.lane == "event"], t=lambda deed: deed.at),
        "lanes": columns(lanes, lane=lambda lane: lane, words=lambda lane: words(f"chart.lanes.{lane}")),
        "spans": columns(
            lasting,
            t=lambda deed: deed.at,
            until=lambda deed: deed.until,
            lane=lambda deed: deed.lane,
            words=lambda deed: _said(deed.words),
        ),
        "moments": columns(
            at_once, t=lambda deed: deed.at, lane=lambda deed: deed.lane, words=lambda deed: _said(deed.words)
        ),
    }


def _track(rows: WaterRows) -> Columns:
    return columns(
        list(zip(rows.level, rows.uptake, strict=True)),
        t=lambda both: both[0].at,
        level=lambda both: _short(both[0].value),
        low=lambda both: _short(both[0].low),
        high=lambda both: _short(both[0].high),
        rate=lambda both: _short(both[1].value),
        rate_low=lambda both: _short(both[1].low),
        rate_high=lambda both: _short(both[1].high),
        words=lambda both: _said(f"{both[0].moment}: {both[0].words}; {both[1].words}"),
    )


def _said(words: str) -> str:
    """Words for the pointer's label, which breaks no line: a plain space is six bytes shorter in the page."""
    return words.replace(NBSP, " ")


def _short(value: float | None) -> float | None:
    """A number with five digits, which is all that a screen can show."""
    return None if value is None else float(f"{value:.5g}")
