"""What size a coral will have on a day to come."""

from dataclasses import dataclass
from datetime import date
from math import hypot, inf, sqrt
from typing import Literal

from generator.nature.constants import RULER_REPEATS_TO
from generator.nature.genera import genus_name, genus_of
from generator.nature.rates import published_extension
from generator.reckon.estimate.slopes import wandered
from generator.reckon.finding import CannotTell, Finding, UncertaintyPart, one_cause, parts_of
from generator.reckon.growth.analysis import AHEAD_DAYS, Growth
from generator.reckon.growth.footprint import Body, body, height_of
from generator.reckon.growth.pace import DAYS_PER_YEAR, MEMORY_DAYS, WANDERING
from generator.records.coral import Coral
from generator.records.source import Source
from generator.units.quantity import Estimate, coverage_factor


@dataclass(frozen=True, slots=True)
class Spread:
    """A coral's outline from above as it stands and spreads.

    On `at` its radius was `radius` ± `radius_error` cm (one standard uncertainty), and it grows by
    `rate` ± `rate_error` cm a day in the long run, from which it strays by `strays` cm a day for weeks. `turned`
    is how far the radius strays with the side one looks at.
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
    strays: float
    known: Literal["measured", "published"]
    cut_since: bool
    inputs: tuple[Source, ...]

    def reach(self, day: date) -> tuple[float, float]:
        """Radius (cm) on a day, and its standard uncertainty without that of the side."""
        days = float((day - self.at).days)
        radius = self.radius + self.rate * days
        return max(0.0, radius), hypot(self.radius_error, self.grown_error(days))

    def grown_error(self, days: float) -> float:
        """Standard uncertainty (cm) of what the radius grows by in so many days."""
        return grown_error(self.rate_error, self.strays, days)


def grown_error(rate_error: float, strays: float, days: float) -> float:
    """Standard uncertainty of growth over some days, from the mean rate and from its variation over time."""
    return hypot(rate_error * days, strays * sqrt(wandered(days, MEMORY_DAYS)))


@dataclass(frozen=True, slots=True)
class Extension:
    """Radial extension ahead (cm/year): mean, its standard uncertainty, and how much it varies from week to week."""

    rate: float
    error: float
    strays: float
    known: Literal["measured", "published"]

    inputs: tuple[Source, ...] = ()

    def finding(self) -> Finding:
        """Its mean over the next `AHEAD_DAYS`, with its 90 % interval."""
        total = grown_error(self.error, self.strays, AHEAD_DAYS) / AHEAD_DAYS
        # A published rate is never negative.
        least = 0.0 if self.known == "published" else -inf
        causes = ("rate-so-far", self.error), ("wandering", grown_error(0.0, self.strays, AHEAD_DAYS) / AHEAD_DAYS)
        return Finding(
            Estimate.normal(self.rate, total, "cm/year", least),
            "growth-ahead" if self.known == "measured" else "published-extension",
            self.inputs,
            parts_of(causes),
        )


@dataclass(frozen=True, slots=True)
class SizeForecast:
    """Length, width and height (cm) on a day, 90 % intervals; `parts` are those of the length's uncertainty."""

    at: date
    length: Estimate
    width: Estimate
    height: Estimate | None
    known: Literal["measured", "published"]
    inputs: tuple[Source, ...] = ()
    parts: tuple[UncertaintyPart, ...] = ()


def accepted_genus(species: str) -> str:
    """The accepted genus of a species, or the one written if the table of genera does not have it."""
    genus = genus_of(species)
    return genus.name if genus else genus_name(species)


