"""The text of a system's month with facts in it, each at its time; comments and the keeper's order stay."""

from collections.abc import Iterable, Mapping
from datetime import datetime
from zoneinfo import ZoneInfo

from msgspec import Struct, field
from msgspec.structs import replace

from generator.read.yaml_lines import Mark, Parsed
from generator.records.fields import local_time
from generator.shorthand.finish import Fact
from generator.shorthand.yaml_text import (
    CannotExtend,
    braces,
    last_line,
    lines_of,
    put_first,
    put_lines,
    words,
    written,
    yaml_document,
)
from generator.units.kinds import WATER_KINDS

SCHEMA = "# yaml-language-server: $schema=../../.schemas/logs.json"

# The order of an entry's fields, and those of which there can be several by name.
_ORDER = (
    "readings",
    "kit",
    "doses",
    "pumps",
    "measured_rate",
    "filled",
    "water_change",
    "top_off",
    "reactor",
    "event",
    "note",
    "private",
)
_LINE = 1_000_000  # the column of a mark that stands for what is below its line

Fields = Mapping[str, "str | dict[str, str]"]
_SEVERAL = ("readings", "doses", "pumps", "measured_rate", "filled")


class NewEntry(Struct):
    """One moment of a log: `at` as it is written, and its fields as YAML (by name, where there can be several)."""

    at: str
    fields: dict[str, "str | dict[str, str]"] = field(default_factory=dict)

    @property
    def month(self) -> str:
        """The month whose file it belongs to."""
        return self.at[:7]


def entries_of(changes: Iterable[Fact], zone: ZoneInfo) -> list[NewEntry]:
    """The entries that changes make: one a moment, and more where one cannot hold them all."""
    entries: list[NewEntry] = []
    for change in _notes_together(changes):
        clock = change.at.clock
        assert clock is not None, "a log's fact has its hour"
        at = at_as_written(datetime.combine(change.at.day, clock, zone))
        fields = _fields_of(change)
        home = next((each for each in entries if each.at == at and _joined(each.fields, fields)), None)
        if home is None:
            home = NewEntry(at)
            entries.append(home)
            _joined(home.fields, fields)
    return entries


def _notes_together(changes: Iterable[Fact]) -> list[Fact]:
    """The changes, with the notes of one moment as one."""
    found: list[Fact] = []
    for change in changes:
        like = (each for each in found if change.into == "note" and each.into == "note" and each.at == change.at)
        first = next((each for each in like if each.values.keys() == change.values.keys()), None)
        if first is None:
            found.append(change)
        else:
            both = {**first.values, "note": f"{first.values['note']}; {change.values['note']}"}
            found[found.index(first)] = replace(first, values=both)
    return found


def at_as_written(local: datetime) -> str:
    """A time on the keeper's clock as the files write it; if the clocks show the hour twice, the offset says which."""
    twice = local.replace(fold=0).utcoffset() != local.replace(fold=1).utcoffset()
    written = local.isoformat(" ", "minutes")
    return written if twice else written[:16]


def with_entry(text: str, entry: NewEntry, zone: ZoneInfo, file: str) -> str:
    """A month's text with an entry in it: joined to the one of that minute, or placed before the first later one.

    Raises `CannotExtend` for a text that is no list of entries, line by line.
    """
    if not text.strip():
        return new_month([entry])
    document = yaml_document(text, file)
    if not isinstance(document.value, list) or not document.mark.inside:
        raise CannotExtend(f"{file} is not a list of entries (start each entry with '- at: …')")
    joined = _joined_text(text, document, entry, zone, file)
    return joined if joined is not None else _placed_text(text, document, entry, zone, file)


def with_solution(text: str, change: Fact, file: str) -> str:
    """A system's text with one solution more. Raises `CannotExtend` for a text that cannot be extended."""
    parts = {name: written(value) for name, value in change.values.items()}
    if declared := {name: parts.pop(name) for name in WATER_KINDS if name in parts}:
        parts["declared"] = braces(declared)
    item = f"{parts.pop('solution')}: {braces(parts)}"
    document = yaml_document(text, file)
    expected = dict(document.value) if isinstance(document.value, dict) else {}
    old = expected.get("solutions", {})
    if "solutions" not in expected:
        new = put_lines(text, len(lines_of(text)), ["solutions:", f"  {item}"])
    elif isinstance(old, dict):
        new = put_first(text, document.mark.inside["solutions"][1], item)
    else:
        raise CannotExtend(f"{file}: solutions are not described by their names (write '{item}' below it)")
    if yaml_document(new, file).value != {**expected, "solutions": {**yaml_document(item, file).value, **old}}:
        raise CannotExtend(f"{file} is written in a way that cannot be extended (add '{item}' to its solutions)")
    return new


def new_month(entries: Iterable[NewEntry]) -> str:
    """The text of a month that has no file yet."""
    lines = [line for entry in sorted(entries, key=lambda each: each.at) for line in _lines(entry, "")]
    return "\n".join([SCHEMA, *lines]) + "\n"


def _fields_of(change: Fact) -> dict[str, "str | dict[str, str]"]:
    values = change.values
    if change.into == "note":
        private = {"private": "true"} if "private" in values else {}
        return {"note": words(str(values["note"])), **private}
    if change.into == "kit":
        return {"kit": str(values["kit"])}
    return {change.into: {name: written(value) for name, value in values.items()}}


