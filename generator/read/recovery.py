"""A file that is not YAML throughout, or has a record with mistakes: all that can be read around the fault."""

import itertools
import re
from bisect import bisect_left, insort
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any, NamedTuple

from generator.read.checks import OF_SYSTEMS, OF_WHAT_IS_SAID, unresolved
from generator.read.draft import Draft, FieldShape
from generator.read.yaml_lines import Mark, Parsed, read_whole
from generator.records.source import Problem, Source

if TYPE_CHECKING:
    from pydantic import TypeAdapter, ValidationError

# Stands for a name or a text that is not there. No keeper writes it, and no message may repeat it.
MADE_UP = "made-up-by-corallite"
# Mending one mistake can show the next one below it; a record nests at most a few levels deep.
_ROUNDS = 12
_Path = tuple[str | int, ...]


class Remains(NamedTuple):
    """A record without its mistakes; `made_up` are the places (line, column) of what had to be made up.

    It is `torn` if lines of it could not be read.
    """

    record: Any
    made_up: frozenset[tuple[int, int]] = frozenset()
    torn: bool = False


def remains(
    adapter: "TypeAdapter[Any]",
    value: Any,
    shape: FieldShape,
    error: "ValidationError",
    context: Any,
    place: Callable[[_Path], Mark],
) -> Remains | None:
    """The record in a value once what is wrong in it is left out, or made up where it must be there.

    None if too little is left. Changes the value. `place` gives the position of what is at a path.
    """
    from pydantic import ValidationError

    made: dict[_Path, int] = {}
    for _ in range(_ROUNDS):
        for each in error.errors(include_url=False, include_context=False):
            if not _mend(value, each["loc"], each["type"] == "missing", shape, made):
                return None
        try:
            record = adapter.validate_python(value, context=context)
            return Remains(record, frozenset((at.line, at.column) for at in map(place, made)))
        except ValidationError as next_error:
            error = next_error
    return None


def _mend(value: Any, path: _Path, missing: bool, shape: FieldShape, made: dict[_Path, int]) -> bool:
    """Leave out what is at a path, or make it up; whether that could be done."""
    renamed = path[-1:] == ("[key]",)
    path = path[:-1] if renamed else path
    holder: Any = value
    for step in path[:-1]:
        try:
            holder = holder[step]
        except (KeyError, IndexError, TypeError):
            return False
    if not path or not isinstance(holder, dict | list):
        return False
    last: Any = path[-1]
    within = shape.at(path[:-1])
    # What has a name in a system may be meant elsewhere.
    named = within is not None and within.item is not None and within.item.form == "record"
    if renamed and named and isinstance(holder, dict) and last in holder:
        holder[re.sub(r"[^a-z0-9]+", "-", str(last).lower()).strip("-")] = holder.pop(last)
    elif missing or isinstance(holder, list) or named:
        made[path] = made.get(path, -1) + 1
        holder[last] = _made_up(shape.at(path), value, made[path])
    else:
        holder.pop(last, None)
    return True


def _made_up(shape: FieldShape | None, value: Any, attempt: int) -> Any:
    """A value of a shape: each attempt gives another, until one is of the field's type."""
    if shape is None or shape.form == "record":
        return {"source": value["source"]}
    if shape.form in ("list", "mapping"):
        return [] if shape.form == "list" else {}
    choices = (shape.example or next(iter(shape.choices), MADE_UP), MADE_UP, "1", "true", "1 %")
    return choices[attempt % len(choices)]


Remaining = Mapping[str, Sequence[Remains]]


def with_remains(draft: Draft, found: Remaining, *kinds: str) -> Draft:
    """The draft with what remains of the records with mistakes, of some kinds or of all but systems."""
    kinds = kinds or ("corals", "trades", "plans", "partners", "entries", "logs")
    rest = {kind: [each.record for each in found.get(kind, [])] for kind in kinds}
    settings = draft.settings or next((each.record for each in found.get("journal", [])), None)
    whole = replace(draft, settings=settings)
    for kind in kinds:
        if kind != "logs":
            setattr(whole, kind, {**getattr(draft, kind), **{record.id: record for record in rest[kind]}})
            continue
        written = dict(draft.written)
        for entry in rest["logs"]:
            system = entry.source.file.split("/")[1]
            written[system] = [*written.get(system, []), entry]
        whole.written = written
    return whole


