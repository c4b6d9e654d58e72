"""Corals as a keeper would write them, made in code."""

from collections.abc import Sequence
from datetime import date, timedelta

from generator.records.coral import Arrival, Coral, Cutting, Health, Placement, Size, Weighing
from generator.records.source import Source
from generator.records.system import Levels, Place, System, Water
from generator.units.quantity import Quantity, parse_quantity

START = date(2025, 1, 1)


def here(line: int = 1) -> Source:
    return Source("corals/tide-lantern.yaml", line)


def day(number: int) -> date:
    return START + timedelta(days=number)


def cm(text: str | float) -> Quantity:
    return parse_quantity(text if isinstance(text, str) else f"{text:.1f} cm", "length")


def grams(value: float, decimals: int = 2) -> Quantity:
    return parse_quantity(f"{value:.{decimals}f} g", "mass")


def coral(id: str = "tide-lantern", **more) -> Coral:
    written = {
        "source": here(),
        "id": id,
        "name": id,
        "species": "Acropora millepora",
        "line": id,
        "form": "corymbose",
        "arrival": Arrival(source=here(2), at=START, how="trade"),
        **more,
    }
    return Coral(**written)


def placed(number: int = 0, system: str = "lagoon", place: str | None = "ledge", **where) -> Placement:
    return Placement(source=here(10 + number), since=day(number), system=system, place=place, **where)


def sizes(days: Sequence[int], lengths: Sequence[float], widths: Sequence[float] | None = None) -> tuple[Size, ...]:
    return tuple(
        Size(source=here(100 + index), at=day(at), length=cm(length), width=cm(widths[index] if widths else length))
        for index, (at, length) in enumerate(zip(days, lengths, strict=True))
    )


def weighing(at: int, mass: str, resolution: str = "0.01 g", holder: str | None = None, **more) -> Weighing:
    return Weighing(
        source=here(200 + at),
        at=day(at),
        mass=parse_quantity(mass, "mass"),
        resolution=parse_quantity(resolution, "mass"),
        holder=parse_quantity(holder, "mass") if holder else None,
        **more,
    )


def cut(at: int, pieces: int = 3, mass: float | None = None, healed: int | None = None) -> Cutting:
    return Cutting(
        source=here(300 + at),
        at=day(at),
        frags=pieces,
        mass=grams(mass, 1) if mass is not None else None,
        healed=day(healed) if healed is not None else None,
    )


def noted(at: int, what: str, **more) -> Health:
    return Health(source=here(400 + at), at=day(at), what=what, **more)


def place(x: float, y: float, width: float, depth: float, **more) -> Place:
    return Place(source=here(500), x=cm(x), y=cm(y), width=cm(width), depth=cm(depth), **more)


def par(value: float) -> Quantity:
    return parse_quantity(f"{value:.0f} PAR", "light")


def system(id: str = "lagoon", photoperiod: str | None = "10 h", **places: Place) -> System:
    nothing = Levels(source=here(600))
    return System(
        source=here(600),
        id=id,
        name=id,
        water=Water(
            source=here(601), volume=parse_quantity("400 L", "volume"), uncertainty=parse_quantity("10 L", "volume")
        ),
        low=nothing,
        high=nothing,
        places=places,
        photoperiod=parse_quantity(photoperiod, "duration") if photoperiod else None,
    )
