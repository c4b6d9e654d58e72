"""Published rates of calcification, each with its range and source, and which of them speak for a coral."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log, sqrt
from typing import Literal

from generator.nature.constants import CALCIFICATION_SIZE_EXPONENT, Known
from generator.reckon.estimate.lognormal import LogNormal, spread_of_range
from generator.records.coral import Form

Basis = Literal["planar-area", "extension-density", "surface-area", "mass"]
Study = Literal["census", "incubation", "field-weighing", "tank-weighing"]
Closeness = Literal["genus-and-form", "genus", "form", "any"]


@dataclass(frozen=True, slots=True)
class Rate:
    """One published rate of one group of corals: `genus` "" and no `forms` mean any.

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
    known: Known
    edge: float = 0.0
    exponent: float = 1.0
    at_size: float = 0.0

    @property
    def spread(self) -> float:
        """Standard deviation of the rate's logarithm."""
        return spread_of_range(self.low, self.high, self.level)


# Genera that were split or renamed since the rates were published: the name that stands in the tables here.
AS_PUBLISHED = {"Favia": "Dipsastraea", "Fimbriaphyllia": "Euphyllia", "Micromussa": "Acanthastrea"}
_BRANCHED: tuple[Form, ...] = ("branching", "corymbose", "digitate", "columnar")
_ROUND: tuple[Form, ...] = ("massive", "solitary")

# -- Planar area -------------------------------------------------------------------------------------

_COURTNEY = "Courtney et al. 2024, area-normalised ReefBudget rates of the Indo-Pacific, version 2"
# Where the table's quartiles were not read: as wide as those of Acropora (spread of the logarithm 0.30).
_LIKE_ACROPORA = exp(0.30 * 0.6744897501960817)


def _planar(genus: str, forms: tuple[Form, ...], value: float, quartiles: tuple[float, float] | None = None) -> Rate:
    low, high = quartiles or (value / _LIKE_ACROPORA, value * _LIKE_ACROPORA)
    return Rate(genus, forms, "planar-area", "census", value, "kg/m²/yr", low, high, 0.5, _COURTNEY, "published")


# -- Extension and density ---------------------------------------------------------------------------

_REEF_BUDGET = "Perry et al. 2018, ReefBudget methodology; rates of the Indo-Pacific, version 1.3 (January 2023)"


def _extension(
    genus: str,
    forms: tuple[Form, ...],
    extension: tuple[float, float],
    density: tuple[float, float],
    coefficient: float,
    edge: float = 0.0,
) -> Rate:
    """A row of the table: `extension` (cm/yr) and `density` (g/cm³) with their 95 % half-widths."""
    relative = sqrt((extension[1] / extension[0]) ** 2 + (density[1] / density[0]) ** 2)
    low, high = coefficient * exp(-relative), coefficient * exp(relative)
    unit = "g/cm²/yr"
    return Rate(
        genus, forms, "extension-density", "census", coefficient, unit, low, high, 0.95, _REEF_BUDGET, "published", edge
    )


# -- Surface -----------------------------------------------------------------------------------------

_CARLOT = "Carlot et al. 2022, Ecology & Evolution (incubations in daylight, brought to a whole day)"


def _incubated(genus: str, forms: tuple[Form, ...], intercept: float, exponent: float) -> Rate:
    """ln G = intercept + exponent · ln S, with G in kg/yr and S in cm²; as unsure as the mean of all species."""
    value, half = exp(intercept), exp((6.7186 - 5.4858) / 2.0)
    low, high = value / half, value * half
    return Rate(
        genus,
        forms,
        "surface-area",
        "incubation",
        value,
        "kg/yr at 1 cm²",
        low,
        high,
        0.95,
        _CARLOT,
        "published",
        exponent=exponent,
    )


_FIELD = "weighings under water over 58 days on the reef (Zenodo 10.5281/zenodo.13892967), calculated from the data"
_FRAGMENT_SURFACE = 60.0  # cm²; the fragments had 20 to 150


