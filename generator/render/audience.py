"""The one door between a journal and a page: what one audience may see.

Pages take a `View`, never a `Journal`: what an audience may not see is not in it, its records are copies without it.
"""

import re
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import partial
from typing import Any, TypeVar
from urllib.parse import urlsplit

from msgspec import Struct
from msgspec.structs import replace

from generator.door.door import Door
from generator.records.coral import Audience, Coral, Statement, Verdict, life_of
from generator.records.journal import Entry, Journal
from generator.records.log import SystemLog
from generator.records.settings import Settings
from generator.records.source import Commit, History, Problem, Source, in_order
from generator.records.system import System
from generator.records.trade import Planned, Trade
from generator.render import redaction
from generator.render.base.texts import Editor, all_shown, common_words, names_in, photos_out_of_place
from generator.render.redaction import AccessPolicy, policy_for

T = TypeVar("T")
# A record by id as it is seen (None: not at all), and what the keeper should know of that.
_Cut = tuple[Callable[[str], Any], Callable[[str], tuple[Problem, ...]]]


@dataclass(frozen=True, slots=True)
class View:
    """A journal as one audience may see it; mappings are by id, in order of id.

    `lives` are the corals without what is measured of them, seen or told: who needs no more does not depend on it.
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
    lives: Mapping[str, Coral]
    trades: Mapping[str, Trade]
    entries: Mapping[str, Entry]
    plans: Mapping[str, Planned]
    partner_names: Mapping[str, str]
    withheld: Collection[tuple[str, str]]
    partner: str | None = None
    notices: tuple[Problem, ...] = ()
    history: History | None = None

    @property
    def writes(self) -> bool:
        """Whether its reader writes this journal: pages then say where and how a line is written or changed."""
        return self.audience == "own"

    @property
    def shows_tasks(self) -> bool:
        """Whether this audience may see what there is to do, which only concerns the keeper."""
        return self.audience == "own"

    @property
    def published(self) -> bool:
        """Whether this is the public site at the journal's address."""
        base = urlsplit(self.settings.base_url or "")
        return self.audience == "public" and base.scheme in ("http", "https") and bool(base.hostname)

    @property
    def lacks_address(self) -> bool:
        """Whether this is the public site of a journal that does not say where it will be."""
        return self.audience == "public" and not self.published

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
        return redaction.offered_to(self.audience, self.settings.publish)

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
    common = common_words(journal, door)
    unnamed = door.one("unnamed", lambda: names_in(journal, policy().named, common()) if audience != "own" else None)

    cut = partial(_cut, door, policy, unnamed, partner is not None)
    cuts = {
        "systems": cut("system", journal.systems.__getitem__, redaction.system_for, Editor.system),
        "logs": cut("log", journal.log_of, redaction.log_for, Editor.log),
        "corals": cut("coral", journal.corals.__getitem__, redaction.coral_for, Editor.coral),
        "trades": cut("trade", journal.trades.__getitem__, redaction.trade_for, Editor.trade),
        "entries": cut("entry", journal.entries.__getitem__, redaction.entry_for, Editor.entry),
    }
    shown = door.step("entry is shown", lambda id: cuts["entries"][0](id) is not None)
    ids: dict[str, Callable[[], Iterable[str]]] = {
        "systems": lambda: filter(policy().systems.__contains__, journal.systems),
        "logs": lambda: filter(policy().systems.__contains__, journal.systems),
        "corals": lambda: filter(policy().corals.__contains__, journal.corals),
        "trades": lambda: filter(policy().trades.__contains__, journal.trades),
        "entries": lambda: filter(shown, journal.entries),
    }
    seen: dict[str, Mapping[str, Any]] = {
        kind: door.each(f"seen {kind}", ids[kind], part, shared=True) for kind, (part, _) in cuts.items()
    }
    lives = door.each("life as seen", lambda: seen["corals"], lambda id: life_of(seen["corals"][id]))
    # Only the keeper sees plans.
    plans = door.each("seen plans", lambda: journal.plans if audience == "own" else (), lambda id: journal.plans[id])
    settings, noticed_in_settings = cut(
        "settings",
        lambda _: journal.settings,
        lambda settings, policy: redaction.settings_for(settings, seen["trades"], policy),
        Editor.settings,
    )

    def withheld() -> Collection[tuple[str, str]]:
        kinds = (("system", "systems"), ("coral", "corals"), ("trade", "trades"), ("entry", "entries"))
        hidden = ((kind, id) for kind, part in kinds for id in getattr(journal, part) if id not in seen[part])
        return dict.fromkeys([*hidden, *journal.not_yet])

    return door.view(
        View,
        audience=lambda: audience,
        partner=lambda: partner,
        settings=lambda: settings(""),
        **{kind: partial(seen.__getitem__, kind) for kind in seen},
        lives=lambda: lives,
        plans=lambda: plans,
        partner_names=door.one("partner names", lambda: _names(journal, policy())),
        withheld=door.one("withheld", withheld),
        notices=_notices(door, journal, policy, cuts, {**ids, "entries": lambda: journal.entries}, noticed_in_settings),
        history=lambda: None,
    )


