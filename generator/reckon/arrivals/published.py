"""The calcification of a coral of a size, mass, form and genus by published rates: method by method, and combined."""

from collections.abc import Sequence
from functools import cache, lru_cache
from itertools import groupby
from math import exp, log, sqrt
from typing import Literal

from msgspec import Struct

from generator.nature.constants import (
    CALCIFICATION_SIZE_EXPONENT,
    CALCIFICATION_SPREAD_OF_COLONIES,
    LEAST_BETWEEN_WAYS,
    LIGHT_TO_DARK_CALCIFICATION,
    LIT_SHARE_OF_DAY,
    RATE_OF_ANOTHER_FORM,
    RATE_OF_ANOTHER_GENUS,
    RATE_OF_ANY_CORAL,
)
from generator.nature.genera import genus_of
from generator.nature.rates import AS_PUBLISHED, RATES, Basis, Rate, Study
from generator.reckon.arrivals.colony import Colony, footprint, outline, skeleton, surface
from generator.reckon.estimate.uncertainty import LogNormal, combine, geometric_mean
from generator.reckon.finding import CannotTell
from generator.reckon.growth.measurements import Body
from generator.records.coral import Form
from generator.units.quantity import Estimate, coverage_factor, spread_of_range

DAYS_A_YEAR = 365.25

# Every rate of the coral's own genus must lie within this central share of the prediction, which is inside its 90 %
# interval: if published rates contradict each other, nobody knows which is right. Our assumption.
_HELD_WITHIN = 0.88
_OF_ITS_GENUS = ("genus-and-form", "genus")
Closeness = Literal["genus-and-form", "genus", "form", "any"]
# What it adds to the spread that a rate is of another form of the genus, of another genus of the form, of neither.
OF_ANOTHER: dict[Closeness, float] = {
    "genus-and-form": 0.0,
    "genus": RATE_OF_ANOTHER_FORM.value,
    "form": RATE_OF_ANOTHER_GENUS.value,
    "any": RATE_OF_ANY_CORAL.value,
}


class Speaking(Struct, frozen=True):
    """The rates of one basis and study that apply to a coral, and how closely they match it."""

    basis: Basis
    study: Study
    closeness: Closeness
    rates: tuple[Rate, ...]


class Way(Struct, frozen=True):
    """One method of calculating a coral's calcification: g CaCO3/day, its rates, and how closely they match."""

    basis: Basis
    study: Study
    closeness: Closeness
    grams_per_day: Estimate
    rates: tuple[Rate, ...]


class Published(Struct, frozen=True):
    """A coral's calcification by published rates, g CaCO3/day.

    `of_method` is the spread (of the logarithm) that corals of one genus and form share, `of_colony`
    that of each by itself. `independent` counts the studies that share no data.
    """

    genus: str
    form: Form
    ways: tuple[Way, ...]
    independent: int
    median: float
    of_method: float
    of_colony: float

    @property
    def kind(self) -> str:
        """Genus and form: corals that share them share the errors of the methods."""
        return f"{self.genus} {self.form}"

    @property
    def combined(self) -> LogNormal:
        """All ways together."""
        return LogNormal(self.median, sqrt(self.of_method**2 + self.of_colony**2))


@lru_cache(maxsize=4096)
def published(colony: Colony) -> Published | CannotTell:
    """Every method that the measurements allow, and all of them combined.

    Ways of one study rest on the same data, so they count as one; studies are put together with the
    spread between them, and never so surely that a rate published for its own genus is left outside. Rates of any
    coral at all only speak where fewer than two studies know the genus or the form. Answers `CannotTell` where
    neither size nor mass is known, or where the animal has no skeleton of aragonite.
    """
    known = genus_of(colony.genus)
    if known is not None and known.skeleton != "aragonite":
        return CannotTell("no-skeleton", "nothing-to-tell", inputs=colony.inputs)
    ways = _nearest(
        [
            (speaking, value)
            for speaking in rates_for(colony.genus, colony.form)
            if (value := _by_way(colony, speaking)) is not None
        ]
    )
    if not ways:
        return CannotTell("no-size-no-mass", "measure-or-weigh", inputs=colony.inputs)
    by_study = sorted(ways, key=lambda way: way[0].study)
    studies = [geometric_mean([v for _, v in group]) for _, group in groupby(by_study, key=lambda way: way[0].study)]
    together = combine(studies, LEAST_BETWEEN_WAYS.value)
    of_colony = CALCIFICATION_SPREAD_OF_COLONIES.value
    least = _farthest(colony, ways, together.median) / coverage_factor(_HELD_WITHIN)
    return Published(
        colony.genus,
        colony.form,
        tuple(Way(s.basis, s.study, s.closeness, v.estimate("g/day"), s.rates) for s, v in ways),
        len(studies),
        together.median,
        max(together.spread, sqrt(max(0.0, least**2 - of_colony**2))),
        of_colony,
    )


def _farthest(colony: Colony, ways: Sequence[tuple[Speaking, LogNormal]], middle: float) -> float:
    """Greatest distance (of the logarithm) between the median and a rate of the coral's own genus."""
    of_genus = [rate for speaking, _ in ways if speaking.closeness in _OF_ITS_GENUS for rate in speaking.rates]
    told = [value for rate in of_genus if (value := _grams_per_day(colony, rate)) is not None]
    return max((abs(log(value.median / middle)) for value in told), default=0.0)