def _joined(fields: dict[str, "str | dict[str, str]"], more: Fields) -> bool:
    """Put fields into an entry's, if it has none of them yet."""
    for name, value in more.items():
        old = fields.get(name)
        several = (
            name in _SEVERAL and isinstance(old, dict) and isinstance(value, dict) and not old.keys() & value.keys()
        )
        if old is not None and not several:
            return False
    for name, value in more.items():
        old = fields.get(name)
        fields[name] = {**old, **value} if isinstance(old, dict) and isinstance(value, dict) else value
    return True


def _joined_text(text: str, document: Parsed, entry: NewEntry, zone: ZoneInfo, file: str) -> str | None:
    """The text with the fields in the entry of the same moment, if there is one that can take them."""
    at = local_time(entry.at, zone)
    for index, (value, mark) in enumerate(zip(document.value, document.mark.inside, strict=True)):
        if not isinstance(value, dict) or _time(value, zone) != at:
            continue
        fields = {name: old for name, old in value.items() if name != "at"}
        of_kits = {"kit", "readings"} & entry.fields.keys() and {"kit", "readings"} & fields.keys()
        if of_kits and fields.get("kit") != entry.fields.get("kit"):
            continue
        wanted = {name: new for name, new in entry.fields.items() if name != "kit" or "kit" not in fields}
        plain = yaml_document("\n".join(_field_lines(wanted)), file).value
        whole = dict(fields)
        if _joined(whole, plain):
            expected = [*document.value[:index], {"at": value["at"], **whole}, *document.value[index + 1 :]]
            return _checked(_with_fields(text, value, mark, wanted), expected, file)
    return None


def _with_fields(text: str, value: Mapping[str, object], mark: Mark, new: Fields) -> str:
    # From the end to the start, so that no mark moves before it is used.
    rest = _field_lines({name: each for name, each in new.items() if name not in value})
    homes = [(mark.inside[name][1], parts) for name, parts in new.items() if name in value and isinstance(parts, dict)]
    at = mark.inside["at"][0]
    steps = [(own, [f"{key}: {each}" for key, each in parts.items()]) for own, parts in homes]
    steps.append((mark if _in_braces(text, mark) else Mark(at.line, _LINE), rest))
    for own, lines in sorted(steps, key=lambda step: (-step[0].line, -step[0].column)):
        if lines and own.column == _LINE:
            text = put_lines(text, own.line, [" " * (mark.column - 1) + line for line in lines])
        elif lines and _in_braces(text, own):
            text = put_first(text, own, ", ".join(lines))
        else:
            for line in reversed(lines):
                text = put_first(text, own, line)
    return text


def _checked(text: str, expected: list[object], file: str) -> str:
    """A text, if it says what is expected: all that it said, and the new."""
    try:
        said = yaml_document(text, file).value
    except CannotExtend:
        said = None
    if said != expected:
        raise CannotExtend(f"{file} is written in a way that cannot be extended (add the entry by hand)")
    return text


def _placed_text(text: str, document: Parsed, entry: NewEntry, zone: ZoneInfo, file: str) -> str:
    """The text with a new entry after the last one that is not later."""
    marks: list[Mark] = document.mark.inside
    lines = lines_of(text)
    starts = [_start(lines, mark, file) for mark in marks]
    at = local_time(entry.at, zone)
    earlier = [
        index
        for index, value in enumerate(document.value)
        if isinstance(value, dict) and (time := _time(value, zone)) is not None and time <= at
    ]
    indent = starts[0][1]
    new, place = _lines(entry, indent), earlier[-1] + 1 if earlier else 0
    (plain,) = yaml_document("\n".join(_lines(entry, "")), file).value
    expected = [*document.value[:place], plain, *document.value[place:]]
    if place == 0:
        return _checked(put_lines(text, _above(lines, starts[0][0]), new), expected, file)
    following = starts[place][0] if place < len(starts) else None
    return _checked(put_lines(text, last_line(text, marks[place - 1], following), new), expected, file)


def _start(lines: list[str], mark: Mark, file: str) -> tuple[int, str]:
    """The line of an entry's dash (from 1), and what stands before the dash."""
    line = lines[mark.line - 1]
    before = line[: mark.column - 1].lstrip("\ufeff")
    if before.strip() != "-":
        raise CannotExtend(
            f"{file}:{mark.line}: the entry does not start with '- ' (write each entry on its own lines)"
        )
    return mark.line, before[: before.index("-")]


def _above(lines: list[str], first: int) -> int:
    """The line after which the first entry's own comments begin: those after the last blank or schema line."""
    line = first - 1
    while line > 0 and lines[line - 1].startswith("#") and "$schema=" not in lines[line - 1]:
        line -= 1
    return line


def _lines(entry: NewEntry, indent: str) -> list[str]:
    first, *others = [f"at: {entry.at}", *_field_lines(entry.fields)]
    return [f"{indent}- {first}", *(f"{indent}  {line}" for line in others)]


def _field_lines(fields: Fields) -> list[str]:
    ordered = sorted(fields.items(), key=lambda each: _ORDER.index(each[0]))
    return [f"{name}: {braces(value) if isinstance(value, dict) else value}" for name, value in ordered]


def _in_braces(text: str, mark: Mark) -> bool:
    return lines_of(text)[mark.line - 1][mark.column - 1 :].startswith("{")


def _time(value: Mapping[str, object], zone: ZoneInfo) -> datetime | None:
    from pydantic_core import PydanticCustomError

    try:
        return local_time(str(value.get("at", "")), zone)
    except PydanticCustomError:
        return None
