"""Checks of trades, travel, posts and photos."""

import re
from collections.abc import Iterator
from datetime import timedelta

from generator.read.check_slips_trades import litres_of
from generator.read.draft import Draft
from generator.read.plausible import impossible_water, warn
from generator.records.coral import Coral
from generator.records.entry import Entry
from generator.records.problem import Problem
from generator.records.source import Source
from generator.records.trade import Trade, Travel

_A_LIFETIME = 36_500  # days; more would leave the calendar


def before_the_partner(draft: Draft) -> Iterator[Problem]:
    """A trade with someone from before they became a partner."""
    for trade in draft.trades.values():
        partner = draft.partners.get(trade.partner)
        if partner and partner.since and trade.at < partner.since:
            wrong = f"{trade.at} is before '{partner.id}' became a partner on {partner.since}"
            also = draft.at(partner.source, "since")
            yield Problem(draft.at(trade.source, "at"), "before-partner", wrong, "correct one of the two", also)


def trades_of_nothing(draft: Draft) -> Iterator[Problem]:
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
        wrong = f"{travel.water} of water is too much for '{travel.container}', which holds {litres:.3g} L"
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
