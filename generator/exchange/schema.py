"""The published context and JSON Schema of a record of origin, and a check of a value against the schema.

The schema is the one declaration of the shape, so we accept exactly what others validate.
"""

import importlib.resources
import json
import re
import unicodedata
from functools import cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from jsonschema import Draft202012Validator, ValidationError


class Refused(Exception):
    """A refused record. `kind` is a short stable name; `wrong` and `remedy` are the message for the keeper.

    `where` is a path inside the document ("" for the whole).
    """

    def __init__(self, kind: str, wrong: str, remedy: str, where: str = "") -> None:
        super().__init__(f"{where}: {wrong} ({remedy})" if where else f"{wrong} ({remedy})")
        self.kind = kind
        self.wrong = wrong
        self.remedy = remedy
        self.where = where


def safe_and_short(text: str, at_most: int = 60) -> str:
    """A stranger's text, made safe and short enough to print in a message."""
    cut = text if len(text) <= at_most else f"{text[:at_most]}…"
    return "".join(c if c.isprintable() else c.encode("unicode_escape", "backslashreplace").decode() for c in cut)


# Control, format (bidirectional and zero-width marks), lone surrogates, private use, unassigned, and
# line and paragraph ends: no name or caption needs any of them.
_UNSEEN = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})
# Scripts whose letters are drawn alike; one word is written in one of them.
_ALIKE = frozenset({"LATIN", "CYRILLIC", "GREEK", "ARMENIAN", "CHEROKEE", "COPTIC", "LISU"})
# Marks, fillers and a pattern of Braille that are letters or signs by name, and draw nothing.
# Source: Unicode 15, Default_Ignorable_Code_Point, without what is in the classes above; U+2800 by its picture.
_BLANKS = frozenset("\u034f\u115f\u1160\u17b4\u17b5\u2800\u3164\uffa0") | {
    chr(code)
    for first, last in ((0x180B, 0x180F), (0xFE00, 0xFE0F), (0xE0100, 0xE01EF))
    for code in range(first, last + 1)
}
# Wide forms of ASCII: a spreadsheet may take a wide equals sign for a formula.
_WIDE = frozenset(map(chr, range(0xFF01, 0xFF5F)))
_ORDINALS = frozenset("ªº")
_MOST_MARKS = 3
_REMEDY = "ask your partner to type it again in plain letters"


def plain_letters(text: str) -> str:
    """Our own text as a record can hold it: without invisible characters, each letter in its plain form."""
    seen = (
        letter
        if unicodedata.category(letter)[0] != "L" and letter not in _WIDE
        else unicodedata.normalize("NFKC", letter)
        for letter in text
        if unicodedata.category(letter) != "Cf" and letter not in _BLANKS
    )
    return unicodedata.normalize("NFC", " ".join("".join(seen).split()))


def check_text(text: str, where: str) -> None:
    """Raise `Refused` for invisible characters, look-alike letters, odd accents and text that is not NFC."""
    if text.isascii() and text.isprintable():
        return
    marks = _MOST_MARKS
    for letter in text:
        category = unicodedata.category(letter)
        if category in _UNSEEN or letter in _BLANKS or (category == "Zs" and letter != " "):
            wrong = f"the text has an invisible character, U+{ord(letter):04X}"
            raise Refused("unseen-character", wrong, _REMEDY, where)
        plain = letter in _ORDINALS or (category[0] != "L" and letter not in _WIDE)
        if not plain and unicodedata.normalize("NFKC", letter) != letter:
            raise Refused("look-alike", f"U+{ord(letter):04X} looks like a plain letter but is not one", _REMEDY, where)
        marks = marks + 1 if category[0] == "M" else _MOST_MARKS * (letter == " ")
        if marks > _MOST_MARKS:
            wrong = f"an accent without its letter, or more than {_MOST_MARKS} accents on one letter"
            raise Refused("look-alike", wrong, _REMEDY, where)
    if unicodedata.normalize("NFC", text) != text:
        raise Refused("look-alike", "the text is not normalized (Unicode NFC)", _REMEDY, where)
    for word in text.split(" "):
        scripts = {name.split(" ")[0] for c in word if c.isalpha() and (name := unicodedata.name(c, ""))} & _ALIKE
        if len(scripts) > 1:
            wrong = f"one word mixes letters of {' and '.join(sorted(scripts)).title()}"
            raise Refused("look-alike", wrong, _REMEDY, where)


_SHAPE = "ask for a record that follows the published schema"


@cache
def context() -> dict[str, Any]:
    """The JSON-LD context every record carries: what its short names stand for."""
    return _load("context.json")


@cache
def schema() -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of a record of origin."""
    return _load("record_of_origin.schema.json")


def published_schemas() -> dict[str, str]:
    """The schema and the context as files to give to others, by name."""
    return {
        "record-of-origin.json": _text("record_of_origin.schema.json"),
        "record-of-origin-context.json": _text("context.json"),
    }


def _load(name: str) -> dict[str, Any]:
    loaded: dict[str, Any] = json.loads(_text(name))
    return loaded


def _text(name: str) -> str:
    return (importlib.resources.files("generator.exchange") / name).read_text(encoding="utf-8")


def check_own_text(text: str, name: str) -> None:
    """Raise `Refused` for our own text that no record can hold; `name` is that of its field."""
    rule = schema()["$defs"]["name" if name in ("keeper", "name", "public_name") else "words"]
    said = plain_letters(text)
    if len(said) > rule["maxLength"]:
        raise Refused("own-text", f"it has more than {rule['maxLength']} characters", _SHAPE)
    if not re.search(rule["pattern"], said):
        raise Refused("own-text", f"'{safe_and_short(said)}' has the wrong format", _SHAPE)
    check_text(said, "")


@cache
def _validator() -> "Draft202012Validator":
    from jsonschema import Draft202012Validator

    return Draft202012Validator(schema())


def check_shape(value: Any) -> None:
    """Raise `Refused` at the first place where a value is not of the schema's shape."""
    for error in _validator().iter_errors(value):
        raise Refused("shape", _wrong(error), _SHAPE, error.json_path.removeprefix("$").lstrip(".") or "the record")


def _wrong(error: "ValidationError") -> str:
    """What is wrong, in our own words: the library's would repeat all of a stranger's value."""
    value, rule = error.instance, error.validator_value
    said = f"'{safe_and_short(value)}'" if isinstance(value, str) else safe_and_short(json.dumps(value))
    match error.validator:
        case "required":
            return f"'{next(name for name in rule if name not in value)}' is missing"
        case "additionalProperties":
            known = error.schema.get("properties", {})
            return f"a record of origin has no '{safe_and_short(next(name for name in value if name not in known))}'"
        case "maxLength":
            return f"the text has {len(value)} characters; at most {rule} are allowed"
        case "minItems" | "maxItems":
            ends = "at least" if error.validator == "minItems" else "at most"
            return f"it has {len(value)} items; {ends} {rule} are allowed"
        case "uniqueItems":
            return "the same item is listed twice"
        case "type":
            return f"{said} must be of type {rule}"
        case "enum":
            return f"{said} is not one of {', '.join(rule)}"
        case "const":
            return f"{said} is not {json.dumps(rule)}"
        case "pattern":
            return f"{said} has the wrong format"
        case _:
            return f"{said} is outside what is allowed"
