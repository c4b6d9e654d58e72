"""What a journal knows in the tests of the shorthand: two waters, a few corals, on a Sunday evening."""

from datetime import datetime
from zoneinfo import ZoneInfo

from generator.shorthand.finish import ALL, Terms
from generator.shorthand.scanner import folded_text
from generator.units.quantity import parse_quantity

ZONE = ZoneInfo("Atlantic/Azores")


def _names(*ids: str, **others: str) -> dict[str, str]:
    return {folded_text(name): id for name, id in {**{id: id for id in ids}, **others}.items()}


KNOWN = Terms(
    now=datetime(2026, 11, 22, 21, 30, tzinfo=ZONE),
    units={
        "alkalinity": "dKH",
        "calcium": "mg/L",
        "magnesium": "mg/L",
        "potassium": "mg/L",
        "nitrate": "mg/L",
        "phosphate": "mg/L",
        "salinity": "psu",
        "temperature": "°C",
        "ph": "NBS",
        "length": "cm",
        "mass": "g",
        "volume": "L",
        "rate": "mL/day",
        "light": "PAR",
    },
    names={
        "solution": _names("soda", "chloride", "magnesium"),
        "mix": _names("new-water"),
        "kit": _names("bench", "lab"),
        "coral": {"all": ALL, "all corals": ALL, "everything": ALL}
        | _names("tide-lantern-1", "kelp-witch-1", "kelp-witch-10", **{"Drowned Orchard": "drowned-orchard-1"}),
        "place": _names("bommie", "sand-flat", "crest", "ledge"),
        "system": _names("lagoon", "fore-reef"),
        "partner": _names("tamsin-orlebrook", Tamsin="tamsin-orlebrook"),
    },
    volume=parse_quantity("480 L", "volume"),
    stocks={"soda": parse_quantity("5 L", "volume")},
    homes={ALL: "lagoon", "tide-lantern-1": "fore-reef", "kelp-witch-1": "lagoon"},
    places={"lagoon": ("bommie", "sand-flat", "ledge"), "fore-reef": ("crest", "ledge")},
    steps={"tide-lantern-1": parse_quantity("0.05 kg", "mass")},
)
