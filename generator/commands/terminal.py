"""What goes to a terminal: text only, what a command is doing, problems with a caret under the fault, or as SARIF."""

import argparse
import json
import os
import re
import sys
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO, cast
from urllib.parse import quote

from generator import __version__

if TYPE_CHECKING:
    from generator.records.source import Problem, Source


# Control characters but tab and line feed, separators of lines, and those that turn the direction of text
# (Unicode 16, chapters 23.1 and 23.2, from memory). The terminal acts on them, or shows a text as another.
_STEERING = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2028\u2029\u2066-\u2069]")


class Stop(Exception):
    """A command ends with 1: each argument is a line for the keeper."""


NOTHING, NOT_ALL = "nothing was written", "not all was written"


@contextmanager
def stopping(*kinds: type[Exception], wrote: str = "") -> Iterator[None]:
    """Within it, an exception of these kinds ends the command with its message; so does `OSError`, if one says what
    was written by then.
    """
    try:
        yield
    except OSError as error:
        if not wrote:
            raise
        told = (wrote, error.filename2 or error.filename, error.strerror or error)
        raise Stop(": ".join(str(each) for each in told if each)) from None
    except kinds as error:
        raise Stop(str(error)) from None


@contextmanager
def text_only(out: TextIO, err: TextIO) -> Iterator[None]:
    """Within it, all that is printed is text; `steered` streams are for a command's own colours."""
    with redirect_stdout(cast(TextIO, _TextOnly(out))), redirect_stderr(cast(TextIO, _TextOnly(err))):
        yield


def escaped(text: str) -> str:
    """Text with escapes, as JSON writes them, in place of signs that steer a terminal."""
    return _STEERING.sub(lambda sign: json.dumps(sign[0])[1:-1], text)


def steered(stream: TextIO) -> TextIO:
    """The stream behind one that takes text only."""
    return stream.behind if isinstance(stream, _TextOnly) else stream


class _TextOnly:
    def __init__(self, behind: TextIO) -> None:
        self.behind = behind

    def write(self, text: str) -> int:
        return self.behind.write(escaped(text))

    def __getattr__(self, name: str) -> Any:
        return getattr(self.behind, name)


@contextmanager
def doing(args: argparse.Namespace, what: str) -> Iterator[Callable[[str], None]]:
    """Say what is done until the block ends: `with doing(args, "reading the journal"):`.

    Gives what says a part of it in between, and "" when that part is done.
    """
    width = 0

    def tell(part: str) -> None:
        nonlocal width
        width = max(width, _shown_over(args, f"{part or what} …", width))

    tell("")
    try:
        yield tell
    finally:
        _clear(width)


def print_done(args: argparse.Namespace, *lines: str) -> None:
    """Print what was done, unless nobody wants to know; what would be done is what `--try` asks for."""
    if not args.quiet or getattr(args, "only_try", False):
        for line in lines:
            print(line)


def print_lines(lines: Iterable[str]) -> None:
    """Print what pages say, with plain spaces: a line each."""
    for line in lines:
        print(line.replace("\u00a0", " "))


def _shown_over(args: argparse.Namespace, line: str, over: int = 0) -> int:
    """Write a line over one of a length; how long it is, 0 if nobody is to see it."""
    if getattr(args, "quiet", False) or not sys.stderr.isatty() or os.environ.get("TERM") == "dumb":
        return 0
    _write_over(f"\r{escaped(line):<{over}}")
    return len(line)


def _clear(length: int) -> None:
    if length:
        _write_over(f"\r{'':<{length}}\r")


def _write_over(text: str) -> None:
    stream = steered(sys.stderr)
    stream.write(text)
    stream.flush()


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
            wrong = escaped(said.removeprefix(place))
            said = f"\x1b[1m{escaped(place)}\x1b[0m\x1b[{_COLOURS[problem.severity]}m{wrong}\x1b[0m"
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
        "tool": {"driver": {"name": "corallite", "version": __version__, "rules": [{"id": kind} for kind in kinds]}},
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
