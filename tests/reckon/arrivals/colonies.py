"""Corals and colonies by a few words each."""

from datetime import date

from generator.reckon.arrivals.colony import Colony, Mass
from generator.reckon.finding import Finding
from generator.reckon.growth.measurements import Body
from generator.records.coral import Arrival, Coral, Placement, Size, Weighing
from generator.records.source import Source
from generator.records.system import Water
from generator.units.quantity import Estimate, parse_quantity

DAY = date(2026, 9, 18)


def here(line: int = 1) -> Source:
    return Source("corals/broad.yaml", line)


def water(litres: float = 640.0, uncertainty: float = 0.0) -> Water:
    return Water(
        source=here(),
        volume=parse_quantity(f"{litres} L", "volume"),
        uncertainty=parse_quantity(f"{uncertainty} L", "volume"),
    )


def broad(scale: float = 1.0, mass: float | None = 3400.0) -> Colony:
    """A broad Acropora, its three measures times `scale`."""
    return Colony(
        genus="Acropora",
        form="tabling",
        body=Body(length=36.0 * scale, width=33.0 * scale, height=14.0 * scale),
        mass=None if mass is None else Mass(grams=mass, resolution=50.0),
    )


def coral(
    name: str,
    size: tuple[float, float, float] | None = (20.0, 18.0, 10.0),
    species: str = "Acropora millepora",
    form: str = "corymbose",
    system: str = "lagoon",
    mass: float | None = None,
) -> Coral:
    sizes = ()
    if size is not None:
        length, width, height = (parse_quantity(f"{side} cm", "length") for side in size)
        sizes = (Size(source=here(2), at=DAY, length=length, width=width, height=height),)
    weighings = ()
    if mass is not None:
        grams, step = parse_quantity(f"{mass} g", "mass"), parse_quantity("1 g", "mass")
        weighings = (Weighing(source=here(3), at=DAY, mass=grams, resolution=step),)
    return Coral(
        source=here(),
        id=name,
        name=name,
        species=species,
        line=name,
        form=form,
        arrival=Arrival(source=here(), at=date(2026, 1, 1), how="unknown"),
        placements=(Placement(source=here(), since=date(2026, 1, 1), system=system),),
        sizes=sizes,
        weighings=weighings,
    )


def measured(grams: float, half_width: float) -> Finding:
    """A system's calcification, g/day, with half of its 90 % interval."""
    return Finding(Estimate(grams, grams - half_width, grams + half_width, "g/day"), "calcification", (here(9),))
