"""The message of each fault: a list of functions, each of which knows one kind of mistake.

A function sees one fault and returns (kind, what is wrong, what to write instead), or None. The first
answer counts. A mistake that none of them knows keeps the message of its field.
"""

from collections.abc import Callable

from generator.read import slips
from generator.read.near import did_you_mean, listed
from generator.read.shape import FROM_THE_FILE, Answer, Fault, Shape
from generator.units.names import kind_named


def say(fault: Fault) -> Answer:
    """The fault's kind, what is wrong and what to write instead."""
    return next(filter(None, (polish(fault) for polish in _POLISHERS)), None) or _as_it_is(fault)


def _as_it_is(fault: Fault) -> Answer:
    return fault.kind, fault.wrong, fault.remedy or "see the example of this file in the demo journal"


def _unknown_key(fault: Fault) -> Answer | None:
    if fault.kind != "unexpected_keyword_argument":
        return None
    known = fault.around.fields if fault.around else {}
    if fault.name in FROM_THE_FILE:
        return "unknown-key", f"'{fault.name}' cannot be set here", "delete the line; it comes from the file itself"
    if fault.name == "travel" and "due" in known:
        remedy = "write the journey in a plan in plans/, with 'keeps:' and the id of this trade"
        return "unknown-key", "a promise has no journey", remedy
    elsewhere = _under_another_name(fault.name, known)
    if elsewhere:
        return elsewhere
    here = f"write one of {listed(known)}" if known else "delete the line"
    return "unknown-key", f"there is no field '{fault.name}' here", did_you_mean(fault.name, known, here)


def _under_another_name(name: str, known: dict[str, Shape]) -> Answer | None:
    """A quantity by its symbol, or a field that belongs below one of its neighbours."""
    meant = kind_named(name) or name
    if meant in known:
        return "unknown-key", f"there is no field '{name}' here", f"did you mean {meant}?"
    for above, shape in known.items():
        if meant in shape.fields:
            return "unknown-key", f"'{name}' does not belong here", f"write '{meant}' below '{above}:' and indent it"
    return None


def _missing(fault: Fault) -> Answer | None:
    if fault.kind != "missing":
        return None
    wrong, shape = f"'{fault.name}' is missing", fault.shape
    if shape is not None and shape.form == "record":
        return "missing", wrong, f"add '{fault.name}:' and below it {listed(shape.fields, 4)}"
    example = (shape.example or next(iter(shape.choices), "")) if shape is not None else ""
    return "missing", wrong, f"add for example '{fault.name}: {example}'" if example else f"add '{fault.name}: …'"


def _wrong_shape(fault: Fault) -> Answer | None:
    wanted = fault.shape.form if fault.shape else "value"
    name = f"'{fault.name}'" if fault.name else "this"
    if wanted == "list" and not isinstance(fault.value, list):
        short = f"write [{fault.text}]" if fault.text and fault.shape and not fault.shape.holds_records else ""
        return "shape", f"{name} must be a list", short or "start each item with '- '"
    if wanted in ("record", "mapping") and isinstance(fault.value, list):
        return "shape", f"{name} must be fields, not a list", "delete the '- '"
    if wanted in ("record", "mapping") and not isinstance(fault.value, dict):
        inner = list(fault.shape.fields) if fault.shape else []
        remedy = f"write below it, indented: {listed(inner, 5)}" if inner else "write them below it, indented"
        if inner and not fault.name:
            remedy = f"start with '{inner[0]}: …'"
        return "shape", f"{name} must have fields, not '{fault.text}'", remedy
    if wanted == "value" and isinstance(fault.value, (list, dict)):
        what = "a list" if isinstance(fault.value, list) else "several fields"
        example = fault.shape.example if fault.shape else ""
        remedy = f"write for example {example}" if example else "write it after the ':'"
        return "shape", f"{name} must be one value, not {what}", remedy
    return None


def _choice(fault: Fault) -> Answer | None:
    if fault.kind != "literal_error" or fault.shape is None:
        return None
    choices = fault.shape.choices
    return (
        "choice",
        f"'{fault.name}' cannot be '{fault.text}'",
        did_you_mean(fault.text, choices, f"write one of {listed(choices)}"),
    )


_POLISHERS: tuple[Callable[[Fault], Answer | None], ...] = (
    _unknown_key,
    _missing,
    _wrong_shape,
    _choice,
    slips.curly_quotes,
    slips.not_known,
    slips.empty_text,
    slips.yes_no,
    slips.day_or_time,
    slips.money,
    slips.identifier,
    slips.whole_number,
    slips.time_zone,
    slips.unit_of_bare_numbers,
)