def problems_of_remains(draft: Draft, found: Remaining) -> Iterator[Problem]:
    """What else is wrong in records with mistakes: only what they say, never what they lack."""
    every = [each for remaining in found.values() for each in remaining]
    if not every:
        return
    files = {each.record.source.file for each in every}
    made_up = {(each.record.source.file, *place) for each in every for place in each.made_up}
    whole_systems = {"systems": [each for each in found.get("systems", []) if not each.torn]}
    whole = with_remains(with_remains(draft, found), whole_systems, "systems")
    systems = with_remains(replace(draft, systems={}, written={}, corals={}, plans={}), found, "systems")
    asked = [(check, whole) for check in OF_WHAT_IS_SAID] + [(check, systems) for check in OF_SYSTEMS]
    told = set[str]()
    for check, problem in ((asking, problem) for asking, those in asked for problem in asking(those)):
        if problem.source.file not in files:
            # A sound file may mean something of a system with mistakes: that is said once.
            if check is not unresolved or problem.wrong in told:
                continue
            told.add(problem.wrong)
        places = {(at.file, at.line, at.column) for at in (problem.source, problem.also_at) if at}
        if MADE_UP not in problem.wrong and not places & made_up:
            yield problem


def read_yaml(text: str, file: str, lines_before: int = 0) -> tuple[Parsed | None, list[Problem]]:
    """The document in a text, and what is wrong with it as YAML.

    `lines_before` counts the lines of the file that came before the text. Where it is not YAML, the document has
    all that can be read around the fault; it is None if that is nothing.
    """
    document, problems, whole = read_whole(text, file, lines_before)
    if not whole and not any(problem.kind == "depth" for problem in problems):
        document, others = _Parts(file, problems[-1]).document(text.split("\n"), lines_before)
        problems = list(dict.fromkeys([problems[-1], *others]))
    elif document is None and whole:
        problems.append(Problem(Source(file), "empty-file", "the file is empty", "fill it in, or delete it"))
    return document, problems


_TABBED = re.compile(r"^( *\t[ \t]*)(?=\S)")
_LONG = 200_000  # characters


def without_tabs(text: str) -> Iterator[str]:
    """What a text may be without tabs at the start of its lines, for nobody can tell how far they indent.

    Nothing for a text so long that it would take seconds to read it so many times.
    """
    lines = text.split("\n")
    for wide in (0, 2, 4, 8) if len(text) < _LONG else ():
        each_tab = partial(_TABBED.sub, lambda found, wide=wide: found[1].replace("\t", " " * wide))
        yield "\n".join(map(each_tab, lines))
    for deeper in (0, 2) if len(text) < _LONG else ():
        above, written = 0, []
        for line in lines:
            written.append(_TABBED.sub(" " * (above + deeper), line))
            above = len(written[-1]) - len(written[-1].lstrip()) if line.strip() else above
        yield "\n".join(written)


