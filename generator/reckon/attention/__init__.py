"""What needs the keeper today, and why.

In: a journal and its findings at a moment. Out: alerts, most important first.
Must not know words, pages, or how a number was calculated.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date, timedelta
from itertools import chain
from typing import TYPE_CHECKING

from generator.door.door import Door, grouped, later
from generator.reckon.analysis.journal import Findings
from generator.reckon.attention.alert import URGENCIES, alert
from generator.reckon.attention.alert import Alert as Alert
from generator.reckon.finding import CannotTell, Finding
from generator.records.coral import standing_in
from generator.records.journal import Journal
from generator.records.log import Dismissal

if TYPE_CHECKING:
    from generator.reckon.water.findings import Latest, WaterFindings
    from generator.reckon.water.health import Nutrients, TemperatureSwing, WaterHealth
    from generator.reckon.water.seawater import SaltBalance, SaltStanding

with later():
    from generator.nature import constants as _constants
    from generator.reckon.attention import trades as _trades
    from generator.reckon.attention import water as _water


def alerts(journal: Journal, found: Findings) -> tuple[Alert, ...]:
    """What needs the keeper, as `alerts_in_steps`."""
    return alerts_in_steps(journal, found, Door())()


def alerts_in_steps(journal: Journal, found: Findings, door: Door) -> Callable[[], tuple[Alert, ...]]:
    """What needs the keeper, most important first, without what a system's log dismisses.

    An alert that belongs to no system, such as a promise, can be dismissed in any log. What one system's water needs
    is a step of its own, so that a reading asks for nothing of others.
    """

    def of_some(ids: Sequence[str]) -> tuple[Alert, ...]:
        return tuple(each for id in ids for each in _trades.of_coral(journal.corals[id], found.corals[id], today()))

    def without_system() -> tuple[Alert, ...]:
        told = (
            _trades.of_lines(found, today()),
            _trades.of_trades(journal, found),
            _trades.of_plans(journal.plans.values(), today()),
        )
        return tuple(chain(*told))

    def in_system(id: str) -> tuple[Alert, ...]:
        system, water, zone = journal.systems[id], found.water[id], journal.settings.time_zone
        events = found.predicted.get(id, ())
        plan = found.dosing[id].plan if id in found.dosing else None
        every = [
            *_trades.of_predicted(water, events),
            *_water.of_water(system, water, found.as_of, zone),
            *(_water.of_pumps(system, water, plan) if plan and not isinstance(plan, CannotTell) else ()),
            *of_health(water),
        ]
        return tuple(each for each in every if not _is_moot(each, every, found, empty))

    def left(id: str) -> tuple[Dismissal, ...]:
        return journal.logs[id].until(found.as_of).dismissals

    def whole() -> tuple[Alert, ...]:
        by_log = {id: dismissed(id) for id in journal.logs}
        anywhere = tuple(chain(*by_log.values()))
        rooms = chain(*(_trades.of_room(room, today()) for room in found.rooms.values()))
        return tuple(
            sorted(
                (
                    each
                    for each in chain(*corals(), rooms, others(), *waters.values())
                    if not any(map(each.is_hidden_by, by_log.get(each.system, ()) if each.system else anywhere))
                ),
                key=lambda alert: (URGENCIES.index(alert.urgency), -alert.stake, alert.id),
            )
        )

    today = door.one("day of alerts", lambda: found.as_of.astimezone(journal.settings.time_zone).date())
    empty = door.step("corals have left", lambda id: _is_empty(journal, id, today()))
    corals = door.in_parts("alerts of some corals", lambda: found.corals, of_some)
    others = door.one("alerts of no system", without_system)
    waters = door.each("alerts of water", lambda: found.water, in_system)
    dismissed = door.step("dismissals", left, keep=False)
    return door.one("alerts", whole)


def by_subject(every: Iterable[Alert]) -> dict[str, tuple[Alert, ...]]:
    """Alerts by each coral, line, trade or plan that they are about, and by their system, its id after a slash."""
    about = ((name, each) for each in every for name in (*dict.fromkeys(each.subject), f"/{each.system}"))
    return grouped(about)


def _is_moot(alert: Alert, every: Sequence[Alert], found: Findings, empty: Callable[[str], bool]) -> bool:
    """Whether another of a system's alerts, its plan, or that no coral is left in it, makes one needless."""
    if alert.kind == "uptake-changed":
        # That the uptake changed is for readings to tell. Until then another says what may be.
        undecided = any(each.kind == "two-explanations" and each.quantity in _trades.PREDICTED for each in every)
        return alert.quantity in _trades.PREDICTED and (undecided or bool(found.predicted.get(alert.system)))
    if alert.kind == "leaving-band":
        return _is_planned(alert, found)
    if alert.kind == "no-reading":
        return empty(alert.system)
    if alert.kind == "predicted":
        return empty(alert.system) and not _water.is_dosed(found.water[alert.system], "alkalinity", found.as_of)
    return False


def _is_empty(journal: Journal, system: str, day: date) -> bool:
    """Whether all corals of a system have left it."""
    held = any(place.system == system for coral in journal.corals.values() for place in coral.placements)
    return held and not standing_in(journal.corals.values(), system, day)


def _is_planned(alert: Alert, found: Findings) -> bool:
    """Whether a level is on its way to its target by the dosing plan, and there before it can be out of its band.

    What waits for a test is not on its way.
    """
    plan = found.dosing[alert.system].plan if alert.system in found.dosing else None
    earliest, rises = alert.facts["earliest"], alert.facts["side"] == "high"
    if plan is None or isinstance(plan, CannotTell) or plan.waits or not isinstance(earliest, date):
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


def of_health(water: "WaterFindings") -> Iterator[Alert]:
    """The alerts of a water's health."""
    if (health := water.health) is None:
        return
    yield from _saturation(water, health)
    yield from _salts(water, health.salts)
    yield from _nutrients(water, health.nutrients)
    yield from _temperature(water, health.temperature)


def _saturation(water: "WaterFindings", health: "WaterHealth") -> Iterator[Alert]:
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


def _salts(water: "WaterFindings", salts: "SaltBalance") -> Iterator[Alert]:
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


def _salt(water: "WaterFindings", salt: "SaltStanding", latest: "Latest") -> Iterator[Alert]:
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


def _nutrients(water: "WaterFindings", found: "Nutrients") -> Iterator[Alert]:
    """So little phosphate with so much nitrate that coral lacks phosphorus."""
    if not isinstance(found.phosphate, Finding) or not isinstance(found.nitrate, Finding):
        return
    phosphate = found.phosphate.estimate
    least = found.ratio.estimate.low if isinstance(found.ratio, Finding) else found.at_least
    if (
        least is not None
        and least > _constants.STARVING_NITROGEN_PER_PHOSPHORUS.value
        and phosphate.high < _constants.STARVING_PHOSPHATE.value
    ):
        size = found.ratio.estimate if isinstance(found.ratio, Finding) else None
        inputs = found.nitrate.inputs + found.phosphate.inputs
        yield alert("phosphate-short", water, "phosphate", "low", size, inputs, least, least=round(least))


def _temperature(water: "WaterFindings", swing: "TemperatureSwing") -> Iterator[Alert]:
    for span, found, most in (("day", swing.day, WIDEST_DAY), ("week", swing.week, swing.band)):
        if isinstance(found, Finding) and most is not None and found.estimate.low > most:
            size = found.estimate
            yield alert("temperature-swing", water, "temperature", span, size, found.inputs, size.value, side=span)
            return
