"""The data files beside the pages: one table here names every column, and the data page explains each."""

import csv
import io
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from generator import __version__
from generator.reckon.water.findings import WaterFindings
from generator.records.coral import Coral
from generator.render import links
from generator.render.audience import View
from generator.render.numbers import Display

# A spreadsheet would run a cell that starts with one of these as a formula.
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
Cell = str | float | bool | None


@dataclass(frozen=True, slots=True)
class Table:
    """A kind of download: its name, its address ({system}: one a system), and its columns in order."""

    name: str
    address: str
    columns: tuple[str, ...]


READINGS = Table(
    "readings",
    "data/systems/{system}/readings.csv",
    ("at", "quantity", "value", "unit", "kit", "flagged", "source"),
)
UPTAKE = Table("uptake", "data/systems/{system}/uptake.csv", ("at", "quantity", "per_day", "low90", "high90", "unit"))
PREDICTIONS = Table(
    "predictions",
    "data/systems/{system}/predictions.csv",
    ("at", "quantity", "value", "days_ahead", "predicted", "low90", "high90", "inside", "unit"),
)
DOSING = Table(
    "dosing",
    "data/systems/{system}/dosing.csv",
    ("phase", "days", "supply", "how", "now", "per_day", "low90", "high90", "unit"),
)
NEXT_TESTS = Table("next_tests", "data/systems/{system}/next_tests.csv", ("at", "quantity", "why", "odds"))
CHANGES = Table(
    "changes",
    "data/systems/{system}/changes.csv",
    (
        "at",
        "coral",
        "what",
        "predicted",
        "predicted_low90",
        "predicted_high90",
        "measured",
        "measured_low90",
        "measured_high90",
        "smallest_change",
        "chance",
        "unit",
    ),
)
LEDGER = Table("ledger", "data/systems/{system}/ledger.csv", ("at", "quantity", "change", "unit", "cause", "source"))
CORALS = Table(
    "corals",
    "data/corals.csv",
    ("id", "name", "species", "line", "parent", "form", "arrived", "how", "living", "system", "place", "source"),
)
GROWTH = Table("growth", "data/growth.csv", ("coral", "at", "what", "value", "low90", "high90", "unit", "source"))
LINES = Table(
    "lines",
    "data/lines.csv",
    ("line", "coral", "parent", "depth", "fate", "system", "since", "until", "depends_on"),
)
PLACES = Table(
    "places",
    "data/places.csv",
    (
        "system",
        "part",
        "place",
        "coral",
        "x",
        "y",
        "length",
        "width",
        "par_low",
        "par_high",
        "leaves_earliest",
        "leaves_likely",
        "leaves_latest",
        "first_neighbour",
        "touches_likely",
    ),
)
SURVIVAL = Table(
    "survival",
    "data/survival.csv",
    ("by", "group", "arrivals", "lost", "days", "at_risk", "survival", "low90", "high90"),
)
TRADES = Table(
    "trades",
    "data/trades.csv",
    (
        "trade",
        "at",
        "partner",
        "what",
        "by",
        "coral",
        "frags",
        "text",
        "worth",
        "currency",
        "due",
        "settled",
        "source",
    ),
)
TRAVEL = Table(
    "travel",
    "data/travel.csv",
    (
        "trade",
        "at",
        "container",
        "water_litres",
        "hours",
        "kilometres",
        "start_celsius",
        "end_celsius",
        "air_celsius",
        "condition_0",
        "condition_1",
        "condition_14",
        "condition_60",
        "slime",
        "broken_off",
        "went",
        "source",
    ),
)
JOURNAL = Table("journal", "data/journal.json", ("title", "keeper", "as_of", "version", "systems", "corals", "entries"))
TABLES = (
    READINGS,
    UPTAKE,
    PREDICTIONS,
    LEDGER,
    DOSING,
    NEXT_TESTS,
    CHANGES,
    CORALS,
    GROWTH,
    LINES,
    PLACES,
    SURVIVAL,
    TRADES,
    TRAVEL,
    JOURNAL,
)