def without_skeleton(answer: Published | CannotTell) -> bool:
    """Whether a coral takes nothing worth counting because it lays down no aragonite."""
    return isinstance(answer, CannotTell) and answer.why == "no-skeleton"


def _nearest(ways: list[tuple[Speaking, LogNormal]]) -> list[tuple[Speaking, LogNormal]]:
    near = [way for way in ways if way[0].closeness != "any"]
    return near if len({speaking.study for speaking, _ in near}) >= 2 else ways


def _by_way(colony: Colony, speaking: Speaking) -> LogNormal | None:
    values = [value for rate in speaking.rates if (value := _grams_per_day(colony, rate)) is not None]
    if not values:
        return None
    one = pooled(values)
    return LogNormal(one.median, sqrt(one.spread**2 + OF_ANOTHER[speaking.closeness] ** 2))


def _grams_per_day(colony: Colony, rate: Rate) -> LogNormal | None:
    """The coral's g CaCO3/day by one published rate; None where what the rate is per was not measured."""
    if rate.basis == "mass":
        return _by_mass(colony, rate)
    if colony.body is None:
        return None
    if rate.basis == "planar-area":
        per_cm2 = rate.value * 1000.0 / 10_000.0 / DAYS_A_YEAR
        return footprint(colony, colony.body).times(LogNormal(per_cm2, rate.spread))
    if rate.basis == "extension-density":
        return _by_outline(colony, colony.body, rate)
    return _by_surface(colony, colony.body, rate)


def _by_outline(colony: Colony, body: Body, rate: Rate) -> LogNormal:
    """By slices of one centimetre over the whole width, each with its own outline and edge."""
    area, across = footprint(colony, body), body.width or body.length
    grams = rate.value * outline(colony, body) * area.median + rate.edge * across
    return LogNormal(grams / DAYS_A_YEAR, area.spread).times(LogNormal(1.0, rate.spread))


def _by_surface(colony: Colony, body: Body, rate: Rate) -> LogNormal:
    """A colony calcifies by less for each cm² the larger it is: surface to a power below one."""
    area = surface(colony, body)
    spread = sqrt((rate.exponent * area.spread) ** 2 + rate.spread**2)
    if rate.study == "incubation":
        return LogNormal(rate.value * 1000.0 * whole_day() / DAYS_A_YEAR * area.median**rate.exponent, spread)
    fragment = rate.value / 1000.0 * rate.at_size
    return LogNormal(fragment * (area.median / rate.at_size) ** rate.exponent, spread)


def whole_day() -> float:
    """Mean calcification of day and night as a share of that in light.

    Source: Gattuso, Allemand & Frankignoulle 1999, Am. Zool. 39:160-183 (light to dark; from memory).
    """
    return LIT_SHARE_OF_DAY.value + (1.0 - LIT_SHARE_OF_DAY.value) / LIGHT_TO_DARK_CALCIFICATION.value


def _by_mass(colony: Colony, rate: Rate) -> LogNormal | None:
    """From fragments to the colony: mass to the power that its form gives.

    Branches and plates of constant thickness carry their surface in proportion to their mass, a massive
    coral to the power 2/3; calcification goes with the surface to a power of its own.
    Source: Kahng, Odle & Wakeman 2024, PeerJ 12:e17037 (geometry); Carlot et al. 2022 (exponent).
    """
    dry = skeleton(colony.mass, colony.genus) if colony.mass else None
    if dry is None:
        return None
    solid = 2.0 / 3.0 if colony.form in ("massive", "solitary") else 1.0
    exponent = CALCIFICATION_SIZE_EXPONENT
    power = exponent.value * solid
    size = log(dry.median / rate.at_size)
    # The exponent's published range, read as 95 % of a log-normal.
    of_power = spread_of_range(*exponent.ends, 0.95) * power * size
    grams = rate.value / 1000.0 * rate.at_size * exp(power * size)
    return LogNormal(grams, sqrt((power * dry.spread) ** 2 + of_power**2 + rate.spread**2))


@cache
def rates_for(genus: str, form: Form) -> tuple[Speaking, ...]:
    """For each basis and study the nearest rates: of genus and form, else the genus, else the form, else any.

    A genus may be told by a former name.
    """
    accepted = known.name if (known := genus_of(genus)) else genus
    name = AS_PUBLISHED.get(accepted, accepted)
    found = []
    for basis, study in dict.fromkeys((rate.basis, rate.study) for rate in RATES):
        closeness, rates = _rates_nearest([r for r in RATES if (r.basis, r.study) == (basis, study)], name, form)
        found.append(Speaking(basis, study, closeness, tuple(rates)))
    return tuple(found)


def _rates_nearest(rates: Sequence[Rate], genus: str, form: Form) -> tuple[Closeness, list[Rate]]:
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
    """One coral's rate if several groups could be its own: their geometric mean, with the spread between them."""
    logs = [log(value.median) for value in values]
    middle = sum(logs) / len(logs)
    apart = sum((x - middle) ** 2 for x in logs) / max(len(logs) - 1, 1)
    within = sum(value.spread**2 for value in values) / len(values)
    return LogNormal(exp(middle), sqrt(within + apart))
