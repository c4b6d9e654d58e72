"""A list of small polishers: each knows one way people go wrong, and what they meant.

A polisher sees one fault and answers (kind, what is wrong, what to write instead), or passes. The
first answer wins; a mistake that no polisher knows keeps the words its field gave it.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any
from zoneinfo import available_timezones

from generator.read.near import did_you_mean, listed
from generator.read.shape import FROM_THE_FILE, Shape
from generator.units.kinds import KINDS


@dataclass(frozen=True, slots=True)
class Fault:
    """What validation found: its kind, the field's name, what was written, and what was expected there."""

    kind: str
    name: str
    value: Any
    wrong: str
    remedy: str
    shape: Shape | None
    around: Shape | None

    @property
    def text(self) -> str:
        """What was written, if it is text."""
        return self.value.strip() if isinstance(self.value, str) else ""


Answer = tuple[str, str, str]


def say(fault: Fault) -> Answer:
    """The fault's kind, what is wrong and what to write instead."""
    return next(filter(None, (polish(fault) for polish in _POLISHERS)), None) or _as_it_is(fault)


def _as_it_is(fault: Fault) -> Answer:
    return fault.kind, fault.wrong, fault.remedy or "see the example of this file"


def _unknown_key(fault: Fault) -> Answer | None:
    if fault.kind != "unexpected_keyword_argument":
        return None
    known = fault.around.fields if fault.around else {}
    if fault.name in FROM_THE_FILE:
        return "unknown-key", f"'{fault.name}' is not written here", "take the line out: it comes from the file itself"
    elsewhere = _under_another_name(fault.name, known)
    if elsewhere:
        return elsewhere
    here = f"write one of {listed(known)}" if known else "take the line out"
    return "unknown-key", f"'{fault.name}' is not known here", did_you_mean(fault.name, known, here)


# What kits and meters print for the quantities.
_SYMBOLS = {
    "alk": "alkalinity",
    "kh": "alkalinity",
    "dkh": "alkalinity",
    "ca": "calcium",
    "mg": "magnesium",
    "k": "potassium",
    "sr": "strontium",
    "b": "boron",
    "no3": "nitrate",
    "no2": "nitrite",
    "nh3": "ammonium",
    "nh4": "ammonium",
    "po4": "phosphate",
    "si": "silicate",
    "sg": "salinity",
    "temp": "temperature",
}


def _under_another_name(name: str, known: dict[str, Shape]) -> Answer | None:
    """A quantity by its symbol, or a line that belongs below one of its neighbours."""
    meant = _SYMBOLS.get(name.lower(), name)
    if meant in known:
        return "unknown-key", f"'{name}' is not known here", f"did you mean {meant}?"
    above = next((field for field, shape in known.items() if meant in shape.fields), None)
    return (
        ("unknown-key", f"'{name}' does not stand here", f"write '{meant}' below '{above}:', indented")
        if above
        else None
    )


def _missing(fault: Fault) -> Answer | None:
    if fault.kind != "missing":
        return None
    shape = fault.shape
    line = f"{fault.name}: "
    if shape is not None and shape.form == "record":
        return "missing", f"'{fault.name}' is missing", f"add '{fault.name}:' and below it {listed(shape.fields, 4)}"
    if shape is not None and (shape.example or shape.choices):
        line += shape.example or shape.choices[0]
    return "missing", f"'{fault.name}' is missing", f"add for example '{line}'" if line[-1] != " " else f"add '{line}…'"


def _wrong_shape(fault: Fault) -> Answer | None:
    wanted = fault.shape.form if fault.shape else "value"
    name = f"'{fault.name}'" if fault.name else "this"
    if wanted == "list" and not isinstance(fault.value, list):
        short = f"write [{fault.text}]" if fault.text and fault.shape and not fault.shape.holds_records else ""
        return "shape", f"{name} must be a list", short or "begin each item with '- '"
    if wanted in ("record", "mapping") and isinstance(fault.value, list):
        return "shape", f"{name} must be named lines, not a list", "take out the '- '"
    if wanted in ("record", "mapping") and not isinstance(fault.value, dict):
        inner = list(fault.shape.fields) if fault.shape else []
        remedy = f"write below it, indented: {listed(inner, 5)}" if inner else "write them below it, indented"
        if inner and not fault.name:
            remedy = f"begin with '{inner[0]}: …'"
        return "shape", f"{name} must hold named lines, not '{fault.text}'", remedy
    if wanted == "value" and isinstance(fault.value, (list, dict)):
        what = "a list" if isinstance(fault.value, list) else "lines of its own"
        example = fault.shape.example if fault.shape else ""
        return (
            "shape",
            f"{name} must be one value, not {what}",
            f"write for example {example}" if example else "write it behind the ':'",
        )
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


def _curly_quotes(fault: Fault) -> Answer | None:
    plain = fault.text.strip("“”„‘’«»").strip()
    if plain == fault.text or not plain:
        return None
    return fault.kind, f"the quotation marks in {fault.text} belong to the text here", f"write {plain}"


def _not_known(fault: Fault) -> Answer | None:
    if fault.text.lower() not in ("?", "-", "--", "n/a", "na", "none", "unknown", "tbd", "x") or fault.kind == "text":
        return None
    return fault.kind, f"'{fault.text}' is no value for '{fault.name}'", "leave the line out until it is known"


