"""The text of corals' files with facts in them, and the files of corals that are new."""

import re
from collections.abc import Collection, Mapping
from dataclasses import fields

from generator.records.coral import Coral, Cutting, End, Health, Photo, Placement, Size, Weighing
from generator.shorthand.finish import Change, Value
from generator.shorthand.yaml_text import CannotExtend, braces, document_of, last_line, lines_of, put_lines, written

SCHEMA = "# yaml-language-server: $schema=../.schemas/corals.json"

_RECORDS: dict[str, type] = {
    "weighings": Weighing,
    "sizes": Size,
    "placements": Placement,
    "cuttings": Cutting,
    "end": End,
    "health": Health,
    "photos": Photo,
}
_SIZE = ("length", "width", "height")
_NUMBERED = re.compile(r"(.*?)[ -]?(\d+)")


def with_fact(text: str, change: Change, file: str, into: Collection[str] = ()) -> str:
    """A coral's text with one fact more. `into` are the frags of a cutting that have files.

    Raises `CannotExtend` for a text that cannot be extended, or a coral that has ended already.
    """
    day = {"since" if change.into == "placements" else "at": str(change.at.day)}
    said = {name: written(value) for name, value in change.values.items()}
    if into:
        said["into"] = f"[{', '.join(into)}]"
    parts = day | {each.name: said[each.name] for each in fields(_RECORDS[change.into]) if each.name in said}
    item = braces(parts)
    document = document_of(text, file)
    if not isinstance(document.value, dict):
        raise CannotExtend(f"{file} is not a coral's file (start it with 'name: …')")
    expected = dict(document.value)
    (plain,) = document_of(f"- {item}", file).value
    lines = lines_of(text)
    if change.into == "end":
        if "end" in expected:
            raise CannotExtend(f"{file} has an end already (correct that line)")
        new, expected["end"] = put_lines(text, len(lines), [f"end: {item}"]), plain
    elif change.into not in expected:
        new = put_lines(text, len(lines), [f"{change.into}:", f"  - {item}"])
        expected[change.into] = [plain]
    else:
        _, mark = document.mark.inside[change.into]
        old = expected[change.into]
        if not isinstance(old, list) or not mark.inside or "- " not in lines[mark.inside[-1].line - 1]:
            raise CannotExtend(f"{file}: {change.into} is not a list, line by line (start each item with '- ')")
        last = mark.inside[-1]
        indent = lines[last.line - 1].partition("- ")[0]
        following = min((key.line for key, _ in document.mark.inside.values() if key.line > last.line), default=None)
        new = put_lines(text, last_line(text, last, following), [f"{indent}- {item}"])
        expected[change.into] = [*old, plain]
    if document_of(new, file).value != expected:
        raise CannotExtend(f"{file} is written in a way that cannot be extended (add the line by hand)")
    return new


def new_coral(change: Change, system: str, corals: Mapping[str, Coral]) -> str:
    """The text of the file of a coral that has come, for `system` if the line names no place."""
    values = change.values
    parent = corals.get(str(values.get("parent", "")))
    line = str(values.get("line", parent.line if parent else _line_of(change.coral)))
    arrival: dict[str, Value] = {"at": str(change.at.day), "how": values["how"]}
    arrival |= {name: values[name] for name in ("partner", "note") if name in values}
    return _file(
        name=str(values["name"]),
        species=str(values["species"]),
        line=line,
        form=str(values["form"]),
        parent=parent.id if parent else None,
        arrival=arrival,
        placement={"system": values.get("system", system)} | {n: values[n] for n in ("place",) if n in values},
        size={name: values[name] for name in _SIZE if name in values},
    )


def frags_of(change: Change, corals: Mapping[str, Coral]) -> dict[str, str]:
    """The files of the frags that a cutting makes, by their ids: the next numbers of the name it has.

    A frag cut from it that day has its file already if no cutting names it yet: its text here is "".
    """
    parent, count = corals[change.coral], change.values["frags"]
    if "nameless" in change.values or not isinstance(count, int):
        return {}
    home = parent.placement_on(change.at.day)
    match = _NUMBERED.fullmatch(parent.name)
    name, stem = (match[1] if match else parent.name), _line_of(parent.id)
    taken = [int(m[2]) for id in corals if (m := _NUMBERED.fullmatch(id)) and m[1] == stem]
    named = {id for cutting in parent.cuttings for id in cutting.into}
    there = [id for id, coral in corals.items() if id not in named and _cut_from(coral, parent, change)][:count]
    first = max([*taken, 1]) + 1
    return dict.fromkeys(there, "") | {
        f"{stem}-{number}": _file(
            name=f"{name} {number}",
            species=parent.species,
            line=parent.line,
            form=parent.form,
            parent=parent.id,
            arrival={"at": str(change.at.day), "how": "cutting"},
            placement={"system": home.system} if home else {},
            size={},
        )
        for number in range(first, first + count - len(there))
    }


def _cut_from(coral: Coral, parent: Coral, change: Change) -> bool:
    """Whether a coral is a frag cut from another on the day of a change."""
    return coral.parent == parent.id and coral.arrival.how == "cutting" and coral.arrival.at == change.at.day


def _line_of(id: str) -> str:
    match = _NUMBERED.fullmatch(id)
    return match[1] if match and match[1] else id


def _file(
    *,
    name: str,
    species: str,
    line: str,
    form: str,
    parent: str | None,
    arrival: Mapping[str, Value],
    placement: Mapping[str, Value],
    size: Mapping[str, Value],
) -> str:
    day = str(arrival["at"])
    lines = [SCHEMA, f"name: {written(name)}", f"species: {written(species)}", f"line: {line}", f"form: {form}"]
    lines += [f"parent: {parent}"] if parent else []
    lines.append(f"arrival: {_braces(arrival)}")
    if placement:
        lines += ["placements:", f"  - {_braces({'since': day, **placement})}"]
    if size:
        lines += ["sizes:", f"  - {_braces({'at': day, **size})}"]
    return "\n".join(lines) + "\n"


def _braces(parts: Mapping[str, Value]) -> str:
    return braces({name: written(value) for name, value in parts.items()})