def downloads(view: View, findings: Mapping[str, WaterFindings], as_of: datetime, display: Display) -> dict[str, bytes]:
    """Every data file by its address."""
    files = {}
    for id in view.systems:
        if id in findings:
            found = findings[id]
            files[READINGS.address.format(system=id)] = csv_of(READINGS, _readings(found, display))
            files[UPTAKE.address.format(system=id)] = csv_of(UPTAKE, _uptake(found, display))
            files[PREDICTIONS.address.format(system=id)] = csv_of(PREDICTIONS, _predictions(found, display))
            files[LEDGER.address.format(system=id)] = csv_of(LEDGER, _ledger(found, display))
    files[CORALS.address] = csv_of(CORALS, (_coral(coral, as_of, display) for coral in view.corals.values()))
    files[JOURNAL.address] = _journal(view, as_of, display)
    return files


def csv_of(table: Table, rows: Iterable[Sequence[Cell]]) -> bytes:
    """A table's file: a line of heads, then its rows, as RFC 4180 has it."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(table.columns)
    for row in rows:
        writer.writerow([_cell(cell) for cell in row])
    return text.getvalue().encode()


def _cell(cell: Cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "true" if cell else "false"
    if isinstance(cell, float | int):
        return f"{cell:.6g}"
    return f"'{cell}" if cell.startswith(_FORMULA_STARTS) else cell


def _at(moment: datetime, display: Display) -> str:
    """RFC 3339 on the keeper's clock, offset included."""
    return moment.astimezone(display.zone).isoformat(timespec="seconds")


def _readings(found: WaterFindings, display: Display) -> Iterator[Sequence[Cell]]:
    doubtful = {doubt.reading.source for uptake in found.uptake.values() for doubt in uptake.doubtful}
    for reading, _ in found.readings:
        written = reading.value
        value = f"{'<' if written.below else ''}{written.value:.{written.digits}f}"
        flagged = reading.source in doubtful
        # The value is a number even if it has a sign: it must not be quoted as text.
        number: Cell = value if not value.startswith(_FORMULA_STARTS) else float(value)
        at = _at(reading.at, display)
        yield at, reading.kind, number, written.unit, reading.kit, flagged, str(reading.source)


def _uptake(found: WaterFindings, display: Display) -> Iterator[Sequence[Cell]]:
    for kind, uptake in found.uptake.items():
        unit = f"{display.unit(kind)}/day"
        for point in uptake.track:
            shown = display.estimate(kind, point.per_day, of_level=False)
            yield _at(point.at, display), kind, shown.value, shown.low, shown.high, unit


def _predictions(found: WaterFindings, display: Display) -> Iterator[Sequence[Cell]]:
    for each in found.replayed:
        kind, told = each.reading.kind, each.predicted
        numbers = (display.level(kind, value) for value in (each.value, told.value, told.low, told.high))
        value, *predicted = numbers
        yield (
            _at(each.reading.at, display), kind, value, each.days, *predicted, each.inside, display.unit(kind)
        )  # fmt: skip


def _ledger(found: WaterFindings, display: Display) -> Iterator[Sequence[Cell]]:
    for line in found.ledger:
        change = display.change(line.kind, line.change)
        yield _at(line.at, display), line.kind, change, display.unit(line.kind), line.cause, str(line.source)


def _coral(coral: Coral, as_of: datetime, display: Display) -> Sequence[Cell]:
    today = as_of.astimezone(display.zone).date()
    place = coral.placement_on(today)
    return (
        coral.id,
        coral.name,
        coral.species,
        coral.line,
        coral.parent,
        coral.form,
        coral.arrival.at.isoformat(),
        coral.arrival.how,
        coral.lives_on(today),
        place.system if place else None,
        place.place if place else None,
        str(coral.source),
    )


def _journal(view: View, as_of: datetime, display: Display) -> bytes:
    settings = view.settings
    record = {
        "title": settings.title,
        "keeper": settings.keeper,
        "as_of": _at(as_of, display),
        "version": __version__,
        "systems": [
            {"id": system.id, "name": system.name, "page": links.page_of("system", system.id)}
            for system in view.systems.values()
        ],
        "corals": [
            {"id": coral.id, "name": coral.name, "line": coral.line, "page": links.page_of("coral", coral.id)}
            for coral in view.corals.values()
        ],
        "entries": [
            {
                "id": entry.id,
                "title": entry.title,
                "at": entry.at.isoformat(),
                "summary": entry.summary,
                "page": links.page_of("entry", entry.id),
            }
            for entry in view.entries.values()
        ],
    }
    return (json.dumps(record, ensure_ascii=False, indent=2) + "\n").encode()
