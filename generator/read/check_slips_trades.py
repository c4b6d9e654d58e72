"""Slips in trades: the way, its water and temperatures, worth, days far off; and containers."""

from collections.abc import Iterator
from statistics import median

from generator.read.draft import Draft
from generator.read.plausible import ENOUGH, implausible, impossible_water, likely, times, warn, within
from generator.records.fields import Money
from generator.records.problem import Problem
from generator.records.settings import Container
from generator.records.source import Source
from generator.units.quantity import Quantity

# The longest journey a coral is sent on, and the fastest by road; common practice, no source.
LONGEST_JOURNEY, _FASTEST = 96.0, 200.0  # h, km/h
# How fast water in a container can warm or cool, and the air it goes through; common practice, no source.
_A_STEP, _AIR = 10.0, (-40.0, 55.0)  # °C
# The least share of a container that is water, so that a coral is covered; common practice, no source.
_COVERED = 0.02
# How long a promise runs; common practice, no source.
_PROMISED = 5 * 366  # days
_WORTH = 10.0


def litres_of(container: Container) -> float:
    """What a container's sides hold, L."""
    return container.length.canonical() * container.width.canonical() * container.height.canonical() / 1000.0


def containers_of_another_size(draft: Draft) -> Iterator[Problem]:
    """A container whose volume and sides do not agree."""
    for id, container in draft.settings.containers.items() if draft.settings else ():
        box = litres_of(container)
        if container.volume and not 0.15 * box <= container.volume.canonical() <= 1.1 * box:
            wrong = f"'{id}' has {container.volume}, but its sides make {box:.3g} L"
            cure = likely(container.volume, within(0.5 * box, box), otherwise="correct its volume or its sides")
            yield warn(draft.at(container.source, "volume"), "unusual-volume", wrong, cure)
        if container.mass and not 0.005 * box <= container.mass.canonical() / 1000.0 <= max(1.0, box):
            wrong = f"'{id}', which holds {box:.3g} L, does not weigh {container.mass} when empty"
            cure = likely(container.mass, within(20.0 * box, 300.0 * box))
            yield warn(draft.at(container.source, "mass"), "unusual-mass", wrong, cure)


def unusual_journeys(draft: Draft) -> Iterator[Problem]:
    """A journey of many days, one faster than a car, or a coral hardly covered by water."""
    for travel in draft.journeys():
        hours = travel.duration.canonical()
        speed = travel.distance.canonical() / hours if travel.distance and hours else 0.0
        if hours > LONGEST_JOURNEY:
            wrong = f"a journey of {travel.duration} is longer than a coral is sent on"
            yield warn(
                draft.at(travel.source, "duration"),
                "unusual-journey",
                wrong,
                likely(travel.duration, within(0.1, 48.0)),
            )
        elif travel.distance and speed > _FASTEST and travel.distance.canonical() < 500.0:
            wrong = f"{travel.distance} in {travel.duration} is {speed:.0f} km/h"
            km = travel.distance.canonical()
            cure = likely(travel.duration, within(km / 100.0, km / 4.0), otherwise="correct one of the two")
            yield warn(draft.at(travel.source, "duration"), "unusual-journey", wrong, cure)
        container = draft.settings.containers.get(travel.container or "") if draft.settings else None
        if container and travel.water and 0.0 < travel.water.canonical() < _COVERED * litres_of(container):
            box = litres_of(container)
            wrong = f"{travel.water} of water hardly covers the bottom of '{travel.container}', which holds {box:.3g} L"
            cure = likely(travel.water, within(0.2 * box, box))
            yield warn(draft.at(travel.source, "water"), "unusual-journey", wrong, cure, container.source)


def temperatures_on_the_way(draft: Draft) -> Iterator[Problem]:
    """Water or air on the way that cannot be, or a leap between two measurements."""
    for travel in draft.journeys():
        before: Quantity | None = None
        for measured in travel.temperatures:
            source = draft.at(measured.source, "water")
            if impossible_water(measured.water):
                continue
            if found := implausible(measured.water):
                yield warn(source, "unusual-temperature", *found)
                continue
            if before and abs(measured.water.canonical() - before.canonical()) > _A_STEP:
                wrong = f"the water goes from {before} to {measured.water} on the way"
                at = before.canonical()
                yield warn(source, "unusual-temperature", wrong, likely(measured.water, within(at - 4.0, at + 4.0)))
            before = measured.water
            air = measured.air
            if air and not _AIR[0] <= air.canonical() <= _AIR[1]:
                wrong = f"air of {air} is not possible on the way"
                cure = likely(air, within(0.0, 35.0), 18.0)
                yield warn(draft.at(measured.source, "air"), "unusual-temperature", wrong, cure)


def unusual_worths(draft: Draft) -> Iterator[Problem]:
    """A worth ten times the usual one of the same currency."""
    worths: list[tuple[Source, Money]] = []
    for trade in draft.trades.values():
        for name in ("gave", "received", "owed"):
            for index, given in enumerate(getattr(trade, name)):
                if given.worth:
                    worths.append((draft.at(trade.source, name, index, "worth"), given.worth))
    for source, worth in worths:
        others = [w.amount for at, w in worths if w.currency == worth.currency and at != source and w.amount]
        if len(others) < ENOUGH:
            continue
        middle = median(others)
        if worth.amount >= _WORTH * middle and worth.amount >= 4.0 * max(others):
            ratio = times(worth.amount, middle)
            wrong = f"{worth.amount:g} {worth.currency} is {ratio} the usual {middle:g} {worth.currency}"
            yield warn(source, "unusual-worth", wrong, f"did you mean {worth.amount / 10.0:g} {worth.currency}?")


def promises_for_another_age(draft: Draft) -> Iterator[Problem]:
    """A promise due in many years."""
    for trade in draft.trades.values():
        for index, owed in enumerate(trade.owed):
            if owed.due and (owed.due - trade.at).days > _PROMISED:
                years = (owed.due - trade.at).days / 365.25
                wrong = f"due on {owed.due}, {years:.0f} years after the trade on {trade.at}"
                yield warn(draft.at(trade.source, "owed", index, "due"), "unusual-day", wrong, "check the year")
