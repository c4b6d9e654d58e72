"""What to dose: litres a day of the keeper's own solutions that hold the band, and bring a level back to target."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Literal

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from generator.reckon.dosing.outlook import (
    MOST_A_DAY,
    Need,
    Outlook,
    as_it_runs,
    brought,
    came_since,
    demand,
    levels_to_hold,
    outlook,
    running,
    share_left,
    worth_a_dose,
)
from generator.reckon.dosing.phases import (
    LEAST_PUMPED,
    Phase,
    as_now,
    at_its_fastest,
    fallen_short,
    given_a_day,
    phases,
    within_reach,
)
from generator.reckon.dosing.pouring import (
    USUAL_DAYS,
    WaterChanges,
    next_change,
    rise_at_once,
    to_dose_for,
    upkeep,
    way_down,
    way_up,
    with_water,
)
from generator.reckon.dosing.safe import (
    LEAST_DAYS,
    READ_AGAIN_AFTER,
    Correction,
    Waits,
    corrections,
    next_test_of_plan,
    safe_share,
    waits_for_test,
    whole_rise,
)
from generator.reckon.dosing.supplies import (
    EXPLAINED,
    LIMEWATER,
    Supply,
    ToMend,
    as_it_gives,
    not_promised,
    supplies,
    to_measure,
    to_mend,
    was_used,
)
from generator.reckon.finding import CannotTell, Finding
from generator.reckon.water.analysis import OF_SKELETON
from generator.reckon.water.findings import Latest, NextTest, Uptake, WaterFindings
from generator.reckon.water.forecast import Counted, brought_by_habits
from generator.reckon.water.when_to_test import rhythm, set_last
from generator.records.log import SystemLog
from generator.records.system import System
from generator.units.kinds import KINDS
from generator.units.quantity import Estimate, sum_of_estimates

# For so long a newcomer's uptake is read every day, so that its dose must be safe for a day only. A choice of ours.
WATCHED = timedelta(days=7)
# Below this share of the likeliest demand a dose is the cautious one, and said to be. A choice of ours.
CAUTIOUS = 0.9

Basis = Literal["measured", "cautious", "as-it-runs", "what-is-left", "with-newcomers"]
NoteId = Literal[
    "above-band",
    "read-calcium",
    "alkalinity-not-explained",
    "pump-lacks",
    "measure-pump",
    "needs-more-evaporation",
    "weak-effluent",
    "limewater-unused",
    "dilute",
]


class Plan(Struct, frozen=True):
    """What to dose, from which demand, for how long.

    `basis` says what is given of the demand: all that is likely taken up; what is safe by all that is still believed
    of it, down to its low end; or what runs now, where readings do not tell the demand yet, or as much of that as
    corals are left of those it was set for, and with what is safe of what newcomers are predicted to take. `phases`
    follow on each other: those that correct, then the one that holds. `out_of_reach` are rises to target that nothing
    at hand can give. `held` names what it keeps in its band for `LEAST_DAYS` at least, with odds of 39 in 40.
    `next_test` is the reading of alkalinity to make by then. `water_change` is the way down where coral does
    not draw a level down, or where nothing else gives alkalinity the way up or the supply. `changing` are the water
    changes by habit that the doses count on, `to_mend` the pumps that give what is asked only once they are mended:
    until then nothing that they give is held. Where it `waits`, the first phase goes on as now until the next reading,
    and the others follow if that confirms it.
    """

    system: str
    as_of: datetime
    basis: Basis
    needs: tuple[Need, ...]
    corrections: tuple[Correction, ...]
    out_of_reach: tuple[Correction, ...]
    phases: tuple[Phase, ...]
    held: tuple[str, ...]
    next_test: NextTest
    water_change: WaterChanges | None
    notes: tuple[NoteId, ...]
    changing: tuple[Counted, ...] = ()
    to_mend: tuple[ToMend, ...] = ()
    waits: Waits | None = None


def dosing_plan(system: System, log: SystemLog, water: WaterFindings, as_of: datetime) -> Plan | CannotTell:
    """The doses that meet the demand as far as that is safe, after a correction to target where it is needed.

    Answers `CannotTell` only where alkalinity was never read.
    """
    volume, targets = system.water.volume.canonical(), levels_to_hold(system)
    at_hand = tuple(as_it_gives(supply, water) for supply in supplies(system, log, targets, as_of))
    if alone := not any("alkalinity" in supply.gives for supply in at_hand):
        # The plan says how much water to change, whatever was changed before.
        water = replace(water, changing=())
    believed = {kind: each for kind in OF_SKELETON if (each := outlook(system, water, kind)) is not None}
    outlooks = {kind: _poured(system, water, each, at_hand) for kind, each in believed.items()}
    if (found := outlooks.get("alkalinity")) is None:
        return CannotTell("no-readings", "read-twice")
    needs, at_hand = _needs(system, water, outlooks, at_hand)
    # Water is changed only once the level is down to its lowest: that is safe whatever is taken up.
    share = 1.0 if alone and found.told else _share(water, found, targets.get("alkalinity"))
    to_give = tuple(_of_it(need, share) for need in needs)
    given = {need.kind: need.per_day.value / volume for need in to_give}
    to_hold, due = targets.get("alkalinity", found.level.value), next_change(system, log, as_of)
    down, up = way_down(system, found, due), way_up(system, found, to_hold, due) if alone else None
    kept = upkeep(system, found, to_hold, given.get("alkalinity", 0.0), due) if alone and not down else None
    by_water = {kind: brought(system, water, kind, level) for kind, level in targets.items()}
    by_water |= {kind: each.brought for kind, each in outlooks.items()}
    if kept:
        by_water |= kept.gives
        outlooks["alkalinity"] = found.moved(*kept.beyond(np.array([day for day, _, _ in found.strays])))
    to_dose = tuple(_beside(need, by_water.get(need.kind, 0.0) * volume) for need in to_give)
    by_doses = {kind: each for kind, each in _correctable(outlooks, water).items() if not (up and kind == found.kind)}
    wanted = tuple(corrections(by_doses, targets, given))
    to_correct = with_water(within_reach(wanted, to_dose, at_hand, volume), found.level, down)
    steps = phases(to_dose, to_dose_for(to_correct, down, to_dose, volume), at_hand, volume, worth_a_dose(system))
    courses = {kind: _course(each, to_correct, needs, to_give, steps, volume) for kind, each in outlooks.items()}
    lacking = to_mend(system, log, as_of)
    held = {kind: each.holds_for(*courses[kind]) for kind, each in outlooks.items()}
    held |= not_promised(system, lacking, water)
    leaves = outlooks["alkalinity"].may_leave(*whole_rise(courses["alkalinity"], to_correct, to_hold))
    test = next_test_of_plan(water, found, basis := _basis(water, found, share), _lasting(held), leaves)
    to_test = (test.at - as_of).total_seconds() / 86400.0
    gives = _gives(now := as_now(at_hand, to_test), at_hand, volume)
    # Where water is changed instead of dosing, nothing runs on meanwhile.
    if waits := None if kept else waits_for_test(system, water, found, gives, to_test):
        steps, held["alkalinity"] = (now, *steps), 0.0
    return Plan(
        system=system.id,
        as_of=as_of,
        basis=basis,
        needs=needs,
        corrections=to_correct,
        out_of_reach=tuple(_out_of_reach(wanted, to_correct)),
        phases=steps,
        held=tuple(kind for kind, days in held.items() if days >= LEAST_DAYS),
        next_test=test,
        water_change=down or up or kept,
        notes=(*_notes(water, found, at_hand, steps[-1], held, waits), *_unused(system, log.until(as_of), at_hand)),
        changing=brought_by_habits(system, water, targets.get("alkalinity", found.level.value)),
        to_mend=lacking,
        waits=waits,
    )


def _needs(
    system: System, water: WaterFindings, outlooks: Mapping[str, Outlook], at_hand: tuple[Supply, ...]
) -> tuple[tuple[Need, ...], tuple[Supply, ...]]:
    """The demand and what may meet it; where readings do not tell it, what runs now, in place of both."""
    if needs := demand(water):
        return needs, at_hand
    runs = {kind: _runs(water, kind, outlooks.get(kind)) for kind in MOST_A_DAY}
    needs = as_it_runs(system, water, {kind: each for kind, each in runs.items() if each.high})
    return needs, tuple(supply for supply in at_hand if supply.now) or at_hand


def _out_of_reach(wanted: Sequence[Correction], found: Sequence[Correction]) -> Iterator[Correction]:
    """The rises that are not among those found to be in reach."""
    reached = {(each.kind, each.target) for each in found}
    rises = (each for each in wanted if each.change.value > 0.0)
    return (each for each in rises if not reached & {(each.kind, end.target) for end in (each, at_its_fastest(each))})


def _lasting(held: Mapping[str, float]) -> float:
    """The days for which all that is held stays in its band, where alkalinity is."""
    lasting = [days for days in held.values() if days >= LEAST_DAYS]
    return min(lasting) if held["alkalinity"] >= LEAST_DAYS else held["alkalinity"]


def _gives(phase: Phase, at_hand: Sequence[Supply], volume: float) -> float:
    """By how much the doses of a phase raise alkalinity a day, meq/L."""
    litres = {dose.supply: dose.rate.estimate.value for dose in phase.doses}
    return given_a_day(litres, [each for each in at_hand if each.id in litres], "alkalinity") / volume


def _unread(water: WaterFindings) -> float:
    """What corals are predicted to take of alkalinity (meq/L a day) that came since it was read last."""
    read = water.latest["alkalinity"].reading.at
    return sum(step.value for at, step in water.came if at >= read)


def _share(water: WaterFindings, found: Outlook, target: float | None) -> float:
    """The share of the likeliest demand that is safe: for a day while newcomers are watched, else for `LEAST_DAYS`."""
    watched = any(water.as_of - at <= WATCHED for at, _ in water.came)
    return safe_share(found, target, READ_AGAIN_AFTER if watched else LEAST_DAYS, _unread(water))


def _basis(water: WaterFindings, found: Outlook, share: float) -> Basis:
    """The plan's `basis`, where a `share` (0 to 1) of the likeliest demand is safe."""
    if found.told:
        return "cautious" if share < CAUTIOUS else "measured"
    if found.came is not None:
        return "with-newcomers"
    return "as-it-runs" if share_left(water, set_last(water, "alkalinity")) == 1.0 else "what-is-left"


