"""A reading against its band, readable at a glance: a strip with the band, and the value with its error."""

from dataclasses import dataclass

from generator.reckon.water.findings import Latest
from generator.units.quantity import coverage_factor

# One standard deviation to half of a 90 % interval of the normal distribution.
# The band takes the middle of the strip; this much of its width is shown on either side.
_MARGIN = 0.6


@dataclass(frozen=True, slots=True)
class Gauge:
    """Places along the strip in per cent, ready to be drawn; None where there is nothing to draw.

    `band` and `error` are (start, width). `beyond` says at which end a value lies off the strip.
    """

    band: tuple[str, str]
    low: str | None
    high: str | None
    target: str | None
    value: str
    error: tuple[str, str] | None
    beyond: str
    standing: str


def gauge(latest: Latest, standard: float | None) -> Gauge | None:
    """The gauge of a reading with the kit's standard deviation (canonical unit); None without a band."""
    if latest.low is None and latest.high is None:
        return None
    start, end = _strip(latest)
    half = (standard or 0.0) * coverage_factor()

    def at(value: float) -> float:
        return min(1.0, max(0.0, (value - start) / (end - start)))

    band_start = at(latest.low) if latest.low is not None else 0.0
    band_end = at(latest.high) if latest.high is not None else 1.0
    error = (at(latest.value - half), at(latest.value + half))
    return Gauge(
        (_percent(band_start), _percent(band_end - band_start)),
        None if latest.low is None else _percent(band_start),
        None if latest.high is None else _percent(band_end),
        None if latest.target is None else _percent(at(latest.target)),
        _percent(min(0.985, max(0.015, at(latest.value)))),
        (_percent(error[0]), _percent(error[1] - error[0])) if half else None,
        "below" if latest.value < start else "above" if latest.value > end else "",
        latest.standing,
    )


def _strip(latest: Latest) -> tuple[float, float]:
    """The ends of the strip: from zero if only a high end is set, otherwise the band with a margin."""
    if latest.low is None:
        high = latest.high if latest.high else 1.0
        return 0.0, high * (1 + _MARGIN)
    if latest.high is None:
        return latest.low * (1 - _MARGIN), latest.low * (1 + _MARGIN)
    margin = (latest.high - latest.low or 1.0) * _MARGIN
    return latest.low - margin, latest.high + margin


def _percent(share: float) -> str:
    return f"{share * 100:.4g}%"
