"""A plan's days, one after the other: coral grows, water flows, the keeper tests and forgets."""

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from msgspec import Struct, field

from generator.units.kinds import MEQ_PER_DKH
from tests.simulator.growth import uptake_per_litre
from tests.simulator.keeper import Keeper, Moment
from tests.simulator.plan import CoralPlan, JournalPlan, SystemPlan
from tests.simulator.reef import Reef
from tests.simulator.tank import IONS, Tank
from tests.simulator.truth import DayTruth, SystemTruth, Truth


class Run(Struct):
    """What the days brought: logs by system, measured corals, and the truth."""

    logs: dict[str, list[Moment]] = field(default_factory=dict)
    measured: dict[str, list[tuple[date, float]]] = field(default_factory=dict)
    weighed: dict[str, list[tuple[date, float]]] = field(default_factory=dict)
    truth: Truth = field(default_factory=Truth)


class _Join(Struct, frozen=True):
    at: datetime
    coral: str
    grams: float
    part_of_day: float


class _System(Struct):
    plan: SystemPlan
    tank: Tank
    keeper: Keeper
    truth: SystemTruth


def run(plan: JournalPlan, seed: int) -> Run:
    """Let a plan happen. The same plan and seed give the same run."""
    streams = np.random.SeedSequence(seed).spawn(len(plan.systems) + 1)
    reef = Reef(plan.corals, tuple(system.id for system in plan.systems), np.random.default_rng(streams[0]))
    systems = [
        _begin(plan, system, np.random.default_rng(s)) for system, s in zip(plan.systems, streams[1:], strict=True)
    ]
    found = Run()
    happenings = _happenings(plan)
    for number in range(plan.days):
        day = plan.first + timedelta(days=number)
        came = reef.begin(day, first=number == 0)
        masses = reef.mass.copy()
        grams = reef.lay_down(day)
        _measure(plan, day, number, masses, grams, came, found)
        joins = _joins(plan, day, grams)
        for one, total in zip(systems, reef.of_systems(grams), strict=True):
            if (one.plan.starts or plan.first) <= day:
                happening = happenings.get((day, one.plan.id), [])
                _day(one, day, float(total), happening, joins.get(one.plan.id, []))
    for one in systems:
        found.logs[one.plan.id] = _joined(one.keeper.log)
        found.truth.systems[one.plan.id] = one.truth
        found.truth.unlogged += one.keeper.unlogged
        tank = one.tank
        one.truth.ledger = {
            kind: {
                "start": tank.started_with[kind] * tank.litres,
                "end": tank.levels[kind] * tank.litres,
                "paid": tank.paid[kind],
                "taken": tank.taken[kind],
                "changed": tank.changed[kind],
                "reacted": tank.reacted[kind],
            }
            for kind in IONS
        }
    return found


def _happenings(plan: JournalPlan) -> dict[tuple[date, str], list[dict[str, str]]]:
    """What can change demand, by day and system, as the log will have it."""
    found: dict[tuple[date, str], list[dict[str, str]]] = {}
    corals = {coral.id: coral for coral in plan.corals}
    for coral in plan.corals:
        events = [(day, system, "arrival", coral.id) for day, system in coral.moves]
        parent = corals.get(coral.parent or "")
        if coral.how != "cutting":
            events.append((coral.arrives, coral.system, "arrival", coral.id))
        elif parent is not None:
            events.append((coral.arrives, parent.system_on(coral.arrives), "cutting", parent.id))
        if coral.leaves is not None and coral.end in ("died", "lost"):
            events.append((coral.leaves, coral.system_on(coral.leaves), "loss", coral.id))
        for day, system, what, id in events:
            event = {"what": what, "coral": id}
            if day > plan.first and event not in found.setdefault((day, system), []):
                found[(day, system)].append(event)
    return found


def _joins(plan: JournalPlan, day: date, grams: np.ndarray) -> dict[str, list[_Join]]:
    """Who comes in the course of a day, by system: when, who, and what it lays down in what is left of the day."""
    found: dict[str, list[_Join]] = {}
    for place, coral in enumerate(plan.corals):
        if coral.arrives == day and coral.at is not None:
            at = datetime.combine(day, coral.at)
            found.setdefault(coral.system, []).append(_Join(at, coral.id, float(grams[place]), coral.first_day))
    return found


def _joined(log: list[Moment]) -> list[Moment]:
    """A log in order of time, things done at the same minute as one entry."""
    found: list[Moment] = []
    for moment in sorted(log, key=lambda one: one.at):
        if found and found[-1].at == moment.at and not found[-1].parts.keys() & moment.parts.keys():
            found[-1] = Moment(moment.at, found[-1].parts | moment.parts)
        else:
            found.append(moment)
    return found


