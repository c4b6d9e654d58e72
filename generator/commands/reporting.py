"""Problems on a terminal, each with its line and a caret under the fault, or as SARIF for editors and forges."""

import json
import os
import sys
import unicodedata
from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO
from urllib.parse import quote

from generator import __version__
from generator.commands.terminal import shown, steered

if TYPE_CHECKING:
    from generator.records.source import Problem, Source

# A longer line is cut around its fault.
_WIDTH = 100
_COLOURS = {"error": "31", "warning": "33"}
# OASIS Standard, Static Analysis Results Interchange Format (SARIF) 2.1.0, 27 March 2020 (from memory).
_SARIF = "2.1.0"
_SARIF_SCHEMA = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/os/schemas/sarif-schema-2.1.0.json"


def counted(number: int, word: str) -> str:
    """A number of things: `1 error`, `no warnings`."""
    return f"{number or 'no'} {word}{'' if number == 1 else 's'}"


def print_problems(problems: Sequence["Problem"], folder: Path, out: TextIO | None = None) -> None:
    """Print each problem of a journal's folder with its line, errors first, then the counts."""
    out = out or sys.stdout
    colour = _in_colour(out)
    lines = cache(lambda file: _lines(folder, file))
    errors, warnings = _by_severity(problems)
    for problem in (*errors, *warnings):
        said = str(problem)
        if colour:
            place = str(problem.source)
            wrong = shown(said.removeprefix(place))
            said = f"\x1b[1m{shown(place)}\x1b[0m\x1b[{_COLOURS[problem.severity]}m{wrong}\x1b[0m"
        print(said, file=steered(out) if colour else out)
        for line in _excerpt(problem.source, lines(problem.source.file)):
            print(line, file=out)
    if problems:
        print(f"{counted(len(errors), 'error')}, {counted(len(warnings), 'warning')}", file=out)


def _by_severity(problems: Sequence["Problem"]) -> "tuple[list[Problem], list[Problem]]":
    return [p for p in problems if p.severity == "error"], [p for p in problems if p.severity == "warning"]


def _in_colour(out: TextIO) -> bool:
    """Colour is for people at a terminal who have not set NO_COLOR (no-color.org)."""
    return out.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


def _lines(folder: Path, file: str) -> list[str]:
    """The lines of a file; none of a picture or of a file that cannot be read."""
    from generator.read.discover import read_text

    text = read_text(folder, file)[0] if file.endswith((".yaml", ".md")) else None
    return (text or "").split("\n")


def _excerpt(source: "Source", lines: Sequence[str]) -> Iterator[str]:
    """The line of a place with a caret below its column; nothing for a whole file or a line that is not there."""
    if source.column < 1 or source.line > len(lines) or not lines[source.line - 1].strip():
        return
    text = "".join(c if c.isprintable() else " " for c in lines[source.line - 1])
    first = max(0, source.column - 1 - _WIDTH // 2) if len(text) > _WIDTH else 0
    before = "…" * bool(first) + text[first : source.column - 1]
    shown = before + text[source.column - 1 : first + _WIDTH] + "…" * (len(text) > first + _WIDTH)
    number = f"{source.line:>6}"
    yield f"{number} | {shown}"
    yield f"{' ' * len(number)} | {' ' * sum(map(_cells, before))}^"


def _cells(letter: str) -> int:
    """How many columns of a terminal a letter takes."""
    if unicodedata.combining(letter):
        return 0
    return 2 if unicodedata.east_asian_width(letter) in "WF" else 1


def sarif(problems: Sequence["Problem"], folder: Path) -> str:
    """The problems as a SARIF log with one run. Paths are relative to where the command runs, if the folder's is."""
    kinds = sorted({problem.kind for problem in problems})
    run = {
        "tool": {
            "driver": {"name": "corallite", "version": __version__, "rules": [{"id": kind} for kind in kinds]},
        },
        "columnKind": "unicodeCodePoints",
        "results": [_result(problem, kinds, folder) for problem in problems],
    }
    return json.dumps({"$schema": _SARIF_SCHEMA, "version": _SARIF, "runs": [run]}, indent=1, ensure_ascii=False)


def _result(problem: "Problem", kinds: list[str], folder: Path) -> dict[str, Any]:
    also = [{"id": 1, **_location(problem.also_at, folder)}] if problem.also_at else []
    return {
        "ruleId": problem.kind,
        "ruleIndex": kinds.index(problem.kind),
        "level": problem.severity,
        "message": {"text": f"{problem.wrong} ({problem.remedy})"},
        "locations": [_location(problem.source, folder)],
        **({"relatedLocations": also} if also else {}),
    }


def _location(source: "Source", folder: Path) -> dict[str, Any]:
    path = folder / source.file
    uri = path.as_uri() if path.is_absolute() else quote(path.as_posix())
    region = {"startLine": source.line, **({"startColumn": source.column} if source.column else {})}
    return {"physicalLocation": {"artifactLocation": {"uri": uri}, "region": region}}