def _poured(system: System, water: WaterFindings, found: Outlook, at_hand: Sequence[Supply]) -> Outlook:
    """An outlook with the rise that each portion is which is poured by hand; at its usual interval, if it has one."""
    poured = {supply.id for supply in at_hand if supply.how == "hand" and found.kind in supply.gives}
    if not poured:
        return found
    usual = max((round(habit.days) for habit in water.habits if habit.solution in poured), default=USUAL_DAYS)
    rise = rise_at_once(system, found.kind, max(found.per_day.value - found.brought, 0.0), usual)
    none = np.zeros(len(found.strays))
    return found.moved(none, none + rise)


def _runs(water: WaterFindings, kind: str, found: Outlook | None) -> Estimate:
    """What runs of a kind now and what newcomers take of it, in its unit a day, as unsure as what is taken up of it."""
    runs, came = max(running(water, kind), 0.0), came_since(water, kind)
    unsure = Estimate(runs, 0.0, 2.0 * runs, f"{KINDS[kind].canonical}/day")
    return found.per_day if found else sum_of_estimates((unsure, came)) if came else unsure


def _of_it(need: Need, share: float) -> Need:
    """So much of what is taken up, by one share for all that goes into the skeleton."""
    if need.kind not in OF_SKELETON:
        return need
    value = share * need.per_day.value
    return replace(need, per_day=replace(need.per_day, value=value, low=min(need.per_day.low, value)))


