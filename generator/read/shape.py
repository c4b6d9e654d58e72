"""How the records are built, as the reader needs it: which field holds what, and what validation found wrong in it."""

import types
import typing
from functools import cache
from typing import Any, Literal, get_args, get_origin, get_type_hints

from msgspec import Struct, field

from generator.records.coral import Cutting
from generator.records.fields import Written, WrittenAs
from generator.records.log import DismissEntry
from generator.records.settings import Offers
from generator.records.source import FromFile
from generator.records.system import System
from generator.records.trade import Given, State, Trade
from generator.units.kinds import KINDS, kind_named

# What the reader puts in itself, beside `source`: the file's name, and the Markdown.
FROM_THE_FILE = frozenset({"source", "id", "story", "body", "body_line"})

# The way forward from older formats of journals. A name of an older format is read as the field of today, and
# `corallite tidy` writes that field's name. A change that names alone cannot tell belongs here too, as a step between
# formats.
# Record -> name in format 1 -> the field's name since format 2.
FORMER: dict[type[FromFile], dict[str, str]] = {
    Cutting: {"pieces": "frags"},
    DismissEntry: {"item": "alert"},
    Given: {"pieces": "frags"},
    Offers: {"pieces_left": "corals_left"},
    State: {"state": "condition"},
    System: {"matters": "smallest_change"},
    Trade: {"states": "checks"},
}


class FieldShape(Struct, frozen=True):
    """One field: a record with its own `fields`, a list or a mapping of an `item`, or one value.

    `quantity` is the kind of quantity that a value is, "" for any other value.
    `former` leads from names of older formats to the fields of today.
    """

    form: Literal["record", "list", "mapping", "value"]
    fields: dict[str, "FieldShape"]
    item: "FieldShape | None" = None
    choices: tuple[str, ...] = ()
    example: str = ""
    holds_records: bool = False
    quantity: str = ""
    former: dict[str, str] = field(default_factory=dict)

    def field_meant(self, name: str) -> str | None:
        """The field that another name of its quantity (`KH`: alkalinity) or a name of an older format means."""
        if name in self.former:
            return self.former[name]
        kind = kind_named(name) if name not in self.fields else None
        return kind if kind in self.fields and self.fields[kind].quantity == kind else None

    def at(self, path: tuple[str | int, ...]) -> "FieldShape | None":
        """The shape of what stands at a path below this one, if the path is known."""
        shape: FieldShape | None = self
        for step in path:
            if shape is None:
                return None
            shape = shape.fields.get(str(step)) if shape.form == "record" else shape.item
        return shape


@cache
def shape_of(record: type[FromFile]) -> FieldShape:
    """The shape of a record as a keeper writes it: without what the reader itself puts in."""
    hints = get_type_hints(record, include_extras=True)
    inner = {name: _shape(hints[name]) for name in record.__struct_fields__ if name not in FROM_THE_FILE}
    return FieldShape("record", inner, holds_records=True, former=FORMER.get(record, {}))


def _shape(hint: Any) -> FieldShape:
    origin, arguments = get_origin(hint), get_args(hint)
    if origin in (types.UnionType, typing.Union):
        return _shape(next(each for each in arguments if each is not types.NoneType))
    if isinstance(hint, type) and issubclass(hint, FromFile):
        return shape_of(hint)
    if origin is tuple:
        item = _shape(arguments[0])
        return FieldShape("list", {}, item, holds_records=item.holds_records)
    if origin is dict:
        item = _shape(arguments[1])
        return FieldShape("mapping", {}, item, holds_records=item.holds_records)
    if origin is Literal:
        return FieldShape("value", {}, choices=tuple(map(str, arguments)))
    if hasattr(hint, "__metadata__") and get_origin(arguments[0]) is dict:
        return FieldShape("mapping", {}, FieldShape("value", {}))
    metadata = getattr(hint, "__metadata__", ())
    quantity = next((each.kind for each in metadata if isinstance(each, Written)), "")
    return FieldShape("value", {}, example=_example(metadata), quantity=quantity)


def _example(metadata: tuple[Any, ...]) -> str:
    for each in metadata:
        if isinstance(each, Written):
            return each.example or KINDS[each.kind].example
        if isinstance(each, WrittenAs):
            examples = each.schema.get("examples", [])
            return str(examples[0]) if examples else ""
    return ""


# The problem's kind, what is wrong, what to write instead.
Answer = tuple[str, str, str]


class Fault(Struct, frozen=True):
    """What validation found: its kind, the field's name, the value in the file, and the expected one.

    `shape` is that of the field, `around` that of its record, if they are known.
    """

    kind: str
    name: str
    value: Any
    wrong: str
    remedy: str
    shape: FieldShape | None
    around: FieldShape | None

    @property
    def text(self) -> str:
        """What was written, if it is text."""
        return self.value.strip() if isinstance(self.value, str) else ""
