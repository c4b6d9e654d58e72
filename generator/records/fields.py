"""Types of field: how written text becomes a value, and how an editor's schema describes it.

Every type reads text as a keeper writes it. Code makes records of values, which are not checked. The validation
context holds the journal's time zone and the units of bare numbers: ``{"zone": ZoneInfo, "units": {kind: unit
symbol}}``. A mistake raises the error of `mistake`, which says what is wrong and what to write instead.
"""

import re
import unicodedata
from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING, Annotated, Any
from zoneinfo import ZoneInfo

from msgspec import Struct

from generator.units.kinds import KINDS
from generator.units.quantity import NotAQuantity, NoUnit, Quantity, negative, parse_quantity, sides_in

if TYPE_CHECKING:
    from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
    from pydantic_core import CoreSchema, PydanticCustomError
    from pydantic_core.core_schema import ValidationInfo


def mistake(kind: str, wrong: str, remedy: str) -> "PydanticCustomError":
    """The error a field raises: `kind` as in `Problem.kind`, and both halves of the message."""
    from pydantic_core import PydanticCustomError

    # Braces in a keeper's own text must not be taken for a format string, hence the context.
    return PydanticCustomError(kind, "{wrong} ({remedy})", {"wrong": wrong, "remedy": remedy})


class Written(Struct, frozen=True):
    """Marks a `Quantity` field: text of the named kind. A bare number takes the journal's unit.

    `example` replaces the kind's own example where that would mislead. `something`: it cannot be 0.
    """

    kind: str
    example: str = ""
    something: bool = False

    def __get_pydantic_core_schema__(self, source: Any, handler: "GetCoreSchemaHandler") -> "CoreSchema":
        from pydantic_core import core_schema

        def validate(value: Any, info: "ValidationInfo") -> Quantity:
            if not isinstance(value, str):
                words = KINDS[self.kind].words or self.kind
                raise mistake("not-a-value", f"{words} must be one value", self._remedy())
            units = (info.context or {}).get("units", {})
            try:
                quantity = parse_quantity(value, self.kind, units.get(self.kind))
            except NoUnit as error:
                usual = (self.example or KINDS[self.kind].example).partition(" ")[2]
                once = f"or '{self.kind}: {usual}' once, under units in journal.yaml"
                raise mistake("quantity", error.wrong, f"{error.remedy}, {once}") from None
            except NotAQuantity as error:
                raise mistake("quantity", error.wrong, error.remedy) from None
            if quantity.value < 0 and self.kind != "temperature":
                wrong, remedy = negative(value.strip(), quantity.value, self.kind, quantity.unit)
                raise mistake("negative", wrong, remedy)
            if quantity.value == 0 and self.something:
                raise mistake("nothing", f"'{value}' is zero", self._remedy())
            return quantity

        return core_schema.with_info_plain_validator_function(validate)

    def __get_pydantic_json_schema__(self, schema: "CoreSchema", handler: "GetJsonSchemaHandler") -> dict[str, Any]:
        kind = KINDS[self.kind]
        units = ", ".join(unit.symbol for unit in kind.units)
        return {
            "type": ["string", "number"],
            "description": f"{kind.words or kind.id}, in one of: {units}",
            "examples": [self.example or kind.example],
        }

    def _remedy(self) -> str:
        return f"write for example {self.example or KINDS[self.kind].example}"


class WrittenAs(Struct, frozen=True):
    """Marks a field of any other type: how its text is read, and the JSON Schema of such text.

    `read` takes what is written, and the validation context too if it is `in_context`.
    """

    read: Callable[..., Any]
    schema: dict[str, Any]
    in_context: bool = False

    def __hash__(self) -> int:
        return hash(self.read)

    def __get_pydantic_core_schema__(self, source: Any, handler: "GetCoreSchemaHandler") -> "CoreSchema":
        from pydantic_core import core_schema

        if not self.in_context:
            return core_schema.no_info_plain_validator_function(self.read)

        def in_context(value: Any, info: "ValidationInfo") -> Any:
            return self.read(value, info.context or {})

        return core_schema.with_info_plain_validator_function(in_context)

    def __get_pydantic_json_schema__(self, schema: "CoreSchema", handler: "GetJsonSchemaHandler") -> dict[str, Any]:
        return dict(self.schema)