def _beside(need: Need, by_water: float) -> Need:
    """What is left to give of a need beside water changes, which bring so much of it a day."""
    low, value, high = (max(end - by_water, 0.0) for end in (need.per_day.low, need.per_day.value, need.per_day.high))
    return replace(need, per_day=replace(need.per_day, value=value, low=low, high=high)) if by_water else need


def _correctable(outlooks: Mapping[str, Outlook], water: WaterFindings) -> dict[str, Outlook]:
    """Alkalinity where it stands outside its band, or its demand is told; the others where their reading is sound."""
    return {
        kind: each
        for kind, each in outlooks.items()
        if (each.told or each.is_outside) and (kind == "alkalinity" or _is_sound(water.latest[kind]))
    }


def _is_sound(latest: Latest) -> bool:
    """Whether a level may be corrected by its last reading: it fits the others, and no new one is due."""
    return not latest.doubtful and latest.age_days <= rhythm(latest.reading.kind).calm


def _course(
    found: Outlook,
    to_correct: Sequence[Correction],
    needs: Sequence[Need],
    to_give: Sequence[Need],
    steps: Sequence[Phase],
    volume: float,
) -> tuple[float, Callable[[float], float]]:
    """Where a level starts by these doses, and by how much it is lower after so many days.

    With a correction it goes to its target; what is asked on the way is that it strays no further from its planned
    path than the band is wide about the target.
    """
    kept_back = sum(
        (whole.per_day.value - part.per_day.value) / volume
        for whole, part in zip(needs, to_give, strict=True)
        if whole.kind == found.kind
    )
    given = next((part.per_day.value / volume for part in to_give if part.kind == found.kind), 0.0)
    # What water changes bring beyond all that is to be given raises the level.
    kept_back -= max(found.brought - given, 0.0)
    start = next((each.target for each in to_correct if each.kind == found.kind), found.level.value)
    return start, lambda days: kept_back * days + fallen_short(steps, found.kind, volume, days)


