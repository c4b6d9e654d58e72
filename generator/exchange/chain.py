"""Rules that the records and handovers of a document must keep. Each raises `Refused` if it is broken."""

from collections.abc import Callable

from generator.exchange.document import Document
from generator.exchange.refusal import Refused

_ASK = "do not take it in; ask where it comes from"


def check_chain(document: Document) -> None:
    """Raise `Refused` unless every digest is found, no coral is its own ancestor, and no record is unused."""
    for rule in RULES:
        rule(document)


def _handover_lists_its_records(document: Document) -> None:
    if document.last.listed != tuple(document.records):
        raise Refused("listed", "the last handover lists other records", _ASK, "records")
    strangers = set(document.last.about) - set(document.records)
    if strangers:
        raise Refused("about", "the record that was handed over is missing", _ASK, "handovers")


def _handovers_follow_each_other(document: Document) -> None:
    seen: set[str] = set()
    for index, handover in enumerate(document.handovers):
        where = f"handovers[{index}]"
        if not set(handover.earlier) <= seen:
            raise Refused("handovers", "a handover before this one is missing or changed", _ASK, where)
        if not set(handover.about) <= set(handover.listed):
            raise Refused("about", "the handover does not list its own record", _ASK, where)
        seen.add(handover.digest)
    # No list names a thing twice, so this refuses a handover that is given twice as well.
    if document.last.earlier != tuple(handover.digest for handover in document.handovers[:-1]):
        raise Refused("handovers", "the last handover names other handovers", _ASK, "handovers")


def _ties_lead_to_the_right_record(document: Document) -> None:
    for index, record in enumerate(document.records.values()):
        where = f"records[{index}]"
        for tie in (record.parent, record.previous):
            if tie is not None and tie not in document.records:
                raise Refused("truncated", f"an earlier record of '{record.name}' is missing or changed", _ASK, where)
        if record.parent and document.records[record.parent].identity != record.parent_identity:
            raise Refused("parent", f"the parent's record of '{record.name}' describes another coral", _ASK, where)
        if record.previous and document.records[record.previous].identity != record.identity:
            raise Refused("parent", f"the earlier record of '{record.name}' describes another coral", _ASK, where)


def _one_family_tree(document: Document) -> None:
    parents: dict[str, str] = {}
    for index, record in enumerate(document.records.values()):
        if record.parent_identity is None:
            continue
        if parents.setdefault(record.identity, record.parent_identity) != record.parent_identity:
            wrong = f"'{record.name}' has two parents in the same chain"
            raise Refused("parent", wrong, _ASK, f"records[{index}]")
    settled: set[str] = set()
    for start in parents:
        path: list[str] = []
        here: str | None = start
        while here is not None and here not in settled:
            if here in path:
                raise Refused("cycle", "a coral is its own ancestor", _ASK, "records")
            path.append(here)
            here = parents.get(here)
        settled.update(path)


def _nothing_is_left_over(document: Document) -> None:
    reached = {record.digest for about in document.last.about for record in document.chain(about)}
    for index, record in enumerate(document.records.values()):
        if record.digest not in reached:
            wrong = f"'{record.name}' is not an ancestor of any coral handed over"
            raise Refused("left-over", wrong, _ASK, f"records[{index}]")


def _each_record_left_by_its_keeper(document: Document) -> None:
    given = {(handover.giver, record) for handover in document.handovers for record in handover.listed}
    for index, record in enumerate(document.records.values()):
        if (record.keeper, record.digest) not in given:
            wrong = f"the keeper who describes '{record.name}' never handed it over"
            raise Refused("keeper", wrong, _ASK, f"records[{index}]")


def _days_in_their_order(document: Document) -> None:
    """A frag is not older than its parent, and came to a keeper before they handed it over.

    Handovers may overlap: a record can be made some days after its coral left.
    """
    for index, record in enumerate(document.records.values()):
        where = f"records[{index}].date"
        before = document.records.get(record.previous or record.parent or "")
        if before is not None and record.at < before.at:
            wrong = f"'{record.name}' came on {record.at}, before its earlier record '{before.name}', {before.at}"
            raise Refused("days", wrong, _ASK, where)
        left = min(
            each.at for each in document.handovers if each.giver == record.keeper and record.digest in each.listed
        )
        if record.at > left:
            raise Refused(
                "days", f"'{record.name}' came on {record.at}, after it was handed over on {left}", _ASK, where
            )


RULES: tuple[Callable[[Document], None], ...] = (
    _handover_lists_its_records,
    _handovers_follow_each_other,
    _ties_lead_to_the_right_record,
    _one_family_tree,
    _nothing_is_left_over,
    _each_record_left_by_its_keeper,
    _days_in_their_order,
)
