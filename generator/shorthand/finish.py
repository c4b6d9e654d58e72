"""What a line of shorthand becomes, and what a fact still needs before it is written: a share as a volume."""

import re
import unicodedata
from collections.abc import Collection, Mapping
from datetime import date, datetime, time

from msgspec import Struct, field

from generator.shorthand.scanner import FactWords
from generator.units.quantity import Quantity, parse_quantity

# A fact's value: a quantity, sides of a size, a count, or text (an id, a choice, the keeper's words).
Value = Quantity | tuple[Quantity, ...] | int | str


# Stands for every coral of a water, and the facts that can be of all, or of several, at once.
ALL = "all corals"
OF_ALL = ("end", "placements")
OF_SEVERAL = (*OF_ALL, "health")


class Stamp(Struct, frozen=True):
    """A day, and the hour if one was said, on the keeper's own clock."""

    day: date
    clock: time | None = None


class Fact(Struct, frozen=True):
    """One fact for the files.

    `into` is the field of a log's entry or of a coral's file; `values` are its parts by the names that the files use.
    `coral` is the coral whose file it belongs to, "" for a system's log. `said` is the part of the line it comes from.
    """

    into: str
    values: Mapping[str, Value]
    at: Stamp
    said: str
    coral: str = ""


class Refusal(Struct, frozen=True):
    """A part of a line that was not understood, and what to write instead."""

    said: str
    wrong: str
    remedy: str

    def __str__(self) -> str:
        return f"{self.wrong} ({self.remedy})"


class Terms(Struct, frozen=True):
    """What a journal knows, as far as a line can speak of it.

    `now` is the moment of writing on the keeper's own clock. `units` has the unit of a bare number of each kind.
    `names` maps, for each kind of name (solution, mix, kit, coral, place, system, partner), what it may be called to
    its id. `volume` is the water volume, `stocks` a full container of each solution. `coral` is the coral that the
    line is about, if it names none, `others` those beside it. `homes` has the system of each coral, `places` those of
    each system, `steps` the step of the scale that last weighed a coral. `date_order` is that of the keeper's dates.
    """

    now: datetime
    units: Mapping[str, str] = field(default_factory=dict)
    names: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    volume: Quantity | None = None
    stocks: Mapping[str, Quantity] = field(default_factory=dict)
    coral: str = ""
    others: tuple[str, ...] = ()
    homes: Mapping[str, str] = field(default_factory=dict)
    places: Mapping[str, Collection[str]] = field(default_factory=dict)
    steps: Mapping[str, Quantity] = field(default_factory=dict)
    date_order: str = "year-month-day"


class Understood(Struct, frozen=True):
    """All changes of a line, in its order, and every part that was not understood."""

    changes: tuple[Fact, ...]
    refusals: tuple[Refusal, ...]


_LONGEST_ID = 64


class CannotMean(ValueError):
    """A fact that is whole and cannot be so; the arguments are what is wrong and what to write instead."""


def finished(row: FactWords, found: Mapping[str, Value], known: Terms) -> dict[str, Value]:
    """The parts of a fact by the names that the files use. Raises `CannotMean`."""
    values: dict[str, Value] = {**row.set, **found}
    match row.into:
        case "doses" | "pumps" | "measured_rate":
            solution, amount = str(values.pop("solution")), next(iter(values.values()))
            return {solution: parse_quantity(amount, "rate") if isinstance(amount, str) else amount}
        case _ if values.get("coral") == ALL and (row.into not in OF_ALL or "spot" in values):
            raise CannotMean(
                "only an end or a move, without a spot, can be said of all corals", "write the coral's name"
            )
        case "solutions":
            _described(str(values["solution"]), known)
            _strength(values)
        case "filled":
            return _filled(values, known)
        case "water_change":
            values["volume"] = _volume(values["volume"], known)
        case "sizes":
            _sides(values)
        case "placements":
            _home(values, known, str(values.get("coral", "")))
            _is_elsewhere(values, known)
            if isinstance(spot := values.pop("spot", None), tuple):
                values["x"], values["y"] = spot
        case "weighings":
            values.setdefault("resolution", _step(values, known))
        case "new":
            _new(values, known)
    return values


def id_of(name: str) -> str:
    """The id that a name makes: small letters, digits and hyphens. "" if the name has none of them."""
    ascii_only = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode("ascii").lower()
    return re.sub(r"[^a-z0-9]+", "-", ascii_only).strip("-")[:_LONGEST_ID].strip("-")


