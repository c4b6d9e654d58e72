"""A water's years: the middle reading of each week, and the skeleton laid down."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from statistics import median

from generator.reckon.water.calcification import laid_down
from generator.reckon.water.findings import WaterFindings
from generator.units.kinds import WATER_KINDS
from generator.units.quantity import Estimate


@dataclass(frozen=True, slots=True)
class YearOfWater:
    """One year of one water.

    `weeks` are, by quantity, the weeks (from 0) in which it was read, each with the median of its readings in the
    canonical unit. `grams` of CaCO3 are those that alkalinity tells, from the moment `since` on.
    """

    weeks: Mapping[str, tuple[tuple[int, float], ...]]
    grams: Estimate | None = None
    since: datetime | None = None


def years_of(found: WaterFindings, litres: float, zone: tzinfo) -> dict[int, YearOfWater]:
    """Each year in which something was read, on the keeper's own clock."""
    read: dict[int, dict[str, dict[int, list[float]]]] = {}
    for reading, value in found.readings:
        day = reading.at.astimezone(zone).date()
        if reading.kind in WATER_KINDS:
            weeks = read.setdefault(day.year, {}).setdefault(reading.kind, {})
            weeks.setdefault((day - date(day.year, 1, 1)).days // 7, []).append(value)
    track = found.uptake["alkalinity"].track if "alkalinity" in found.uptake else ()
    years = {}
    for year, kinds in read.items():
        begin, end = (datetime(each, 1, 1, tzinfo=zone) for each in (year, year + 1))
        weeks_of = {
            kind: tuple((week, median(of)) for week, of in sorted(weeks.items())) for kind, weeks in kinds.items()
        }
        grams = laid_down(track, litres, begin, end)
        years[year] = YearOfWater(weeks_of, grams, max(begin, track[0].at) if grams else None)
    return years