class _Parts:
    """Reads a text that is not YAML part by part: each item of a list and each field of a mapping by itself."""

    def __init__(self, file: str, known: Problem) -> None:
        self.file = file
        self.known = known
        self.problems: list[Problem] = []
        self.named = [known.source.line]  # in order
        self.torn: set[tuple[int, int]] = set()

    def document(self, lines: list[str], before: int) -> tuple[Parsed | None, list[Problem]]:
        """The document in the lines, as far as it can be read, and what is wrong with the parts that cannot."""
        found = self._read(lines, before)
        return (found and found._replace(torn=frozenset(self.torn))), self.others()

    def others(self) -> list[Problem]:
        """The problems but those that the first one stands for: it counts the tabs, and aliases come in crowds."""
        once = self.known.kind in ("tab", "alias")
        return [problem for problem in self.problems if not (once and problem.kind == self.known.kind)]

    def _read(self, lines: list[str], before: int) -> Parsed | None:
        starts, a_list = _starts(lines)
        value: Any = [] if a_list else {}
        inside: Any = [] if a_list else {}
        mark, torn = None, False
        spans = list(itertools.pairwise([*starts, len(lines)]))
        for part, whole in self._parts(lines, spans, before, a_list) if spans else ():
            torn |= not whole
            if part is None:
                continue
            mark = mark or part.mark
            if a_list:
                value += part.value
                inside += part.mark.inside
                continue
            for key in part.value.keys() & value.keys():
                twice = part.mark.inside[key][0]
                also = Source(self.file, inside[key][0].line, inside[key][0].column)
                wrong = f"'{key}' is given twice"
                source = Source(self.file, twice.line, twice.column)
                self._note(Problem(source, "duplicate-key", wrong, "keep one of the two", also))
            value |= part.value
            inside |= part.mark.inside
        if mark is None:
            return None
        if torn:
            self.torn.add((mark.line, mark.column))
        return Parsed(value, Mark(mark.line, mark.column, inside))

    def _parts(
        self, lines: list[str], spans: list[tuple[int, int]], before: int, a_list: bool
    ) -> Iterator[tuple[Parsed | None, bool]]:
        """The items or fields, many together where they can be read so: a file with one fault is soon read."""
        (start, _), (_, end), half = spans[0], spans[-1], len(spans) // 2
        if not half:
            yield self._part(lines[start:end], before + start, a_list)
            return
        part, problems, whole = read_whole("\n".join(lines[start:end]), self.file, before + start)
        if whole and part is not None and isinstance(part.value, list if a_list else dict):
            self._note(*problems)
            yield part, True
            return
        yield from self._parts(lines, spans[:half], before, a_list)
        yield from self._parts(lines, spans[half:], before, a_list)

    def _note(self, *problems: Problem) -> None:
        self.problems += problems
        for problem in problems:
            insort(self.named, problem.source.line)

    def _named_between(self, first: int, last: int) -> bool:
        """Whether a problem is in these lines."""
        at = bisect_left(self.named, first)
        return at < len(self.named) and self.named[at] <= last

    def _part(self, lines: list[str], before: int, a_list: bool) -> tuple[Parsed | None, bool]:
        """One item or one field as a list or mapping of its own, and whether all of it was read."""
        text = "\n".join(lines)
        part, problems, whole = read_whole(text, self.file, before)
        if whole and (part is None or isinstance(part.value, list if a_list else dict)):
            self._note(*problems)
            return part, True
        inner, rest = _opened(lines, a_list)
        read = self._read(rest, before + len(lines) - len(rest)) if rest else None
        if whole:
            name = lines[0].split()[0]
            wrong, place = f"there is no ':' after '{name}'", Source(self.file, before + 1, _indent(lines[0]) + 1)
            problems = [Problem(place, "syntax", wrong, f"write '{name}: …'")]
        # Where the fault is in a part of this part, that part has named it already.
        if not self._named_between(before + 1, before + len(lines)):
            self._note(*problems[-1:])
        if read is None:
            return None, False
        start = Mark(before + 1, _indent(lines[0]) + 1)
        if a_list:
            return Parsed([read.value], Mark(start.line, start.column, [read.mark])), False
        return Parsed({inner: read.value}, Mark(start.line, start.column, {inner: (start, read.mark)})), False


def _indent(line: str) -> int:
    wide = line.expandtabs()
    return len(wide) - len(wide.lstrip())


def _starts(lines: list[str]) -> tuple[list[int], bool]:
    """The lines with which the items of a list, or the fields of a mapping, start; and whether it is a list."""
    written = [n for n, line in enumerate(lines) if line.strip() and not line.lstrip().startswith("#")]
    if not written:
        return [], False
    least = _indent(lines[written[0]])
    a_list = re.match(r" *-( |$)", lines[written[0]]) is not None
    at = [n for n in written if _indent(lines[n]) <= least]
    begins = re.compile(r" *-( |$)" if a_list else r" *[^ \-\]}]")
    return [n for n in at if begins.match(lines[n])], a_list


def _opened(lines: list[str], a_list: bool) -> tuple[str, list[str]]:
    """The name of a field whose value is on the lines below, and those lines; or the lines of an item, without '-'."""
    if a_list:
        inner = [re.sub("-", " ", lines[0], count=1), *lines[1:]]
        return "", inner if re.match(r" *[\w-]+:( |$)", inner[0]) else []
    opens = re.fullmatch(r" *([\w-]+): *(#.*)?", lines[0])
    return (opens[1], lines[1:]) if opens else ("", [])
