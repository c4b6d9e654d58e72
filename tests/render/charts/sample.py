"""Half a year of one system's water as findings, made up by formula: what a chart is given to draw."""

import math
import random
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from generator.reckon.finding import CannotTell, Finding
from generator.reckon.water.findings import (
    Calcification,
    DoubtfulReading,
    Forecast,
    LedgerLine,
    Noise,
    TrackPoint,
    Uptake,
    WaterFindings,
)
from generator.records.log import Event, Reading, SystemLog, WaterChange
from generator.records.source import Source
from generator.records.system import Kit, Levels, System, Water
from generator.render.base.numbers import Display
from generator.units.kinds import MEQ_PER_DKH
from generator.units.quantity import Estimate, Quantity

AS_OF = datetime(2026, 11, 22, 22, 59, 59, tzinfo=UTC)
DISPLAY = Display(ZoneInfo("Europe/Lisbon"), {"alkalinity": "dKH"})
DAYS = 200


def at(days_before: float) -> datetime:
    """A moment some days before the record's end."""
    return AS_OF - timedelta(days=days_before)


def line(number: int) -> Source:
    """A line of the log."""
    return Source("logs/lagoon/2026-11.yaml", number)


def dkh(value: float) -> Quantity:
    """An alkalinity as a keeper writes it."""
    return Quantity(value, "dKH", "alkalinity", 1)


def system() -> System:
    """A system with a kit that repeats to 0.15 dKH and a band to hold."""
    here = Source("systems/lagoon.yaml")
    return System(
        source=here,
        id="lagoon",
        name="Lagoon",
        water=Water(source=here, volume=Quantity(400, "L", "volume"), uncertainty=Quantity(15, "L", "volume")),
        low=Levels(source=here, alkalinity=dkh(7.5), nitrate=Quantity(1, "mg/L", "nitrate")),
        high=Levels(source=here, alkalinity=dkh(8.6), nitrate=Quantity(10, "mg/L", "nitrate")),
        kits={
            "drop": Kit(source=here, precision=Levels(source=here, alkalinity=Quantity(0.15, "dKH", "alkalinity", 2)))
        },
    )


def level(days_before: float) -> float:
    """dKH: steady, then falling once more is taken up than is dosed."""
    return 8.2 + 0.2 * math.sin(days_before / 17) - (0.05 * (20 - days_before) if days_before < 20 else 0)


def taken_up(days_before: float) -> float:
    """dKH a day: a step of 0.6 when the colony arrived."""
    return 1.0 + 0.1 * math.sin(days_before / 29) + 0.6 / (1 + math.exp((days_before - 22) / 1.2))


def findings() -> WaterFindings:
    """Alkalinity with uptake, forecast and one doubtful reading; nitrate only read, once below what the kit sees."""
    chance = random.Random(7)
    readings = []
    day = float(DAYS)
    while day > 0:
        value = level(day) + chance.gauss(0, 0.15) + (1.1 if 60 < day <= 63 else 0)
        written = dkh(round(value, 1))
        reading = Reading(source=line(len(readings) + 1), at=at(day), kind="alkalinity", value=written, kit="drop")
        readings.append((reading, written.canonical()))
        day -= chance.choice([1, 1, 2, 3])
    for number in range(0, DAYS, 9):
        written = Quantity(round(4 + chance.gauss(0, 1), 1), "mg/L", "nitrate", 1, below=number == 36)
        nitrate = Reading(source=line(900 + number), at=at(number + 0.5), kind="nitrate", value=written)
        readings.append((nitrate, written.canonical()))
    wild = max(readings, key=lambda pair: pair[1] if pair[0].kind == "alkalinity" else 0)
    uptake = _uptake(DoubtfulReading(wild[0], wild[1], _estimate(2.9, 0.1), 5.2), len(readings))
    return WaterFindings(
        system="lagoon",
        as_of=AS_OF,
        latest={},
        ledger=_ledger(),
        uptake={"alkalinity": uptake},
        calcification=Calcification(*[CannotTell("few", "more")] * 3),
        forecasts={"alkalinity": _forecast()},
        trends={},
        readings=tuple(readings),
    )


def log() -> SystemLog:
    """Fortnightly water changes, an arrival and a new lamp."""
    changes = tuple(
        WaterChange(source=line(500 + day), at=at(day), volume=Quantity(40, "L", "volume"), mix=None)
        for day in range(DAYS, 0, -14)
    )
    events = (
        Event(source=line(700), at=at(110.3), what="light", coral=None, text="new lamp"),
        Event(source=line(701), at=at(22.2), what="arrival", coral=None, text="the big one"),
    )
    return SystemLog(system="lagoon", water_changes=changes, events=events)


def _estimate(value: float, half: float, unit: str = "meq/L") -> Estimate:
    return Estimate(value, value - half, value + half, unit)


def _uptake(doubt: DoubtfulReading, count: int) -> Uptake:
    track = tuple(
        TrackPoint(
            at(day),
            _estimate(level(day) * MEQ_PER_DKH, 0.035),
            _estimate(taken_up(day) * MEQ_PER_DKH, 0.04 + 0.06 * math.exp(-((day - 22) ** 2) / 20)),
        )
        for day in range(DAYS, -1, -1)
    )
    now = Finding(track[-1].per_day, "uptake")
    noise = Noise(0.05, "declared")
    return Uptake("alkalinity", now, now, track, (doubt,), noise, noise, count, at(0))


def _forecast() -> Forecast:
    track = tuple((at(-day), _estimate((level(0) - 0.05 * day) * MEQ_PER_DKH, 0.035 + 0.02 * day)) for day in range(29))
    return Forecast("alkalinity", "low", at(-2), at(-5), at(-9), 28.0, track)


def _ledger() -> tuple[LedgerLine, ...]:
    pump = [
        LedgerLine(at(d), at(d - 1), "alkalinity", 1.0 * MEQ_PER_DKH, "meq/L", "pump", line(800 + (d < 90)), "soda")
        for d in range(DAYS, 0, -1)
    ]
    doses = [
        LedgerLine(at(d), at(d), "alkalinity", 0.25 * MEQ_PER_DKH, "meq/L", "dose", line(850 + d), "soda")
        for d in (140, 137, 40, 12, 9)
    ]
    changes = [
        LedgerLine(at(d), at(d), "alkalinity", 0.06, "meq/L", "water-change", line(500 + d), "")
        for d in range(DAYS, 0, -14)
    ]
    return (*pump, *doses, *changes)
