"""What an audience may see at all, and what is cut from each record: copies without what they may not know."""

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from generator.door.door import Door
from generator.records.coral import Audience, Coral, End, Photo, Placement
from generator.records.journal import Entry, Journal
from generator.records.log import SystemLog
from generator.records.settings import Publish, Settings
from generator.records.system import System
from generator.records.trade import Trade, Travel
from generator.render.base.links import photo_path

# The audiences, from the widest to the narrowest.
RANK: dict[Audience, int] = {"public": 0, "partners": 1, "own": 2}


class AccessPolicy(Struct, frozen=True):
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


def offered_to(audience: Audience, publish: Publish | None) -> bool:
    """Whether an audience may see what is ready to offer."""
    return audience != "public" or bool(publish and publish.offers)


def settings_for(settings: Settings, trades: Mapping[str, Trade], policy: AccessPolicy) -> Settings:
    """The settings without a contact, and without the containers but those of a partner's own journeys."""
    if not policy.allows("contact"):
        settings = replace(settings, contact=None)
    if policy.allows("containers"):
        return settings
    journeys = [trade.travel for trade in trades.values()]
    used = {travel.container for travel in journeys if travel is not None}
    return replace(settings, containers={id: made for id, made in settings.containers.items() if id in used})


def system_for(system: System, policy: AccessPolicy) -> System:
    """The system without what is written about its solutions."""
    if policy.own:
        return system
    return replace(system, solutions={id: replace(made, note=None) for id, made in system.solutions.items()})


def log_for(log: SystemLog, policy: AccessPolicy) -> SystemLog:
    """The log without private notes, hidden corals and what the keeper has set aside."""
    if policy.own:
        return log
    words = policy.allows("log_notes")
    return replace(
        log,
        notes=tuple(note for note in log.notes if words and not note.private),
        events=tuple(
            replace(
                event, coral=event.coral if event.coral in policy.corals else None, text=event.text if words else None
            )
            for event in log.events
        ),
        dismissals=(),
    )


def coral_for(coral: Coral, policy: AccessPolicy) -> Coral:
    """The coral without what only the keeper knows, hidden places and hidden relatives."""
    if policy.own:
        return coral
    origin = replace(coral.origin, permit=None) if coral.origin else None
    if origin and not policy.allows("region_of_origin"):
        origin = replace(origin, region=None)
    return replace(
        coral,
        private=None,
        parent=coral.parent if coral.parent in policy.corals else None,
        arrival=replace(
            coral.arrival,
            partner=coral.arrival.partner if coral.arrival.partner in policy.named else None,
            trade=coral.arrival.trade if coral.arrival.trade in policy.trades else None,
            note=None,
        ),
        origin=origin,
        provenance=None,
        placements=_placements(coral.placements, policy),
        touches=tuple(touch for touch in coral.touches if touch.coral in policy.corals),
        cuttings=tuple(
            replace(
                cutting,
                into=tuple(id for id in cutting.into if id in policy.corals),
                note=cutting.note if policy.allows("log_notes") else None,
            )
            for cutting in coral.cuttings
        ),
        health=coral.health
        if policy.allows("log_notes")
        else tuple(replace(seen, extent=None, note=None) for seen in coral.health),
        end=_end(coral.end, policy) if coral.end else None,
        photos=_photos(
            (photo for photo in coral.photos if _with_whom(coral, photo) in (None, *policy.pictured)), policy
        ),
        to_offer=coral.to_offer and offered_to(policy.audience, policy.publish),
    )


def _placements(placements: tuple[Placement, ...], policy: AccessPolicy) -> tuple[Placement, ...]:
    """The placements after the last one in a hidden system. An earlier one would look like the present place."""
    in_time = sorted(placements, key=lambda placement: placement.since)
    after = max((i + 1 for i, placement in enumerate(in_time) if placement.system not in policy.systems), default=0)
    return tuple(in_time[after:])


def _end(end: End, policy: AccessPolicy) -> End:
    return replace(
        end,
        cause=end.cause if policy.allows("log_notes") else None,
        partner=end.partner if end.partner in policy.named else None,
        trade=end.trade if end.trade in policy.trades else None,
    )


def _photos(photos: Iterable[Photo], policy: AccessPolicy) -> tuple[Photo, ...]:
    return tuple(photo for photo in photos if policy.sees(photo.audience))


def _with_whom(coral: Coral, photo: Photo) -> str | None:
    """The partner who had a coral when its picture was taken; None if we had it, or if no day is recorded."""
    if photo.at is None:
        return None
    if coral.end and photo.at > coral.end.at:
        return coral.end.partner
    return coral.arrival.partner if photo.at < coral.arrival.at else None


def photos_not_agreed_to(
    journal: Journal, policy: Callable[[], AccessPolicy], door: Door
) -> Callable[[], list[list[str]]]:
    """The photos (as paths below the journal) from the time when a partner had the coral, who did not agree to them."""

    def of(ids: Sequence[str]) -> list[str]:
        agreed, corals = (None, *policy().pictured), [journal.corals[id] for id in ids]
        return [
            photo_path(each.file) for coral in corals for each in coral.photos if _with_whom(coral, each) not in agreed
        ]

    return door.in_parts("photos not agreed to", lambda: journal.corals, of)


def entry_for(entry: Entry, policy: AccessPolicy) -> Entry | None:
    """The entry without hidden systems, corals and photos; None for those whom it is not for."""
    if not policy.sees(entry.audience):
        return None
    return replace(
        entry,
        systems=tuple(id for id in entry.systems if id in policy.systems),
        corals=tuple(id for id in entry.corals if id in policy.corals),
        photos=_photos(entry.photos, policy),
    )


def trade_for(trade: Trade, policy: AccessPolicy) -> Trade:
    """The trade without hidden corals, and without what only its two sides know."""
    if policy.own:
        return trade
    theirs = policy.partner is not None
    worth = theirs or policy.allows("worth")
    return replace(
        trade,
        gave=tuple(
            replace(given, worth=given.worth if worth else None) for given in trade.gave if given.coral in policy.corals
        ),
        received=tuple(
            replace(got, worth=got.worth if worth else None) for got in trade.received if got.coral in policy.corals
        ),
        paid=trade.paid if worth else None,
        was_paid=trade.was_paid if worth else None,
        owed=tuple(replace(e, coral=e.coral if e.coral in policy.corals else None) for e in trade.owed if theirs),
        travel=_travel(trade.travel, policy) if trade.travel else None,
        inspection=trade.inspection if theirs else None,
        checks=tuple(
            replace(check, note=check.note if theirs else None)
            for check in trade.checks
            if check.coral is None or check.coral in policy.corals
        ),
        note=None,
        private=None,
    )


def _travel(travel: Travel, policy: AccessPolicy) -> Travel:
    """The journey without facts that show where the partner lives; a partner sees their own."""
    if policy.partner is not None:
        return travel
    return replace(
        travel, distance=None, packing=None, container=travel.container if policy.allows("containers") else None
    )
