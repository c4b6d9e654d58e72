"""What a YAML parser's complaint means to a keeper.

The parser says where it gave up, but the cause is often on the line before. Each explainer looks at the
complaint and the lines around it, and answers or returns None.
"""

import re
from collections.abc import Callable
from typing import NamedTuple

import yaml

from generator.records.fields import UNREADABLE
from generator.records.source import Problem, Source


class _Complaint(NamedTuple):
    """What the parser said, with positions from 0: where it gave up, and where the value it was in starts."""

    problem: str
    context: str
    line: int
    column: int
    began: int
    lines: list[str]

    def text(self, line: int) -> str:
        return self.lines[line] if 0 <= line < len(self.lines) else ""


# Line from 0, kind, what is wrong, what to write instead.
_Answer = tuple[int, str, str, str]


def explain(error: yaml.YAMLError | UnicodeEncodeError, text: str, file: str, lines_before: int) -> Problem:
    """The parser's complaint in a keeper's words, at the line that causes it."""
    complaint = _complaint(error, text)
    line, kind, wrong, remedy = next(filter(None, (explainer(complaint) for explainer in _EXPLAINERS)))
    at = complaint.text(line)
    column = complaint.column + 1 if line == complaint.line else len(at) - len(at.lstrip()) + 1
    last = max(len(complaint.lines) - 1, 0)
    return Problem(Source(file, min(line, last) + lines_before + 1, column), kind, wrong, remedy)


def _complaint(error: yaml.YAMLError | UnicodeEncodeError, text: str) -> _Complaint:
    lines = text.split("\n")
    if lines[-1] == "" and len(lines) > 1:
        lines.pop()
    if isinstance(error, yaml.MarkedYAMLError) and error.problem_mark:
        mark, began = error.problem_mark, error.context_mark or error.problem_mark
        return _Complaint(error.problem or "", error.context or "", mark.line, mark.column, began.line, lines)
    return _Complaint(str(getattr(error, "reason", error)), "", _line_of_unreadable(text), 0, 0, lines)


def _line_of_unreadable(text: str) -> int:
    found = UNREADABLE.search(text)
    return text.count("\n", 0, found.start()) if found else 0


def unreadable_lines(text: str, file: str, first_line: int = 1) -> list[Problem]:
    """A problem for each line of a Markdown text with an invisible character in it."""
    if UNREADABLE.search(text) is None:
        return []
    return [
        Problem(
            Source(file, first_line + number, found.start() + 1),
            "control-character",
            f"an invisible character U+{ord(found.group()):04X}",
            "delete it",
        )
        for number, line in enumerate(text.split("\n"))
        if (found := UNREADABLE.search(line))
    ]


def _control_character(said: _Complaint) -> _Answer | None:
    found = UNREADABLE.search(said.text(said.line))
    if found is None:
        return None
    return said.line, "control-character", f"an invisible character U+{ord(found.group()):04X}", "delete it"


def _too_deep(said: _Complaint) -> _Answer | None:
    if "nesting depth" not in said.problem:
        return None
    return said.line, "depth", "this has far too many nested levels", "a journal's file needs far fewer levels"


def _tab(said: _Complaint) -> _Answer | None:
    tabbed = [n for n, line in enumerate(said.lines) if re.match(r" *\t\s*\S", line)]
    if not tabbed or tabbed[0] > said.line:
        return None
    more = len(tabbed) - 1
    others = f", and so {'is' if more == 1 else 'are'} {more} more" if more else ""
    return tabbed[0], "tab", f"the line is indented with a tab{others}", "indent with spaces, two for each level"


def _reserved(said: _Complaint) -> _Answer | None:
    mark = said.text(said.line)[said.column : said.column + 1]
    if mark not in ("@", "`", "%", "*", "&", ">", "|", "!") or not mark:
        return None
    value = said.text(said.line)[said.column :].strip()
    return said.line, "syntax", f"a value cannot start with {mark}", f'quote it: "{_quotable(value)}"'


def _symbol_before(said: _Complaint) -> _Answer | None:
    # `> 5` or `*bold*`: the parser gives up after the mark that misled it.
    found = re.match(r"(\s*(?:- )?[\w-]+: +)([*&>|!].*)", said.text(said.line))
    if found is None:
        return None
    mark, value = found.group(2)[0], found.group(2).strip()
    return said.line, "syntax", f"a value cannot start with {mark}", f'quote it: "{_quotable(value)}"'


# Names that hold named values, which a keeper may write in one line.
_HOLDERS = (
    *("readings", "doses", "pumps", "measured_rate", "filled", "water_change", "top_off", "reactor", "event"),
    *("water", "arrival"),
)


def _colon_in_text(said: _Complaint) -> _Answer | None:
    found = re.match(r"(\s*(?:- )?[\w-]+: +)([^\"'{\[].*: ?.*)", said.text(said.line))
    if found is None or "mapping values" not in said.problem:
        return None
    name, value = found.group(1).strip(" -:"), found.group(2).strip()
    if name in _HOLDERS and re.fullmatch(r"[a-z_-]+: [^:]+", value):
        return said.line, "syntax", f"'{name}' and its value need braces", f"write '{name}: {{{value}}}'"
    return said.line, "syntax", "there is a second ': ' in the value", f'quote the value: "{_quotable(value)}"'


