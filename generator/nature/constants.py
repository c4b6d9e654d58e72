"""Numbers of nature, each with its unit, its source and how it is known.

Every measured number that calculations use is a row of ``constants.yaml``, ``sea_salt.yaml`` or ``solubility.yaml``;
what they assume is in ``assumptions.yaml``. A row is imported by its id in capitals:
``from generator.nature.constants import STANDARD_SALINITY``. Molar masses are in `units.atomic_weights`. Coefficients
of a published equation are in the function for that equation, with its source in the docstring.
"""

from collections.abc import Callable, Sequence
from functools import partial
from importlib.resources import files
from math import isnan, nan
from typing import Any, Literal, TypeVar

import yaml
from msgspec.structs import replace
from pydantic import TypeAdapter, ValidationError

from generator.door.compiled import compiled
from generator.records.source import FromFile
from generator.units.compounds import molar_mass
from generator.units.quantity import InUnit

# A text in every language of the pages, by the language's code.
Texts = dict[str, str]

_LOADER: type[Any] = yaml.CSafeLoader if yaml.__with_libyaml__ else yaml.SafeLoader
T = TypeVar("T")


class TableError(SystemExit):
    """A table of nature is wrong: the file, the line, and what is wrong. It ends a command with that one message."""


def table(name: str, model: type[T]) -> T:
    """The contents of ``NAME.yaml``. Raises `TableError` with the file and the first line that is wrong."""
    file = files("generator.nature") / f"{name}.yaml"
    plain = compiled(file, partial(_plain, name))
    return _checked(name, plain, model, lambda: file.read_text(encoding="utf-8"))


def parsed(name: str, text: str, model: type[T]) -> T:
    """A table's contents from its text. Raises `TableError`."""
    return _checked(name, _plain(name, text), model, lambda: text)


def _plain(name: str, text: str) -> Any:
    try:
        return yaml.load(text, Loader=_LOADER)
    except yaml.MarkedYAMLError as error:
        line = error.problem_mark.line + 1 if error.problem_mark else 1
        raise TableError(f"generator/nature/{name}.yaml:{line}: {error.problem or error}") from error


def _checked(name: str, plain: Any, model: type[T], text: Callable[[], str]) -> T:
    try:
        return TypeAdapter(model).validate_python(plain)
    except ValidationError as error:
        first = error.errors()[0]
        # Positions are only needed for a message, and finding them is slow.
        line = _line(yaml.compose(text(), Loader=_LOADER), first["loc"])
        where = ".".join(str(part) for part in first["loc"])
        raise TableError(f"generator/nature/{name}.yaml:{line}: {where}: {first['msg']}") from error


def _line(node: Any, path: Sequence[int | str]) -> int:
    """The line of the deepest node on a path; what a model adds to the path is passed over."""
    for part in path:
        if isinstance(node, yaml.MappingNode):
            node = next((value for key, value in node.value if key.value == str(part)), node)
        elif isinstance(node, yaml.SequenceNode) and isinstance(part, int):
            node = node.value[part]
    return int(node.start_mark.line) + 1


SourceKind = Literal["definition", "published", "from memory", "derived", "common practice", "assumption"]


class Constant(FromFile, frozen=True, kw_only=True):
    """One number of nature: what it is, its value and unit, and where it comes from.

    `standard` is its standard uncertainty, `low` and `high` the range of published values; None where
    not known. `known`: by definition; from a published value that was read or reproduced; from memory
    of the published source; derived from other constants; common practice, with no source; or an assumption of ours.
    In a table `over` divides the value, and what is derived there has none.
    """

    name: Texts
    value: float = nan
    over: float = 1.0
    unit: str
    source: str
    known: SourceKind = "published"
    standard: float | None = None
    low: float | None = None
    high: float | None = None

    @property
    def ends(self) -> tuple[InUnit, InUnit]:
        """The range of published values; the value itself where an end is not known."""
        return self.value if self.low is None else self.low, self.value if self.high is None else self.high

    def __post_init__(self) -> None:
        """Refuse a value that is not within its own range."""
        if self.over == 1.0 and not isnan(self.value) and not self.ends[0] <= self.value <= self.ends[1]:
            raise ValueError("the value is not between low and high")


