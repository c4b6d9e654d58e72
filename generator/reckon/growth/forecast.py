"""What size a coral will have on a day to come; and the days by which a gap between two may be gone."""

from collections.abc import Callable, Sequence
from datetime import date, timedelta
from math import hypot, inf, sqrt
from statistics import NormalDist
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from generator.nature.constants import RULER_REPEATS_TO
from generator.nature.genera import genus_name, genus_of
from generator.nature.rates import published_extension
from generator.reckon.estimate.slopes import wandered
from generator.reckon.finding import CannotTell, Finding, UncertaintyPart, one_cause, uncertainty_parts
from generator.reckon.growth.analysis import AHEAD_DAYS, Growth, Spreading
from generator.reckon.growth.measurements import Body, body, height_of
from generator.reckon.growth.pace import DAYS_PER_YEAR, MEMORY_DAYS, WANDERING
from generator.records.coral import Coral
from generator.records.source import Source
from generator.units.quantity import Cm, Days, Estimate, coverage_factor


class Spread(Struct, frozen=True):
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

    def reach(self, day: date) -> tuple[Cm, Cm]:
        """Radius (cm) on a day, and its standard uncertainty without that of the side."""
        days = float((day - self.at).days)
        radius = self.radius + self.rate * days
        return max(0.0, radius), hypot(self.radius_error, self.grown_error(days))

    def tall(self, day: date) -> Cm | None:
        """Height (cm) on a day, grown in proportion since it was measured; None if it was not."""
        return self.body.height * self.reach(day)[0] / self.radius if self.body.height is not None else None

    def grown_error(self, days: Days) -> Cm:
        """Standard uncertainty (cm) of what the radius grows by in so many days."""
        return grown_error(self.rate_error, self.strays, days)

    def wider(self, day: date) -> Estimate:
        """What its outline is wider by on a day (cm)."""
        days = float((day - self.at).days)
        return Estimate.normal(2.0 * self.rate * days, 2.0 * self.grown_error(days), "cm")

    def length(self, day: date) -> Estimate:
        """Its length on a day (cm), if nothing is cut."""
        return _added(self.body.length, self.wider(day))


def grown_error(rate_error: float, strays: float, days: float) -> float:
    """Standard uncertainty of growth over some days, from the mean rate and from its variation over time."""
    return hypot(rate_error * days, strays * sqrt(wandered(days, MEMORY_DAYS)))


class Extension(Struct, frozen=True):
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
            uncertainty_parts(causes),
        )


class SizeForecast(Struct, frozen=True):
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


def extension_of(coral: Coral, growth: Growth | Spreading) -> Extension:
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


def spread_of(coral: Coral, growth: Growth | Spreading) -> Spread | CannotTell:
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
    wider = spread.wider(day)
    height = None
    if spread.body.height is not None:
        tall = spread.body.height
        proportion = height_of(Body(length, width, tall), coral.form)[1] / spread.body.diameter
        own = growth.height_ahead
        taller = own.estimate.scaled(days / DAYS_PER_YEAR, "cm") if isinstance(own, Finding) else None
        height = _added(tall, taller or wider.scaled(proportion, "cm"))
    parts = (UncertaintyPart("ruler", RULER_REPEATS_TO.value * length), *one_cause("extension", wider))
    return SizeForecast(day, spread.length(day), _added(width, wider), height, spread.known, spread.inputs, parts)


def _added(now: float, growth: Estimate) -> Estimate:
    """A length and what it grows by; the ruler's error and the growth's interval add in quadrature."""
    ruler = coverage_factor() * RULER_REPEATS_TO.value * now
    value = now + growth.value
    low = value - float((ruler**2 + (growth.value - growth.low) ** 2) ** 0.5)
    high = value + float((ruler**2 + (growth.high - growth.value) ** 2) ** 0.5)
    return Estimate(max(0.0, value), max(0.0, low), max(0.0, high), "cm")


# No forecast of a living coral is useful farther ahead than five years.
HORIZON_DAYS = 1826
_ODDS = (0.05, 0.50, 0.95)


class Dates(Struct, frozen=True):
    """The days by which it has happened in 5, 50 and 95 of 100 cases; None: not within five years.

    `parts` are those of the likely day's uncertainty, in days; none where that day is today or not told.
    """

    earliest: date | None
    likely: date | None
    latest: date | None
    parts: tuple[UncertaintyPart, ...] = ()


