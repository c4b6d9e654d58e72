"""The chart of one quantity in one system: readings, level, doses and other actions, and uptake."""

from markupsafe import Markup

from generator.reckon.water.findings import WaterFindings
from generator.records.log import SystemLog
from generator.records.system import System
from generator.render.base.chart import Chart, Key
from generator.render.base.numbers import Display
from generator.render.base.words import Words
from generator.render.charts.water_data import water_data
from generator.render.charts.water_picture import water_picture
from generator.render.charts.water_rows import WaterRows, water_rows

# What the table below a chart shows; the download holds them all.
_TABLE_ROWS = 30


def water_chart(
    system: System, log: SystemLog, findings: WaterFindings, kind: str, display: Display, words: Words
) -> Chart:
    """The chart of a quantity over the last half year, in the units, the clock and the words of the journal."""
    rows = water_rows(system, log, findings, kind, display, words)
    id = f"chart-{system.id}-{kind}"
    quantity = words(f"quantities.{kind}")
    # Some units are written in brackets behind a number; a heading needs none.
    unit = words.unit(display.unit(kind)).strip("()")
    heads = (words("chart.water.level", quantity=quantity, unit=unit), words("chart.water.uptake", unit=unit))
    title = words("chart.water.title", quantity=quantity, system=system.name)
    description = _description(rows, quantity, words)
    picture = water_picture(id, title, description, rows, heads, words)
    table = rows.readings[: -_TABLE_ROWS - 1 : -1]
    return Chart(
        id=id,
        kind="water-uptake" if rows.uptake_ends else "water-level",
        title=title,
        description=description,
        svg=Markup(picture),
        data=water_data(rows, heads, words),
        keys=_keys(rows, words),
        columns=(words("chart.columns.at"), quantity, words("chart.columns.standing")),
        rows=tuple((seen.moment, seen.words, words(f"chart.standing.{seen.standing}")) for seen in table),
        rows_note=words("chart.rows_note", shown=len(table), n=len(rows.readings)),
    )


def _description(rows: WaterRows, quantity: str, words: Words) -> str:
    if not rows.readings:
        return words("chart.water.no_readings", quantity=quantity)
    last = rows.readings[-1]
    said = words(
        "chart.water.description",
        n=len(rows.readings),
        quantity=quantity,
        since=rows.readings[0].moment,
        last=last.words,
        at=last.moment,
    )
    if rows.uptake and rows.uptake[-1].at == rows.today:
        said += " " + words("chart.water.uptake_description", uptake=rows.uptake[-1].words)
    return said


def _keys(rows: WaterRows, words: Words) -> tuple[Key, ...]:
    """The legend, with only what the chart shows."""
    standings = {seen.standing for seen in rows.readings}
    there = {
        "reading": bool(rows.readings),
        "doubt": "doubtful" in standings,
        "below": "below" in standings,
        "level": bool(rows.level),
        "ahead": bool(rows.ahead),
        "band": rows.has_band,
        "uptake": bool(rows.uptake),
        "supply": bool(rows.supply),
    }
    return tuple(Key(look, words(f"chart.keys.{look}")) for look, shown in there.items() if shown)
