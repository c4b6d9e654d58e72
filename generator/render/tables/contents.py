"""What each table of the downloads holds, of water, corals, lines, trades and trips; and what each column means."""

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from generator.reckon.arrivals.observed import Observed
from generator.reckon.attention.trades import PREDICTED
from generator.reckon.dosing.plan import Plan
from generator.reckon.finding import Finding
from generator.reckon.growth.spots import light_ends
from generator.records.fields import Money
from generator.render.base.words import Words
from generator.render.found import Basis
from generator.render.tables.cells import Row
from generator.render.tables.files import JOURNAL, Column, DataTable, ends, table
from generator.units.quantity import coverage_factor


@table("at datetime, quantity, value number by unit, below boolean, unit, kit, flagged boolean, source", by="stretches")
def readings(basis: Basis, stretch: str) -> Iterator[Row]:
    """What was read, as it was written."""
    found = basis.found.stretches[stretch]
    doubtful = {doubt.reading.source for of_kind in found.doubtful.values() for doubt in of_kind}
    for reading, _ in found.readings:
        told, flagged = reading.value, reading.source in doubtful
        written = Decimal(f"{told.value:z.{told.digits}f}"), told.below, told.unit
        yield reading.at, reading.kind, *written, reading.kit, flagged, reading.source


@table(
    "at datetime, quantity, per_day number by unit, low90 number by unit, high90 number by unit, unit,"
    "predicted boolean",
    by="stretches",
    kind_by_kind=True,
)
def uptake(basis: Basis, stretch: str) -> Iterator[Row]:
    """Uptake after each reading."""
    unread = basis.found.predicted.get(stretch.rpartition("/")[0], ())
    since = min((each.event.at for each in unread), default=None)
    for kind, track in basis.found.stretches[stretch].tracks.items():
        for point in track:
            predicted = since is not None and point.at > since and kind in PREDICTED
            per_day = basis.display.estimate(kind, point.per_day.at_least_zero(), of_level=False)
            yield point.at, kind, *ends(per_day), f"{per_day.unit}/day", predicted


@table(
    "at datetime, quantity, value number by unit, days_ahead number in days,"
    "predicted number by unit, low90 number by unit, high90 number by unit, inside boolean, unit",
    by="stretches",
)
def predictions(basis: Basis, stretch: str) -> Iterator[Row]:
    """Each reading beside what was predicted of it."""
    for each in basis.found.stretches[stretch].replayed:
        kind = each.reading.kind
        predicted, value = basis.display.estimate(kind, each.predicted, True), basis.display.level(kind, each.value)
        yield each.reading.at, kind, value, each.days, *ends(predicted), each.inside, predicted.unit


@table("at datetime, quantity, change number by unit, unit, cause, source", by="stretches", kind_by_kind=True)
def ledger(basis: Basis, stretch: str) -> Iterator[Row]:
    """What came into the water and went out of it."""
    for line in basis.found.stretches[stretch].ledger:
        change = basis.display.change(line.kind, line.change), basis.display.unit(line.kind)
        yield line.at, line.kind, *change, line.cause, line.source


@table(
    "phase integer, days number in days, supply, how, now number by unit,"
    "per_day number by unit, low90 number by unit, high90 number by unit, unit",
    by="systems",
)
def dosing(basis: Basis, system: str) -> Iterator[Row]:
    """What each supply gives in each phase of the plan."""
    plan = basis.found.dosing[system].plan if system in basis.found.dosing else None
    for number, phase in enumerate(plan.phases if isinstance(plan, Plan) else (), 1):
        for dose in phase.doses:
            yield number, phase.days, dose.supply, dose.how, dose.now, *ends(dose.rate.estimate), "L/day"


@table("at datetime, quantity, why, odds number", by="systems")
def next_tests(basis: Basis, system: str) -> Iterator[Row]:
    """When to read what next, and why."""
    for test in basis.found.water[system].next_tests.values() if system in basis.found.water else ():
        yield test.at, test.kind, test.why, test.odds