def _missing_space(said: _Complaint) -> _Answer | None:
    for line in (said.line, said.line - 1, said.began):
        found = re.match(r"\s*(?:- )?([a-z_]+):(\S.*)", said.text(line))
        if found:
            name, rest = found.groups()
            return line, "syntax", f"there is no space after '{name}:'", f"write '{name}: {rest.strip()}'"
    return None


def _space_after_dash(said: _Complaint) -> _Answer | None:
    for line in (said.line, said.line - 1):
        found = re.match(r"\s*-([^\s-].*)", said.text(line))
        if found:
            return line, "syntax", "there is no space after the '-'", f"write '- {found.group(1).strip()}'"
    return None


def _missing_colon(said: _Complaint) -> _Answer | None:
    if "mapping values" not in said.problem and "expected ':'" not in said.problem:
        return None
    for line in (said.line - 1, said.line, said.began):
        found = re.match(r"\s*(?:- )?([a-z_]+)(?:\s+([^:]*))?$", said.text(line))
        if found and said.text(line).strip():
            name, rest = found.group(1), (found.group(2) or "").strip()
            return line, "syntax", f"there is no ':' after '{name}'", f"write '{f'{name}: {rest}'.strip()}'"
    return None


def _quote_left_open(said: _Complaint) -> _Answer | None:
    if "end of stream" not in said.problem or "quoted" not in said.context:
        return None
    return said.began, "syntax", "this quotation mark has no closing mark", "add one at the end of the value"


def _backslash(said: _Complaint) -> _Answer | None:
    if "escape" not in said.problem:
        return None
    return said.line, "syntax", 'a \\ between " marks starts a code', "put the value between ' marks, or write / for \\"


def _text_after_quote(said: _Complaint) -> _Answer | None:
    found = re.match(r"(\s*(?:- )?[\w-]+: +)(['\"].*)", said.text(said.line))
    if found is None or said.column <= len(found.group(1)):
        return None
    value = found.group(2).strip()
    mark = value[0]
    inner = value[1:-1] if value.endswith(mark) and len(value) > 1 else value.replace(mark, "", 2)
    other = '"' if '"' not in inner else "'"
    return said.line, "syntax", "there is text after the quoted value", f"write {other}{inner}{other}"


def _bracket_left_open(said: _Complaint) -> _Answer | None:
    if "flow" not in said.context:
        return None
    before = "\n".join(said.lines[: said.began + 1])
    # Where nothing follows the bracket, the parser does not say which one it is, nor on which line.
    last = _last_open(before) if "node" in said.context else -1
    mark = "]" if "sequence" in said.context or before[last:].startswith("[") else "}"
    if ";" in said.text(said.line) and mark in said.text(said.line):
        return said.line, "syntax", "there is a ';' between two values", "write ',' instead"
    return (
        before.count("\n", 0, last) if last >= 0 else said.began,
        "syntax",
        f"the {'[' if mark == ']' else '{'} on this line is not closed",
        f"close it with {mark}",
    )


def _last_open(text: str) -> int:
    opened = [-1]
    for at, sign in enumerate(text):
        if sign in "[{":
            opened.append(at)
        elif sign in "]}" and len(opened) > 1:
            opened.pop()
    return opened[-1]


def _bracket_too_many(said: _Complaint) -> _Answer | None:
    text = said.text(said.line)
    mark = text[said.column : said.column + 1]
    if mark not in ("}", "]") or text.count(mark) <= text.count("{" if mark == "}" else "["):
        return None
    return said.line, "syntax", f"this {mark} closes nothing", f"delete one {mark}"


def _item_and_name(said: _Complaint) -> _Answer | None:
    text = said.text(said.line).strip()
    if "block mapping" in said.context and text.startswith("- "):
        return said.line, "indentation", "there is a list item among fields", "indent the list below its name"
    if "block collection" in said.context or "'-' indicator" in said.problem:
        name = text.split(":")[0]
        return (
            said.line,
            "indentation",
            f"'{name}' is outside the list",
            "indent it as far as the other lines of its item",
        )
    return None


def _indentation(said: _Complaint) -> _Answer | None:
    if "expected key" not in said.problem and "mapping values" not in said.problem:
        return None
    name = said.text(said.line).strip().removeprefix("- ").split(":")[0]
    return (
        said.line,
        "indentation",
        f"'{name}' is indented differently from its neighbours",
        "indent it exactly like them",
    )


def _anything(said: _Complaint) -> _Answer:
    return said.line, "syntax", f"this is not YAML: {said.problem}", "check this line and the one above"


_EXPLAINERS: tuple[Callable[[_Complaint], _Answer | None], ...] = (
    _control_character,
    _too_deep,
    _tab,
    _quote_left_open,
    _backslash,
    _bracket_too_many,
    _missing_space,
    _symbol_before,
    _reserved,
    _colon_in_text,
    _space_after_dash,
    _missing_colon,
    _text_after_quote,
    _bracket_left_open,
    _item_and_name,
    _indentation,
    _anything,
)


def _quotable(value: str) -> str:
    return value.replace("\\", "\\\\").replace('"', '\\"')
