"""Waters in stretches: what is told of one for good, and all of them joined to what is found of a water now."""

from collections.abc import Callable, Mapping
from datetime import date, datetime
from typing import TYPE_CHECKING, Any, NamedTuple

from generator.door.door import Door, later
from generator.reckon.analysis.steps import Logs
from generator.records.journal import Journal
from generator.records.log import SystemLog

if TYPE_CHECKING:
    from generator.reckon.arrivals.informed import Informed
    from generator.reckon.water.demand_events import DemandEvent
    from generator.reckon.water.estimate import Past, Stretch
    from generator.reckon.water.findings import WaterFindings
    from generator.reckon.water.replay import YearOfWater

with later():
    from generator.reckon.water import analysis as _water
    from generator.reckon.water import estimate as _estimate
    from generator.reckon.water import replay as _replay

# The name of the stretch of a water that is not told for good yet.
_LATELY = "lately"


class Stretches(NamedTuple):
    """The stretches of all waters by system and name: those told for good, and what comes after these, `lagoon/lately`.

    `ids` names all of them and `told` gives one, by what is found of each water now. `with_past` joins what is found of
    one water now to its stretches told for good; `log` is its log since these.
    """

    ids: Callable[[], list[str]]
    told: "Callable[[str, Mapping[str, WaterFindings]], Past]"
    with_past: "Callable[[str, WaterFindings], WaterFindings]"
    log: Callable[[str], SystemLog]


def tell_stretches(
    journal: Journal, logs: Logs, events: "Callable[[str], tuple[Informed, ...]]", today: Callable[[], date], door: Door
) -> Stretches:
    """The stretches of all waters. `events` are all that may have changed a system's demand."""
    zone = journal.settings.time_zone

    def of_system(id: str) -> "dict[str, Stretch]":
        stretches = _estimate.stretches_told(journal.log_of(id), today(), zone)
        return {f"{each.year}" if each.whole else f"{each.year}, first half": each for each in stretches}

    def named(key: str) -> "tuple[str, Stretch, datetime]":
        id, _, name = key.rpartition("/")
        stretch = stretches(id)[name]
        return id, stretch, stretch.moments(zone)[1] + _estimate.SETTLES

    def log_of(key: str) -> SystemLog:
        id, stretch, at = named(key)
        return _estimate.counting_for_stretch(logs.until(id, at), stretch, zone)

    def events_of(key: str) -> "tuple[DemandEvent, ...]":
        id, _, at = named(key)
        return tuple(each.event for each in events(id) if each.event.at <= at)

    def tell(key: str) -> "Past":
        id, stretch, _ = named(key)
        return _water.stretch_told(journal.systems[id], log(key), events_until(key), stretch, zone)

    def begin(id: str) -> datetime | None:
        own = [*stretches(id).values()]
        return own[-1].moments(zone)[1] if own else None

    def with_past(id: str, found: "WaterFindings") -> "WaterFindings":
        since = begin(id)
        return _estimate.with_past(found, [told[f"{id}/{name}"] for name in stretches(id)], since) if since else found

    def one(key: str, found: "Mapping[str, WaterFindings]") -> "Past":
        id, _, name = key.rpartition("/")
        return _estimate.told_since(found[id], begin(id)) if name == _LATELY else told[key]

    def ids() -> list[str]:
        return [f"{id}/{name}" for id in journal.systems for name in stretches(id)]

    def with_lately() -> list[str]:
        return [*told, *(f"{id}/{_LATELY}" for id in journal.systems)]

    stretches = door.step("stretches told", of_system, keep=False)
    log = door.step("log of stretch", log_of, keep=False)
    events_until = door.step("events of stretch", events_of, keep=False)
    told = door.each("past stretch", ids, tell)
    recent = door.step("recent log", lambda id: _estimate.counting(journal.log_of(id), today(), zone), keep=False)
    return Stretches(with_lately, one, with_past, recent)


def tell_whole_waters(
    journal: Journal, stretches: Stretches, water: "Mapping[str, WaterFindings]", door: Door
) -> dict[str, Mapping[str, Any]]:
    """Each water with all its stretches, these alone, and each year of each water, by system and year.

    A new reading changes none of the stretches and years before.
    """
    systems = journal.systems
    whole = door.each("whole water", lambda: systems, lambda id: stretches.with_past(id, water[id]), shared=True)

    def years_of(id: str) -> "dict[int, YearOfWater]":
        return _replay.years_of(whole[id], systems[id].water.volume.canonical(), journal.settings.time_zone)

    years = door.each("years", lambda: systems, years_of)
    each_year = door.each(
        "year of water",
        lambda: [f"{id}/{year}" for id in systems for year in years[id]],
        lambda key: years[key.partition("/")[0]][int(key.partition("/")[2])],
        keep=False,
    )
    parts = door.each("stretch of water", stretches.ids, lambda key: stretches.told(key, water), shared=True)
    return {"whole_water": whole, "stretches": parts, "years": each_year}
