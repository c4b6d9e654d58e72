"""Checks of trades, travel, posts and photos, and slips in them and in containers."""

import re
from collections.abc import Iterator
from datetime import timedelta
from statistics import median

from generator.read.draft import Draft
from generator.read.plausible import ENOUGH, as_written, implausible, impossible_water, likely, times, warn, within
from generator.records.coral import Coral
from generator.records.fields import Money
from generator.records.journal import Entry
from generator.records.settings import Container
from generator.records.source import Problem, Source
from generator.records.trade import Trade, Travel
from generator.units.quantity import Quantity, convert, parse_quantity

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


def _like(container: Container) -> Quantity:
    """A volume in the unit in which its keeper thinks of it: as written, or by the unit of its sides."""
    return container.volume or parse_quantity("1 gal" if container.length.unit in ("in", "ft") else "1 L", "volume")


def _speed(km_an_hour: float, distance: Quantity) -> str:
    """A speed in the unit of the distance that was written."""
    if distance.unit == "mi":
        return f"{convert(km_an_hour, 'distance', 'km', 'mi'):.0f} mi/h"
    return f"{km_an_hour:.0f} km/h"


def volumes_that_do_not_fit_the_container(draft: Draft) -> Iterator[Problem]:
    """A container whose volume and sides do not agree."""
    for id, container in draft.settings.containers.items() if draft.settings else ():
        box = litres_of(container)
        if container.volume and not (fits := within(0.15 * box, 1.1 * box))(container.volume):
            wrong = f"'{id}' has {container.volume}, but its sides make {as_written(box, container.volume)}"
            cure = likely(container.volume, fits, box, otherwise="correct its volume or its sides")
            yield warn(draft.at(container.source, "volume"), "unusual-volume", wrong, cure)
        if container.mass and not (fits := within(5.0 * box, 1000.0 * max(1.0, box)))(container.mass):
            wrong = (
                f"'{id}', which holds {as_written(box, _like(container))}, does not weigh {container.mass} when empty"
            )
            yield warn(draft.at(container.source, "mass"), "unusual-mass", wrong, likely(container.mass, fits))


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
                likely(travel.duration, within(0.0, 48.0)),
            )
        elif travel.distance and speed > _FASTEST and travel.distance.canonical() < 500.0:
            wrong = f"{travel.distance} in {travel.duration} is {_speed(speed, travel.distance)}"
            fits = within(travel.distance.canonical() / _FASTEST, LONGEST_JOURNEY)
            cure = likely(travel.duration, fits, otherwise="correct one of the two")
            yield warn(draft.at(travel.source, "duration"), "unusual-journey", wrong, cure)
        container = draft.settings.containers.get(travel.container or "") if draft.settings else None
        if container and travel.water and 0.0 < travel.water.canonical() < _COVERED * litres_of(container):
            box = litres_of(container)
            holds = as_written(box, _like(container))
            wrong = f"{travel.water} of water hardly covers the bottom of '{travel.container}', which holds {holds}"
            cure = likely(travel.water, within(_COVERED * box, box), box)
            yield warn(draft.at(travel.source, "water"), "unusual-journey", wrong, cure, container.source)


def temperatures_on_the_way(draft: Draft) -> Iterator[Problem]:
    """Water or air on the way that cannot be, or a leap between two measurements."""
    for travel in draft.journeys():
        before: Quantity | None = None
        for measured in travel.temperatures:
            if impossible_water(measured.water):
                continue
            if found := implausible(measured.water):
                yield warn(draft.at(measured.source, "water"), "unusual-temperature", *found)
                continue
            if before and abs(measured.water.canonical() - before.canonical()) > _A_STEP:
                wrong = f"the water goes from {before} to {measured.water} on the way"
                at = before.canonical()
                cure = likely(measured.water, within(at - 4.0, at + 4.0))
                yield warn(draft.at(measured.source, "water"), "unusual-temperature", wrong, cure)
            before = measured.water
            air = measured.air
            if air and not _AIR[0] <= air.canonical() <= _AIR[1]:
                wrong = f"air of {air} is not possible on the way"
                cure = likely(air, within(*_AIR), before.canonical())
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


