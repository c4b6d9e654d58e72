"""Facts as YAML in the house form, and how they enter a text that someone wrote: nothing else of it changes."""

import json
import re
from collections.abc import Mapping

from generator.read.recovery import read_yaml
from generator.read.yaml_lines import Document, Mark
from generator.shorthand.change import Value
from generator.units.quantity import Quantity

Fields = Mapping[str, "str | Mapping[str, str]"]

_PLAIN = re.compile(r"[A-Za-z0-9<][\w.<>/%°µ+ -]*(?<! )")
_PLAIN_WORDS = re.compile(r"[^\W\d_][^:#\"\\]*(?<! )")
_EMPTY = ("null", "~", "")


class CannotExtend(ValueError):
    """A text into which nothing can be put without changing the rest of it."""


def written(value: Value) -> str:
    """A value as the files write it, fit for a mapping between braces."""
    if isinstance(value, Quantity | int):
        return str(value)
    if isinstance(value, tuple):
        return f"[{', '.join(map(str, value))}]"
    text = " ".join(value.split())
    return text if _PLAIN.fullmatch(text) and text.lower() not in _EMPTY else json.dumps(text, ensure_ascii=False)


def words(text: str) -> str:
    """A keeper's own words as a value on a line of its own: plain if they can be."""
    one_line = " ".join(text.split())
    plain = _PLAIN_WORDS.fullmatch(one_line) and one_line.lower() not in _EMPTY
    return one_line if plain else json.dumps(one_line, ensure_ascii=False)


def braces(parts: Mapping[str, str]) -> str:
    """A mapping on one line."""
    return "{" + ", ".join(f"{key}: {value}" for key, value in parts.items()) + "}"


def newline_of(text: str) -> str:
    """How the lines of a text end."""
    return "\r\n" if "\r\n" in text else "\n"


def lines_of(text: str) -> list[str]:
    """The lines of a text as YAML counts them, each with its own end: a file may have both kinds."""
    return re.findall(r"[^\r\n]*(?:\r\n|\r|\n)|[^\r\n]+", text)


def without_mark(text: str) -> tuple[str, str]:
    """The byte order mark that some editors begin a text with, and the rest, by which YAML counts columns."""
    return (text[:1], text[1:]) if text.startswith("\ufeff") else ("", text)


def put_first(text: str, mark: Mark, entry: str) -> str:
    """A text with an entry added as the first of the mapping at a mark."""
    start, text = without_mark(text)
    lines = lines_of(text)
    line = lines[mark.line - 1]
    before, after = line[: mark.column - 1], line[mark.column - 1 :]
    if after.startswith("{"):
        inner = after[1:].lstrip(" ")
        lines[mark.line - 1] = f"{before}{{{entry}{'' if inner.startswith('}') else ', '}{inner}"
    else:
        lines[mark.line - 1] = f"{before}{entry}{newline_of(text)}{' ' * len(before)}{after}"
    return start + "".join(lines)


def put_lines(text: str, after: int, new: list[str]) -> str:
    """A text with lines added after its line number `after` (0: at its start)."""
    start, text = without_mark(text)
    end, lines = newline_of(text), lines_of(text)
    if lines and not lines[-1].endswith(("\n", "\r")):
        lines[-1] += end
    return start + "".join([*lines[:after], *(f"{line}{end}" for line in new), *lines[after:]])


def document_of(text: str, file: str) -> Document:
    """What a text says. Raises `CannotExtend` if it has mistakes that YAML itself knows."""
    document, problems = read_yaml(text, file)
    if document is None or problems:
        raise CannotExtend(
            f"{file} cannot be extended (correct it first: {problems[0] if problems else 'it is empty'})"
        )
    return document


def last_line(text: str, mark: Mark, following: int | None) -> int:
    """The last line of what stands at a mark, before the line where something else follows; not its comments."""
    lines = lines_of(text)
    last = (following or len(lines) + 1) - 1
    while last > mark.line and (not lines[last - 1].strip() or _is_comment(lines[last - 1], mark)):
        last -= 1
    return last


def _is_comment(line: str, mark: Mark) -> bool:
    stripped = line.lstrip(" \ufeff")
    return stripped.startswith("#") and len(line) - len(stripped) < mark.column
