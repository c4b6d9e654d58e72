"""YAML text as plain values in which every scalar stays text, with the position of each.

YAML's guesses (`no` is false, `12:30` is 750) never happen here: the type of the field decides what
its text means. Features that a keeper does not need and a stranger could abuse (anchors, aliases,
merge keys, tags, great depth) are refused.
"""

import re
from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

import yaml
from msgspec import Struct

from generator.read.syntax import explain
from generator.records.source import Problem, Source

MAX_DEPTH = 20

# libyaml if it is installed: about ten times as fast, with the same events.
_LOADER: Any = yaml.CBaseLoader if yaml.__with_libyaml__ else yaml.BaseLoader
_EMPTY = ("", "~", "null")
# A name and a number between braces without a space, which YAML reads as one name.
_PARTED = re.compile(r"([a-z_-]+)(:| )\s*([<\d].*)")
# libyaml counts these as ends of lines; editors do not, so they must not shift the count.
_ODD_BREAKS = "\x85\u2028\u2029"


class Mark(Struct, frozen=True):
    """A value's position, from 1. `inside` has its parts: key to (key's mark, value's mark), or a list."""

    line: int
    column: int
    inside: Any = None


# The mark of every mapping of a document, by the line and column where it starts.
Starts = Mapping[tuple[int, int], Mark]


class Parsed(NamedTuple):
    """What one file says (texts, lists, dicts) and where; `mark` has the same shape as `value`.

    `torn` has the line and column of every list and mapping of which a part could not be read.
    """

    value: Any
    mark: Mark
    torn: frozenset[tuple[int, int]] = frozenset()

    def place(self, path: tuple[str | int, ...], of_key: bool = False) -> Mark:
        """The mark of the value at a path, or of the key before it; as far as the path can be followed."""
        mark = self.mark
        for step in path:
            if isinstance(mark.inside, dict) and step in mark.inside:
                key, value = mark.inside[step]
                mark = key if of_key and step == path[-1] and step is path[-1] else value
            elif isinstance(mark.inside, list) and isinstance(step, int) and step < len(mark.inside):
                mark = mark.inside[step]
            else:
                break
        return mark

    @property
    def starts(self) -> Starts:
        """The mark of every mapping in it, by the line and column where it starts."""
        return dict(_starts(self.mark))


def _starts(mark: Mark) -> Iterator[tuple[tuple[int, int], Mark]]:
    if isinstance(mark.inside, dict):
        yield (mark.line, mark.column), mark
        for _, inner in mark.inside.values():
            yield from _starts(inner)
    elif isinstance(mark.inside, list):
        for inner in mark.inside:
            yield from _starts(inner)


def read_whole(text: str, file: str, lines_before: int) -> tuple[Parsed | None, list[Problem], bool]:
    """The document in a text, what is wrong with it, and whether all of it was read. The last problem stopped it.

    `lines_before` counts the lines of the file that came before the text.
    """
    for each in _ODD_BREAKS:
        text = text.replace(each, " ")
    builder = _Builder(file, lines_before)
    try:
        builder.take_all(text)
    except (yaml.YAMLError, UnicodeEncodeError) as error:
        builder.problems.append(explain(error, text, file, lines_before))
        return None, builder.problems, False
    except _Refused:
        return None, builder.problems, False
    return builder.document, builder.problems, True


class _Refused(Exception):
    """The structure is refused; the reason is already among the problems."""