def promises_due_in_many_years(draft: Draft) -> Iterator[Problem]:
    """A promise due in many years."""
    for trade in draft.trades.values():
        for index, owed in enumerate(trade.owed):
            if owed.due and (owed.due - trade.at).days > _PROMISED:
                years = (owed.due - trade.at).days / 365.25
                wrong = f"due on {owed.due}, {years:.0f} years after the trade on {trade.at}"
                yield warn(draft.at(trade.source, "owed", index, "due"), "unusual-day", wrong, "check the year")


_A_LIFETIME = 36_500  # days; more would leave the calendar


def before_the_partner(draft: Draft) -> Iterator[Problem]:
    """A trade with someone from before they became a partner."""
    for trade in draft.trades.values():
        partner = draft.partners.get(trade.partner)
        if partner and partner.since and trade.at < partner.since:
            wrong = f"{trade.at} is before '{partner.id}' became a partner on {partner.since}"
            also = draft.at(partner.source, "since")
            yield Problem(draft.at(trade.source, "at"), "before-partner", wrong, "correct one of the two", also)


def empty_trades(draft: Draft) -> Iterator[Problem]:
    """A trade in which nothing was given, received, paid or owed."""
    for trade in draft.trades.values():
        if not (trade.gave or trade.received or trade.paid or trade.was_paid or trade.owed):
            wrong = "the trade is empty"
            yield warn(trade.source, "empty-trade", wrong, "add gave, received, paid or owed")


def days_that_disagree(draft: Draft) -> Iterator[Problem]:
    """A coral's arrival that disagrees with its trade, a promise kept before it was made, a trade in the future."""
    for coral in draft.corals.values():
        trade = draft.trades.get(coral.arrival.trade or "")
        if trade is None:
            continue
        if coral.arrival.at != trade.at:
            source, also = draft.at(coral.source, "arrival", "at"), draft.at(trade.source, "at")
            wrong = f"'{coral.id}' came on {coral.arrival.at}, but its trade was on {trade.at}"
            yield warn(source, "trade-day", wrong, "correct one of the two", also)
        if coral.arrival.partner and coral.arrival.partner != trade.partner:
            source, also = draft.at(coral.source, "arrival", "partner"), draft.at(trade.source, "partner")
            wrong = f"'{coral.id}' came from '{coral.arrival.partner}', but its trade was with '{trade.partner}'"
            yield Problem(source, "trade-partner", wrong, "correct one of the two", also)
    for trade in draft.trades.values():
        if trade.at > draft.today:
            wrong = f"{trade.at} is in the future; today is {draft.today}"
            remedy = f"make it a plan: write plans/{trade.id[11:] or trade.id}.yaml with 'date: {trade.at}'"
            yield Problem(draft.at(trade.source, "at"), "future", wrong, remedy)
        for index, owed in enumerate(trade.owed):
            if owed.settled and owed.settled < trade.at:
                wrong = f"settled on {owed.settled}, before the trade on {trade.at}"
                yield Problem(
                    draft.at(trade.source, "owed", index, "settled"), "day-order", wrong, "correct one of the two"
                )
            if owed.due and owed.due < trade.at:
                wrong = f"due on {owed.due}, before the trade on {trade.at}"
                yield Problem(
                    draft.at(trade.source, "owed", index, "due"), "day-order", wrong, "correct one of the two"
                )


def states_in_the_future(draft: Draft) -> Iterator[Problem]:
    """A check of a coral on a day that is still in the future."""
    for trade in draft.trades.values():
        for state in trade.checks:
            day = trade.at + timedelta(days=min(state.days, _A_LIFETIME))
            if trade.at <= draft.today < day:
                wrong = f"{state.days} days after {trade.at} is in the future; today is {draft.today}"
                yield Problem(draft.at(state.source, "days"), "future", wrong, "correct the number of days")


