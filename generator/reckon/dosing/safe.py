"""The dose that is safe by all that is believed, what is worth correcting, and when a plan is tested."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import timedelta
from math import ceil, hypot
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from generator.reckon.dosing.outlook import FRESH_DAYS, MOST_A_DAY, Outlook
from generator.reckon.water.analysis import against_band
from generator.reckon.water.findings import NextTest, WaterFindings
from generator.reckon.water.when_to_test import beyond_band, rhythm
from generator.records.system import System
from generator.units.quantity import Estimate

# What is given of a demand must be safe for so many days at least: nobody reads twice a day for long.
LEAST_DAYS = 2.0
# A level on its way to target is read again after so many days, if anything is unsure.
READ_AGAIN_AFTER = 1.0
# Nobody reads more often than once a day by the plan, unless a reading is in doubt, or the level may leave its band
# sooner, or stands outside it and is given only what is safe: then half a day after the last reading at the soonest.
# While one of these is so it is read again after a day at the latest. Calm water, whose whole uptake is given and whose
# level stays in its band by its likely range, is left alone for two days where nothing changed. What came or went may
# take the level out of its band within hours: then a reading comes that much sooner. Choices of ours.
SOONEST_DAYS = 0.5
SOONEST_AFTER_CHANGE = 0.25
UNSURE_DAYS = 1.0
CALM_DAYS = 2.0
# A level so many kit errors unsure just after a reading is in doubt. A choice of ours.
IN_DOUBT = 2.0
# A level nearer to its target than this share of its band is left there. A choice of ours.
WORTH_CORRECTING = 0.10
# A change that would take longer is not planned: by then readings tell where the level went. A choice of ours.
LONGEST_DAYS = 30
# A correction is worth its trouble from this share of the daily cap on; below it a reading comes first. A rise goes in
# steps of that, and what fell since a reading counts by steps of `COUNTS_FROM` of the cap: so that, with nothing new in
# the log, a plan asks for the same from day to day, unless that is safe no more. Choices of ours.
LEAST_RATE = 0.05
COUNTS_FROM = 0.5


class Correction(Struct, frozen=True):
    """A change of level (canonical unit) that brings a kind to its target, over days under the daily cap.

    `fastest` is the most that it may change a day (0: as fast as it is).
    """

    kind: str
    change: Estimate
    target: float
    days: int
    fastest: float = 0.0


def safe_share(found: Outlook, target: float | None, days: float = LEAST_DAYS, unread: float = 0.0) -> float:
    """The share of the likeliest demand that may be given (0 to 1), down to the demand's low end and no further.

    What is given must leave the level under its band's top for so many `days` in 19 of 20 futures, from its target,
    to which a level is brought first (without one, from where it stands). Where readings do not tell the demand, what
    runs goes on, and of what newcomers are predicted to take so much is given as is safe likewise. While the level
    stands above its band, what is left of it once the level is let down raises it by nothing that is believed of the
    demand. Of what `unread` newcomers are predicted to take (level's unit a day) no more is given than the daily cap:
    one that stays closed takes nothing.
    """
    likeliest = found.per_day.value
    if likeliest <= 0.0:
        return 1.0
    low = min(max(found.per_day.low, 0.0), likeliest)
    start = found.level.value if target is None else target
    most = max(found.safe_rate(start, days), low) if found.told else likeliest
    if found.came is not None and found.high is not None:
        room = (found.high - start - (found.level.high - found.level.value)) / days
        most -= max(found.came.value - max(found.came.low, 0.0) - max(room, 0.0), 0.0)
    if found.is_above:
        most = min(most, low + max(found.level.value - start, 0.0))
    return min(most, likeliest, max(likeliest - unread, 0.0) + MOST_A_DAY[found.kind]) / likeliest


def corrections(
    outlooks: Mapping[str, Outlook], targets: Mapping[str, float], given: Mapping[str, float]
) -> Iterator[Correction]:
    """The changes that bring to its target each level off by more than `WORTH_CORRECTING` of its band and its error.

    Its error is one standard uncertainty. Both are as of its last reading, and no more is corrected than was off then,
    but of alkalinity that fell: what is only foreseen since waits for a test, so that no correction comes or goes while
    nothing new is known.
    `given` is what is given a day of each kind's demand, in the level's unit: by nothing that is believed of the
    demand may a level rise faster than the daily cap, nor past its band's top. A level falls no faster than the corals
    draw it down, and one they do not draw on cannot be lowered by dosing. One above its band falls by all that is
    believed of the demand. One that has a target and no band is left as it is.
    """
    for kind, found in outlooks.items():
        if found.low is None or found.high is None or kind not in targets:
            continue
        level = found.level
        change, days, fastest = _changed(found, _to_correct(found, targets[kind]), given.get(kind, 0.0))
        if change:
            target = level.value + change
            made = replace(level, value=change, low=target - level.high, high=target - level.low)
            yield Correction(kind, made, target, days, fastest)


def _to_correct(found: Outlook, target: float) -> float:
    """What is still to be changed of what was off when a level was read last; 0.0 where that is not worth it."""
    left, off = target - found.level.value, target - found.when_read.value
    worth = WORTH_CORRECTING * ((found.high or 0.0) - (found.low or 0.0))
    if left * off <= 0.0 or abs(left) <= worth or abs(off) <= max(worth, found.when_read.standard):
        return 0.0
    if found.kind != "alkalinity" or not 0.0 < off < left:
        return min(left, off, key=abs)
    # Coral suffers within days from alkalinity that falls: that is brought back too.
    fell, step = left - off, COUNTS_FROM * MOST_A_DAY[found.kind]
    return off + step * int(fell / step)


def _changed(found: Outlook, change: float, given: float) -> tuple[float, int, float]:
    """The part of a wanted change that is made, its days, and the most a day; 0.0 for none.

    What is too much for a day is left out.
    """
    most, less = _fastest(found, change, given), _too_much(found, given)
    days = ceil(abs(change) / most - 1e-9) if change and most > 0.0 else LONGEST_DAYS + 1
    if days > LONGEST_DAYS:
        change, days = 0.0, 1
    if less > 0.0:
        days = max(min(days, int(-change / less + 1e-9)), 1)
        change, most = max(min(change, -less * days), -max(most, less) * days), 0.0
    return change, days, most


def _too_much(found: Outlook, given: float) -> float:
    """By how much the dose `given` a day is more than tomorrow's level allows.

    Its upper end is to stay under the band's top. Where its lower end would then leave the band too, no more than the
    demand's low end is given, which raises the level by nothing that is believed. What stands above its band is let
    down as fast as it may fall, and by all that is believed of the demand.
    """
    low, start = max(found.per_day.low, 0.0), found.level.value
    unsure = given - low if found.is_above else 0.0
    if not found.told:
        return unsure
    most = max(found.safe_rate(start, READ_AGAIN_AFTER), min(low, found.least_rate(start, READ_AGAIN_AFTER)), 0.0)
    less = min(given - most, given - found.brought)
    if found.is_above:
        less = min(less, MOST_A_DAY[found.kind] - max(found.per_day.value - given, 0.0))
    return max(less, unsure)


def _fastest(found: Outlook, change: float, given: float) -> float:
    """How fast a level may be changed, a day; 0 where it may not."""
    cap = MOST_A_DAY[found.kind]
    if change < 0.0:
        # Only what is dosed can be left out: water changes go on.
        return min(cap - max(found.per_day.value - given, 0.0), given - found.brought)
    most = cap - max(given - max(found.per_day.low, 0.0), 0.0)
    most = min(most, found.safe_rate(found.level.value, READ_AGAIN_AFTER) - given)
    return max(int(most / (LEAST_RATE * cap) + 1e-9), 0) * LEAST_RATE * cap


def whole_rise(
    course: tuple[float, Callable[[float], float]], to_correct: Sequence[Correction], to_hold: float
) -> tuple[float, Callable[[float], float]]:
    """The course of alkalinity after all of a rise: when to test next does not hang on how much is asked for today."""
    rises = any(each.kind == "alkalinity" and each.change.value > 0.0 for each in to_correct)
    return (to_hold if rises else course[0]), course[1]


def next_test_of_plan(water: WaterFindings, found: Outlook, basis: str, holds: float, may_leave: float) -> NextTest:
    """The first of: what the water's own findings ask for, and the day by which the plan holds no longer.

    One that is overdue is made at once. Else no sooner than a day after the last reading, or after what changed the
    uptake since, whenever the plan is made; but where the level may leave its band before, by that hour. Where a
    reading leaves the level much less sure than its kit is, and than kits are known beside each other, it may be a
    mistake: then it is read again at once, which parts this story from all others. That the level would leave its band
    if nothing changed is no reason of its own, for the plan changes it; nor is a dose set anew, which changes nothing
    of what is taken up.
    """
    as_of, latest, uptake = water.as_of, water.latest["alkalinity"], water.uptake["alkalinity"]
    changes = [plan.since for plan in water.plans if plan.kind == found.kind and plan.what != "dose"]
    by_kit = hypot(uptake.kit_error.value, *(kit.size.standard for kit in uptake.kits))
    if latest.age_days <= UNSURE_DAYS and found.when_read.standard > IN_DOUBT * by_kit:
        return NextTest("alkalinity", as_of, "doubtful-reading")
    if latest.age_days > (usual := rhythm("alkalinity").calm):
        return NextTest("alkalinity", as_of, "usual-interval", days=usual)
    since = max([latest.reading.at, *changes])
    soonest = since + timedelta(days=SOONEST_AFTER_CHANGE if changes else SOONEST_DAYS)
    a_day = since + timedelta(days=UNSURE_DAYS)
    by_then = as_of + timedelta(hours=int(24.0 * may_leave))
    outside = soonest if basis == "cautious" else a_day
    is_outside = found.is_outside or (latest.standing in ("low", "high") and not latest.doubtful)
    first = outside if is_outside else min(max(by_then, soonest), a_day)
    sure = basis == "measured" and first == a_day and not is_outside
    calm = a_day if changes else since + timedelta(days=min(CALM_DAYS, may_leave))
    at = max(as_of + timedelta(days=holds), calm, a_day) if sure else first
    own = NextTest("alkalinity", max(at, as_of), "could-leave-band")
    asked = water.next_tests.get("alkalinity")
    if asked is None or asked.why == own.why or asked.at >= own.at:
        return own
    if asked.why == "tells-a-change" and not changes:
        return own
    return asked if asked.why == "doubtful-reading" else replace(asked, at=max(asked.at, first))


# Why a plan goes on as now until the next test.
Waits = Literal["perhaps-outside", "test-is-old"]


def waits_for_test(system: System, water: WaterFindings, found: Outlook, runs: float, to_test: float) -> Waits | None:
    """Why to go on as now for the days `to_test`: the test is due, or the level only perhaps outside its band.

    A test that is due says more than what is foreseen since one of more than `FRESH_DAYS` ago: by that nothing is
    changed, unless a coral came since, for which doses are set beforehand, or the level was surely outside its band.
    One that is only perhaps outside has to stay so: with what `runs` now (canonical unit a day) it moves out by no more
    than its standard uncertainty, and by its interval not past the other end. What the reading before showed too has
    waited once, and is as good as sure. Only alkalinity is looked at.
    """
    latest = water.latest["alkalinity"]
    is_old, has_come = latest.age_days > FRESH_DAYS, any(at > latest.reading.at for at, _ in water.came)
    if to_test <= 0.0 and is_old and found.told and not has_come and not found.was_surely_outside:
        return "test-is-old"
    if found.is_surely_outside:
        return None
    beyond = beyond_band(system, latest)
    if not found.is_outside or (beyond is not None and beyond.is_clear):
        return None
    doubtful = {each.reading for each in water.uptake["alkalinity"].doubtful}
    sound = [value for reading, value in water.readings if reading.kind == "alkalinity" and reading not in doubtful]
    if beyond and len(sound) > 1 and latest.standing == against_band(system, "alkalinity", sound[-2]):
        return None
    low, high, moves = found.low, found.high, to_test * (runs + found.brought - found.per_day.value)
    stays = moves <= found.standard and (low is None or found.level.low + moves >= low)
    if not found.is_above:
        stays = -moves <= found.standard and (high is None or found.level.high + moves <= high)
    return "perhaps-outside" if stays else None
