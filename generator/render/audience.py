"""The one door between a journal and a page: what one audience may see.

Pages take a `View`, never a `Journal`. What an audience may not see is not in the view at all: its records
are copies without it.
"""

import re
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from generator.door.door import Door
from generator.records.coral import Arrival, Audience, Coral, End, Origin, Photo, Placement
from generator.records.entry import Entry
from generator.records.history import Commit, History
from generator.records.journal import Journal
from generator.records.log import SystemLog
from generator.records.planned import Planned
from generator.records.problem import Problem, in_order
from generator.records.settings import Publish, Settings
from generator.records.source import Source
from generator.records.system import System
from generator.records.trade import Owed, Trade, Travel
from generator.render.access import AccessPolicy, policy_for
from generator.render.base.texts import photos_out_of_place, shows
from generator.render.naming import Editor, names_in

_Cut = Callable[[str], tuple[Any, tuple[Problem, ...]]]


@dataclass(frozen=True, slots=True)
class View:
    """A journal as one audience may see it; mappings are by id, in order of id.

    With `partner` it is what one partner may see: what all partners may see, and their own trades.
    `partner_names` has only the partners whose names this audience may see. `withheld` has the (kind, id) of
    pages that do not exist for this audience or not yet, so that links to them become plain text. `notices`
    tell the keeper where their own text shows a private photo, or names a partner whose name this audience may
    not see. `history` is what git knows of the files, if it is asked for.
    """

    audience: Audience
    settings: Settings
    systems: Mapping[str, System]
    logs: Mapping[str, SystemLog]
    corals: Mapping[str, Coral]
    trades: Mapping[str, Trade]
    entries: Mapping[str, Entry]
    plans: Mapping[str, Planned]
    partner_names: Mapping[str, str]
    withheld: Collection[tuple[str, str]]
    partner: str | None = None
    notices: tuple[Problem, ...] = ()
    history: History | None = None

    @property
    def shows_weeks(self) -> bool:
        """Whether this audience may see what changed in a week: the keeper does, others where it is published."""
        return self.audience == "own" or bool(self.settings.publish and self.settings.publish.weeks)

    @property
    def shows_history(self) -> bool:
        """Whether this audience may see when records were written, by git."""
        publish = self.settings.publish
        return self.settings.history == "git" and (self.audience == "own" or bool(publish and publish.history))

    @property
    def shows_offers(self) -> bool:
        """Whether this audience may see what is ready to offer."""
        return _offered_to(self.audience, self.settings.publish)

    @property
    def shows_accounts(self) -> bool:
        """Whether this audience may see what is owed: the keeper sees everything, a partner their own trades."""
        return self.audience == "own" or self.partner is not None

    def log_of(self, system: str) -> SystemLog:
        """A system's log; an empty one if nothing was written yet."""
        return self.logs.get(system) or SystemLog(system=system)

    def tells(self, source: Source) -> bool:
        """Whether this audience may read a file: not one whose page is withheld from it."""
        folder, _, rest = source.file.partition("/")
        if folder == "plans":
            return self.audience == "own"
        kind = {"corals": "coral", "systems": "system", "logs": "system", "trades": "trade"}.get(folder)
        return kind is None or (kind, rest.partition("/")[0].partition(".")[0]) not in self.withheld


def view(journal: Journal, audience: Audience = "public", partner: str | None = None, door: Door | None = None) -> View:
    """What an audience may see of a journal; with a partner's id, what that partner may see."""
    door = door or Door()
    policy = door.one("policy", lambda: policy_for(journal, audience, partner, level))
    level = door.step("audience of a coral", lambda id: journal.corals[id].audience)
    unnamed = door.one("unnamed", lambda: names_in(journal, policy().named) if audience != "own" else None)

    def cut(kind: str, record: Callable[[str], Any], edit: Callable[[Editor, Any], Any]) -> _Cut:
        return door.step(f"{kind} as seen", lambda id: _edited(record(id), unnamed(), edit, partner is not None))

    cuts = {
        "systems": cut("system", lambda id: _system(journal.systems[id], policy()), Editor.system),
        "logs": cut("log", lambda id: _log(journal.log_of(id), policy()), Editor.log),
        "corals": cut("coral", lambda id: _coral(journal.corals[id], policy()), Editor.coral),
        "trades": cut("trade", lambda id: _trade(journal.trades[id], policy()), Editor.trade),
        "entries": cut("entry", lambda id: _entry(journal.entries[id], policy()), Editor.entry),
    }
    marked = door.step("entry is for them", lambda id: policy().sees(journal.entries[id].audience))
    left = door.step("entry is left", lambda id: cuts["entries"](id)[0] is not None)
    ids: dict[str, Callable[[], Iterable[str]]] = {
        "systems": lambda: filter(policy().systems.__contains__, journal.systems),
        "logs": lambda: filter(policy().systems.__contains__, journal.systems),
        "corals": lambda: filter(policy().corals.__contains__, journal.corals),
        "trades": lambda: filter(policy().trades.__contains__, journal.trades),
        "entries": lambda: (id for id in journal.entries if marked(id) and left(id)),
    }

    def seen_of(kind: str) -> Mapping[str, Any]:
        return door.each(f"seen {kind}", ids[kind], lambda id: cuts[kind](id)[0], shared=True)

    seen = {kind: seen_of(kind) for kind in cuts}
    # What is only planned is nobody else's business.
    plans = door.each("seen plans", lambda: journal.plans if audience == "own" else (), lambda id: journal.plans[id])
    settings = cut("settings", lambda _: _settings(journal.settings, seen["trades"], policy()), Editor.settings)

    # What a text tells changes oftener than what it shows.
    shown = {
        "corals": door.step("coral shows", lambda id: shows(journal.corals[id])),
        "entries": door.step("entry shows", lambda id: shows(journal.entries[id])),
    }

    def noticed_in(kind: str) -> Callable[[str], tuple[Problem, ...]]:
        return door.step(f"noticed in {kind}", lambda id: cuts[kind](id)[1])

    noticed = {kind: noticed_in(kind) for kind in cuts}

    def notices() -> tuple[Problem, ...]:
        every = [shown[kind](id) for kind in shown for id in getattr(journal, kind)]
        told = [*photos_out_of_place(every), *settings("")[1]]
        asked: dict[str, Callable[[], Iterable[str]]] = {**ids, "entries": lambda: filter(marked, journal.entries)}
        told += [notice for kind in cuts for id in asked[kind]() for notice in noticed[kind](id)]
        return tuple(in_order(told))

    def withheld() -> Collection[tuple[str, str]]:
        kinds = (("system", "systems"), ("coral", "corals"), ("trade", "trades"), ("entry", "entries"))
        hidden = ((kind, id) for kind, part in kinds for id in getattr(journal, part) if id not in seen[part])
        return dict.fromkeys([*hidden, *journal.not_yet])

    return door.view(
        View,
        audience=lambda: audience,
        partner=lambda: partner,
        settings=lambda: settings("")[0],
        **{kind: partial(seen.__getitem__, kind) for kind in seen},
        plans=lambda: plans,
        partner_names=door.one("partner names", lambda: _names(journal, policy())),
        withheld=door.one("withheld", withheld),
        notices=door.one("notices", notices),
        history=lambda: None,
    )