@table(
    "at datetime, coral, what,"
    "predicted number by unit, predicted_low90 number by unit, predicted_high90 number by unit,"
    "measured number by unit, measured_low90 number by unit, measured_high90 number by unit,"
    "smallest_change number by unit, chance number, unit",
    by="systems",
)
def changes(basis: Basis, system: str) -> Iterator[Row]:
    """Large changes among the corals."""
    show, unit = basis.display, f"{basis.display.unit('alkalinity')}/day"
    for change in basis.found.changes.get(system, ()):
        seen = change.observed if isinstance(change.observed, Observed) else None
        rise = seen.rise.estimate if seen and isinstance(seen.rise, Finding) else None
        both = (ends(each and show.estimate("alkalinity", each, of_level=False)) for each in (change.step, rise))
        told = (show.change("alkalinity", seen.matters), seen.chance) if seen else (None, None)
        yield change.at, change.coral, change.what, *(cell for cells in both for cell in cells), *told, unit


@table("id, name, species, line, parent, form, arrived date, how, living boolean, system, place, source", by="corals")
def corals(basis: Basis, id: str) -> Iterator[Row]:
    """Every coral, and where it stands."""
    coral = basis.view.corals[id]
    stands = coral.placement_on(basis.today)
    names = coral.id, coral.name, coral.species, coral.line, coral.parent, coral.form
    here = (stands.system, stands.place) if stands else (None, None)
    yield *names, coral.arrival.at, coral.arrival.how, coral.lives_on(basis.today), *here, coral.source


@table(
    "coral, at date, what, value number by unit, low90 number by unit, high90 number by unit, unit, source", by="corals"
)
def growth(basis: Basis, id: str) -> Iterator[Row]:
    """What was measured of each coral, and the rates by it."""
    if id not in basis.found.corals:
        return
    found = basis.found.corals[id]
    growth = found.growth
    for weight in growth.weighed:
        yield id, weight.at, weight.kind, *_measured(weight.grams, weight.standard), "g", weight.source
    for point in growth.radii:
        yield id, point.at, "diameter", *_measured(2.0 * point.value, 2.0 * point.standard), "cm", point.source
    for what, answer in (
        (f"{growth.specific_of}-rate", growth.specific),
        (f"{growth.specific_of}-rate-ahead", growth.specific_ahead),
        ("radial-extension", growth.radial_extension),
        ("radial-extension-ahead", found.extension),
    ):
        if isinstance(answer, Finding):
            yield id, growth.as_of, what, *ends(answer.estimate), answer.estimate.unit, None


def _measured(value: float, standard: float) -> Row:
    half = coverage_factor() * standard
    return value, max(0.0, value - half), value + half


@table("line, coral, parent, depth integer, fate, system, since date, until date, depends_on")
def lines(basis: Basis, _: str) -> Iterator[Row]:
    """Each coral in the tree of its line."""
    risks = {risk.line: risk.by for risk in basis.found.at_risk}
    for line, family in basis.found.families.items():
        for each in family.pieces.values():
            place = each.coral, each.parent, each.depth, each.fate, each.system
            yield line, *place, each.since, each.until, risks.get(line)


@table(
    "system, part, place, coral, x number in cm, y number in cm, length number in cm, width number in cm,"
    "par_low number in µmol/m²/s, par_high number in µmol/m²/s,"
    "leaves_earliest date, leaves_likely date, leaves_latest date, first_neighbour, touches_likely date"
)
def places(basis: Basis, _: str) -> Iterator[Row]:
    """Each coral in its place, the edge it leaves it by, and the first neighbour it meets."""
    for id, room in basis.found.rooms.items():
        for each in sorted(room.standing, key=lambda each: (each.place, each.coral.id)):
            coral, body = each.coral.id, each.spread.body
            light = light_ends(basis.view.systems[id].places[each.place])
            leaves = next((leaving.leaves for leaving in room.leaving if leaving.coral == coral), None)
            days = (leaves.earliest, leaves.likely, leaves.latest) if leaves else (None, None, None)
            meets = next((meeting for meeting in room.meetings if coral in (meeting.one, meeting.other)), None)
            other = (meets.other if meets.one == coral else meets.one, meets.touch.likely) if meets else (None, None)
            where = id, each.part, each.place, coral, each.x, each.y, body.length, body.width
            yield *where, *((light[0], light[-1]) if light else (None, None)), *days, *other


@table(
    "by, group, arrivals integer, lost integer, days integer in days, at_risk integer,"
    "survival number in %, low90 number in %, high90 number in %"
)
def survival(basis: Basis, _: str) -> Iterator[Row]:
    """Survival of each group of arrivals at each horizon."""
    for group in basis.found.survival:
        for each in group.horizons:
            share = ends(each.survival.estimate if isinstance(each.survival, Finding) else None)
            yield group.by, group.name, group.arrivals, group.lost, each.days, each.at_risk, *share


