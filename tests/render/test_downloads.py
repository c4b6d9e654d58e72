"""The data files: the columns promised, for machines to read."""

import csv
import io
import json

from generator.render.downloads import TABLES
from tests.render import sample

FILES = {name: file for name, file in sample.built(sample.seen()).files.items() if name.startswith("data/")}


def rows(address: str, files: dict[str, bytes] = FILES) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(files[address].decode(), newline="")))


def test_every_file_has_the_columns_its_table_names() -> None:
    named = {table.address.format(system="lagoon"): table.columns for table in TABLES}
    assert set(named) == {address for address in FILES if not address.endswith(".ics")}
    for address, columns in named.items():
        if address.endswith(".csv"):
            assert tuple(FILES[address].decode().splitlines()[0].split(",")) == columns
    assert set(json.loads(FILES["data/journal.json"])) == set(TABLES[-1].columns)


def test_a_reading_is_as_it_was_written_with_its_line() -> None:
    first, doubtful, *_ = rows("data/systems/lagoon/readings.csv")
    assert first == {
        "at": "2026-03-04T20:00:00+00:00",
        "quantity": "alkalinity",
        "value": "8.2",
        "unit": "dKH",
        "kit": "drop",
        "flagged": "false",
        "source": "logs/lagoon/2026-03.yaml:3",
    }
    assert doubtful["flagged"] == "true"
    assert [row["value"] for row in rows("data/systems/lagoon/readings.csv") if row["quantity"] == "nitrate"] == [
        "<0.5"
    ]


def test_uptake_and_ledger_are_in_the_journals_unit() -> None:
    # 0.36 meq/L/day and 0.12 meq/L by 0.35665 meq/L a dKH.
    assert rows("data/systems/lagoon/uptake.csv")[0]["per_day"] == "1.00939"
    assert rows("data/systems/lagoon/uptake.csv")[0]["unit"] == "dKH/day"
    paid, drawn = rows("data/systems/lagoon/ledger.csv")
    assert (paid["change"], paid["unit"], paid["cause"]) == ("0.336462", "dKH", "dose")
    assert float(drawn["change"]) < 0, "a number keeps its sign and is not quoted as text"


def test_a_text_a_spreadsheet_would_run_is_defused() -> None:
    wild = {f"c{n}": sample.coral(f"c{n}", name=f"{start}cmd") for n, start in enumerate("=+-@")}
    found = rows("data/corals.csv", sample.built(sample.seen(corals=wild, trades={}, entries={})).files)
    assert [row["name"][0] for row in found] == ["'"] * 4


def test_a_name_with_commas_and_quotes_survives() -> None:
    coral = sample.coral(name='The "big, red" one')
    site = sample.built(sample.seen(corals={coral.id: coral}, trades={}, entries={}))
    assert rows("data/corals.csv", site.files)[0]["name"] == 'The "big, red" one'


def test_the_journals_file_leads_to_every_page() -> None:
    journal = json.loads(FILES["data/journal.json"])
    assert journal["as_of"] == "2026-03-10T20:00:00+00:00"
    assert [system["page"] for system in journal["systems"]] == ["systems/lagoon.html"]
    assert [entry["id"] for entry in journal["entries"]] == ["2026-03-02-cut"]
