"""The water chart's data sets, under the names its specification knows them by.

Those of one quantity begin with its name; `panels` says which quantities have which panels, `ranges` since when the
chart can show them, and `ends` where each panel then ends.
"""

from collections.abc import Iterator, Sequence

from generator.render.base.chart import Columns, columns
from generator.render.base.numbers import NBSP
from generator.render.base.words import Words
from generator.render.charts.water_deeds import Deed
from generator.render.charts.water_rows import Ends, WaterRows, deeds_by_lane, runs


def water_data(
    of: Sequence[WaterRows],
    done: Sequence[Deed],
    ranges: Sequence[tuple[int, int]],
    heads: dict[tuple[str, str], str],
    words: Words,
) -> dict[str, Columns]:
    """Every data set of the specification; one with nothing to show is empty."""
    at_once = [deed for deed in done if deed.until == deed.at]
    lasting = [deed for deed in done if deed.until > deed.at]
    ends = list(_ends(of, ranges))
    data: dict[str, Columns] = {
        "panels": columns(
            list(heads.items()), of=lambda head: head[0][0], part=lambda head: head[0][1], words=lambda head: head[1]
        ),
        "ranges": columns(ranges, since=lambda span: span[0], until=lambda span: span[1]),
        "ends": columns(
            ends,
            panel=lambda end: f"{end[0]}-{end[1]}",
            range=lambda end: end[2],
            low=lambda end: _short(end[3][0]),
            high=lambda end: _short(end[3][1]),
        ),
        "today": {"t": (of[0].today,)},
        "events": columns([d for d in done if d.lane == "event"], t=lambda deed: deed.at),
        "lanes": columns(
            [name for name, _ in deeds_by_lane(done)],
            lane=lambda lane: lane,
            words=lambda lane: words(f"chart.lanes.{lane}"),
        ),
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
    for rows in of:
        data |= {f"{rows.kind}-{name}": each for name, each in _of(rows).items()}
    return data


def _ends(of: Sequence[WaterRows], ranges: Sequence[tuple[int, int]]) -> Iterator[tuple[str, str, int, Ends]]:
    """The ends of each panel in each range; where nothing was read, those of the next longer one."""
    for rows in of:
        for number in range(len(ranges)):
            there = (rows.since(*each) for each in ranges[number:])
            part = next((each for each in there if each.readings), rows)
            yield rows.kind, "level", number, part.level_ends
            if rates := part.uptake_ends or rows.uptake_ends:
                yield rows.kind, "uptake", number, rates


def _of(rows: WaterRows) -> dict[str, Columns]:
    joined = [] if rows.level else [(at, value, number) for number, run in enumerate(runs(rows)) for at, value in run]
    return {
        "band": columns([rows.band] if rows.has_band else [], low=lambda b: b[0], high=lambda b: b[1]),
        "readings": columns(
            rows.readings,
            t=lambda seen: seen.at,
            value=lambda seen: _short(seen.value),
            low=lambda seen: _short(seen.low),
            high=lambda seen: _short(seen.high),
            standing=lambda seen: seen.standing,
            words=lambda seen: _said(f"{seen.moment}: {seen.words}"),
        ),
        "joined": columns(joined, t=lambda p: p[0], value=lambda p: _short(p[1]), run=lambda p: p[2]),
        "track": columns(
            list(zip(rows.level, rows.uptake, strict=True)),
            t=lambda both: both[0].at,
            level=lambda both: _short(both[0].value),
            low=lambda both: _short(both[0].low),
            high=lambda both: _short(both[0].high),
            rate=lambda both: _short(both[1].value),
            rate_low=lambda both: _short(both[1].low),
            rate_high=lambda both: _short(both[1].high),
            words=lambda both: _said(both[0].words),
            rate_words=lambda both: _said(both[1].words),
        ),
        "supply": columns(rows.supply, t=lambda step: step[0], value=lambda step: _short(step[1])),
        "ahead": columns(
            rows.ahead,
            t=lambda point: point.at,
            value=lambda point: _short(point.value),
            low=lambda point: _short(point.low),
            high=lambda point: _short(point.high),
        ),
    }


def _said(words: str) -> str:
    """Words for the pointer's label, which breaks no line: a plain space is six bytes shorter in the page."""
    return words.replace(NBSP, " ")


def _short(value: float | None) -> float | None:
    """A number with five digits, which is all that a screen can show."""
    return None if value is None else float(f"{value:.5g}")