def _weighed_surface(genus: str, value: float, quartiles: tuple[float, float]) -> Rate:
    return Rate(
        genus,
        (),
        "surface-area",
        "field-weighing",
        value,
        "mg/cm²/day",
        *quartiles,
        0.5,
        _FIELD,
        "derived",
        exponent=CALCIFICATION_SIZE_EXPONENT.value,
        at_size=_FRAGMENT_SURFACE,
    )


# -- Mass --------------------------------------------------------------------------------------------

_TANKS = "fragments in tanks at 27 to 29 °C, Álvarez-Noriega et al., Kelso Reef 2021, medians calculated from the data"
_FRAGMENT_MASS = 20.0  # g; taken from the mass of such fragments (Zenodo 10.5281/zenodo.13892967)
# A median says nothing of how far fragments differ; taken as for the calcification of colonies (Carlot 2022).
_AS_COLONIES = exp(0.315 * 0.6744897501960817)


def _by_mass(genus: str, study: Study, value: float, source: str) -> Rate:
    low, high = value / _AS_COLONIES, value * _AS_COLONIES
    return Rate(genus, (), "mass", study, value, "mg/g/day", low, high, 0.5, source, "derived", at_size=_FRAGMENT_MASS)


_PER_GRAM = f"{_FIELD}: rate per surface over skeleton per surface (0.24, 0.41, 0.35 g/cm²)"

RATES: tuple[Rate, ...] = (
    _planar("Acropora", _BRANCHED, 29.2, (23.4, 35.7)),
    _planar("Acropora", ("tabling", "plating"), 22.8, (18.5, 27.6)),
    _planar("Pocillopora", _BRANCHED, 38.2),
    _planar("Stylophora", _BRANCHED, 27.2),
    _planar("Montipora", _BRANCHED, 32.9),
    _planar("Montipora", ("plating", "tabling"), 10.7),
    _planar("Montipora", ("encrusting",), 5.7),
    _planar("Porites", ("massive",), 31.0),
    _planar("Euphyllia", _BRANCHED, 18.7),
    _planar("Dipsastraea", ("massive",), 2.8),
    _planar("Galaxea", ("massive", "columnar"), 3.2),
    _planar("Lobophyllia", _ROUND, 21.8),
    _extension("Acropora", ("branching",), (8.51, 1.89), (1.153, 0.196), 1.5015),
    _extension("Acropora", ("branching",), (5.03, 1.22), (1.215, 0.696), 1.6556),
    _extension("Acropora", ("corymbose",), (3.03, 0.84), (1.374, 0.157), 1.1287),
    _extension("Acropora", ("digitate", "columnar"), (2.03, 0.69), (1.477, 0.046), 0.9799),
    _extension("Acropora", ("tabling", "plating"), (6.61, 2.05), (1.40, 0.11), 0.9354, 29.853),
    _extension("Acropora", ("encrusting",), (2.32, 0.22), (1.374, 0.157), 0.3214, 7.627),
    _extension("Pocillopora", _BRANCHED, (2.53, 0.38), (1.451, 0.225), 1.5726),
    _extension("Stylophora", _BRANCHED, (1.73, 0.67), (1.432, 0.140), 0.9748),
    _extension("Seriatopora", _BRANCHED, (1.58, 0.49), (1.432, 0.140), 0.5129),
    _extension("Montipora", _BRANCHED, (3.12, 0.13), (1.14, 0.0), 1.1722),
    _extension("Montipora", ("plating", "tabling"), (3.15, 1.06), (0.94, 0.078), 0.2984, 7.556),
    _extension("Montipora", ("encrusting",), (1.75, 0.54), (1.207, 0.347), 0.2127, 4.815),
    _extension("Porites", ("massive",), (1.167, 0.088), (1.264, 0.051), 1.4757, 2.625),
    _extension("Porites", _BRANCHED, (2.20, 0.60), (1.308, 0.273), 0.8591),
    _extension("Euphyllia", _BRANCHED, (1.02, 0.43), (1.128, 0.119), 0.4667),
    _extension("Euphyllia", ("massive",), (1.02, 0.43), (1.128, 0.119), 0.9241, 1.441),
    _extension("Dipsastraea", ("massive",), (0.651, 0.135), (1.067, 0.152), 0.6946, 0.689),
    _extension("Favites", ("massive",), (0.695, 0.231), (1.288, 0.057), 0.8955, 0.949),
    _extension("Platygyra", ("massive",), (0.884, 0.157), (1.055, 0.115), 0.9325, 1.257),
    _extension("Goniastrea", ("massive",), (0.639, 0.155), (1.352, 0.153), 0.8646, 0.843),
    _extension("Galaxea", ("massive", "columnar"), (0.765, 0.265), (1.269, 0.635), 0.9713, 1.133),
    _extension("Goniopora", ("massive", "columnar"), (2.235, 0.059), (1.15, 0.31), 2.5732, 8.761),
    _extension("Lobophyllia", _ROUND, (1.023, 0.435), (1.128, 0.119), 1.1551, 1.802),
    _extension("Acanthastrea", ("encrusting", "massive"), (1.66, 0.78), (1.183, 0.269), 0.1978, 4.446),
    _extension("Turbinaria", ("plating",), (1.98, 1.50), (1.268, 0.099), 0.2533, 5.850),
    _incubated("Acropora", (), -5.4512, 0.8511),
    _incubated("Astrea", ("massive",), -6.2783, 0.8952),
    _incubated("Montipora", (), -6.4900, 0.9273),
    _incubated("Porites", ("branching", "columnar", "digitate"), -5.8278, 0.8221),
    _incubated("Porites", ("massive",), -6.5801, 0.9301),
    _incubated("Pocillopora", (), -6.1711, 0.8592),
    _incubated("", (), -6.1262, CALCIFICATION_SIZE_EXPONENT.value),
    _weighed_surface("Porites", 1.60, (1.29, 1.88)),
    _weighed_surface("Pocillopora", 1.00, (0.83, 1.20)),
    _weighed_surface("Montipora", 0.49, (0.33, 0.58)),
    _by_mass("Acropora", "tank-weighing", 4.56, _TANKS),
    _by_mass("Acropora", "tank-weighing", 3.7, _TANKS),
    _by_mass("Pocillopora", "tank-weighing", 3.32, _TANKS),
    _by_mass("Stylophora", "tank-weighing", 3.96, _TANKS),
    _by_mass("Pocillopora", "field-weighing", 1.00 / 0.24, _PER_GRAM),
    _by_mass("Porites", "field-weighing", 1.60 / 0.41, _PER_GRAM),
    _by_mass("Montipora", "field-weighing", 0.49 / 0.35, _PER_GRAM),
)


