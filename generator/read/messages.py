"""The message of each fault: a list of functions, each of which knows one kind of mistake.

A function sees one fault and returns (kind, what is wrong, what to write instead), or None. The first
answer counts. A mistake that none of them knows keeps the message of its field.
"""

import re
from collections.abc import Callable, Iterable
from datetime import date
from difflib import get_close_matches
from zoneinfo import available_timezones

from generator.read.draft import FROM_THE_FILE, Answer, Fault, FieldShape
from generator.records.settings import NO_ZONE
from generator.units.kinds import KINDS, kind_named


def nearest(name: str, known: Iterable[str]) -> str | None:
    """The known name closest to a misspelt one, if any is close."""
    # Long names are compared by their start: the matching is quadratic, and no name is that long.
    folded = {each.casefold().replace("_", "-"): each for each in known}
    close = get_close_matches(name[:80].casefold().replace("_", "-").replace(" ", "-"), folded, n=1, cutoff=0.6)
    return folded[close[0]] if close else None


def did_you_mean(name: str, known: Iterable[str], otherwise: str) -> str:
    """A remedy: the nearest known name, or else what to do instead."""
    close = nearest(name, known)
    return f"did you mean {close}?" if close else otherwise


def listed_names(names: Iterable[str], at_most: int = 14) -> str:
    """Names with commas between, cut short when there are many."""
    every = list(names)
    return ", ".join(every[:at_most]) + (", …" if len(every) > at_most else "")


def curly_quotes(fault: Fault) -> Answer | None:
    """Curly quotation marks of a word processor, which YAML does not know."""
    plain = fault.text.strip("“”„‘’«»").strip()
    if plain == fault.text or not plain:
        return None
    return fault.kind, f"the quotation marks in {fault.text} count as part of the text", f"write {plain}"


def not_known(fault: Fault) -> Answer | None:
    """A sign that a value is not known."""
    if fault.text.lower() not in ("?", "-", "--", "n/a", "na", "none", "unknown", "tbd", "x") or fault.kind == "text":
        return None
    return fault.kind, f"'{fault.text}' is not a value for '{fault.name}'", "leave the line out until you know it"


def empty_text(fault: Fault) -> Answer | None:
    """Nothing between the quotation marks."""
    if fault.kind != "text" or not isinstance(fault.value, str):
        return None
    return "text", f"'{fault.name}' is empty", "write a few words between the quotation marks"


def yes_no(fault: Fault) -> Answer | None:
    """`yes` or `off` where true or false is meant."""
    if fault.kind != "yes-no":
        return None
    yes = fault.text.lower() in ("yes", "y", "on", "1", "true")
    no = fault.text.lower() in ("no", "n", "off", "0", "false")
    return ("yes-no", fault.wrong, f"write {'true' if yes else 'false'}") if yes or no else None


_THREE_NUMBERS = re.compile(r"(\d{1,4})[./ -](\d{1,2})[./ -](\d{1,4})\.?(?:[ T,]+(.*))?")
_CLOCK = re.compile(r"(\d{1,2})[:.h]?(\d{2})?\s*([ap])?\.?m?\.?", re.IGNORECASE)


def day_or_time(fault: Fault) -> Answer | None:
    """A day in another order of its numbers, a time by another clock, or half of both."""
    if fault.kind not in ("date", "time"):
        return None
    if fault.kind == "time" and re.fullmatch(r"\d{1,2}[:.]\d{2}", fault.text):
        remedy = f"write for example 2026-03-02 {_clock(fault.text) or '08:10'}"
        return "time", f"'{fault.text}' has no date", remedy
    match = _THREE_NUMBERS.fullmatch(fault.text)
    days = _days(*match.groups()[:3]) if match else []
    if match is None or not days:
        return None
    if fault.kind == "date":
        timed = match[4] and days[0].isoformat() == fault.text[:10]
        wrong = f"'{fault.text}' has a time, but this is a day" if timed else fault.wrong
        return "date", wrong, f"write {_either(day.isoformat() for day in days)}"
    if not match[4]:
        remedy = f"write for example {_either(f'{day} 08:10' for day in days)}"
        return "time", f"'{fault.text}' has no time of day", remedy
    clock = _clock(match[4])
    return ("time", fault.wrong, f"write {_either(f'{day} {clock}' for day in days)}") if clock else None


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


