"""Records of origin as pages show them: who had the coral, what is proven, what is only claimed.

They are made and verified elsewhere. This module has what one audience may see of them.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date

from generator.records.coral import Statement, Verdict
from generator.render.audience import View
from generator.render.base.numbers import NBSP
from generator.render.base.words import Words

Facts = tuple[tuple[str, str], ...]
# The facts of a statement that name a person, and those that name a coral. Not every audience may see them.
PEOPLE = ("keeper", "known_as", "other")
CORALS = ("coral", "oldest")
_PAPERS = ("region", "year", "source_code", "appendix", "permit")


@dataclass(frozen=True, slots=True)
class Hand:
    """A coral in one keeper's hands; `ours` is its id where it is one of this journal's."""

    coral: str
    ours: str | None
    keeper: str
    how: str
    at: date


@dataclass(frozen=True, slots=True)
class Paper:
    """The record of origin of a coral or of a trade's frags, as it would be handed over on a day.

    `chains` has one chain for each coral, which comes first in it. `came_with` is what the record in `file`
    says, with which the coral came. `document` is the record itself, if this audience gets it.
    """

    id: str
    at: date
    giver: str
    verified: Verdict
    chains: tuple[tuple[Hand, ...], ...] = ()
    signed: bool = False
    file: str = ""
    came_with: Verdict | None = None
    document: bytes | None = None


@dataclass(frozen=True, slots=True)
class Papers:
    """The papers of a site: of corals and of trades, by id."""

    corals: Mapping[str, Paper] = field(default_factory=dict)
    trades: Mapping[str, Paper] = field(default_factory=dict)


NO_PAPERS = Papers()


def as_seen(papers: Papers, view: View) -> Papers:
    """The records of origin as an audience may see them.

    A partner gets the records of their own trades in full. Otherwise they have no permits, no keepers who
    did not agree to be named, and no corals without a page.
    """
    corals = {id: paper for id, paper in papers.corals.items() if id in view.corals}
    trades = {id: paper for id, paper in papers.trades.items() if id in view.trades}
    if view.writes:
        return Papers(corals, trades)
    return Papers({id: _seen(paper, view) for id, paper in corals.items()}, trades if view.partner is not None else {})


def _seen(paper: Paper, view: View) -> Paper:
    hands = [hand for chain in paper.chains for hand in chain]
    hidden = {hand.coral for hand in hands if hand.ours is not None and hand.ours not in view.corals}
    named = {view.settings.keeper, *view.partner_names.values()}

    def facts(told: Facts) -> Facts:
        publish = view.settings.publish
        region = publish is None or publish.region_of_origin
        kept = [(name, text) for name, text in told if name != "permit" and (region or name != "region")]
        return tuple((name, _known(name, text, named, hidden)) for name, text in kept)

    def verified(found: Verdict) -> Verdict:
        def seen(every: Iterable[Statement]) -> tuple[Statement, ...]:
            shown = (Statement(told.id, facts(told.facts)) for told in every)
            return tuple(told for told in shown if told.id != "papers" or {*dict(told.facts)} - {"coral", "keeper"})

        refused = found.refused and "withheld"
        return Verdict(found.digest, seen(found.proven), seen(found.claimed), seen(found.faults), refused)

    return replace(
        paper,
        verified=verified(paper.verified),
        chains=tuple(
            tuple(
                replace(
                    hand,
                    coral=_known("coral", hand.coral, named, hidden),
                    ours=hand.ours if hand.ours in view.corals else None,
                    keeper=_known("keeper", hand.keeper, named, hidden),
                )
                for hand in chain
            )
            for chain in paper.chains
        ),
        came_with=verified(paper.came_with) if paper.came_with else None,
        document=None,
    )


def _known(name: str, text: str, named: set[str], hidden: set[str]) -> str:
    """A name in a record, or "" if the audience may not see it."""
    if name in PEOPLE:
        return text if text in named else ""
    if name in CORALS:
        return "" if text in hidden else text
    return text


def statements_in_words(words: Words, statements: Iterable[Statement], day: Callable[[str], str]) -> tuple[str, ...]:
    """Each statement in words, once: equal frags have equal statements. `day` says a day that is given as in ISO 8601.

    A name that may not be seen is replaced by a general word.
    """
    said = Counter(words(f"verdicts.{each.id}", **_blanks(words, each.facts, day)) for each in statements)
    return tuple(f"{text}{NBSP}(×{n})" if n > 1 else text for text, n in said.items())


def _blanks(words: Words, facts: Facts, day: Callable[[str], str]) -> dict[str, str]:
    filled = dict(facts)
    hidden = {**dict.fromkeys(PEOPLE, "origin.unnamed"), **dict.fromkeys(CORALS, "origin.hidden")}
    filled |= {name: words(key) for name, key in hidden.items() if filled.get(name) == ""}
    if "date" in filled:
        filled["date"] = day(filled["date"])
    if "how" in filled:
        filled["how"] = words(f"origin.how.{filled['how']}")
    for name in ("corals", "hands", "photos"):
        if name in filled:
            filled[name] = words(f"origin.{name}", n=int(filled[name]))
    told = [words(f"origin.papers.{name}", value=filled[name]) for name in _PAPERS if name in filled]
    return {**filled, "papers": ", ".join(told)}
