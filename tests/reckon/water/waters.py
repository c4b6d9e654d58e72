"""A water's readings, written as a keeper writes them."""

from msgspec.structs import replace

from generator.records.log import Reading, SystemLog
from generator.records.system import Kit, System
from generator.units.quantity import parse_quantity
from tests.reckon.water.journals import here, levels, moment, system

BENCH = {
    "alkalinity": "0.15 dKH",
    "calcium": "8 mg/L",
    "magnesium": "25 mg/L",
    "potassium": "5 mg/L",
    "nitrate": "0.8 mg/L",
    "phosphate": "0.005 mg/L",
    "salinity": "0.12 psu",
    "temperature": "0.1 °C",
    "ph": "0.03 NBS",
}


def reef(**band: tuple[str, str]) -> System:
    """A system with a kit for everything, and bands (low, high) for what is named."""
    return replace(
        system(),
        kits={"bench": Kit(source=here(), precision=levels(**BENCH))},
        low=levels(**{kind: ends[0] for kind, ends in band.items()}),
        high=levels(**{kind: ends[1] for kind, ends in band.items()}),
    )


def read(day: float, **values: str) -> list[Reading]:
    """What was read at one moment, each on a line of its own."""
    return [
        Reading(
            source=here(round(day * 1000) + number),
            at=moment(day),
            kind=kind,
            value=parse_quantity(text, kind),
            kit="bench",
        )
        for number, (kind, text) in enumerate(values.items())
    ]


def log(*readings: list[Reading]) -> SystemLog:
    """A log of nothing but readings."""
    every = sorted((reading for of_moment in readings for reading in of_moment), key=lambda reading: reading.at)
    return SystemLog(system="lagoon", readings=tuple(every))
