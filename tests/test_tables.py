"""The data for Python: typed DataFrames, and the example in DEVELOPERS.md."""

import re
import subprocess
import sys
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pandas as pd
import pytest

from generator.render.tables.contents import TABLES
from generator.tables import NotReadable, tables
from tests.conftest import AS_OF, ROOT

DOCS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def frames() -> dict[str, pd.DataFrame]:
    return tables(ROOT / "content", as_of=AS_OF)


def test_every_table_comes_with_the_types_its_columns_define(frames: dict[str, pd.DataFrame]) -> None:
    kinds = {"string": "string", "number": "float64", "integer": "Int64", "boolean": "boolean"}
    assert list(frames) == [table.name for table in TABLES]
    for table in TABLES:
        frame = frames[table.name]
        assert list(frame.columns) == ["system"] * table.by_system + [column.name for column in table.columns]
        for column in table.columns:
            dtype = frame[column.name].dtype
            if column.type == "datetime":
                assert str(dtype).endswith("Atlantic/Azores]"), "moments are on the keeper's own clock"
            elif column.type == "date":
                assert str(dtype).startswith("datetime64[") and dtype.tz is None if hasattr(dtype, "tz") else True
            else:
                assert dtype == kinds[column.type], (table.name, column.name)


def test_readings_can_be_calculated_with_and_have_their_units(frames: dict[str, pd.DataFrame]) -> None:
    readings = frames["readings"]
    assert readings.attrs["units_in"] == {"value": "unit"}
    assert frames["places"].attrs["units"]["x"] == "cm"
    assert readings.attrs["columns"]["system"] == "the system, by id"
    last = readings[(readings.system == "lagoon") & (readings.quantity == "alkalinity")].iloc[-1]
    # content/logs/lagoon/2026-11.yaml, its last alkalinity up to the day.
    assert (last["value"], last["unit"], last["below"]) == (8.9, "dKH", False)


def test_an_audience_sees_what_its_site_shows(frames: dict[str, pd.DataFrame]) -> None:
    public = tables(ROOT / "content", "public", date.fromisoformat(AS_OF))
    assert frames["trades"]["worth"].notna().any()
    assert public["trades"]["worth"].isna().all()
    assert len(public["readings"]) <= len(frames["readings"])


def test_no_build_waits_for_pandas() -> None:
    rooms = [
        "commands.build",
        "render.site.site_map",
        "render.tables.files",
        "tables",
        "gather.understanding",
        "gather.opening",
    ]
    code = "import sys\n" + "".join(f"import generator.{room}\n" for room in rooms) + "print('pandas' in sys.modules)"
    said = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    assert said == "False\n"


def test_a_journal_with_mistakes_names_them_all(journal: Callable[[str], Path]) -> None:
    folder = journal("--- journal.yaml\ntitle: A\nkeeper: B\ntime_zone: Nowhere\ncolour: red\n")
    with pytest.raises(NotReadable) as refused:
        tables(folder)
    assert re.search(r"journal\.yaml:3.*\n.*journal\.yaml:4", str(refused.value))


def test_the_example_in_the_docs_draws_uptake_in_five_lines(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (code,) = re.findall(r"^```python\n(.*?)^```", DOCS, re.MULTILINE | re.DOTALL)
    assert len([line for line in code.splitlines() if line and "import" not in line]) == 5
    (tmp_path / "content").symlink_to(ROOT / "content")
    monkeypatch.chdir(tmp_path)
    exec(code, {})
    drawn = (tmp_path / "uptake.html").read_text(encoding="utf-8")
    assert '"per_day"' in drawn
    assert '"fore-reef"' in drawn
