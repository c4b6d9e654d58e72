"""What remains of a record with mistakes: the same record without them, so that the rest of it is checked too."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any, NamedTuple

from pydantic import TypeAdapter, ValidationError

from generator.read.checks import OF_SYSTEMS, OF_WHAT_IS_SAID
from generator.read.draft import Draft
from generator.read.shape import Shape
from generator.read.yaml_lines import Mark
from generator.records.problem import Problem

# Stands for a name or a text that is not there. No keeper writes it, and no message may repeat it.
MADE_UP = "made-up-by-corallite"
# Mending one mistake can show the next one below it; a record nests at most a few levels deep.
_ROUNDS = 12
_Path = tuple[str | int, ...]


class Remains(NamedTuple):
    """A record without its mistakes; `made_up` are the places (line, column) of what had to be made up."""

    record: Any
    made_up: frozenset[tuple[int, int]] = frozenset()


def remains(
    adapter: TypeAdapter[Any],
    value: Any,
    shape: Shape,
    error: ValidationError,
    context: Any,
    place: Callable[[_Path], Mark],
) -> Remains | None:
    """The record in a value once what is wrong in it is left out, or made up where it must be there.

    None if too little is left. Changes the value. `place` gives the position of what is at a path.
    """
    made: dict[_Path, int] = {}
    for _ in range(_ROUNDS):
        for each in error.errors(include_url=False, include_context=False):
            if not _mend(value, each["loc"], each["type"] == "missing", shape, made):
                return None
        try:
            record = adapter.validate_python(value, context=context)
            return Remains(record, frozenset(place(path)[:2] for path in made))
        except ValidationError as next_error:
            error = next_error
    return None


def _mend(value: Any, path: _Path, missing: bool, shape: Shape, made: dict[_Path, int]) -> bool:
    """Leave out what is at a path, or make it up; whether that could be done."""
    path = path[:-1] if path[-1:] == ("[key]",) else path
    holder: Any = value
    for step in path[:-1]:
        try:
            holder = holder[step]
        except (KeyError, IndexError, TypeError):
            return False
    if not path or not isinstance(holder, dict | list):
        return False
    last: Any = path[-1]
    if missing or isinstance(holder, list):
        made[path] = made.get(path, -1) + 1
        holder[last] = _made_up(shape.at(path), value, made[path])
    else:
        holder.pop(last, None)
    return True


def _made_up(shape: Shape | None, value: Any, attempt: int) -> Any:
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
    whole = with_remains(draft, found)
    systems = with_remains(replace(draft, systems={}, written={}), found, "systems")
    asked = [(check, whole) for check in OF_WHAT_IS_SAID] + [(check, systems) for check in OF_SYSTEMS]
    for problem in (problem for check, those in asked for problem in check(those)):
        places = {(at.file, at.line, at.column) for at in (problem.source, problem.also_at) if at}
        if problem.severity == "error" and problem.source.file in files and MADE_UP not in problem.wrong:
            yield from () if places & made_up else (problem,)