class _Builder:
    """Builds one document from the stream of YAML events, without recursion."""

    def __init__(self, file: str, lines_before: int) -> None:
        self.file = file
        self.first = lines_before + 1
        self.problems: list[Problem] = []
        self.document: Parsed | None = None
        self.stack: list[tuple[Any, Any, str | None, Mark | None]] = []
        self.value: Any = None  # the list or dict being filled
        self.inside: Any = None  # its marks
        self.key: str | None = None
        self.key_mark: Mark | None = None

    def take_all(self, text: str) -> None:
        """Fill the document from the events of a text."""
        loader = _LOADER(text)
        try:
            self._take(iter(loader.get_event, None))
        finally:
            loader.dispose()

    def _take(self, events: Iterator[Any]) -> None:
        for event in events:
            kind = type(event)
            if kind is yaml.ScalarEvent:
                self._scalar(event)
            elif kind is yaml.MappingStartEvent:
                self._open(event, {}, {})
            elif kind is yaml.SequenceStartEvent:
                self._open(event, [], [])
            elif kind is yaml.MappingEndEvent or kind is yaml.SequenceEndEvent:
                self.value, self.inside, self.key, self.key_mark = self.stack.pop()
            elif kind is yaml.AliasEvent:
                self._refuse(event, "alias", "YAML reads a value that starts with * as a link", "quote the value")
            elif kind is yaml.DocumentStartEvent and self.document is not None:
                self._refuse(
                    event, "documents", "a second document starts here", "delete the line '---'; a file is one document"
                )

    def say(self, line: int, column: int, kind: str, wrong: str, remedy: str, also: Source | None = None) -> None:
        """Note a problem."""
        self.problems.append(Problem(Source(self.file, line, column), kind, wrong, remedy, also))

    def _refuse(self, event: Any, kind: str, wrong: str, remedy: str) -> None:
        mark = event.start_mark
        self.say(mark.line + self.first, mark.column + 1, kind, wrong, remedy)
        raise _Refused

    def _scalar(self, event: Any) -> None:
        if event.anchor or event.tag:
            self._refuse_label(event)
        start = event.start_mark
        mark = Mark(start.line + self.first, start.column + 1)
        text = event.value
        if self.key is None and type(self.value) is dict:
            self._take_key(text, mark)
        elif text in _EMPTY and not event.style:
            self._empty(mark)
        else:
            self._put(text, mark)

    def _open(self, event: Any, value: Any, inside: Any) -> None:
        if event.anchor or event.tag:
            self._refuse_label(event)
        start = event.start_mark
        if self.key is None and type(self.value) is dict:
            self._refuse(event, "shape", "a name cannot be a list or a mapping", "quote text that starts with { or [")
        if len(self.stack) >= MAX_DEPTH:
            self._refuse(
                event,
                "depth",
                f"this has more than {MAX_DEPTH} nested levels",
                "a journal's file needs far fewer levels",
            )
        self._put(value, Mark(start.line + self.first, start.column + 1, inside))
        self.stack.append((self.value, self.inside, self.key, self.key_mark))
        self.value, self.inside, self.key, self.key_mark = value, inside, None, None

    def _take_key(self, text: str, mark: Mark) -> None:
        if text == "<<":
            self.say(mark.line, mark.column, "alias", "'<<' merges another mapping", "write the lines here")
            raise _Refused
        if text in self.value:
            first = self.inside[text][0]
            self.say(
                mark.line,
                mark.column,
                "duplicate-key",
                f"'{text}' is given twice",
                "keep one of the two",
                Source(self.file, first.line, first.column),
            )
        self.key, self.key_mark = text, mark

    def _put(self, value: Any, mark: Mark) -> None:
        if type(self.value) is list:
            self.value.append(value)
            self.inside.append(mark)
        elif self.key is not None:
            self.value[self.key] = value
            self.inside[self.key] = (self.key_mark, mark)
            self.key = None
        else:
            self.document = Parsed(value, mark)

    def _empty(self, mark: Mark) -> None:
        # The value is left out but its marks stay, so that it is not reported again as missing.
        if type(self.value) is list:
            self.say(
                mark.line, mark.column, "empty-value", "this item of the list is empty", "write it, or delete the '-'"
            )
        elif self.key is not None and (before := self._before_a_comma(self.key)) is not None:
            # Braces part {alkalinity: 8,1 dKH} at its comma; the keeper meant one number.
            whole = self.value[before]
            place, meant = self.inside[before][1], f"{whole}.{self.key}"
            wrong = f"'{whole},{self.key}' has a comma in its number"
            self.say(place.line, place.column, "quantity", wrong, f"write '{meant}', with a point")
            self.value[before], self.key = meant, None
        elif self.key is not None and self.key_mark is not None and (parted := _PARTED.fullmatch(self.key)):
            name, value = parted[1], parted[3]
            wrong = f"there is no space after '{name}:'" if parted[2] == ":" else f"there is no ':' after '{name}'"
            self.say(self.key_mark.line, self.key_mark.column, "syntax", wrong, f"write '{name}: {value}'")
            self.key = name
            self._put(value, mark)
        elif self.key is not None and self.key_mark is not None:
            self.inside[self.key] = (self.key_mark, self.key_mark)
            self.say(
                self.key_mark.line,
                self.key_mark.column,
                "empty-value",
                f"'{self.key}' has no value",
                "write the value, or leave the line out",
            )
            self.key = None

    def _before_a_comma(self, key: str) -> str | None:
        """The name before a key without a value, if the key can be the digits after that name's decimal comma."""
        before = next(reversed(self.value), None)
        whole = self.value[before] if before is not None else None
        goes_on = isinstance(whole, str) and re.fullmatch(r"[-+]?\d+", whole) and re.match(r"\d+(?![\d-])", key)
        return before if goes_on else None

    def _refuse_label(self, event: Any) -> None:
        if event.anchor:
            self._refuse(event, "alias", "YAML reads a value that starts with & as a name", "quote the value")
        self._refuse(event, "tag", "YAML reads a value that starts with ! as a type", "quote the value")