def given_when_not_here(draft: Draft) -> Iterator[Problem]:
    """A coral given away while it was not here, or given whole without an end."""
    for trade in draft.trades.values():
        for index, given in enumerate(trade.gave):
            coral = draft.corals.get(given.coral)
            if coral is None:
                continue
            source = draft.at(trade.source, "gave", index, "coral")
            if trade.at < coral.arrival.at:
                wrong = f"'{coral.id}' was given away on {trade.at}, before its arrival on {coral.arrival.at}"
                yield Problem(source, "given", wrong, "correct one of the two", draft.at(coral.source, "arrival", "at"))
            elif coral.end and trade.at > coral.end.at:
                wrong = f"'{coral.id}' was given away on {trade.at}, after its end on {coral.end.at}"
                yield Problem(source, "given", wrong, "correct one of the two", draft.at(coral.source, "end", "at"))
            elif given.whole and not coral.end:
                wrong = f"'{coral.id}' was given away whole, but its file has no end"
                remedy = f"add 'end: {{at: {trade.at}, how: given}}' there"
                yield warn(source, "given", wrong, remedy, coral.source)


def travel_that_cannot_be(draft: Draft) -> Iterator[Problem]:
    """More water than the container holds; a temperature taken after the journey's end."""
    for travel in draft.journeys():
        yield from _water_in_the_container(travel, draft)
        for measured in travel.temperatures:
            if measured.after.canonical() > travel.duration.canonical():
                wrong = f"a temperature after {measured.after}, but the journey took {travel.duration}"
                yield warn(draft.at(measured.source, "after"), "travel", wrong, "correct one of the two")


def water_on_the_way_that_cannot_be(draft: Draft) -> Iterator[Problem]:
    """Water that was colder or warmer on the way than any that holds coral, or is expected to be."""
    for travel in draft.journeys():
        for measured in travel.temperatures:
            if found := impossible_water(measured.water):
                yield Problem(draft.at(measured.source, "water"), "implausible", *found)
        if travel.expected and travel.expected.water and (found := impossible_water(travel.expected.water)):
            yield Problem(draft.at(travel.expected.source, "water"), "implausible", *found)


def _water_in_the_container(travel: Travel, draft: Draft) -> Iterator[Problem]:
    container = draft.settings.containers.get(travel.container or "") if draft.settings else None
    if container is None or travel.water is None:
        return
    litres = litres_of(container)
    litres = min(litres, container.volume.canonical()) if container.volume else litres
    if travel.water.canonical() > litres:
        holds = as_written(litres, _like(container))
        wrong = f"{travel.water} of water is too much for '{travel.container}', which holds {holds}"
        yield Problem(draft.at(travel.source, "water"), "travel", wrong, "correct one of the two", container.source)


def dates_in_names(draft: Draft) -> Iterator[Problem]:
    """The date in a file's name is the date in the file."""
    records: list[Trade | Entry] = [*draft.trades.values(), *draft.entries.values()]
    for record in records:
        if record.id[:10] != record.at.isoformat():
            wrong = f"the file's name says {record.id[:10]}, but 'at' says {record.at}"
            yield warn(draft.at(record.source, "at"), "name-day", wrong, "correct one of the two")


def posts_without_words(draft: Draft) -> Iterator[Problem]:
    """A post with a header and no text."""
    for entry in draft.entries.values():
        if not entry.body.strip():
            yield warn(entry.source, "empty-post", "the post has no text", "write it below the second '---'")


# A picture in Markdown with nothing between its brackets.
_WITHOUT_WORDS = re.compile(r"!\[\s*\][(\[]")


def photos_without_words(draft: Draft) -> Iterator[Problem]:
    """A photo of a coral or a post without a description."""
    records: list[Coral | Entry] = [*draft.corals.values(), *draft.entries.values()]
    for record in records:
        for photo in record.photos:
            if not photo.alt:
                yield _problem(photo.source, photo.file, "add 'alt: …' and say what the photo shows")


def pictures_without_words(draft: Draft) -> Iterator[Problem]:
    """A picture in a post or a coral's story without a description."""
    texts = [(entry.body_source, entry.body) for entry in draft.entries.values()]
    texts += [(coral.story_source, coral.story) for coral in draft.corals.values()]
    for first, text in texts:
        for number, line in enumerate(text.split("\n") if "![" in text else (), start=first.line):
            for picture in _WITHOUT_WORDS.finditer(line):
                name = line[picture.end() :].partition(")")[0].partition(" ")[0]
                yield _problem(
                    Source(first.file, number, picture.start() + 1), name, f"write ![what the photo shows]({name})"
                )


def _problem(source: Source, photo: str, remedy: str) -> Problem:
    return warn(source, "photo", f"the photo '{photo}' has no description", remedy)
