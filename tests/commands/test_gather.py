"""`corallite gather`: what is written, what is asked, what is refused, and that twice adds nothing twice."""

import io
import shutil
import sys
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pandas as pd
import pytest

from generator.__main__ import main
from generator.read.load import load
from generator.records.journal import Journal
from tests.conftest import lately

JOURNAL = """--- journal.yaml
title: A tank
keeper: Somebody
time_zone: Europe/Berlin
units: {alkalinity: dKH, calcium: mg/L, length: cm}
--- systems/reef.yaml
name: Fore Reef
water: {volume: 400 L, uncertainty: 10 L}
low: {alkalinity: 7.5 dKH}
high: {alkalinity: 9 dKH}
solutions:
  soda: {compound: Na2CO3, strength: 60 g/L}
--- systems/frags.yaml
name: Frag Tank
water: {volume: 100 L, uncertainty: 5 L}
low: {alkalinity: 7.5 dKH}
high: {alkalinity: 9 dKH}
--- logs/reef/2026-03.yaml
# our first month

- at: 2026-03-02 08:00   # before breakfast
  readings: {alkalinity: 8.2 dKH}
"""
NOTES = "Date,KH,Ca,Comment\n2026-03-01,8.1,425,\n2026-03-02,8.0,,polyps out\n2026-03-03,green,420,\n"


@pytest.fixture
def content(journal: Callable[[str], Path]) -> Path:
    return journal(JOURNAL)


def gather(content: Path, name: str, sheet: str | bytes, *words: str) -> int:
    path = content.parent / name
    path.write_bytes(sheet.encode() if isinstance(sheet, str) else sheet)
    return main(["gather", str(path), "--content", str(content), "--as-of", "2026-11-22", *words])


def loaded(content: Path) -> Journal:
    found = load(content, datetime.fromisoformat("2026-11-22T20:00:00+00:00"))
    assert found.journal is not None, found.errors
    return found.journal


def test_it_writes_months_keeps_what_is_there_and_tells_each_row_it_could_not_take(
    content: Path, capsys: pytest.CaptureFixture[str]
):
    assert gather(content, "notes.csv", NOTES, "--system", "Fore Reef") == 0
    assert (content / "logs/reef/2026-03.yaml").read_text(encoding="utf-8") == (
        "# our first month\n\n"
        "- at: 2026-03-01 12:00\n"
        "  readings: {alkalinity: 8.1 dKH, calcium: 425 mg/L}\n"
        "- at: 2026-03-02 08:00   # before breakfast\n"
        "  readings: {alkalinity: 8.2 dKH}\n"
        "- at: 2026-03-02 12:00\n"
        "  readings: {alkalinity: 8.0 dKH}\n"
        "  note: polyps out\n"
        "- at: 2026-03-03 12:00\n"
        "  readings: {calcium: 420 mg/L}\n"
    )
    said = capsys.readouterr().out
    assert "  KH       alkalinity, dKH\n" in said
    assert "reef, 2026-03-01 to 2026-03-03: alkalinity 2, calcium 2, note 1" in said
    assert "not taken: row 4: 'green' is not a number with a unit (alkalinity)" in said


def test_twice_adds_nothing_twice_and_asks_nothing_twice(content: Path, capsys: pytest.CaptureFixture[str]):
    assert gather(content, "notes.csv", NOTES, "--system", "reef") == 0
    before = (content / "logs/reef/2026-03.yaml").read_bytes()
    capsys.readouterr()
    assert gather(content, "april.csv", NOTES) == 0, "the answer for these headings is kept"
    assert "5 there already\n" in capsys.readouterr().out
    assert (content / "logs/reef/2026-03.yaml").read_bytes() == before
    assert '"system": "reef"' in (content / ".gather.yaml").read_text(encoding="utf-8")
    loaded(content)


def test_what_contradicts_the_log_is_not_taken(content: Path, capsys: pytest.CaptureFixture[str]):
    sheet = "Date,Time,KH\n2026-03-02,8:00,7.9\n"
    assert gather(content, "notes.csv", sheet, "--system", "reef") == 0
    said = capsys.readouterr().out
    assert "row 2: alkalinity of 7.9 dKH, but logs/reef/2026-03.yaml:4 says 8.2 dKH at that moment" in said
    assert "nothing new to write" in said