def _either(choices: Iterable[str]) -> str:
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


def money(fault: Fault) -> Answer | None:
    """An amount with a sign or a comma, or without its currency."""
    match = re.fullmatch(r"([€$£¥]|[A-Za-z]{3})?\s*(\d+)([.,]\d{1,2})?\s*([€$£¥]|[A-Za-z]{3})?", fault.text)
    if fault.kind != "money" or match is None:
        return None
    code = match[1] or match[4]
    if code is None:
        return "money", f"'{fault.text}' has no currency", f"write for example {fault.text.replace(',', '.')} EUR"
    amount = match[2] + (match[3] or "").replace(",", ".")
    return "money", fault.wrong, f"write {amount} {_SIGNS.get(code, code.upper())}"


def identifier(fault: Fault) -> Answer | None:
    """A name in place of an id."""
    if fault.kind != "id" or not fault.text:
        return None
    plain = re.sub(r"[^a-z0-9]+", "-", fault.text.lower()).strip("-")[:64].strip("-")
    return ("id", fault.wrong, f"write {plain}") if plain else None


def whole_number(fault: Fault) -> Answer | None:
    """A number followed by words."""
    match = re.match(r"\d{1,6}(?=\D)(?![.,]\d)", fault.text)
    return ("count", fault.wrong, f"write {match[0]}") if fault.kind == "count" and match else None


def time_zone(fault: Fault) -> Answer | None:
    """A city, or a misspelt zone."""
    if fault.kind != "time-zone":
        return None
    zones = sorted(name for name in available_timezones() if not NO_ZONE.fullmatch(name))
    city = [zone for zone in zones if zone.rpartition("/")[2].casefold() == fault.text.casefold().replace(" ", "_")]
    return (
        "time-zone",
        fault.wrong,
        f"did you mean {city[0]}?" if city else did_you_mean(fault.text, zones, fault.remedy),
    )


def unit_of_bare_numbers(fault: Fault) -> Answer | None:
    """A misspelt quantity or unit among the journal's units."""
    if fault.kind != "units" or not isinstance(fault.value, str):
        return None
    kind = KINDS.get(fault.name)
    if kind is None:
        return "units", fault.wrong, did_you_mean(fault.name, KINDS, fault.remedy)
    return "units", fault.wrong, did_you_mean(fault.text, [unit.symbol for unit in kind.units], fault.remedy)


def say(fault: Fault) -> Answer:
    """The fault's kind, what is wrong and what to write instead."""
    return next(filter(None, (polish(fault) for polish in _POLISHERS)), None) or _as_it_is(fault)


def _as_it_is(fault: Fault) -> Answer:
    return fault.kind, fault.wrong, fault.remedy or "see the example of this file in the demo journal"


def _unknown_key(fault: Fault) -> Answer | None:
    if fault.kind != "extra_forbidden":
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
    here = f"write one of {listed_names(known)}" if known else "delete the line"
    return "unknown-key", f"there is no field '{fault.name}' here", did_you_mean(fault.name, known, here)


def _under_another_name(name: str, known: dict[str, FieldShape]) -> Answer | None:
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
        return "missing", wrong, f"add '{fault.name}:' and below it {listed_names(shape.fields, 4)}"
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
        remedy = f"write below it, indented: {listed_names(inner, 5)}" if inner else "write them below it, indented"
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
        did_you_mean(fault.text, choices, f"write one of {listed_names(choices)}"),
    )


_POLISHERS: tuple[Callable[[Fault], Answer | None], ...] = (
    _unknown_key,
    _missing,
    _wrong_shape,
    _choice,
    curly_quotes,
    not_known,
    empty_text,
    yes_no,
    day_or_time,
    money,
    identifier,
    whole_number,
    time_zone,
    unit_of_bare_numbers,
)