@table(
    "trade, at date, partner, what, by, coral, frags integer, text, worth number by currency, currency,"
    "due date, settled date, source"
)
def trades(basis: Basis, _: str) -> Iterator[Row]:
    """What each line of a trade moved: a coral, money or a promise."""

    def worth(money: Money | None) -> Row:
        return (Decimal(f"{money.amount:.2f}"), money.currency) if money else (None, None)

    for trade in basis.view.trades.values():
        first = trade.id, trade.at, basis.view.partner_names.get(trade.partner)
        for given in trade.gave:
            frags = None if given.whole else given.frags
            yield *first, "gave", None, given.coral, frags, None, *worth(given.worth), None, None, given.source
        for got in trade.received:
            yield *first, "received", None, got.coral, None, None, *worth(got.worth), None, None, got.source
        for what, money in (("paid", trade.paid), ("was_paid", trade.was_paid)):
            if money is not None:
                yield *first, what, None, None, None, None, *worth(money), None, None, trade.source
        for owed in trade.owed:
            promised = owed.by, owed.coral, None, owed.what, *worth(owed.worth), owed.due, owed.settled
            yield *first, "owed", *promised, owed.source


@table(
    "trade, at date, container, water_litres number in L, hours number in h, kilometres number in km,"
    "start_celsius number in °C, end_celsius number in °C, air_celsius number in °C,"
    "condition_0, condition_1, condition_14, condition_60, slime boolean, broken_off integer, went, source"
)
def travel(basis: Basis, _: str) -> Iterator[Row]:
    """What each trip was like, and how the corals were after it."""
    for trip in basis.found.trade.trips:
        trade = basis.view.trades[trip.trade]
        read = sorted(trade.travel.temperatures if trade.travel else (), key=lambda each: each.after.canonical())
        water = [each.water.canonical() for each in read]
        airs = [each.air.canonical() for each in read if each.air is not None]
        warm = water[0] if water else None, water[-1] if water[1:] else None, sum(airs) / len(airs) if airs else None
        first = trade.id, trade.at, trip.container, trip.litres, trip.hours, trip.km
        yield *first, *warm, *trip.states[:4], trip.slime, trip.broken_off, trip.went, trip.source


# In the order of the data page.
TABLES = (
    readings, uptake, predictions, ledger, dosing, next_tests, changes,
    corals, growth, lines, places, survival, trades, travel,
)  # fmt: skip


def meaning(words: Words, table: str, column: str) -> str:
    """What a column means, in words."""
    told = f"data.tables.{table}.columns.{column}"
    return words(told if words.has(told) else f"data.every.{column}")


def data_package(basis: Basis, words: Words) -> dict[str, Any]:
    """The descriptor of the files: a tabular Data Package (Open Knowledge, Data Package 1.0, Table Schema 1.0)."""
    settings = basis.view.settings
    return {
        "profile": "data-package",
        "name": "corallite",
        "title": settings.title,
        "description": words("data.description"),
        "created": basis.found.as_of.astimezone(basis.display.zone).isoformat(timespec="seconds"),
        "resources": [
            *(_resource(table, id, words) for table in TABLES for id in table.files(basis)),
            {
                "profile": "data-resource",
                "name": "journal",
                "path": JOURNAL.removeprefix("data/"),
                "title": words("data.tables.journal.name"),
                "description": words("data.tables.journal.text"),
                "format": "json",
                "mediatype": "application/json",
                "encoding": "utf-8",
            },
        ],
    }


def _resource(table: DataTable, system: str, words: Words) -> dict[str, Any]:
    return {
        "profile": "tabular-data-resource",
        "name": f"{table.name}.{system}" if system else table.name,
        "path": table.address.format(system=system).removeprefix("data/"),
        "title": words(f"data.tables.{table.name}.name"),
        "description": words(f"data.tables.{table.name}.text"),
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "schema": {"fields": [_field(table, column, words) for column in table.columns], "missingValues": [""]},
    }


def _field(table: DataTable, column: Column, words: Words) -> dict[str, Any]:
    field = {"name": column.name, "type": column.type, "description": meaning(words, table.name, column.name)}
    if column.type == "datetime":
        field["format"] = "%Y-%m-%dT%H:%M:%S%z"
    # Table Schema has no word for units, and allows words of one's own.
    named = {"unit": column.unit, "unitField": column.unit_in}
    return {**field, **{key: value for key, value in named.items() if value}}
