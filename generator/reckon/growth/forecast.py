"""What size a coral will have on a day to come."""

from dataclasses import dataclass
from datetime import date
from math import sqrt
from typing import Literal

from generator.reckon.estimate.propagate import coverage_factor
from generator.reckon.finding import CannotTell, Finding, UncertaintyPart, one_cause
from generator.reckon.growth.footprint import Body, body, height_of
from generator.reckon.growth.rate import DAYS_PER_YEAR
from generator.reckon.growth.rates import published_extension
from generator.reckon.growth.segments import RULER_REPEATS_TO
from generator.reckon.growth.survey import Growth
from generator.records.coral import Coral
from generator.records.source import Source
from generator.records.taxa import genus_name, genus_of
from generator.units.quantity import Estimate

_LEVEL = 0.90


@dataclass(frozen=True, slots=True)
class Spread:
    """A coral's outline from above as it stands and spreads.

    On `at` its radius was `radius` ± `radius_error` cm (one standard uncertainty), and it grows by
    `rate` ± `rate_error` cm a day. `turned` is how far the radius strays with the side one looks at.
    `known` says whether the rate was measured or is the published one, `cut_since` whether it was cut or broke
    after it was last measured, so that it is smaller than said here.
    """

    coral: str
    at: date
    body: Body
    radius: float
    radius_error: float
    turned: float
    rate: float
    rate_error: float
    known: Literal["measured", "published"]
    cut_since: bool
    inputs: tuple[Source, ...]

    def reach(self, day: date) -> tuple[float, float]:
        """Radius (cm) on a day, and its standard uncertainty without that of the side."""
        days = float((day - self.at).days)
        radius = self.radius + self.rate * days
        return max(0.0, radius), float((self.radius_error**2 + (self.rate_error * days) ** 2) ** 0.5)


@dataclass(frozen=True, slots=True)
class SizeForecast:
    """Length, width and height (cm) on a day, 90 % intervals; the radial extension (cm/year) they rest on.

    `parts` are those of the length's uncertainty.
    """

    at: date
    length: Estimate
    width: Estimate
    height: Estimate | None
    extension: Estimate
    known: Literal["measured", "published"]
    inputs: tuple[Source, ...] = ()
    parts: tuple[UncertaintyPart, ...] = ()


def accepted_genus(species: str) -> str:
    """The accepted genus of a species, or the one written if the table of genera does not have it."""
    genus = genus_of(species)
    return genus.name if genus else genus_name(species)


def extension_of(coral: Coral, growth: Growth) -> tuple[Estimate, Literal["measured", "published"]]:
    """Radial extension (cm/year) with its 90 % interval: the coral's own measurements on top of the published range.

    Each weighs by its precision, so that a wild slope from two hasty measurements gives way to what its
    kind does, and a well measured one stands.
    Source: product of two normal densities; Gelman et al. 2013, Bayesian Data Analysis, 2.5.
    """
    published = published_extension(accepted_genus(coral.species), coral.form)
    band = Estimate(published.typical, published.low, published.high, "cm/year", _LEVEL)
    if isinstance(growth.radial_extension, CannotTell):
        return band, "published"
    own = growth.radial_extension.estimate
    precisions = [1.0 / max(each.high - each.low, 1e-6) ** 2 for each in (own, band)]
    value = (own.value * precisions[0] + band.value * precisions[1]) / sum(precisions)
    half = 0.5 / sqrt(sum(precisions))
    return Estimate(value, value - half, value + half, "cm/year", _LEVEL), "measured"


def spread_of(coral: Coral, growth: Growth) -> Spread | CannotTell:
    """How a coral stands and spreads by its last size; `CannotTell` for one that was never measured."""
    sizes = [size for size in coral.sizes if size.at <= growth.as_of]
    if not sizes:
        return CannotTell("never-measured", "measure-it", inputs=(coral.source,))
    last = max(sizes, key=lambda size: size.at)
    measured = body(last)
    rate, known = extension_of(coral, growth)
    inputs = growth.radial_extension.inputs if known == "measured" else ()
    width = measured.width or measured.length
    return Spread(
        coral=coral.id,
        at=last.at,
        body=measured,
        radius=measured.diameter / 2.0,
        radius_error=RULER_REPEATS_TO * measured.diameter / 2.0,
        turned=abs(measured.length - width) / 4.0 / 3.0**0.5,
        rate=rate.value / DAYS_PER_YEAR,
        rate_error=(rate.high - rate.low) / 2.0 / coverage_factor(_LEVEL) / DAYS_PER_YEAR,
        known=known,
        cut_since=any(part.since > last.at and part.began in ("cutting", "breakage") for part in growth.segments),
        inputs=tuple(dict.fromkeys((*measured.inputs, *inputs))),
    )


def size_forecast(coral: Coral, growth: Growth, day: date) -> SizeForecast | CannotTell:
    """A coral's size on a day to come, if nothing is cut; heights grow by their own extension, or in proportion."""
    spread = spread_of(coral, growth)
    if isinstance(spread, CannotTell):
        return spread
    extension, known = extension_of(coral, growth)
    years = (day - spread.at).days / DAYS_PER_YEAR
    length, width = spread.body.length, spread.body.width or spread.body.length
    wider = extension.scaled(2.0 * years, "cm")
    own = growth.height_extension
    height = None
    if spread.body.height is not None:
        tall = spread.body.height
        proportion = height_of(Body(length, width, tall), coral.form)[1] / spread.body.diameter
        taller = own.estimate.scaled(years, "cm") if isinstance(own, Finding) else wider.scaled(proportion, "cm")
        height = _added(tall, taller)
    parts = (UncertaintyPart("ruler", RULER_REPEATS_TO * length), *one_cause("extension", wider))
    return SizeForecast(
        day, _added(length, wider), _added(width, wider), height, extension, known, spread.inputs, parts
    )


def _added(now: float, growth: Estimate) -> Estimate:
    """A length and what it grows by; the ruler's error and the growth's interval add in squares."""
    ruler = coverage_factor(_LEVEL) * RULER_REPEATS_TO * now
    value = now + growth.value
    low = value - float((ruler**2 + (growth.value - growth.low) ** 2) ** 0.5)
    high = value + float((ruler**2 + (growth.high - growth.value) ** 2) ** 0.5)
    return Estimate(max(0.0, value), max(0.0, low), max(0.0, high), "cm", _LEVEL)
