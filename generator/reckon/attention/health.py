"""Water health that needs the keeper: only what is certain, and large enough to act on."""

from collections.abc import Iterator

from generator.nature.constants import STARVING_NITROGEN_PER_PHOSPHORUS, STARVING_PHOSPHATE
from generator.reckon.attention.alert import Alert, alert
from generator.reckon.finding import Finding
from generator.reckon.water.findings import Latest, WaterFindings
from generator.reckon.water.health import Nutrients, TemperatureSwing, WaterHealth
from generator.reckon.water.salts import SaltBalance, SaltStanding

# Aragonite saturation a person should know of. Below: calcification about a third less than at 4 (15 % a
# unit, Chan & Connolly 2013, Glob. Change Biol. 19:282, from memory). Above: lime falls out by itself on any
# grain (Moras et al. 2022, Biogeosciences 19:3537, from memory). The ends are choices of ours.
SATURATION_LOW = 2.0
SATURATION_HIGH = 7.0
# The swing of one day that is too wide for any band; common practice, no source.
WIDEST_DAY = 2.0


def of_health(water: WaterFindings) -> Iterator[Alert]:
    """The alerts of a water's health."""
    if (health := water.health) is None:
        return
    yield from _saturation(water, health)
    yield from _salts(water, health.salts)
    yield from _nutrients(water, health.nutrients)
    yield from _temperature(water, health.temperature)


def _saturation(water: WaterFindings, health: WaterHealth) -> Iterator[Alert]:
    found = health.saturation
    if not isinstance(found, Finding):
        return
    omega = found.estimate
    if omega.high < SATURATION_LOW:
        side, short = "low", SATURATION_LOW - omega.value
    elif omega.low > SATURATION_HIGH:
        side, short = "high", omega.value - SATURATION_HIGH
    else:
        return
    yield alert("aragonite-saturation", water, "ph", side, omega, found.inputs, short, side=side)


def _salts(water: WaterFindings, salts: SaltBalance) -> Iterator[Alert]:
    error = salts.salinity_error
    if salts.together and isinstance(error, Finding):
        side = "more" if error.estimate.value > 0.0 else "less"
        yield alert(
            "salinity-in-doubt",
            water,
            "salinity",
            side,
            error.estimate,
            error.inputs,
            abs(error.estimate.value),
            side=side,
            salts=sum(isinstance(salt.ratio, Finding) for salt in salts.salts),
        )
        return
    for salt in salts.salts:
        if latest := water.latest.get(salt.kind):
            yield from _salt(water, salt, latest)


def _salt(water: WaterFindings, salt: SaltStanding, latest: Latest) -> Iterator[Alert]:
    """A salt that is in its band only because salinity is too high or too low."""
    found = salt.normalised
    if not isinstance(found, Finding) or latest.standing != "within":
        return
    level = found.estimate
    if latest.low is not None and level.high < latest.low:
        side, beyond = "low", latest.low - level.value
    elif latest.high is not None and level.low > latest.high:
        side, beyond = "high", level.value - latest.high
    else:
        return
    at = latest.reading.at
    yield alert("salt-out-of-balance", water, salt.kind, side, level, found.inputs, beyond, side=side, at=at)


def _nutrients(water: WaterFindings, found: Nutrients) -> Iterator[Alert]:
    """So little phosphate with so much nitrate that coral lacks phosphorus."""
    if not isinstance(found.phosphate, Finding) or not isinstance(found.nitrate, Finding):
        return
    phosphate = found.phosphate.estimate
    least = found.ratio.estimate.low if isinstance(found.ratio, Finding) else found.at_least
    if (
        least is not None
        and least > STARVING_NITROGEN_PER_PHOSPHORUS.value
        and phosphate.high < STARVING_PHOSPHATE.value
    ):
        size = found.ratio.estimate if isinstance(found.ratio, Finding) else None
        inputs = found.nitrate.inputs + found.phosphate.inputs
        yield alert("phosphate-short", water, "phosphate", "low", size, inputs, least, least=round(least))


def _temperature(water: WaterFindings, swing: TemperatureSwing) -> Iterator[Alert]:
    for span, found, most in (("day", swing.day, WIDEST_DAY), ("week", swing.week, swing.band)):
        if isinstance(found, Finding) and most is not None and found.estimate.low > most:
            size = found.estimate
            yield alert("temperature-swing", water, "temperature", span, size, found.inputs, size.value, side=span)
            return