class _Value(FromFile, frozen=True):
    value: float
    ion: str = ""
    low: float | None = None
    high: float | None = None


class _Column(FromFile, frozen=True):
    """Constants that share name, unit and source."""

    name: Texts
    unit: str
    source: str
    rows: dict[str, _Value]
    known: SourceKind = "published"

    def constants(self) -> dict[str, Constant]:
        return {
            id: Constant(
                name={language: text.format(ion=row.ion, formula=id) for language, text in self.name.items()},
                value=row.value,
                unit=self.unit,
                source=self.source,
                known=self.known,
                low=row.low,
                high=row.high,
            )
            for id, row in self.rows.items()
        }


_ROWS = {**table("constants", dict[str, Constant]), **table("assumptions", dict[str, Constant])}
# Mass fractions of the ions of sea salt, g/g.
REFERENCE_COMPOSITION = table("sea_salt", _Column).constants()
# Grams of each anhydrous compound that 100 g of water dissolve at 20 °C.
SOLUBILITY = table("solubility", _Column).constants()


def _mg_per_kg(*ions: str) -> float:
    return sum(REFERENCE_COMPOSITION[ion].value for ion in ions) * _ROWS["reference-salinity"].value * 1e3


def _mmol_per_kg(ion: str) -> float:
    return _mg_per_kg(ion) / molar_mass(ion)


# What seawater of practical salinity 35 contains.
_DERIVED = {
    "seawater-calcium": _mg_per_kg("Ca"),
    "seawater-magnesium": _mg_per_kg("Mg"),
    "seawater-potassium": _mg_per_kg("K"),
    "seawater-strontium": _mg_per_kg("Sr"),
    "seawater-boron": (_mmol_per_kg("B(OH)3") + _mmol_per_kg("B(OH)4")) * molar_mass("B"),
    "seawater-alkalinity": (
        _mmol_per_kg("HCO3") + 2.0 * _mmol_per_kg("CO3") + _mmol_per_kg("B(OH)4") + _mmol_per_kg("OH")
    ),
}


BY_ID = {
    id: replace(row, value=_DERIVED[id] if isnan(row.value) else row.value / row.over, over=1.0)
    for id, row in _ROWS.items()
}
# All of them, in the order of the tables, as the methods page lists them.
ALL = (*BY_ID.values(), *REFERENCE_COMPOSITION.values(), *SOLUBILITY.values())


def __getattr__(name: str) -> Constant:
    """A constant by its id in capitals. Raises `AttributeError`."""
    try:
        return BY_ID[name.lower().replace("_", "-")]
    except KeyError as error:
        raise AttributeError(f"no constant '{name}' in constants.yaml or assumptions.yaml") from error


Grip = Literal["good", "fair", "poor"]


class Packed(FromFile, frozen=True, kw_only=True):
    """One thing to pack: the id of its words, and from how many hours of travel on."""

    item: str
    from_hours: float


class Lifting(FromFile, frozen=True, kw_only=True):
    """Limits of the revised NIOSH lifting equation: reach, height of the hands and rise in cm, turn in degrees.

    `grips` are the coupling multipliers for a lift that begins below 75 cm, and from there up.
    """

    source: str
    grips: dict[Grip, tuple[float, float]]
    farthest: float
    highest: float
    longest: float
    most_turned: float


class _Travel(FromFile, frozen=True, kw_only=True):
    packing: tuple[Packed, ...]
    lifting: Lifting


_TABLE = table("travel", _Travel)
PACKING = _TABLE.packing
LIFTING = _TABLE.lifting