def history_for(view: View, history: History) -> History:
    """As much of a journal's history as an audience may see: without who made it, unless that is published."""
    publish = view.settings.publish
    if view.audience == "own" or (publish and publish.authors):
        return history
    commits = {path: tuple(Commit(each.at, "") for each in made) for path, made in history.commits.items()}
    return replace(history, commits=commits)


def _edited(
    record: Any, names: re.Pattern[str] | None, edit: Callable[[Editor, Any], Any], leaves_out: bool
) -> tuple[Any, tuple[Problem, ...]]:
    """A record as an audience may read it (None: not at all), and what the keeper should know of that."""
    if names is None:
        return record, ()
    editor = Editor(names, leaves_out)
    return edit(editor, record), tuple(editor.notices)


def _offered_to(audience: Audience, publish: Publish | None) -> bool:
    return audience != "public" or bool(publish and publish.offers)


def _names(journal: Journal, policy: AccessPolicy) -> dict[str, str]:
    if policy.own:
        return {id: partner.name for id, partner in journal.partners.items()}
    # A partner knows their own name, whatever others may be told.
    known = {id: partner.name if id == policy.partner else None for id, partner in journal.partners.items()}
    told = {id: journal.partners[id].public_name or known[id] for id in journal.partners if id in policy.named}
    return {id: name for id, name in told.items() if name is not None}


def _settings(settings: Settings, trades: Mapping[str, Trade], policy: AccessPolicy) -> Settings:
    """The settings without the containers, except those of a partner's own journeys."""
    if policy.allows("containers"):
        return settings
    journeys = [trade.travel for trade in trades.values()]
    used = {travel.container for travel in journeys if travel is not None}
    return replace(settings, containers={id: made for id, made in settings.containers.items() if id in used})


def _system(system: System, policy: AccessPolicy) -> System:
    if policy.own:
        return system
    return replace(system, solutions={id: replace(made, note=None) for id, made in system.solutions.items()})


def _log(log: SystemLog, policy: AccessPolicy) -> SystemLog:
    if policy.own:
        return log
    words = policy.allows("log_notes")
    return replace(
        log,
        notes=tuple(note for note in log.notes if words and not note.private),
        events=tuple(
            replace(
                event,
                coral=event.coral if event.coral in policy.corals else None,
                text=event.text if words else None,
            )
            for event in log.events
        ),
        dismissals=(),
    )


def _coral(coral: Coral, policy: AccessPolicy) -> Coral:
    if policy.own:
        return coral
    return replace(
        coral,
        private=None,
        parent=coral.parent if coral.parent in policy.corals else None,
        arrival=_arrival(coral.arrival, policy),
        origin=_origin(coral.origin, policy) if coral.origin else None,
        provenance=None,
        placements=_placements(coral.placements, policy),
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
        to_offer=coral.to_offer and _offered_to(policy.audience, policy.publish),
    )


def _arrival(arrival: Arrival, policy: AccessPolicy) -> Arrival:
    return replace(
        arrival,
        partner=arrival.partner if arrival.partner in policy.named else None,
        trade=arrival.trade if arrival.trade in policy.trades else None,
        note=None,
    )


def _origin(origin: Origin, policy: AccessPolicy) -> Origin:
    return replace(origin, region=origin.region if policy.allows("region_of_origin") else None, permit=None)


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


def _entry(entry: Entry, policy: AccessPolicy) -> Entry:
    return replace(
        entry,
        systems=tuple(id for id in entry.systems if id in policy.systems),
        corals=tuple(id for id in entry.corals if id in policy.corals),
        photos=_photos(entry.photos, policy),
    )


def _trade(trade: Trade, policy: AccessPolicy) -> Trade:
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
        owed=tuple(_owed(owed, policy) for owed in trade.owed) if theirs else (),
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


def _owed(owed: Owed, policy: AccessPolicy) -> Owed:
    return replace(owed, coral=owed.coral if owed.coral in policy.corals else None)


def _travel(travel: Travel, policy: AccessPolicy) -> Travel:
    """The journey without facts that show where the partner lives; a partner sees their own."""
    if policy.partner is not None:
        return travel
    return replace(
        travel, distance=None, packing=None, container=travel.container if policy.allows("containers") else None
    )