@dataclass(frozen=True, slots=True)
class Speaking:
    """The rates of one basis and study that speak for a coral, how near they are, and how unsure that leaves it."""

    basis: Basis
    study: Study
    closeness: Closeness
    rates: tuple[Rate, ...]


def rates_for(genus: str, form: Form) -> tuple[Speaking, ...]:
    """For each basis and study the nearest rates: of genus and form, else the genus, else the form, else any."""
    name = AS_PUBLISHED.get(genus, genus)
    found = []
    for basis, study in dict.fromkeys((rate.basis, rate.study) for rate in RATES):
        closeness, rates = _nearest([r for r in RATES if (r.basis, r.study) == (basis, study)], name, form)
        found.append(Speaking(basis, study, closeness, tuple(rates)))
    return tuple(found)


def _nearest(rates: Sequence[Rate], genus: str, form: Form) -> tuple[Closeness, list[Rate]]:
    of_genus = [rate for rate in rates if rate.genus == genus]
    if found := [rate for rate in of_genus if form in rate.forms or not rate.forms]:
        return "genus-and-form", found
    if of_genus:
        return "genus", of_genus
    if found := [rate for rate in rates if rate.genus == ""]:
        return "any", found
    if found := [rate for rate in rates if form in rate.forms]:
        return "form", found
    return "any", list(rates)


def pooled(values: Sequence[LogNormal]) -> LogNormal:
    """One coral's rate when several groups might be its own: their middle, as wide as they lie apart."""
    logs = [log(value.median) for value in values]
    middle = sum(logs) / len(logs)
    apart = sum((x - middle) ** 2 for x in logs) / max(len(logs) - 1, 1)
    within = sum(value.spread**2 for value in values) / len(values)
    return LogNormal(exp(middle), sqrt(within + apart))
