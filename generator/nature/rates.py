"""Published rates of coral: calcification, extension and bulk density, each with its range and source."""

from collections.abc import Iterator
from math import exp, hypot
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from generator.nature.constants import CALCIFICATION_SIZE_EXPONENT, CALCIFICATION_SPREAD_OF_COLONIES, SourceKind, table
from generator.records.coral import Form
from generator.records.source import FromFile
from generator.units.quantity import CmPerYear, Factor, coverage_factor, spread_of_range

Basis = Literal["planar-area", "extension-density", "surface-area", "mass"]
Study = Literal["census", "incubation", "field-weighing", "tank-weighing"]
Pair = tuple[float, float]


class Rate(Struct, frozen=True):
    """One published rate of calcification of one group of corals: `genus` "" and no `forms` mean any.

    Units by basis: planar-area kg/m²/yr; extension-density g/cm²/yr for each centimetre of outline,
    with `edge` g/cm/yr for each centimetre across; surface-area kg/yr at 1 cm², growing with the
    surface to the power `exponent`; mass mg/g/day at `at_size` grams. Surface rates weighed on
    fragments are in mg/cm²/day at `at_size` cm². `low` to `high` holds `level` of the cases.
    Rates of one `study` rest on the same data.
    """

    genus: str
    forms: tuple[Form, ...]
    basis: Basis
    study: Study
    value: float
    unit: str
    low: float
    high: float
    level: float
    source: str
    known: SourceKind
    edge: float = 0.0
    exponent: float = 1.0
    at_size: float = 0.0

    @property
    def spread(self) -> Factor:
        """Standard deviation of the rate's logarithm."""
        return spread_of_range(self.low, self.high, self.level)


class _Of(FromFile, frozen=True, kw_only=True):
    """What a row is about."""

    genus: str = ""
    forms: tuple[Form, ...] = ()


class _OfArea(_Of, frozen=True, kw_only=True):
    value: float
    quartiles: Pair | None = None


class _OfOutline(_Of, frozen=True, kw_only=True):
    extension: Pair
    density: Pair
    coefficient: float
    edge: float = 0.0


class _OfSurface(_Of, frozen=True, kw_only=True):
    intercept: float
    exponent: float


class _OfFragment(_Of, frozen=True, kw_only=True):
    value: float
    quartiles: Pair


class _OfMass(_Of, frozen=True, kw_only=True):
    study: Study
    value: float
    per: float = 1.0


class _Areas(FromFile, frozen=True, kw_only=True):
    source: str
    spread: float
    rows: tuple[_OfArea, ...]


class _Outlines(FromFile, frozen=True, kw_only=True):
    source: str
    rows: tuple[_OfOutline, ...]


class _Surfaces(FromFile, frozen=True, kw_only=True):
    source: str
    mean: Pair
    rows: tuple[_OfSurface, ...]


class _Fragments(FromFile, frozen=True, kw_only=True):
    source: str
    at_size: float
    rows: tuple[_OfFragment, ...]


class _Masses(FromFile, frozen=True, kw_only=True):
    sources: dict[Study, str]
    at_size: float
    rows: tuple[_OfMass, ...]


class _Calcification(FromFile, frozen=True, kw_only=True):
    as_published: dict[str, str]
    planar_area: _Areas
    extension_density: _Outlines
    incubation: _Surfaces
    field_weighing: _Fragments
    mass: _Masses


class UsualRange(FromFile, frozen=True, kw_only=True):
    """A published range and a typical value: an empty `genus` serves every genus, no `form` every form."""

    genus: str = ""
    form: Form | None = None
    low: float
    typical: float
    high: float
    source: str


class _Growth(FromFile, frozen=True, kw_only=True):
    sources: dict[str, str]
    extension: tuple[UsualRange, ...]
    density: tuple[UsualRange, ...]


def _around(value: float, spread: float) -> Pair:
    """The quartiles of a log-normal about a value."""
    off = exp(spread * coverage_factor(0.5))
    return value / off, value * off


