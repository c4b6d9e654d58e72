"""The data of a journal for Python: `tables("content")["readings"]` is a typed pandas DataFrame.

In: a journal's folder. Out: a DataFrame for each table that the site offers as a file. Must not know: pages.
"""

from collections.abc import Sequence
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

if TYPE_CHECKING:
    import pandas as pd

    from generator.records.coral import Audience
    from generator.render.found import Basis
    from generator.render.tables.cells import Cell
    from generator.render.tables.files import Type

_DTYPES = {"string": "string", "number": "float64", "integer": "Int64", "boolean": "boolean"}


class NotReadable(ValueError):
    """A journal with mistakes; the text names every one with its file and line."""


def tables(
    content: str | Path = "content", audience: "Audience" = "own", as_of: date | datetime | str | None = None
) -> "dict[str, pd.DataFrame]":
    """Every table of a journal as a DataFrame, by name.

    `attrs["units"]` has the unit of each column with one unit; `attrs["units_in"]` names, for each column whose rows
    have different units, the column with the unit of the row; `attrs["columns"]` tells what each column means.
    Moments are on the keeper's clock. `as_of` is the day or the moment that counts as now, or its text in ISO 8601.
    Raises `NotReadable`, and `ValueError` for a text that is neither.
    """
    import pandas as pd

    from generator.render.base.words import words_of
    from generator.render.tables.contents import TABLES, meaning
    from generator.render.tables.files import whole_columns, whole_rows

    if isinstance(as_of, str):
        as_of = date.fromisoformat(as_of) if len(as_of) == len("2026-11-22") else datetime.fromisoformat(as_of)
    basis, words = _basis(Path(content), audience, as_of), words_of("en")
    zone, frames = basis.display.zone, {}
    for table in TABLES:
        columns = whole_columns(table)
        rows = whole_rows(table, basis)
        cells = list(zip(*rows, strict=True)) or [()] * len(columns)
        named = {each.name: _series(each.type, found, zone) for each, found in zip(columns, cells, strict=True)}
        frame = pd.DataFrame(named)
        frame.attrs = {
            "units": {each.name: each.unit for each in columns if each.unit},
            "units_in": {each.name: each.unit_in for each in columns if each.unit_in},
            "columns": {each.name: meaning(words, table.name, each.name) for each in columns},
        }
        frames[table.name] = frame
    return frames


def _basis(content: Path, audience: "Audience", as_of: date | datetime | None) -> "Basis":
    from generator.read.load import load
    from generator.reckon.analysis.journal import analyse
    from generator.records.journal import as_it_stood, in_the_future_from, moment
    from generator.render.audience import view
    from generator.render.found import basis_of

    now = datetime.now(UTC)
    loaded = load(content, in_the_future_from(as_of, now))
    if loaded.journal is None:
        raise NotReadable("\n".join(str(problem) for problem in loaded.errors))
    at = moment(as_of or now, loaded.journal.settings.time_zone)
    return basis_of(view(as_it_stood(loaded.journal, at), audience), analyse(as_it_stood(loaded.journal, at), at))


def _series(type: "Type", cells: "Sequence[Cell]", zone: ZoneInfo) -> "pd.Series[Any]":
    import pandas as pd

    if type == "datetime":
        return pd.Series(pd.to_datetime(list(cells), utc=True)).dt.tz_convert(zone)
    if type == "date":
        return pd.Series(pd.to_datetime(list(cells)))
    return pd.Series(list(cells), dtype=_DTYPES[type])
