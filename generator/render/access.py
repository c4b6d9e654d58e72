"""What one audience may see at all, before records are cut down to it."""

from collections.abc import Callable, Collection
from dataclasses import dataclass

from generator.records.coral import Audience
from generator.records.journal import Journal
from generator.records.settings import Publish

# How few may see it.
RANK: dict[Audience, int] = {"public": 0, "partners": 1, "own": 2}


@dataclass(frozen=True, slots=True)
class AccessPolicy:
    """An audience, and what it may see at all.

    `named` and `pictured` are the partners whose names, and whose corals' pictures, it may see.
    """

    audience: Audience
    publish: Publish | None
    systems: Collection[str]
    corals: Collection[str]
    trades: Collection[str]
    named: Collection[str]
    pictured: Collection[str]
    partner: str | None = None

    @property
    def own(self) -> bool:
        """Whether the audience is the keeper."""
        return self.audience == "own"

    def sees(self, audience: Audience) -> bool:
        """Whether this audience may see a record that is marked for `audience`."""
        return _sees(self.audience, audience)

    def allows(self, what: str) -> bool:
        """Whether journal.yaml publishes something; the keeper's own build has everything."""
        return self.own or bool(self.publish and getattr(self.publish, what))


def _sees(who: Audience, marked_for: Audience) -> bool:
    return RANK[marked_for] <= RANK[who]


def policy_for(
    journal: Journal, audience: Audience, partner: str | None, level: Callable[[str], Audience]
) -> AccessPolicy:
    """The policy of an audience, or of the one partner who is named by id; `level` is a coral's audience by its id."""
    own = audience == "own"
    publish = journal.settings.publish

    def agreed(partner_id: str, what: str) -> bool:
        partner = journal.partners.get(partner_id)
        return partner is not None and what in partner.shows

    # To name a partner on a public site takes the consent of both the partner and the keeper.
    naming = audience != "public" or bool(publish and publish.partner_names)
    shown = [id for id, trade in journal.trades.items() if _sees(audience, trade.audience)]
    if partner is not None:
        trades, named = [id for id in shown if journal.trades[id].partner == partner], [partner]
    else:
        trades = [id for id in shown if own or agreed(journal.trades[id].partner, "trades")]
        named = [id for id in journal.partners if own or (naming and agreed(id, "name"))]
    # Keys of a dictionary are found as fast as those of a set, and have an order.
    return AccessPolicy(
        audience,
        publish,
        dict.fromkeys(id for id, system in journal.systems.items() if _sees(audience, system.audience)),
        dict.fromkeys(id for id in journal.corals if _sees(audience, level(id))),
        dict.fromkeys(trades),
        dict.fromkeys(named),
        dict.fromkeys(id for id in journal.partners if own or id == partner or agreed(id, "photos")),
        partner,
    )
