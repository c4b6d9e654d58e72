"""Checks of the colonies under consideration: names, days and masses."""

from collections.abc import Iterator

from generator.read.draft import Draft
from generator.records.considered import ConsideredColony
from generator.records.problem import Problem


def considered_twice(draft: Draft) -> Iterator[Problem]:
    """Two colonies with the same name."""
    known: dict[str, ConsideredColony] = {}
    for colony in draft.considered:
        first = known.setdefault(colony.name.casefold(), colony)
        if first is not colony:
            source = draft.at(colony.source, "name")
            wrong = f"'{colony.name}' is already in the list"
            yield Problem(source, "considered", wrong, "rename one of the two", draft.at(first.source, "name"))


def considered_on_impossible_days(draft: Draft) -> Iterator[Problem]:
    """A day in the future, or a decision from before the colony was considered."""
    for colony in draft.considered:
        for key, day in (("since", colony.since), ("decided", colony.decided)):
            if day is not None and day > draft.today:
                wrong = f"the day {day} is in the future; today is {draft.today}"
                yield Problem(draft.at(colony.source, key), "future", wrong, "correct the date")
        if colony.decided and colony.decided < colony.since:
            wrong = f"decided on {colony.decided}, but considered only since {colony.since}"
            source, also = draft.at(colony.source, "decided"), draft.at(colony.source, "since")
            yield Problem(source, "considered", wrong, "correct one of the two", also)


def considered_without_mass(draft: Draft) -> Iterator[Problem]:
    """A mass of zero."""
    for colony in draft.considered:
        if colony.mass is not None and colony.mass.canonical() <= 0.0:
            source = draft.at(colony.source, "mass")
            yield Problem(
                source, "considered", f"a mass of {colony.mass} is zero", "leave it out until you have weighed it"
            )