def test_a_sheet_without_headings_of_which_nothing_is_taken_fails(
    content: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = {path: path.read_bytes() for path in content.rglob("*.yaml")}
    assert gather(content, "notes.csv", "2026-03-01,8.1,425\n2026-03-02,8.0,420\n", "--system", "reef") == 1
    assert "not taken: " in capsys.readouterr().out
    assert {path: path.read_bytes() for path in content.rglob("*.yaml")} == before


def test_a_row_without_an_hour_does_not_repeat_what_the_log_has_of_that_day(
    content: Path, capsys: pytest.CaptureFixture[str]
):
    before = {path: path.read_bytes() for path in content.rglob("*.yaml")}
    assert gather(content, "notes.csv", "Date,KH\n2026-03-02,8.20\n", "--system", "reef") == 0
    assert "1 there already" in capsys.readouterr().out
    assert {path: path.read_bytes() for path in content.rglob("*.yaml")} == before


def test_what_is_open_names_its_option_where_nobody_can_be_asked(content: Path, capsys: pytest.CaptureFixture[str]):
    sheet = "Date,KH,SG,Mood\n1/3/2026,8.1,1.026,good\n2/3/2026,8.0,1.026,bad\n"
    assert gather(content, "notes.csv", sheet) == 1
    said = capsys.readouterr().err
    for option in ("--dates day-month-year", "--system frags", '--unit "salinity=psu"', '--is "mood='):
        assert option in said, option
    assert said.endswith("nothing was written\n")
    answers = ("--dates", "day-month-year", "--system", "reef", "--unit", "SG=sg 25/25", "--is", "Mood=note")
    assert gather(content, "notes.csv", sheet, *answers) == 0
    march = loaded(content).logs["reef"]
    assert [str(each.value) for each in march.readings if each.kind == "salinity"] == ["1.026 sg 25/25"] * 2
    assert {note.text for note in march.notes} == {"good", "bad"}


def test_on_a_terminal_it_asks_until_it_understands(
    content: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    said = iter(["the pond", "reef", "y"])
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr("builtins.input", lambda question: print(question) or next(said))
    assert gather(content, "notes.csv", "Date,KH\n2026-03-01,8.1\n") == 0
    asked = capsys.readouterr().out
    assert "Whose water is this? [frags, reef]" in asked
    assert "there is no system 'the pond'" in asked
    assert len(loaded(content).logs["reef"].readings) == 2


def test_trying_writes_nothing(content: Path):
    before = {path: path.read_bytes() for path in content.rglob("*.yaml")}
    assert gather(content, "notes.csv", NOTES, "--system", "reef", "--try") == 0
    assert {path: path.read_bytes() for path in content.rglob("*.yaml")} == before


@pytest.mark.parametrize("ending", ["xlsx", "ods"])
def test_a_workbook_with_a_sheet_for_each_tank(content: Path, ending: str, capsys: pytest.CaptureFixture[str]):
    book = io.BytesIO()
    with pd.ExcelWriter(book, engine={"xlsx": "openpyxl", "ods": "odf"}[ending]) as writer:
        for title, value in (("Fore Reef", 8.1), ("Frag Tank", 7.9)):
            days = [pd.Timestamp("2026-03-01 08:40"), pd.Timestamp("2026-03-04")]
            frame = pd.DataFrame({"Date": days, "KH": [value, None], "Ca": [425, 420]})
            frame.to_excel(writer, sheet_name=title, index=False)
    assert gather(content, f"notes.{ending}", book.getvalue()) == 0, capsys.readouterr().err
    logs = loaded(content).logs
    (alkalinity,) = (each for each in logs["frags"].readings if each.kind == "alkalinity")
    assert alkalinity.at.isoformat() == "2026-03-01T07:40:00+00:00", "08:40 in Berlin"
    assert str(alkalinity.value) == "7.9 dKH"
    assert len(logs["reef"].readings) == 1 + 3


def test_a_reader_that_is_not_installed_is_named(
    content: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    monkeypatch.setitem(sys.modules, "openpyxl", None)
    assert gather(content, "notes.xlsx", b"PK\x03\x04") == 1
    assert "needs the package openpyxl (pip install 'corallite[gather]'" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("name", "sheet", "said"),
    [
        ("notes.xls", b"\xd0\xcf\x11\xe0 old", "save it as .xlsx, .ods or .csv"),
        ("notes.xlsx", b"PK\x03\x04 broken", "cannot be read as a spreadsheet"),
        ("picture.csv", b"\x00\x01\x02", "is not a table of text"),
    ],
)
def test_what_is_no_spreadsheet_is_refused(
    content: Path, name: str, sheet: bytes, said: str, capsys: pytest.CaptureFixture[str]
):
    assert gather(content, name, sheet) == 1
    assert said in capsys.readouterr().err


@pytest.mark.parametrize(
    ("encoding", "mark"), [("utf-8-sig", ""), ("utf-16", ""), ("cp1252", ""), ("utf-8", "sep=;\n")]
)
def test_every_usual_encoding_is_read(content: Path, encoding: str, mark: str):
    sheet = f"{mark}Datum;Karbonathärte;Bemerkung\n1.3.2026;8,1;schön geöffnet\n"
    assert gather(content, "notizen.csv", sheet.encode(encoding), "--system", "reef") == 0
    assert loaded(content).logs["reef"].notes[0].text == "schön geöffnet"


CORALS = """Name,Species,Form,Arrived,Mother colony,Tank,Length (cm),Width (cm)
Dawn Bell,Acropora millepora,tabling,2026-02-01,,Fore Reef,12.5,11
Dawn Bell 2,Acropora millepora,table,2026-03-01,Dawn Bell,Frag Tank,,
Nameless Thing,some coral,tabling,2026-02-01,,Fore Reef,,
Old One,Favia sp.,boulder,,,Fore Reef,,
"""


def test_corals_come_from_a_sheet_and_a_second_time_nothing_does(content: Path, capsys: pytest.CaptureFixture[str]):
    assert gather(content, "corals.csv", CORALS) == 0
    said = capsys.readouterr().out
    assert "row 4: 'some coral' is not a species" in said
    assert "row 5: no day of arrival" in said
    corals = loaded(content).corals
    assert set(corals) == {"dawn-bell", "dawn-bell-2"}
    assert (corals["dawn-bell-2"].parent, corals["dawn-bell-2"].line) == ("dawn-bell", corals["dawn-bell"].line)
    assert corals["dawn-bell"].sizes[0].length.value == 12.5
    assert gather(content, "corals.csv", CORALS) == 0
    assert "nothing new to write" in capsys.readouterr().out


@pytest.mark.long
def test_our_own_downloads_come_back_as_they_went(tmp_path: Path):
    source = lately(tmp_path / "source")
    for others in {*(source / "logs").iterdir()} - {source / "logs/lagoon"}:
        shutil.rmtree(others)
    there = load(source, datetime.fromisoformat("2026-11-22T23:00:00+00:00")).journal
    assert there is not None
    assert main(["tables", "--content", str(source), "--to", str(tmp_path / "out"), "--as-of", "2026-11-22"]) == 0
    for month in (source / "logs/lagoon").glob("*.yaml"):
        month.unlink()
    words = [
        "gather",
        str(tmp_path / "out/systems/lagoon/readings.csv"),
        "--content",
        str(source),
        "--as-of",
        "2026-11-22",
    ]
    assert main([*words, "--system", "lagoon"]) == 0
    back = load(source, datetime.fromisoformat("2026-11-22T23:00:00+00:00")).journal
    assert back is not None

    def told(journal: Journal) -> list[str]:
        return sorted(f"{each.at} {each.kind} {each.value}" for each in journal.logs["lagoon"].readings)

    assert told(back) == told(there)


def test_rates_and_events_of_corals_go_into_their_files_once(content: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (content / "corals").mkdir()
    coral = "name: Bell 1\nspecies: Acropora tenuis\nline: bell\nform: branching\n"
    coral += "arrival: {at: 2026-01-01, how: gift}\nplacements: [{since: 2026-01-01, system: reef}]\n"
    file = content / "corals/bell-1.yaml"
    file.write_text(coral, "utf-8")
    pumps, events = (
        "Date,Soda ml/day\n2026-03-01,62\n2026-03-02,62\n2026-03-03,60\n",
        "Coral,Date,Mass g,Event\nBell 1,2026-03-01,120,\n,2026-04-01,,cut 2\n",
    )
    for _ in range(2):
        assert gather(content, "pumps.csv", pumps, "--system", "reef") == 0
        assert gather(content, "events.csv", events) == 0
    assert capsys.readouterr().out.count("nothing new to write") == 2
    weighings = "weighings:\n  - {at: 2026-03-01, mass: 120 g, resolution: 1 g}\n"
    assert file.read_text("utf-8") == f"{coral}{weighings}cuttings:\n  - {{at: 2026-04-01, frags: 2}}\n"
    assert [str(rate.rate) for rate in loaded(content).log_of("reef").pumps] == ["62 mL/day", "60 mL/day"]
    assert gather(content, "events.csv", events.replace("120", "140")) == 0
    assert "mass of 140 g, but corals/bell-1.yaml:8 says 120 g" in capsys.readouterr().out


@pytest.mark.parametrize("other", ["", "8.1,8.2\n7.9,8.0\n", "Date,KH\nsoon,8.1\n"])
def test_a_script_can_tell_that_one_of_several_files_was_not_taken(
    content: Path, other: str, capsys: pytest.CaptureFixture[str]
) -> None:
    sound, odd = content.parent / "sound.csv", content.parent / "odd.csv"
    sound.write_text("Date,KH\n2026-03-01,8.1\n")
    odd.write_text(other)
    words = ["--content", str(content), "--system", "reef"]
    assert main(["gather", str(sound), str(odd), *words]) == 1
    said = capsys.readouterr().out
    assert "not taken: odd.csv" in said
    assert "odd.csv, odd.csv" not in said
    assert "wrote 1 file" in said, "what is sound is written all the same"
    assert main(["gather", str(odd), *words]) == 1
