"""The data files: what each column promises, for machines to read, and what no spreadsheet may run."""

import csv
import io
import json
import sqlite3
from pathlib import Path

import pytest
from frictionless import validate
from frictionless.resources import TableResource

from generator.render.tables.cells import csv_of
from generator.render.tables.contents import TABLES
from generator.render.tables.files import JOURNAL_KEYS, PACKAGE, SQLITE
from tests.render import sample

FILES = {name: file for name, file in sample.built(sample.seen()).files.items() if name.startswith("data/")}


def rows(address: str, files: dict[str, bytes] = FILES) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(files[address].decode(), newline="")))


def base(files: dict[str, bytes] = FILES) -> sqlite3.Connection:
    opened = sqlite3.connect(":memory:")
    opened.deserialize(files[SQLITE])
    return opened


def test_every_file_has_the_columns_its_table_defines() -> None:
    defined = {table.address.format(system="lagoon"): [each.name for each in table.columns] for table in TABLES}
    assert set(defined) == {address for address in FILES if address.endswith(".csv")}
    for address, columns in defined.items():
        assert FILES[address].decode().splitlines()[0].split(",") == columns
    assert tuple(json.loads(FILES["data/journal.json"])) == JOURNAL_KEYS


def test_a_reading_is_as_it_was_written_with_its_line() -> None:
    first, doubtful, *_ = rows("data/systems/lagoon/readings.csv")
    assert first == {
        "at": "2026-03-04T20:00:00+00:00",
        "quantity": "alkalinity",
        "value": "8.2",
        "below": "false",
        "unit": "dKH",
        "kit": "drop",
        "flagged": "false",
        "source": "logs/lagoon/2026-03.yaml:3",
    }
    assert doubtful["flagged"] == "true"
    nitrate = [row for row in rows("data/systems/lagoon/readings.csv") if row["quantity"] == "nitrate"]
    assert [(row["value"], row["below"]) for row in nitrate] == [("0.5", "true")]


def test_uptake_and_ledger_are_in_the_journals_unit() -> None:
    # 0.36 meq/L/day and 0.12 meq/L by 0.35665 meq/L a dKH.
    assert rows("data/systems/lagoon/uptake.csv")[0]["per_day"] == "1.00939"
    assert rows("data/systems/lagoon/uptake.csv")[0]["unit"] == "dKH/day"
    paid, drawn = rows("data/systems/lagoon/ledger.csv")
    assert (paid["change"], paid["unit"], paid["cause"]) == ("0.336462", "dKH", "dose")
    assert float(drawn["change"]) < 0, "a number keeps its sign and is not quoted as text"


@pytest.mark.parametrize(
    "start",
    [
        *"=+-@\t\r\n",
        "\uff1d",
        "\uff0b",
        "\uff0d",
        "\uff20",
        "\ufe66",
        "\ufe62",
        "\ufe63",
        "\ufe6b",
        "\u200b=",
        "\ufeff@",
    ],
)
def test_no_spreadsheet_runs_a_text_as_a_formula(start: str) -> None:
    # OWASP, CSV Injection: = + - @, tab and line ends, and the same signs in full width (from memory).
    written = csv_of([("text", "number"), (f"{start}cmd", -1.5)])
    ((text, number),) = list(csv.reader(io.StringIO(written, newline="")))[1:]
    assert text == f"'{start}cmd"
    assert number == "-1.5", "a number keeps its sign"


def test_a_name_with_commas_and_quotes_survives() -> None:
    coral = sample.coral(name='The "big, red" one')
    site = sample.built(sample.seen(corals={coral.id: coral}, trades={}, entries={}))
    assert rows("data/corals.csv", site.files)[0]["name"] == 'The "big, red" one'


def test_the_journals_file_leads_to_every_page() -> None:
    journal = json.loads(FILES["data/journal.json"])
    assert journal["as_of"] == "2026-03-10T20:00:00+00:00"
    assert [system["page"] for system in journal["systems"]] == ["systems/lagoon.html"]
    assert [entry["id"] for entry in journal["entries"]] == ["2026-03-02-cut"]


def test_a_number_that_is_not_finite_is_written_as_table_schema_says() -> None:
    # Table Schema 1.0, "number": the strings NaN, INF and -INF are allowed (from memory).
    inf = float("inf")
    assert csv_of([("x",), (inf,), (-inf,), (float("nan"),)]).split() == ["x", "INF", "-INF", "NaN"]


@pytest.mark.parametrize("audience", ["public", "own"])
def test_the_package_describes_every_file_and_every_cell_keeps_to_it(audience: str, tmp_path: Path) -> None:
    # Data Package 1.0 and Table Schema 1.0, judged by the library of those who keep the standard.
    for name, file in sample.built(sample.seen(audience)).files.items():
        if name.startswith("data/"):
            (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
            (tmp_path / name).write_bytes(file)
    report = validate(tmp_path / PACKAGE)
    assert report.valid, report.flatten(["type", "message"])
    described = json.loads((tmp_path / PACKAGE).read_bytes())["resources"]
    there = {path.relative_to(tmp_path / "data").as_posix() for path in (tmp_path / "data").rglob("*.[cj]s[vo]*")}
    assert {each["path"] for each in described} == there - {"datapackage.json"}


def test_a_cell_that_breaks_its_columns_type_would_be_found(tmp_path: Path) -> None:
    table = next(each for each in json.loads(FILES[PACKAGE])["resources"] if each["name"] == "readings.lagoon")
    (tmp_path / "readings.csv").write_bytes(FILES["data/systems/lagoon/readings.csv"].replace(b"8.2,", b"<8.2,"))
    report = validate(TableResource.from_descriptor({**table, "path": "readings.csv"}, basepath=str(tmp_path)))
    assert [code for (code,) in report.flatten(["type"])] == ["type-error"]


def test_the_sqlite_file_holds_every_table_and_explains_its_columns() -> None:
    with base() as opened:
        for table in TABLES:
            (count,) = opened.execute(f'SELECT count(*) FROM "{table.name}"').fetchone()
            assert count == len(rows(table.address.format(system="lagoon")))
        found = opened.execute("SELECT system, at, value, below FROM readings WHERE quantity = 'nitrate'").fetchall()
        assert found == [("lagoon", "2026-03-08T20:00:00+00:00", 0.5, 1)]
        told = dict(opened.execute('SELECT "column", means FROM columns WHERE "table" = \'readings\'').fetchall())
        assert told["value"] == "the value as recorded"
        unit = opened.execute("SELECT unit, unit_in FROM columns WHERE \"table\" = 'places' AND \"column\" = 'x'")
        assert unit.fetchone() == ("cm", "")


def test_the_same_journal_gives_the_same_bytes() -> None:
    again = sample.built(sample.seen()).files
    assert {name: again[name] for name in FILES} == FILES


def test_what_the_public_may_not_see_is_in_no_file_not_even_in_the_spare_bytes_of_sqlite() -> None:
    assert not [name for name, file in FILES.items() if b"CANARY" in file or b"back-coral" in file]
    own = sample.built(sample.seen("own")).files
    assert b"back-coral" in own[SQLITE]


def test_units_stand_beside_every_number_that_has_one() -> None:
    counted = {"odds", "chance"}
    for table in TABLES:
        names = {column.name for column in table.columns}
        for column in table.columns:
            if column.type == "number":
                assert bool(column.unit) + bool(column.unit_in) == (column.name not in counted), (
                    table.name,
                    column.name,
                )
            assert not column.unit_in or column.unit_in in names