def _empty_text(fault: Fault) -> Answer | None:
    if fault.kind != "text" or not isinstance(fault.value, str):
        return None
    return "text", f"'{fault.name}' is empty", "write a few words between the quotation marks"


def _yes_no(fault: Fault) -> Answer | None:
    if fault.kind != "yes-no":
        return None
    yes = fault.text.lower() in ("yes", "y", "on", "1", "true")
    no = fault.text.lower() in ("no", "n", "off", "0", "false")
    return ("yes-no", fault.wrong, f"write {'true' if yes else 'false'}") if yes or no else None


_THREE_NUMBERS = re.compile(r"(\d{1,4})[./ -](\d{1,2})[./ -](\d{1,4})\.?(?:[ T,]+(.*))?")
_CLOCK = re.compile(r"(\d{1,2})[:.h]?(\d{2})?\s*([ap])?\.?m?\.?", re.IGNORECASE)


def _date(fault: Fault) -> Answer | None:
    if fault.kind not in ("date", "time"):
        return None
    wrong = fault.wrong
    if fault.kind == "time" and re.fullmatch(r"\d{1,2}[:.]\d{2}", fault.text):
        return (
            fault.kind,
            f"'{fault.text}' has no date",
            f"write for example 2026-03-02 {_clock(fault.text) or '08:10'}",
        )
    match = _THREE_NUMBERS.fullmatch(fault.text)
    days = _days(*match.groups()[:3]) if match else []
    if match is None or not days:
        return None
    if fault.kind == "date":
        if match[4] and days[0].isoformat() == fault.text[:10]:
            wrong = f"'{fault.text}' is a date with a time, and this is a day"
        return fault.kind, wrong, f"write {_either(day.isoformat() for day in days)}"
    if not match[4]:
        return (
            fault.kind,
            f"'{fault.text}' has no time of day",
            f"write for example {_either(f'{day} 08:10' for day in days)}",
        )
    clock = _clock(match[4])
    return (fault.kind, wrong, f"write {_either(f'{day} {clock}' for day in days)}") if clock else None


def _days(first: str, second: str, third: str) -> list[date]:
    """The days three numbers can mean: year first, or else day first or month first."""
    if len(first) == 4:
        orders = [(first, second, third)]
    elif len(third) == 4:
        orders = [(third, second, first), (third, first, second)]
    else:
        return []
    found = []
    for year, month, day in orders:
        try:
            found.append(date(int(year), int(month), int(day)))
        except ValueError:
            continue
    return list(dict.fromkeys(found))


def _either(choices: Any) -> str:
    return " or ".join(choices)


def _clock(text: str) -> str | None:
    match = _CLOCK.fullmatch(text.strip())
    if match is None:
        return None
    hour, minute = int(match[1]), int(match[2] or 0)
    if match[3]:
        hour = hour % 12 + (12 if match[3].lower() == "p" else 0)
    return f"{hour:02d}:{minute:02d}" if hour < 24 and minute < 60 else None


_SIGNS = {"€": "EUR", "$": "USD", "£": "GBP", "¥": "JPY"}


def _money(fault: Fault) -> Answer | None:
    match = re.fullmatch(r"([€$£¥]|[A-Za-z]{3})?\s*(\d+)([.,]\d{1,2})?\s*([€$£¥]|[A-Za-z]{3})?", fault.text)
    if fault.kind != "money" or match is None:
        return None
    code = match[1] or match[4]
    if code is None:
        return "money", f"'{fault.text}' has no currency", f"write for example {fault.text.replace(',', '.')} EUR"
    amount = match[2] + (match[3] or "").replace(",", ".")
    return "money", fault.wrong, f"write {amount} {_SIGNS.get(code, code.upper())}"


def _id(fault: Fault) -> Answer | None:
    if fault.kind != "id" or not fault.text:
        return None
    plain = re.sub(r"[^a-z0-9]+", "-", fault.text.lower()).strip("-")[:64].strip("-")
    return ("id", fault.wrong, f"write {plain}") if plain else None


def _count(fault: Fault) -> Answer | None:
    match = re.match(r"\d{1,6}(?=\D)(?![.,]\d)", fault.text)
    return ("count", fault.wrong, f"write {match[0]}") if fault.kind == "count" and match else None


def _time_zone(fault: Fault) -> Answer | None:
    if fault.kind != "time-zone":
        return None
    zones = sorted(available_timezones())
    city = [zone for zone in zones if zone.rpartition("/")[2].casefold() == fault.text.casefold().replace(" ", "_")]
    return (
        "time-zone",
        fault.wrong,
        f"did you mean {city[0]}?" if city else did_you_mean(fault.text, zones, fault.remedy),
    )


def _unit(fault: Fault) -> Answer | None:
    if fault.kind != "units" or not isinstance(fault.value, str):
        return None
    kind = KINDS.get(fault.name)
    if kind is None:
        return "units", fault.wrong, did_you_mean(fault.name, KINDS, fault.remedy)
    return "units", fault.wrong, did_you_mean(fault.text, [unit.symbol for unit in kind.units], fault.remedy)


_POLISHERS: tuple[Callable[[Fault], Answer | None], ...] = (
    _unknown_key,
    _missing,
    _wrong_shape,
    _choice,
    _curly_quotes,
    _not_known,
    _empty_text,
    _yes_no,
    _date,
    _money,
    _id,
    _count,
    _time_zone,
    _unit,
)