def extension_of(coral: Coral, growth: Growth) -> Extension:
    """Radial extension ahead: the coral's own, combined with the published range.

    Each weighs by its precision, so that a wild slope from two hasty measurements gives way to what its
    kind does, and a well measured one stands.
    Source: product of two normal densities; Gelman et al. 2013, Bayesian Data Analysis, 2.5.
    """
    published = published_extension(accepted_genus(coral.species), coral.form)
    band = (published.high - published.low) / 2.0 / coverage_factor()
    if isinstance(growth.radial_ahead, CannotTell):
        share = sqrt(sum(share**2 * odds for share, odds in WANDERING))
        return Extension(published.typical, band, share * published.typical, "published", (coral.source,))
    causes = {part.cause: part.standard for part in growth.radial_ahead.parts}
    own = max(causes.get("rate-so-far", 0.0), 1e-6)
    rate = growth.radial_ahead.estimate.value
    precisions = own**-2, band**-2
    value = (rate * precisions[0] + published.typical * precisions[1]) / sum(precisions)
    strays = causes.get("wandering", 0.0) * AHEAD_DAYS / sqrt(wandered(AHEAD_DAYS, MEMORY_DAYS))
    # The variation shrinks with a rate that the published range corrects.
    strays *= min(1.0, abs(value / rate)) if rate else 1.0
    return Extension(value, sum(precisions) ** -0.5, strays, "measured", growth.radial_ahead.inputs)


def spread_of(coral: Coral, growth: Growth) -> Spread | CannotTell:
    """How a coral stands and spreads by its last size; `CannotTell` for one that was never measured."""
    sizes = [size for size in coral.sizes if size.at <= growth.as_of]
    if not sizes:
        return CannotTell("never-measured", "measure-it", inputs=(coral.source,))
    last = max(sizes, key=lambda size: size.at)
    measured = body(last)
    extension = extension_of(coral, growth)
    width = measured.width or measured.length
    return Spread(
        coral=coral.id,
        at=last.at,
        body=measured,
        radius=measured.diameter / 2.0,
        radius_error=RULER_REPEATS_TO.value * measured.diameter / 2.0,
        turned=abs(measured.length - width) / 4.0 / 3.0**0.5,
        rate=extension.rate / DAYS_PER_YEAR,
        rate_error=extension.error / DAYS_PER_YEAR,
        strays=extension.strays / DAYS_PER_YEAR,
        known=extension.known,
        cut_since=any(part.since > last.at and part.began in ("cutting", "breakage") for part in growth.segments),
        inputs=tuple(dict.fromkeys((*measured.inputs, *growth.radial_ahead.inputs))),
    )


def size_forecast(coral: Coral, growth: Growth, day: date) -> SizeForecast | CannotTell:
    """A coral's size on a day to come, if nothing is cut; heights grow by their own extension, or in proportion."""
    spread = spread_of(coral, growth)
    if isinstance(spread, CannotTell):
        return spread
    days = float((day - spread.at).days)
    length, width = spread.body.length, spread.body.width or spread.body.length
    wider = Estimate.normal(2.0 * spread.rate * days, 2.0 * spread.grown_error(days), "cm")
    height = None
    if spread.body.height is not None:
        tall = spread.body.height
        proportion = height_of(Body(length, width, tall), coral.form)[1] / spread.body.diameter
        own = growth.height_ahead
        height = _added(tall, _taller(own, days) if isinstance(own, Finding) else wider.scaled(proportion, "cm"))
    parts = (UncertaintyPart("ruler", RULER_REPEATS_TO.value * length), *one_cause("extension", wider))
    return SizeForecast(day, _added(length, wider), _added(width, wider), height, spread.known, spread.inputs, parts)


def _taller(ahead: Finding, days: float) -> Estimate:
    return ahead.estimate.scaled(days / DAYS_PER_YEAR, "cm")


def _added(now: float, growth: Estimate) -> Estimate:
    """A length and what it grows by; the ruler's error and the growth's interval add in squares."""
    ruler = coverage_factor() * RULER_REPEATS_TO.value * now
    value = now + growth.value
    low = value - float((ruler**2 + (growth.value - growth.low) ** 2) ** 0.5)
    high = value + float((ruler**2 + (growth.high - growth.value) ** 2) ** 0.5)
    return Estimate(max(0.0, value), max(0.0, low), max(0.0, high), "cm")