Alkalinity = Annotated[Quantity, Written("alkalinity")]
Calcium = Annotated[Quantity, Written("calcium")]
Magnesium = Annotated[Quantity, Written("magnesium")]
Potassium = Annotated[Quantity, Written("potassium")]
Strontium = Annotated[Quantity, Written("strontium")]
Boron = Annotated[Quantity, Written("boron")]
Nitrate = Annotated[Quantity, Written("nitrate")]
Nitrite = Annotated[Quantity, Written("nitrite")]
Ammonium = Annotated[Quantity, Written("ammonium")]
Phosphate = Annotated[Quantity, Written("phosphate")]
Silicate = Annotated[Quantity, Written("silicate")]
Salinity = Annotated[Quantity, Written("salinity")]
Temperature = Annotated[Quantity, Written("temperature")]
PH = Annotated[Quantity, Written("ph")]
Length = Annotated[Quantity, Written("length")]
Side = Annotated[Quantity, Written("length", something=True)]
Mass = Annotated[Quantity, Written("mass")]
ScaleStep = Annotated[Quantity, Written("mass", "1 g")]
Volume = Annotated[Quantity, Written("volume")]
VolumeSpread = Annotated[Quantity, Written("volume", "10 L")]
Rate = Annotated[Quantity, Written("rate")]
Strength = Annotated[Quantity, Written("strength")]
Light = Annotated[Quantity, Written("light")]
Duration = Annotated[Quantity, Written("duration")]
Distance = Annotated[Quantity, Written("distance")]


_ID = re.compile(r"[a-z0-9](?:[a-z0-9-]{0,62}[a-z0-9])?")


def is_id(text: str) -> bool:
    """Whether text can be an id: lower-case letters, digits and inner hyphens, at most 64 characters."""
    return _ID.fullmatch(text) is not None


def _identifier(value: Any) -> str:
    if isinstance(value, str) and is_id(value):
        return value
    raise mistake(
        "id", f"'{value}' is not an id", "use lower-case letters, digits and hyphens, for example tide-lantern-3"
    )


def _container(value: Any) -> str:
    if isinstance(value, str) and (sides := sides_in(value)) is not None:
        named = f"give it a name, such as tote, and write in journal.yaml: containers: {{tote: {{{sides}}}}}"
        raise mistake("container", f"'{value}' is a size, not the name of a container", named)
    return _identifier(value)


_ID_SCHEMA = {"type": "string", "pattern": f"^{_ID.pattern}$", "description": "an id: the file's name"}
Id = Annotated[str, WrittenAs(_identifier, _ID_SCHEMA)]
ContainerId = Annotated[str, WrittenAs(_container, _ID_SCHEMA)]

_WHEN = re.compile(r"(\d{4}-\d{2}-\d{2})[ T](\d{1,2}:\d{2})(?::\d{2})?(Z|[+-]\d{2}:\d{2})?")


def local_time(text: str, zone: ZoneInfo) -> datetime:
    """A keeper's local date and time as an instant in UTC.

    An offset after it (``+01:00``) settles a time that a clock change makes ambiguous. Raises a `mistake`
    for a wrong format, a wrong date, or a local time that does not exist or exists twice.
    """
    match = _WHEN.fullmatch(text.strip())
    if match is None:
        raise mistake("time", f"'{text}' is not a date and time", "write for example 2026-03-02 08:10")
    day, clock, offset = match.groups()
    try:
        naive = datetime.fromisoformat(f"{day} {clock.zfill(5)}")
        exact = datetime.fromisoformat(f"{naive.isoformat()}{offset.replace('Z', '+00:00')}") if offset else None
    except ValueError:
        raise mistake("time", f"there is no day or time '{text}'", "write for example 2026-03-02 08:10") from None
    _in_our_time(naive, text)
    if exact:
        return exact.astimezone(UTC)
    early, late = naive.replace(tzinfo=zone), naive.replace(tzinfo=zone, fold=1)
    if early.utcoffset() == late.utcoffset():
        return early.astimezone(UTC)
    if early.astimezone(UTC).astimezone(zone).replace(tzinfo=None) != naive:
        raise mistake(
            "clock-change",
            f"{naive:%Y-%m-%d %H:%M} does not exist in {zone.key}: the clocks go forward that night",
            "write the time your clock showed",
        )
    raise mistake(
        "clock-change",
        f"{naive:%Y-%m-%d %H:%M} exists twice in {zone.key}: the clocks go back that night",
        f"write the offset after it: {naive:%Y-%m-%d %H:%M}{_offset(early)} or {_offset(late)}",
    )


def _in_our_time(day: date, text: str) -> None:
    if not 1800 <= day.year <= 2200:
        raise mistake("year", f"'{text}' is in the year {day.year}", "check the year")