def _described(solution: str, known: Terms) -> None:
    if solution in known.names.get("solution", {}).values():
        raise CannotMean(f"there is a solution '{solution}' already", "change it in the system's file")


def _strength(values: dict[str, Value]) -> None:
    """Put what a litre gives in place of what so much is said to raise so much water by, as on the label."""
    water, poured = values.pop("water", None), values.pop("poured", None)
    if not (isinstance(water, Quantity) and isinstance(poured, Quantity)):
        return
    raised = {name: value for name, value in values.items() if isinstance(value, Quantity)}
    if not raised:
        raise CannotMean("what it raises is not said", "write for example 'raises 1 dKH in 100 L per 10 mL'")
    if not all(each.value for each in (water, poured, *raised.values())):
        raise CannotMean("0 says nothing of what it raises", "write what the label says")
    for name, level in raised.items():
        a_litre = float(f"{level.value * water.canonical() / poured.canonical():.3g}")
        values[name] = Quantity(a_litre, level.unit, level.kind, 0 if a_litre >= 100.0 else 2)


def _filled(values: Mapping[str, Value], known: Terms) -> dict[str, Value]:
    solution = str(values["solution"])
    amount = values.get("amount", known.stocks.get(solution))
    if amount is None:
        raise CannotMean(f"the full container of {solution} is not known", f"write 'filled {solution} 5 L'")
    return {solution: amount}


def _volume(written: Value, known: Terms) -> Value:
    """A volume, or a share of the system's water as one."""
    if not isinstance(written, str):
        return written
    if known.volume is None:
        raise CannotMean(f"'{written}' of which water is not known", "write the volume, for example 40 L")
    value = known.volume.value * float(written.removesuffix(" %")) / 100.0
    digits = 0 if value >= 10 else 1 if value >= 1 else 2
    return Quantity(round(value, digits), known.volume.unit, "volume", digits)


def _sides(values: dict[str, Value]) -> None:
    size = values.pop("size", ())
    if isinstance(size, tuple):
        values.update(zip(("length", "width", "height"), size, strict=False))


def _step(values: Mapping[str, Value], known: Terms) -> Quantity:
    """The smallest step of the scale: that of the last weighing, or one in the last digit that was written."""
    mass = values["mass"]
    assert isinstance(mass, Quantity)
    last = known.steps.get(str(values.get("coral", known.coral)))
    return last or Quantity(10.0**-mass.digits, mass.unit, "mass", mass.digits)


def _home(values: dict[str, Value], known: Terms, coral: str) -> None:
    """Put in the system of a place. Of several with such a place, the coral's own is meant."""
    place, home = values.get("place"), known.homes.get(coral or known.coral, "")
    able = [system for system, places in known.places.items() if place in places]
    if "system" not in values:
        if place is None:
            if not home or not ("light" in values or "spot" in values):
                raise CannotMean("where to is not said", "write a place or a system")
            able = [home]
        if home not in able and len(able) != 1:
            raise CannotMean(f"there is a place '{place}' in {', '.join(able)}", "write the system too")
        values["system"] = home if home in able else able[0]
    elif place is not None and values["system"] not in able:
        raise CannotMean(f"{values['system']} has no place '{place}'", f"it is in {', '.join(able)}")


def _is_elsewhere(values: Mapping[str, Value], known: Terms) -> None:
    """Raises `CannotMean` for a move to the water that the coral is in, without anything of where in it."""
    coral = str(values.get("coral") or known.coral)
    if known.homes.get(coral) == values["system"] and not values.keys() - {"coral", "system"}:
        raise CannotMean(f"{coral} is in {values['system']} already", "write its place in it, or leave this out")


def _new(values: dict[str, Value], known: Terms) -> None:
    name = str(values["name"])
    id = id_of(name)
    if not id:
        raise CannotMean(f"'{name}' has no letters for the name of a file", "write a name with letters of the alphabet")
    if id in known.names.get("coral", {}).values():
        raise CannotMean(f"there is a coral '{id}' already", "write another name")
    if "how" not in values:
        if "parent" not in values:
            raise CannotMean(f"how {name} came is not said", "write gift, trade, bought, collected, cutting or unknown")
        values["how"] = "cutting"
    values["coral"] = id
    if "place" in values:
        _home(values, known, ALL)
    _sides(values)
