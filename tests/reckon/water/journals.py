"""One system's records, made from simulated water or by hand."""

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta

from generator.reckon.water.analysis import gather
from generator.reckon.water.calcification import calcification
from generator.reckon.water.demand_events import demand_events
from generator.reckon.water.findings import Calcification, Uptake
from generator.reckon.water.uptake import uptake
from generator.records.coral import Coral
from generator.records.log import Dose, Event, PumpRate, Reading, SystemLog, WaterChange
from generator.records.source import Source
from generator.records.system import Kit, Levels, Solution, System, Water
from generator.units.kinds import MEQ_PER_DKH, TAKEN_UP
from generator.units.quantity import parse_quantity
from tests.simulator.water import CALCIUM_PER_DKH, WaterRun

START = datetime(2026, 1, 1, tzinfo=UTC)
VOLUME = 400.0
# Strong enough that a mL a day in 400 L is a thousandth of a dKH a day, so that rates keep their digits.
STRENGTH = 1000.0


def here(line: int = 1) -> Source:
    return Source("logs/lagoon/2026-01.yaml", line)


def moment(days: float) -> datetime:
    return START + timedelta(days=days)


def levels(**values: str) -> Levels:
    return Levels(source=here(), **{kind: parse_quantity(text, kind) for kind, text in values.items()})


def system(uncertainty: str = "0 L", kit: str = "0.15 dKH", calcium_kit: str = "10 mg/L") -> System:
    """A system of 400 L dosed with one balanced solution, its bands and its kits."""
    calcium = STRENGTH * CALCIUM_PER_DKH
    return System(
        source=here(),
        id="lagoon",
        name="Lagoon",
        water=Water(
            source=here(), volume=parse_quantity("400 L", "volume"), uncertainty=parse_quantity(uncertainty, "volume")
        ),
        low=levels(alkalinity="7.5 dKH", calcium="400 mg/L"),
        high=levels(alkalinity="9.0 dKH", calcium="460 mg/L"),
        kits={"drops": Kit(source=here(), precision=levels(alkalinity=kit, calcium=calcium_kit))},
        solutions={
            "balanced": Solution(source=here(), declared=levels(alkalinity="1000 dKH", calcium=f"{calcium:.4f} mg/L")),
            "soda": Solution(source=here(), declared=levels(alkalinity="1000 dKH")),
        },
        mixes={"sea": levels(alkalinity="8.0 dKH", calcium="440 mg/L")},
    )


def readings(kind: str, unit: str, times, values, first_line: int = 100) -> list[Reading]:
    return [
        Reading(
            source=here(first_line + index),
            at=moment(float(at)),
            kind=kind,
            value=parse_quantity(f"{value:.3f} {unit}", kind),
            kit="drops",
        )
        for index, (at, value) in enumerate(zip(times, values, strict=True))
    ]


def log_of(run: WaterRun, events: tuple[Event, ...] = (), with_calcium: bool = True) -> SystemLog:
    """A simulated run as a keeper's log of the system above."""
    read = readings("alkalinity", "dKH", run.alkalinity.times, run.alkalinity.values)
    if with_calcium:
        read += readings("calcium", "mg/L", run.calcium.times, run.calcium.values, 1000)
    litres = VOLUME / STRENGTH
    return SystemLog(
        system="lagoon",
        readings=tuple(sorted(read, key=lambda r: r.at)),
        doses=tuple(
            Dose(
                source=here(2000),
                at=moment(at),
                solution="balanced",
                amount=parse_quantity(f"{d * litres:.6f} L", "volume"),
            )
            for at, d in zip(run.inflow.dose_times, run.inflow.dose_amounts, strict=True)
        ),
        pumps=tuple(
            PumpRate(
                source=here(3000),
                at=moment(at),
                solution="balanced",
                rate=parse_quantity(f"{r * litres:.6f} L/day", "rate"),
            )
            for at, r in zip(run.inflow.rate_times, run.inflow.rates, strict=True)
        ),
        water_changes=tuple(
            WaterChange(
                source=here(4000), at=moment(at), volume=parse_quantity(f"{f * VOLUME:.3f} L", "volume"), mix="sea"
            )
            for at, f in zip(run.water_changes.times, run.water_changes.fractions, strict=True)
        ),
        events=events,
    )


def grams_per_day(uptake_dkh: float) -> float:
    """CaCO3 that an uptake of alkalinity (dKH a day) lays down in the system, g a day."""
    return uptake_dkh * MEQ_PER_DKH * VOLUME * 0.050043


def taken_up(
    of: System, log: SystemLog, at: datetime, corals: Iterable[Coral] = (), past: bool = False
) -> tuple[dict[str, Uptake], Calcification]:
    """What `analyse_water` says of uptake and calcification, for half of its time: nothing is foreseen or planned."""
    log = log.until(at)
    evidence, found = gather(of, log, demand_events(of.id, log, corals, at), at)
    tracks = (evidence["alkalinity"], evidence["calcium"], found["alkalinity"], found["calcium"])
    uptakes = {kind: uptake(evidence[kind], found[kind], of.water, at, past) for kind in TAKEN_UP}
    return uptakes, calcification(*tracks, of.water, at, past)