def _cut(
    door: Door,
    policy: Callable[[], AccessPolicy],
    unnamed: Callable[[], re.Pattern[str] | None],
    leaves_out: bool,
    kind: str,
    of: Callable[[str], T],
    hide: Callable[[T, AccessPolicy], T | None],
    edit: Callable[[Editor, T], T | None],
) -> _Cut:
    def made(id: str) -> tuple[T | None, tuple[Problem, ...]]:
        record = of(id)
        hidden = hide(record, policy())
        seen, notices = (None, ()) if hidden is None else _edited(hidden, unnamed(), edit, leaves_out)
        # One record for both where nothing is cut, so that it is kept once.
        return record if seen == record else seen, notices

    both = door.shared(f"{kind} cut", made)
    return door.step(f"{kind} as seen", lambda id: both(id)[0]), lambda id: both(id)[1]


def _notices(
    door: Door,
    journal: Journal,
    policy: Callable[[], AccessPolicy],
    cuts: Mapping[str, _Cut],
    ids: Mapping[str, Callable[[], Iterable[str]]],
    settings: Callable[[str], tuple[Problem, ...]],
) -> Callable[[], tuple[Problem, ...]]:
    """What the keeper should know of what an audience sees of the records of these ids."""
    shown = all_shown(door, journal.corals, journal.entries)
    not_agreed = redaction.photos_not_agreed_to(journal, policy, door)

    def noticed(kind: str) -> Callable[[], list[list[Problem]]]:
        _, of = cuts[kind]
        return door.in_parts(f"noticed in {kind}", ids[kind], lambda some: [told for id in some for told in of(id)])

    parts = [noticed(kind) for kind in cuts]

    def notices() -> tuple[Problem, ...]:
        without = {photo for some in not_agreed() for photo in some}
        told = [*photos_out_of_place(shown(), without), *settings("")]
        return tuple(in_order([*told, *(notice for some in parts for part in some() for notice in part)]))

    return door.one("notices", notices)


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


def _names(journal: Journal, policy: AccessPolicy) -> dict[str, str]:
    if policy.own:
        return {id: partner.name for id, partner in journal.partners.items()}
    named = {id: partner for id, partner in journal.partners.items() if id in policy.named}
    # A partner knows their own name, whatever others may be told.
    told = {id: each.public_name or (each.name if id == policy.partner else None) for id, each in named.items()}
    return {id: name for id, name in told.items() if name is not None}


StatedFacts = tuple[tuple[str, str], ...]
# The facts of a statement that name a person, and those that name a coral. Not every audience may see them.
PEOPLE = ("keeper", "known_as", "other")
CORALS = ("coral", "oldest")


class Hand(Struct, frozen=True):
    """A coral in one keeper's hands; `ours` is its id where it is one of this journal's."""

    coral: str
    ours: str | None
    keeper: str
    how: str
    at: date


class Paper(Struct, frozen=True):
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
    return Papers(
        {id: _paper_seen(paper, view) for id, paper in corals.items()}, trades if view.partner is not None else {}
    )


def _paper_seen(paper: Paper, view: View) -> Paper:
    hidden = {hand.coral for chain in paper.chains for hand in chain if hand.ours and hand.ours not in view.corals}
    named = {view.settings.keeper, *view.partner_names.values()}

    def facts(told: StatedFacts) -> StatedFacts:
        region = view.settings.publish is None or view.settings.publish.region_of_origin
        kept = [(name, text) for name, text in told if name != "permit" and (region or name != "region")]
        return tuple((name, _known(name, text, named, hidden)) for name, text in kept)

    def verified(found: Verdict) -> Verdict:
        def seen(every: Iterable[Statement]) -> tuple[Statement, ...]:
            shown = (Statement(told.id, facts(told.facts)) for told in every)
            return tuple(told for told in shown if told.id != "papers" or {*dict(told.facts)} - {"coral", "keeper"})

        shown = seen(found.proven), seen(found.claimed), seen(found.faults)
        # By the digest of a record that says more, one could try whether a guess of that is right.
        digest = found.digest if shown == (found.proven, found.claimed, found.faults) else ""
        return Verdict(digest, *shown, found.refused and "withheld")

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
    unknown = text not in named if name in PEOPLE else text in hidden if name in CORALS else False
    return "" if unknown else text
