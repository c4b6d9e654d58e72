"""Trades and corals made by hand, short enough to be read in a test."""

from datetime import date

from generator.records.coral import Arrival, Coral, Cutting, Health, Size
from generator.records.fields import Money
from generator.records.source import Source
from generator.records.trade import Given, Owed, Received, State, Trade, Travel, WaterTemperature
from generator.units.quantity import Quantity, parse_quantity

AT = Source("trades/2026-03-01-swap.yaml")


def q(text: str, kind: str) -> Quantity:
    return parse_quantity(text, kind)


def money(text: str | None) -> Money | None:
    return Money(float(text.split(" ")[0]), text.split(" ")[1]) if text else None


def gave(coral: str, pieces: int = 1, worth: str | None = None, whole: bool = False) -> Given:
    return Given(source=AT, coral=coral, frags=pieces, worth=money(worth), whole=whole)


def got(coral: str, worth: str | None = None) -> Received:
    return Received(source=AT, coral=coral, worth=money(worth))


def owed(by: str, what: str, due: str | None = None, settled: str | None = None) -> Owed:
    return Owed(
        source=AT,
        by=by,
        what=what,
        due=date.fromisoformat(due) if due else None,
        settled=date.fromisoformat(settled) if settled else None,
    )


def trade(at: str, partner: str = "marta", **more: object) -> Trade:
    return Trade(source=AT, id=f"{at}-{partner}", at=date.fromisoformat(at), partner=partner, **more)


def travel(duration: str = "50 min", **more: object) -> Travel:
    return Travel(source=AT, duration=q(duration, "duration"), **more)


def on_the_way(after: str, water: str, air: str | None = None) -> WaterTemperature:
    return WaterTemperature(
        source=AT, after=q(after, "duration"), water=q(water, "temperature"), air=q(air, "temperature") if air else None
    )


def state(days: int, state: str, **more: object) -> State:
    return State(source=AT, days=days, condition=state, **more)


def coral(
    id: str, came: str = "2025-01-01", length: str | None = "8 cm", line: str = "lantern", **more: object
) -> Coral:
    here = Source(f"corals/{id}.yaml")
    sizes = (Size(source=here, at=date.fromisoformat(came), length=q(length, "length")),) if length else ()
    arrival = Arrival(source=here, at=date.fromisoformat(came), how=more.pop("how", "gift"))
    given = {"source": here, "id": id, "name": id, "species": "Acropora millepora", "line": line, "form": "branching"}
    return Coral(**{**given, "arrival": arrival, "sizes": sizes, **more})


def cutting(at: str, into: tuple[str, ...] = (), healed: str | None = None) -> Cutting:
    return Cutting(
        source=AT, at=date.fromisoformat(at), frags=1, into=into, healed=date.fromisoformat(healed) if healed else None
    )


def health(at: str, what: str, until: str | None = None) -> Health:
    return Health(source=AT, at=date.fromisoformat(at), what=what, until=date.fromisoformat(until) if until else None)
