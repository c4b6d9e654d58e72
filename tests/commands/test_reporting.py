"""How problems are shown: the line with a caret under its fault on a terminal, and SARIF for editors and forges."""

import io
import json
from pathlib import Path

import jsonschema
import pytest

from generator.commands.terminal import print_problems, sarif
from generator.records.source import Problem, Source

FILE = "logs/reef/2026-03.yaml"
# The required parts of the schema published with SARIF 2.1.0 (OASIS Standard, 27 March 2020), as far as our logs
# use it. From memory: the whole schema was not at hand.
REQUIRED = {
    "type": "object",
    "required": ["version", "runs"],
    "additionalProperties": False,
    "properties": {
        "$schema": {"type": "string", "format": "uri"},
        "version": {"enum": ["2.1.0"]},
        "runs": {
            "type": "array",
            "items": {
                "type": "object",
                "required": ["tool"],
                "additionalProperties": False,
                "properties": {
                    "tool": {
                        "type": "object",
                        "required": ["driver"],
                        "properties": {
                            "driver": {
                                "type": "object",
                                "required": ["name"],
                                "properties": {
                                    "rules": {
                                        "type": "array",
                                        "uniqueItems": True,
                                        "items": {"type": "object", "required": ["id"]},
                                    }
                                },
                            }
                        },
                    },
                    "columnKind": {"enum": ["utf16CodeUnits", "unicodeCodePoints"]},
                    "results": {"type": "array", "items": {"$ref": "#/$defs/result"}},
                },
            },
        },
    },
    "$defs": {
        "result": {
            "type": "object",
            "required": ["message"],
            "additionalProperties": False,
            "properties": {
                "ruleId": {"type": "string"},
                "ruleIndex": {"type": "integer", "minimum": -1},
                "level": {"enum": ["none", "note", "warning", "error"]},
                "message": {"type": "object", "anyOf": [{"required": ["text"]}, {"required": ["id"]}]},
                "locations": {"type": "array", "items": {"$ref": "#/$defs/location"}},
                "relatedLocations": {"type": "array", "items": {"$ref": "#/$defs/location"}},
            },
        },
        "location": {
            "type": "object",
            "properties": {
                "id": {"type": "integer", "minimum": -1},
                "physicalLocation": {
                    "type": "object",
                    "anyOf": [{"required": ["address"]}, {"required": ["artifactLocation"]}],
                    "properties": {
                        "artifactLocation": {
                            "type": "object",
                            "properties": {"uri": {"type": "string", "format": "uri-reference"}},
                        },
                        "region": {
                            "type": "object",
                            "properties": {
                                "startLine": {"type": "integer", "minimum": 1},
                                "startColumn": {"type": "integer", "minimum": 1},
                            },
                        },
                    },
                },
            },
        },
    },
}


def problem(line: int = 1, column: int = 1, file: str = FILE) -> Problem:
    return Problem(Source(file, line, column), "quantity", "'8.1' has no unit", "write for example 8.1 dKH")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / FILE).parent.mkdir(parents=True)
    return tmp_path


def shown(folder: Path, text: str, line: int, column: int) -> list[str]:
    (folder / FILE).write_text(text, encoding="utf-8")
    out = io.StringIO()
    print_problems([problem(line, column)], folder, out)
    return out.getvalue().splitlines()[1:-1]


def test_the_caret_is_under_the_fault(folder: Path) -> None:
    assert shown(folder, "- at: 2026-03-02 08:10\n  readings: {alkalinity: 8.1}\n", 2, 26) == [
        "     2 |   readings: {alkalinity: 8.1}",
        "       |                          ^",
    ]


def test_a_wide_letter_takes_two_cells_and_an_accent_none(folder: Path) -> None:
    line, caret = shown(folder, "note: 珊e\u0301, 8.1\n", 1, 12)
    assert line == "     1 | note: 珊e\u0301, 8.1"
    assert caret == "       | " + " " * (len("note: ") + 2 + 1 + len(", ")) + "^"


@pytest.mark.parametrize("column", [1, 40, 400, 790])
def test_a_long_line_is_cut_around_its_fault(folder: Path, column: int) -> None:
    text = "".join(chr(ord("a") + n % 26) for n in range(800))
    line, caret = shown(folder, text, 1, column)
    assert len(line) <= 112
    assert line[caret.index("^")] == text[column - 1]


def test_no_line_of_a_file_sends_a_code_to_the_terminal(folder: Path) -> None:
    assert not any("\x1b" in line for line in shown(folder, "note: \x1b[31mred 8.1\n", 1, 7))


@pytest.mark.parametrize(
    "place", [Source(FILE, 9, 1), Source(FILE, 1, 0), Source("logs/gone.yaml"), Source("photos/a.png")]
)
def test_what_has_no_line_to_show_shows_none(folder: Path, place: Source) -> None:
    (folder / FILE).write_text("- at: 2026\n")
    out = io.StringIO()
    print_problems([Problem(place, "unreadable", "it is gone", "put it back")], folder, out)
    assert out.getvalue().splitlines() == [f"{place}: it is gone (put it back)", "1 error, no warnings"]


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize(("off", "coloured"), [(None, True), ("", True), ("1", False)])
def test_colour_is_for_a_terminal_without_no_color(
    folder: Path, off: str | None, coloured: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.delenv("NO_COLOR", raising=False)
    if off is not None:
        monkeypatch.setenv("NO_COLOR", off)
    terminal, pipe = Terminal(), io.StringIO()
    for out in (terminal, pipe):
        print_problems([problem()], folder, out)
    assert ("\x1b[" in terminal.getvalue()) is coloured
    assert "\x1b[" not in pipe.getvalue()


def test_sarif_has_what_its_schema_requires(folder: Path) -> None:
    far = Problem(Source("a b#1.yaml", 3, 0), "link", "a link", "remove it", Source(FILE, 2, 4), "warning")
    log = json.loads(sarif([problem(2, 26), far], folder))
    jsonschema.Draft7Validator(REQUIRED).validate(log)
    first, second = log["runs"][0]["results"]
    rules = log["runs"][0]["tool"]["driver"]["rules"]
    assert (first["level"], second["level"]) == ("error", "warning")
    assert [rules[each["ruleIndex"]]["id"] for each in (first, second)] == ["quantity", "link"]
    assert first["locations"][0]["physicalLocation"]["region"] == {"startLine": 2, "startColumn": 26}
    assert second["locations"][0]["physicalLocation"]["region"] == {"startLine": 3}
    assert second["relatedLocations"][0]["physicalLocation"]["artifactLocation"]["uri"].endswith(FILE)


def test_paths_in_sarif_are_relative_to_where_the_command_runs() -> None:
    log = json.loads(sarif([problem(file="photos/a b#1.png")], Path("content")))
    place = log["runs"][0]["results"][0]["locations"][0]["physicalLocation"]
    assert place["artifactLocation"]["uri"] == "content/photos/a%20b%231.png"


def test_a_journal_without_problems_is_a_log_without_results() -> None:
    log = json.loads(sarif([], Path("content")))
    jsonschema.Draft7Validator(REQUIRED).validate(log)
    assert log["runs"][0]["results"] == []