def _begin(plan: JournalPlan, system: SystemPlan, rng: np.random.Generator) -> _System:
    litres = system.true_litres or float(rng.normal(system.litres, system.uncertainty))
    keeper = Keeper(system, plan.faults, rng, plan.daily_tests.get(system.id, ()))
    return _System(system, Tank(system, litres, zone=ZoneInfo(plan.zone)), keeper, SystemTruth(litres))


def _day(one: _System, day: date, grams: float, events: list[dict[str, str]], joins: list[_Join]) -> None:
    """One system's day, in order of the clock."""
    keeper, tank = one.keeper, one.tank
    tank.grams_per_day = grams - sum(join.grams for join in joins)
    _wear(one, day)
    if not one.truth.days:
        tank.now = tank.days(datetime.combine(day, time()))
        at = datetime.combine(day, time(6, 40))
        tank.run_to(at)
        keeper.set_up(at, tank, grams)
        keeper.next_change = day + timedelta(days=int(keeper.rng.integers(3, 12)))
    else:
        keeper.notice_wear(day, tank)
    doings: list[tuple[datetime, str]] = []
    if keeper.tests_on(day):
        doings.append((keeper.clock(day), "test"))
    if keeper.next_change and day >= keeper.next_change and not keeper.away(day):
        doings.append((datetime.combine(day, time(int(keeper.rng.integers(14, 17)), 30)), "change"))
    if any(when == day for when, _, _ in one.plan.by_hand):
        doings.append((datetime.combine(day, time(12, 15)), "dose"))
    doings += [(at, "reactor") for at, _ in one.plan.reactor_steps if at.date() == day]
    does = {
        "test": keeper.test,
        "change": keeper.change_water,
        "dose": keeper.dose_by_hand,
        "reactor": keeper.turn_reactor,
    }
    at_times = {join.coral: join.at for join in joins}
    doings += [(join.at, join.coral) for join in joins]
    for at, doing in sorted(doings):
        tank.run_to(at)
        if doing in does:
            does[doing](at, tank)
        else:
            tank.grams_per_day += sum(join.grams / join.part_of_day for join in joins if join.coral == doing)
    at = datetime.combine(day, time(16, 45))
    for event in events:
        if event["what"] == "arrival" and event["coral"] in at_times:
            keeper.log.append(Moment(at_times[event["coral"]], {"event": event}))
            continue
        keeper.log.append(Moment(at, {"event": event}))
        at += timedelta(minutes=10)
    tank.run_to(datetime.combine(day + timedelta(days=1), time()))
    uptake = uptake_per_litre(grams, tank.litres)
    one.truth.days.append(
        DayTruth(
            day,
            grams,
            uptake["alkalinity"] / MEQ_PER_DKH,
            uptake["calcium"],
            uptake["magnesium"],
            {kind: level / (MEQ_PER_DKH if kind == "alkalinity" else 1.0) for kind, level in tank.levels.items()},
        )
    )


def _wear(one: _System, day: date) -> None:
    for wear in one.keeper.faults.wear:
        if wear.system == one.plan.id:
            worn = (day - wear.begins).days / max(1, (wear.renewed - wear.begins).days)
            one.tank.delivery[wear.solution] = 1.0 - (1.0 - wear.left) * worn if 0.0 <= worn < 1.0 else 1.0


def _measure(
    plan: JournalPlan, day: date, number: int, masses: np.ndarray, grams: np.ndarray, came: list[CoralPlan], found: Run
) -> None:
    """Keep the true mass of those whose turn it is to be measured or weighed, and all at month's end; watch some."""
    month_ends = (day + timedelta(days=1)).day == 1
    arrived = {coral.id for coral in came}
    for place, coral in enumerate(plan.corals):
        if grams[place] == 0.0:
            continue
        turn = number + (place * 7) % max(1, coral.measured_every)
        if coral.id in arrived or (coral.measured_every and turn % coral.measured_every == 0):
            found.measured.setdefault(coral.id, []).append((day, float(masses[place])))
        if coral.weighed_every and (turn % coral.weighed_every == 0):
            found.weighed.setdefault(coral.id, []).append((day, float(masses[place])))
        if month_ends or number == plan.days - 1:
            found.truth.masses.setdefault(coral.id, []).append((day, float(masses[place])))
        if coral.id in plan.watched:
            found.truth.grams.setdefault(coral.id, {})[day] = float(grams[place])
