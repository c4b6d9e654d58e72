"""What needs the keeper today, and why.

In: a journal and its findings at a moment. Out: alerts, most important first.
Must not know words, pages, or how a number was calculated.
"""

from collections.abc import Iterator, Sequence
from datetime import date, timedelta

from generator.nature.constants import STARVING_NITROGEN_PER_PHOSPHORUS, STARVING_PHOSPHATE
from generator.reckon.analysis.journal import Findings
from generator.reckon.attention.alert import URGENCIES, alert
from generator.reckon.attention.alert import Alert as Alert
from generator.reckon.attention.trades import PREDICTED, of_corals, of_plans, of_predicted, of_trades
from generator.reckon.attention.water import is_dosed, of_water
from generator.reckon.finding import CannotTell, Finding
from generator.reckon.water.findings import Latest, WaterFindings
from generator.reckon.water.health import Nutrients, TemperatureSwing, WaterHealth
from generator.reckon.water.salts import SaltBalance, SaltStanding
from generator.records.coral import standing_in
from generator.records.journal import Journal


def alerts(journal: Journal, found: Findings) -> tuple[Alert, ...]:
    """What needs the keeper, most important first, without what a system's log dismisses.

    An alert that belongs to no system, such as a promise, can be dismissed in any log.
    """
    zone, plans = journal.settings.time_zone, journal.plans.values()
    every = [*of_corals(journal, found), *of_trades(journal, found), *of_predicted(found)]
    every += of_plans(plans, found.as_of.astimezone(zone).date())
    for id, water in sorted(found.water.items()):
        every += [*of_water(journal.systems[id], water, found.as_of, zone), *of_health(water)]
    # That the uptake changed is for readings to tell. Until then another says what may be.
    every = [alert for alert in every if not (alert.kind == "uptake-changed" and _is_open(alert, found, every))]
    every = [alert for alert in every if not (alert.kind == "leaving-band" and _is_planned(alert, found))]
    every = [alert for alert in every if not _is_idle(alert, journal, found)]
    dismissals = {id: log.until(found.as_of).dismissals for id, log in journal.logs.items()}
    anywhere = tuple(each for those in dismissals.values() for each in those)
    left = [
        alert
        for alert in every
        if not any(map(alert.is_hidden_by, dismissals.get(alert.system, ()) if alert.system else anywhere))
    ]
    return tuple(sorted(left, key=lambda alert: (URGENCIES.index(alert.urgency), -alert.stake, alert.id)))


def _is_open(alert: Alert, found: Findings, every: Sequence[Alert]) -> bool:
    """Whether it is not told yet how an uptake changed: nothing was read since, or stories compete to explain it."""
    undecided = {each.system for each in every if each.kind == "two-explanations" and each.quantity in PREDICTED}
    return alert.quantity in PREDICTED and (alert.system in undecided or bool(found.predicted.get(alert.system)))


def _is_idle(alert: Alert, journal: Journal, found: Findings) -> bool:
    """Whether an alert asks for a test in a system that corals have left, and nothing given there has to follow."""
    if alert.kind not in ("no-reading", "predicted"):
        return False
    held = any(place.system == alert.system for coral in journal.corals.values() for place in coral.placements)
    empty = held and not standing_in(journal.corals.values(), alert.system, found.as_of.date())
    dosed = is_dosed(found.water[alert.system], "alkalinity", found.as_of)
    return empty and (alert.kind == "no-reading" or not dosed)


def _is_planned(alert: Alert, found: Findings) -> bool:
    """Whether a level is on its way to its target by the dosing plan, and there before it can be out of its band."""
    plan = found.dosing[alert.system].plan if alert.system in found.dosing else None
    earliest, rises = alert.facts["earliest"], alert.facts["side"] == "high"
    if plan is None or isinstance(plan, CannotTell) or not isinstance(earliest, date):
        return False
    return any(
        each.kind == alert.quantity
        and (each.change.value > 0.0) == rises
        and (found.as_of + timedelta(days=each.days)).date() <= earliest
        for each in plan.corrections
    )


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
