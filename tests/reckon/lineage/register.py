"""A register of corals and trades, made in code."""

from datetime import date, timedelta

from generator.records.coral import Arrival, Coral, End, Origin, Placement
from generator.records.source import Source
from generator.records.trade import Given, Received, Trade, Travel
from generator.units.quantity import parse_quantity

START = date(2024, 1, 1)


def here(line: int = 1, file: str = "corals/one.yaml") -> Source:
    return Source(file, line)


def day(number: int) -> date:
    return START + timedelta(days=number)


def piece(
    id: str,
    parent: str | None = None,
    *,
    line: str = "ember",
    at: int = 0,
    how: str | None = None,
    partner: str | None = None,
    trade: str | None = None,
    system: str | None = "lagoon",
    ended: tuple[int, str] | None = None,
    to: str | None = None,
    source_code: str | None = None,
) -> Coral:
    source = Source(f"corals/{id}.yaml")
    return Coral(
        source=source,
        id=id,
        name=id,
        species="Acropora millepora",
        line=line,
        form="branching",
        parent=parent,
        arrival=Arrival(
            source=source, at=day(at), how=how or ("cutting" if parent else "trade"), partner=partner, trade=trade
        ),
        origin=Origin(source=source, source_code=source_code) if source_code else None,
        placements=(Placement(source=source, since=day(at), system=system),) if system else (),
        end=End(source=source, at=day(ended[0]), how=ended[1], partner=to) if ended else None,
    )


def trade(
    id: str,
    partner: str,
    at: int = 0,
    gave: tuple[tuple[str, int], ...] = (),
    received: tuple[str, ...] = (),
    hours: float | None = None,
) -> Trade:
    source = Source(f"trades/{id}.yaml")
    return Trade(
        source=source,
        id=id,
        at=day(at),
        partner=partner,
        gave=tuple(Given(source=source, coral=coral, frags=pieces) for coral, pieces in gave),
        received=tuple(Received(source=source, coral=coral) for coral in received),
        travel=Travel(source=source, duration=parse_quantity(f"{hours} h", "duration")) if hours is not None else None,
    )