class Closing(Struct, frozen=True):
    """A gap (cm) today, the uncertainty from each cause, and how fast it closes (cm a day).

    `speed` ± `speed_error` in the long run, from which it strays by `strays` for weeks.

    `ruler`, `extension` and `side` are one standard uncertainty each: how the corals were measured, what they
    grew since, and which side they turn to what they near.
    """

    gap: float
    ruler: float
    extension: float
    side: float
    speed: float
    speed_error: float
    strays: float

    def ahead(self, days: float) -> float:
        """Standard uncertainty (cm) of what the gap closes by in so many days."""
        return grown_error(self.speed_error, self.strays, days)

    @property
    def error(self) -> float:
        """The gap's standard uncertainty today, cm."""
        return hypot(self.ruler, self.extension, self.side)

    @property
    def parts(self) -> tuple[UncertaintyPart, ...]:
        """What the gap's uncertainty today is made of, cm."""
        return _parts(self.ruler, self.extension, self.side)


def closing(apart: float, spreads: Sequence[Spread], as_of: date) -> Closing:
    """The gap that spreading colonies leave of a distance (cm) on a day, and how it closes."""
    return Closing(
        gap=apart - sum(spread.reach(as_of)[0] for spread in spreads),
        ruler=hypot(*(spread.radius_error for spread in spreads)),
        extension=hypot(*(spread.grown_error((as_of - spread.at).days) for spread in spreads)),
        side=hypot(*(spread.turned for spread in spreads)),
        speed=sum(spread.rate for spread in spreads),
        speed_error=hypot(*(spread.rate_error for spread in spreads)),
        strays=hypot(*(spread.strays for spread in spreads)),
    )


def gone_by(found: Closing, as_of: date, short_of: float = 0.0) -> Dates:
    """The days by which a gap has closed to `short_of` cm, and the parts of their uncertainty.

    To first order a day's uncertainty is the gap's on that day over the speed at which it closes.
    """
    dates = passing(found.gap - short_of, found.error, found.speed, found.ahead, as_of)
    ahead = (dates.likely - as_of).days if dates.likely else 0
    if not ahead:
        return dates
    grown = hypot(found.extension, found.ahead(ahead))
    return replace(dates, parts=_parts(*(each / found.speed for each in (found.ruler, grown, found.side))))


def long_enough(spread: Spread, length: float, as_of: date) -> Dates:
    """When a coral will reach a length (cm). It grows at both ends."""
    days = (as_of - spread.at).days
    short_of = length - spread.body.length - 2.0 * spread.rate * days
    error = 2.0 * hypot(spread.radius_error, spread.grown_error(days))
    return passing(short_of, error, 2.0 * spread.rate, lambda ahead: 2.0 * spread.grown_error(ahead), as_of)


def passing(gap: float, error: float, speed: float, ahead: Callable[[float], float], as_of: date) -> Dates:
    """When a gap (cm) that closes at a speed (cm a day) is gone.

    `error` is the standard uncertainty of the gap (cm), `ahead` that of what it closes by in so many days. The gap
    after t days is normal about gap - speed t; the days are those by which the odds of its being gone pass 5, 50
    and 95 %.
    """

    def gone(days: int) -> float:
        spread = hypot(error, ahead(days))
        left = gap - speed * days
        return NormalDist().cdf(-left / spread) if spread > 0.0 else float(left <= 0.0)

    earliest, likely, latest = (_first(gone, odds, as_of) for odds in _ODDS)
    return Dates(earliest, likely, latest)


def _parts(ruler: float, extension: float, side: float) -> tuple[UncertaintyPart, ...]:
    return uncertainty_parts([("ruler", ruler), ("extension", extension), ("side", side)])


def _first(gone: Callable[[int], float], odds: float, as_of: date) -> date | None:
    if gone(0) >= odds:
        return as_of
    if gone(HORIZON_DAYS) < odds:
        return None
    before, after = 0, HORIZON_DAYS
    while after - before > 1:
        middle = (before + after) // 2
        before, after = (before, middle) if gone(middle) >= odds else (middle, after)
    return as_of + timedelta(days=after)