def _notes(
    water: WaterFindings,
    found: Outlook,
    at_hand: Sequence[Supply],
    hold: Phase,
    held: Mapping[str, float],
    waits: Waits | None,
) -> Iterator[NoteId]:
    if found.is_above and not waits:
        yield "above-band"
    rates = {dose.supply: dose.rate.estimate.value for dose in hold.doses}
    is_given = any("calcium" in supply.gives and rates.get(supply.id) for supply in at_hand)
    is_missing = any(each.kind == "calcium" for each in hold.to_tell)
    if (is_given or is_missing) and held.get("calcium", 0.0) < LEAST_DAYS:
        yield "read-calcium"
    unexplained, uptake = water.calcification.unexplained, water.uptake.get("alkalinity")
    if isinstance(unexplained, Finding) and _clearly_not_nothing(unexplained.estimate, uptake):
        yield "alkalinity-not-explained"
    if any(pump.odds >= EXPLAINED for pump in water.calcification.pumps):
        yield "measure-pump" if to_measure(water) else "pump-lacks"
    if any(supply.how == "reactor" and "alkalinity" not in supply.gives for supply in at_hand):
        yield "weak-effluent"
    if any(dose.how == "pump" and 0.0 < dose.rate.estimate.value < LEAST_PUMPED for dose in hold.doses):
        yield "dilute"
    if any(s.how == "top-off" and rates.get(s.id, 0.0) >= s.most * (1.0 - 1e-9) for s in at_hand):
        yield "needs-more-evaporation"


def _unused(system: System, log: SystemLog, at_hand: Sequence[Supply]) -> Iterator[NoteId]:
    listed = {id for id, solution in system.solutions.items() if solution.compound == LIMEWATER}
    if any(not was_used(log, id) for id in listed - {supply.id for supply in at_hand}):
        yield "limewater-unused"


def _clearly_not_nothing(part: Estimate, uptake: Uptake | None) -> bool:
    """Whether it is clearly not zero: beyond its own interval, and a tenth of the demand at least."""
    if uptake is None or not isinstance(uptake.per_day, Finding):
        return False
    return part.is_clear and abs(part.value) > 0.1 * abs(uptake.per_day.estimate.value)
