"""Records of origin as pages show them: who had the coral, what is proven, what is only claimed.

They are made and verified elsewhere; here is what of them one audience may see.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date

from generator.render.audience import View

Facts = tuple[tuple[str, str], ...]
# The facts of a statement that name somebody, and those that name a coral: not every audience may know them.
PEOPLE = ("keeper", "known_as", "other")
CORALS = ("coral", "oldest")


@dataclass(frozen=True, slots=True)
class Told:
    """One thing said about a record: the id of its words, and what fills them."""

    id: str
    facts: Facts = ()


@dataclass(frozen=True, slots=True)
class Hand:
    """A coral in one keeper's hands; `ours` is its id where it is one of this journal's."""

    coral: str
    ours: str | None
    keeper: str
    how: str
    at: date


@dataclass(frozen=True, slots=True)
class Verified:
    """What was found of a record; `refused` says why nothing was, where it was not taken."""

    digest: str = ""
    proven: tuple[Told, ...] = ()
    claimed: tuple[Told, ...] = ()
    faults: tuple[Told, ...] = ()
    refused: str = ""


@dataclass(frozen=True, slots=True)
class Paper:
    """The record of origin of a coral or of the pieces of a trade, as it would be handed over on a day.

    `chains` has one a piece, the piece first. `came_with` is what the record in `file` says, with which the
    coral came. `document` is the record itself, where this audience gets it.
    """

    id: str
    at: date
    giver: str
    verified: Verified
    chains: tuple[tuple[Hand, ...], ...] = ()
    signed: bool = False
    file: str = ""
    came_with: Verified | None = None
    document: bytes | None = None


@dataclass(frozen=True, slots=True)
class Papers:
    """The papers of a site: of corals and of trades, by id."""

    corals: Mapping[str, Paper] = field(default_factory=dict)
    trades: Mapping[str, Paper] = field(default_factory=dict)


NO_PAPERS = Papers()


def as_seen(papers: Papers, view: View) -> Papers:
    """The papers as an audience may see them.

    A partner's papers of trades are theirs, whole. Else permits stay out, and so do keepers who did not
    agree to be named and corals without a page.
    """
    corals = {id: paper for id, paper in papers.corals.items() if id in view.corals}
    trades = {id: paper for id, paper in papers.trades.items() if id in view.trades}
    if view.audience == "own":
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

    def verified(found: Verified) -> Verified:
        def seen(every: Iterable[Told]) -> tuple[Told, ...]:
            shown = (Told(told.id, facts(told.facts)) for told in every)
            return tuple(told for told in shown if told.id != "papers" or {*dict(told.facts)} - {"coral", "keeper"})

        refused = found.refused and "withheld"
        return Verified(found.digest, seen(found.proven), seen(found.claimed), seen(found.faults), refused)

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
    """A name in a record as an audience may know it; "" for one it may not."""
    if name in PEOPLE:
        return text if text in named else ""
    if name in CORALS:
        return "" if text in hidden else text
    return text