def _by_area(of: _Areas) -> Iterator[Rate]:
    unit = "kg/m²/yr"
    for row in of.rows:
        low, high = row.quartiles or _around(row.value, of.spread)
        yield Rate(
            row.genus, row.forms, "planar-area", "census", row.value, unit, low, high, 0.5, of.source, "published"
        )


def _by_outline(of: _Outlines) -> Iterator[Rate]:
    basis: Basis = "extension-density"
    for row in of.rows:
        # Relative errors of a product add in squares. Source: JCGM 100:2008 (GUM), 5.1.6.
        off = exp(hypot(row.extension[1] / row.extension[0], row.density[1] / row.density[0]))
        value, low, high = row.coefficient, row.coefficient / off, row.coefficient * off
        told = Rate(row.genus, row.forms, basis, "census", value, "g/cm²/yr", low, high, 0.95, of.source, "published")
        yield replace(told, edge=row.edge)


def _by_surface(of: _Surfaces) -> Iterator[Rate]:
    unit, off = "kg/yr at 1 cm²", exp((of.mean[1] - of.mean[0]) / 2.0)
    for row in of.rows:
        value = exp(row.intercept)
        low, high = value / off, value * off
        told = Rate(
            row.genus, row.forms, "surface-area", "incubation", value, unit, low, high, 0.95, of.source, "published"
        )
        yield replace(told, exponent=row.exponent)


def _by_fragment(of: _Fragments) -> Iterator[Rate]:
    study: Study = "field-weighing"
    for row in of.rows:
        value, (low, high) = row.value, row.quartiles
        told = Rate(
            row.genus, row.forms, "surface-area", study, value, "mg/cm²/day", low, high, 0.5, of.source, "derived"
        )
        yield replace(told, exponent=CALCIFICATION_SIZE_EXPONENT.value, at_size=of.at_size)


def _by_mass(of: _Masses) -> Iterator[Rate]:
    for row in of.rows:
        value, source = row.value / row.per, of.sources[row.study]
        low, high = _around(value, CALCIFICATION_SPREAD_OF_COLONIES.value)
        told = Rate(row.genus, row.forms, "mass", row.study, value, "mg/g/day", low, high, 0.5, source, "derived")
        yield replace(told, at_size=of.at_size)


_CALCIFICATION = table("calcification", _Calcification)
_GROWTH = table("growth", _Growth)
# Genera that were split or renamed since the rates were published: the name that the rates have.
AS_PUBLISHED = _CALCIFICATION.as_published
RATES = (
    *_by_area(_CALCIFICATION.planar_area),
    *_by_outline(_CALCIFICATION.extension_density),
    *_by_surface(_CALCIFICATION.incubation),
    *_by_fragment(_CALCIFICATION.field_weighing),
    *_by_mass(_CALCIFICATION.mass),
)


def _sourced(rows: tuple[UsualRange, ...]) -> tuple[UsualRange, ...]:
    return tuple(replace(row, source=row.source.format(**_GROWTH.sources)) for row in rows)


# Extension, cm/year, and bulk density, g/cm³.
EXTENSIONS, DENSITIES = _sourced(_GROWTH.extension), _sourced(_GROWTH.density)


def published_extension(genus: str, form: Form) -> UsualRange:
    """The published extension (cm/year) nearest to a genus and form: both, else the genus, else the form."""
    return _nearest(EXTENSIONS, (genus, form), (genus, None), ("", form))


def usual_extension(genus: str, form: Form | None) -> CmPerYear:
    """The typical published extension, cm/year; without a form the fastest of its genus, or of all corals."""
    if form is not None:
        return published_extension(genus, form).typical
    of_genus = [row.typical for row in EXTENSIONS if row.genus == genus]
    return max(of_genus or [row.typical for row in EXTENSIONS])


def published_density(genus: str, form: Form) -> UsualRange:
    """The published bulk density (g/cm³) nearest to a genus and form: both, else the genus, else any coral's."""
    return _nearest(DENSITIES, (genus, form), (genus, None), ("", None))


def _nearest(rows: tuple[UsualRange, ...], *keys: tuple[str, Form | None]) -> UsualRange:
    return next(row for key in keys for row in rows if (row.genus, row.form) == key)