def _offset(moment: datetime) -> str:
    minutes = int((moment.utcoffset() or timedelta()).total_seconds() // 60)
    return f"{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"


def _when(value: Any, context: Mapping[str, Any]) -> datetime:
    if not isinstance(value, str):
        raise mistake("time", "a date and time must be one value", "write for example 2026-03-02 08:10")
    return local_time(value, context.get("zone", ZoneInfo("UTC")))


When = Annotated[
    datetime,
    WrittenAs(_when, {"type": "string", "description": "local date and time", "examples": ["2026-03-02 08:10"]}, True),
]


_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")


def calendar_day(value: Any) -> date:
    """A day as written, year-month-day. Raises the `mistake` for a form or a day that is none."""
    if isinstance(value, str) and _DAY.fullmatch(value.strip()):
        try:
            day = date.fromisoformat(value.strip())
        except ValueError:
            raise mistake("date", f"there is no day '{value}'", "write for example 2026-03-02") from None
        _in_our_time(day, value)
        return day
    raise mistake("date", f"'{value}' is not a date", "write year-month-day, for example 2026-03-02")


Day = Annotated[date, WrittenAs(calendar_day, {"type": "string", "format": "date", "examples": ["2026-03-02"]})]


# Characters that no page, feed or terminal can show: YAML 1.2 allows the others (its production c-printable).
UNREADABLE = re.compile("[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def _text(value: Any) -> str:
    hidden = UNREADABLE.search(value) if isinstance(value, str) else None
    if hidden:
        raise mistake("control-character", f"an invisible character U+{ord(hidden.group()):04X}", "delete it")
    if isinstance(value, str) and any(map(str.isprintable, value.strip())):
        return value.strip()
    raise mistake(
        "text",
        "text is missing" if value in ("", None) else "this must be text",
        "write a few words, or leave the line out",
    )


Text = Annotated[str, WrittenAs(_text, {"type": "string", "minLength": 1})]


def line(value: Any) -> str:
    """Text in one line with plain spaces, its accents joined to their letters, however it was written."""
    return unicodedata.normalize("NFC", " ".join(_text(value).split()))


Name = Annotated[str, WrittenAs(line, {"type": "string", "minLength": 1})]
# A line that should be there, but may be missing.
Words = Annotated[str, WrittenAs(lambda value: line(value) if str(value).strip() else "", {"type": "string"})]


def _number(low: float, high: float, what: str) -> Callable[[Any], float]:
    def validate(value: Any) -> float:
        try:
            number = float(value)
        except (TypeError, ValueError):
            raise mistake("number", f"'{value}' is not a number", f"write {what}") from None
        if not low <= number <= high:
            raise mistake("number", f"{value} is outside {low:g} to {high:g}", f"write {what}")
        return number

    return validate


def _whole(value: Any) -> int:
    if isinstance(value, str) and re.fullmatch(r"\d{1,6}", value.strip()):
        return int(value)
    raise mistake("count", f"'{value}' is not a whole number", "write for example 3")


Times = Annotated[
    float,
    WrittenAs(
        _number(0.5, 4.0, "how many times as wide, for example 1.2"), {"type": "number", "minimum": 0.5, "maximum": 4.0}
    ),
]
Count = Annotated[int, WrittenAs(_whole, {"type": "integer", "minimum": 0})]
Year = Annotated[
    int,
    WrittenAs(
        lambda value: int(_number(1800, 2200, "a year, for example 2019")(value)),
        {"type": "integer", "minimum": 1800, "maximum": 2200},
    ),
]


def _flag(value: Any) -> bool:
    if value in ("true", "false"):
        return bool(value == "true")
    raise mistake("yes-no", f"'{value}' is not true or false", "write true or false")


Flag = Annotated[bool, WrittenAs(_flag, {"type": "boolean"})]


class Money(Struct, frozen=True):
    """An amount in a currency (ISO 4217 code), as written."""

    amount: float
    currency: str


def _money(value: Any) -> Money:
    match = re.fullmatch(r"(\d{1,9}(?:\.\d{1,2})?) ([A-Z]{3})", value.strip()) if isinstance(value, str) else None
    if match is None:
        raise mistake("money", f"'{value}' is not an amount of money", "write for example 40 EUR")
    return Money(float(match.group(1)), match.group(2))


Worth = Annotated[
    Money,
    WrittenAs(_money, {"type": "string", "examples": ["40 EUR"], "description": "amount and ISO 4217 currency code"}),
]
