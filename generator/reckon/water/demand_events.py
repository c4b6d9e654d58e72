"""Moments at which a system's demand may have changed: corals that came, went or were cut, and logged events."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import TypeVar

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from generator.reckon.water.account import DemandStep
from generator.reckon.water.deliveries import CALCIUM_PER_MEQ
from generator.reckon.water.ledger import in_days
from generator.records.coral import Coral
from generator.records.log import Event, SystemLog
from generator.records.source import Source

K = TypeVar("K")
# By how much demand may change (share of all, one standard deviation) when the log names an event
# but nothing tells the coral's size; assumptions of ours, wide enough to let the readings speak.
UNSIZED = {"arrival": 0.5, "cutting": 0.3, "loss": 0.3, "light": 0.3, "equipment": 0.1, "feeding": 0.1, "other": 0.0}
# How much of a coral a cutting takes, where nothing tells; an assumption of ours.
CUT_AWAY = 0.5
# So long before and after the same day in Greenwich a day begins and ends somewhere on Earth.
_EASTERNMOST, _WESTERNMOST = timedelta(hours=14), timedelta(hours=12)
# What is taken up with each meq of alkalinity, by kind in its canonical unit.
PER_MEQ = {"alkalinity": 1.0, "calcium": CALCIUM_PER_MEQ}
# How long a newcomer may take to settle, days: an assumption of ours. Whether it does, the readings tell.
ARRIVAL_SETTLES = 14.0
# An event of a smaller share is lost in the ordinary drift; to allow for a step would only widen intervals.
LEAST_SHARE = 0.04
# Small corals that move or leave on one day count by their sum for so long. A choice of ours.
SMALL_ONES_COUNT = timedelta(days=60)


class DemandEvent(Struct, frozen=True):
    """Something that may have changed demand by about `share` of what it was.

    `day` is the keeper's own; `timed` is false where nobody wrote the hour, then `at` is how that day began.
    `step` and `step_error` are what it is predicted to do to the uptake of alkalinity (meq/L a day, one standard
    deviation; negative: less is taken up) where something tells that; then `share` does not count. It comes
    about in full within `settles` days (0: at once). `stays` is the share of what was cut that stands on in the same
    water, and still takes up what it did.
    """

    at: datetime
    share: float
    what: str
    coral: str | None
    source: Source
    day: date
    timed: bool = True
    step: float | None = None
    step_error: float = 0.0
    settles: float = 0.0
    stays: float = 0.0


def demand_events(system: str, log: SystemLog, corals: Iterable[Coral], as_of: datetime) -> tuple[DemandEvent, ...]:
    """Every event up to `as_of` large enough to matter, in order of time.

    A coral's share is its footprint (ellipse seen from above) among all that stood in the system just
    before: one as wide as all the others doubles the demand when it comes and halves it when it goes. A
    logged event about a coral gives the hour of what the coral's own file dates. Days begin and end in
    the zone of `as_of`, which is the keeper's. A frag cut from a coral of the same water is no arrival: the water has
    what it had. All cuttings of a coral on one day are one event, from the first of them on.
    """
    zone = as_of.tzinfo or UTC
    here = [coral for coral in corals if any(placement.system == system for placement in coral.placements)]
    found: list[DemandEvent] = []
    timed: set[Event] = set()
    changed = {coral.id: tuple(_changes(coral, system)) for coral in here}
    room = _Room(here, (day for changes in changed.values() for day, _, _ in changes), system)
    frags = {coral.id: coral for coral in here if _cut_here(coral, here, system)}
    cut_away: dict[tuple[str, date], float] = {}
    together: dict[tuple[date, str], float] = defaultdict(float)
    for coral in here:
        for day, what, source in changed[coral.id]:
            own = {on for on, each, _ in changed[coral.id] if each == what}
            logged = [event for event in _logged(log, coral.id, what, day, own, zone) if event not in timed]
            timed.update(logged)
            at = logged[0].at if logged else datetime.combine(day, time(0), zone).astimezone(UTC)
            if what == "arrival" and coral.id in frags and day == coral.arrival.at:
                continue
            share, stays = room.share(coral.id, day, what), 0.0
            if what == "cutting":
                cut_away[coral.id, day] = share
                stays = _stays(coral, day, frags.values())
                share *= 1.0 - stays
            settles = ARRIVAL_SETTLES if what == "arrival" else 0.0
            if what == "loss" or (what == "arrival" and any(each.since < day for each in coral.placements)):
                together[day, what] += share
            happened = DemandEvent(at, share, what, coral.id, source, day, bool(logged), settles=settles)
            found.append(replace(happened, stays=stays))
    known = {(each.coral, each.what, each.day) for each in found}
    for event in log.events:
        day = event.at.astimezone(zone).date()
        if event in timed or (event.coral, event.what, day) in known:
            continue
        found.append(DemandEvent(event.at, UNSIZED[event.what], event.what, event.coral, event.source, day))
        if event.coral:
            known.add((event.coral, event.what, day))

    def counts(event: DemandEvent) -> bool:
        recent = as_of - event.at <= SMALL_ONES_COUNT and event.coral is not None
        share = cut_away[str(event.coral), event.day] if event.stays else event.share
        return share >= LEAST_SHARE or (recent and together[event.day, event.what] >= LEAST_SHARE)

    return tuple(sorted((event for event in found if event.at <= as_of and counts(event)), key=lambda e: e.at))


def demand_steps(events: Iterable[DemandEvent], kind: str) -> list[DemandStep]:
    """The events as steps that the uptake of a quantity may take.

    A predicted step counts for alkalinity, and for calcium by the proportions of CaCO3; magnesium goes by share.
    """
    found = []
    for event in events:
        at, factor = in_days(event.at), PER_MEQ.get(kind)
        if event.stays and event.share == 0.0 and (event.step is None or factor is None):
            continue
        if event.step is None or factor is None:
            found.append(DemandStep(at, share=event.share, settles=event.settles, only_more=event.what == "arrival"))
        else:
            found.append(DemandStep(at, 0.0, event.step, event.step_error, event.settles).scaled(factor))
    return found


def _logged(log: SystemLog, coral: str, what: str, day: date, own: Collection[date], zone: tzinfo) -> list[Event]:
    """What the log has of what a coral's file dates: all of that day, or one event if the day is another zone's.

    That one is not of another day that the file dates such a change to (`own`).
    """
    midnight = datetime.combine(day, time(0), UTC)
    earliest, latest = midnight - _EASTERNMOST, midnight + timedelta(days=1) + _WESTERNMOST
    of_coral = [event for event in log.events if event.coral == coral and event.what == what]
    near = [event for event in of_coral if earliest <= event.at < latest]
    dated = [(event, event.at.astimezone(zone).date()) for event in near]
    return [event for event, on in dated if on == day] or [event for event, on in dated if on not in own][:1]


def _changes(coral: Coral, system: str) -> Iterable[tuple[date, str, Source]]:
    stood = None
    for placement in sorted(coral.placements, key=lambda p: p.since):
        if placement.system == system and stood != system:
            yield placement.since, "arrival", placement.source
        elif placement.system != system and stood == system:
            yield placement.since, "loss", placement.source
        stood = placement.system
    for day, source in {cutting.at: cutting.source for cutting in reversed(coral.cuttings)}.items():
        standing = coral.placement_on(day)
        if standing and standing.system == system:
            yield day, "cutting", source
    if coral.end and stood == system:
        yield coral.end.at, "loss", coral.end.source


def _cut_here(coral: Coral, here: Iterable[Coral], system: str) -> bool:
    """Whether a coral is a frag of one that stands in the same water on the day it was cut."""
    if coral.parent is None or coral.arrival.how not in ("cutting", "broken-off"):
        return False
    both = [each.placement_on(coral.arrival.at) for each in (coral, *(one for one in here if one.id == coral.parent))]
    return len(both) > 1 and all(each is not None and each.system == system for each in both)


def _stays(coral: Coral, day: date, frags: Iterable[Coral]) -> float:
    """The share (0 to 1) of the frags cut from a coral on a day that stand in the same water."""
    cut = sum(cutting.frags for cutting in coral.cuttings if cutting.at == day)
    stay = sum(frag.parent == coral.id and frag.arrival.at == day for frag in frags)
    return min(stay / cut, 1.0) if cut else 0.0


def _stood(coral: Coral, system: str) -> list[tuple[date, bool]]:
    """From each day on that its place may change, whether a coral stands in a system."""
    gone = [coral.end.at] if coral.end else []
    days = sorted({coral.arrival.at, *gone, *(placement.since for placement in coral.placements)})
    return [(day, (on := coral.placement_on(day)) is not None and on.system == system) for day in days]


class _Room:
    """The footprints (cm², NaN: never measured) of corals on some days, and which stood in a system (corals, days).

    A size counts until the next one, the first from before it was written.
    """

    def __init__(self, here: Sequence[Coral], days: Iterable[date], system: str) -> None:
        self.row, self.column = _places(coral.id for coral in here), _places(sorted({*days}))
        on = np.array([day.toordinal() for day in self.column])
        shape = len(here), len(on)
        self.areas, self.stood = np.full(shape, np.nan), np.zeros(shape, dtype=np.bool_)
        for row, coral in enumerate(here):
            if sizes := sorted(coral.sizes, key=lambda size: size.at):
                last = np.searchsorted([size.at.toordinal() for size in sizes], on, "right") - 1
                self.areas[row] = np.array([size.footprint for size in sizes])[np.maximum(last, 0)]
            told = _stood(coral, system)
            last = np.searchsorted([day.toordinal() for day, _ in told], on, "right") - 1
            self.stood[row] = np.array([stands for _, stands in told])[last] & (last >= 0)

    def share(self, coral: str, day: date, what: str) -> float:
        """The share (0 to 1) of all footprints before an event that it adds or removes.

        A footprint that was not measured counts as the median.
        """
        row, areas, others = self.row[coral], self.areas[:, self.column[day]], self.stood[:, self.column[day]].copy()
        others[row] = True
        known = np.sort(areas[others & ~np.isnan(areas)])
        areas = np.where(np.isnan(areas), known[len(known) // 2] if len(known) else 1.0, areas)
        others[row] = False
        own, total = float(areas[row]), float(areas[others].sum())
        if what == "arrival":
            return min(own / total, 1.0) if total else 1.0
        return own / (own + total) * (CUT_AWAY if what == "cutting" else 1.0)


def _places(of: Iterable[K]) -> dict[K, int]:
    return {each: place for place, each in enumerate(of)}
