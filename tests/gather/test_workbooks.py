"""Spreadsheets of strangers: a kilobyte that unfolds to gigabytes is a message, and what is hidden stays so."""

import io
import zipfile

import pandas as pd
import pytest

from generator.gather import opening
from generator.gather.opening import CannotOpen, Sheet, sheets_of

_NAMES = "".join(
    f' xmlns:{name}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"' for name in ("office", "table", "text")
)
_MAIN = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'


def ods(inside: str, before: str = "") -> bytes:
    """An OpenDocument spreadsheet of one table, from the XML of its rows."""
    file = io.BytesIO()
    table = f'<table:table table:name="notes">{inside}</table:table>'
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as parts:
        parts.writestr("content.xml", f"{before}<office:document-content{_NAMES}>{table}</office:document-content>")
    return file.getvalue()


def xlsx(*cells: tuple[str, str]) -> bytes:
    """A workbook with text in some cells, as its XML says where they are."""
    file, made = io.BytesIO(), io.BytesIO()
    pd.DataFrame().to_excel(file, index=False, header=False)
    rows = "".join(
        f'<row r="{at.lstrip("ADFIWX")}"><c r="{at}" t="inlineStr"><is><t>{text}</t></is></c></row>'
        for at, text in cells
    )
    with zipfile.ZipFile(file) as old, zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            sheet = f"<worksheet {_MAIN}><sheetData>{rows}</sheetData></worksheet>"
            new.writestr(name, sheet if name.endswith("sheet1.xml") else old.read(name))
    return made.getvalue()


def cell(text: str, more: str = "") -> str:
    return f'<table:table-cell office:value-type="string"{more}><text:p>{text}</text:p></table:table-cell>'


def row(*cells: str, more: str = "") -> str:
    return f"<table:table-row{more}>{''.join(cells)}</table:table-row>"


def times(what: str, n: int) -> str:
    return f' table:number-{what}s-repeated="{n}"'


LAUGHS = '<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;">]>'
FULL = "it has more than 100000 rows or 256 columns"


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("a.ods", ods(row(cell("x", times("column", 16384)), more=times("row", 1048576))), FULL),
        ("a.ods", ods(row(cell("x"), more=times("row", 1048576))), FULL),
        ("a.ods", ods(row(cell("x"), cell("y", times("column", 300)))), FULL),
        ("a.ods", ods(row(cell("&b;")), LAUGHS), "it declares entities"),
        ("a.ods", ods(row("<broken")), "cannot be read as a spreadsheet"),
        ("a.ods", b"PK\x03\x04", "cannot be read as a spreadsheet"),
        ("a.xlsx", xlsx(*((f"A{n}", "x") for n in range(99_999, 100_002))), FULL),
        ("a.xlsx", xlsx(("IW1", "the 257th")), FULL),
        ("a.xlsx", xlsx(("A1", "&b;")), "cannot be read as a spreadsheet"),
    ],
)
def test_a_sheet_that_unfolds_beyond_any_notes_is_refused(name: str, content: bytes, said: str) -> None:
    with pytest.raises(CannotOpen, match=said) as refused:
        sheets_of(name, content)
    assert "save the sheet with your notes as .csv" in str(refused.value)
    assert "\n" not in str(refused.value)


def test_a_cell_at_the_far_end_of_a_sheet_makes_it_no_larger() -> None:
    (sheet,) = sheets_of("a.xlsx", xlsx(("A1", "Date"), ("XFD1048576", "8.1")))
    assert sheet.rows == (("Date",),)


def test_what_a_file_unfolds_to_is_counted_before_it_is_opened(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(opening, "_UNFOLDED", 1000)
    for name, content in (("a.ods", ods(cell("x" * 1000))), ("a.xlsx", xlsx(("A1", "x" * 1000)))):
        with pytest.raises(CannotOpen, match="it unfolds to"):
            sheets_of(name, content)


def test_empty_rows_and_columns_to_the_end_of_the_sheet_are_left_out() -> None:
    """As an office program ends every sheet: with one empty cell and one empty row, repeated to the end."""
    empty = f"<table:table-cell{times('column', 16380)}/>"
    rows = (
        row(cell("Date"), cell("KH"), empty),
        row(empty, more=times("row", 2)),
        row(cell("2026-03-01"), cell("8.1")),
        row(empty, more=times("row", 1048570)),
    )
    assert sheets_of("a.ods", ods("".join(rows))) == (Sheet("notes", (("Date", "KH"), (), (), ("2026-03-01", "8.1"))),)


def test_a_cell_says_its_value_and_neither_its_comment_nor_a_mistake() -> None:
    comment = "<office:annotation><text:p>not said</text:p></office:annotation>"
    blanks = '<text:s text:c="2000000000"/>'
    values = (
        ("date", 'office:date-value="2026-03-01T08:40:00"', ""),
        ("date", 'office:date-value="2026-03-01"', ""),
        ("time", 'office:time-value="PT08H40M00S"', ""),
        ("float", 'office:value="8.100000000000001"', "<text:p>8,1</text:p>"),
        ("string", "", f"{comment}<text:p>a{blanks}<text:span>b</text:span>c</text:p>"),
    )
    cells = [
        f'<table:table-cell office:value-type="{kind}" {value}>{text}</table:table-cell>'
        for kind, value, text in values
    ]
    (sheet,) = sheets_of("a.ods", ods(row(*cells)))
    assert sheet.rows == (("2026-03-01 08:40", "2026-03-01", "08:40", "8.1", "a bc"),)
    (sheet,) = sheets_of("a.xlsx", xlsx(("A1", "#DIV/0!"), ("A2", "8.1")))
    assert sheet.rows == ((), ("8.1",))
