"""Every coral's share of its system's uptake, and what cutting or moving one would do: tables without scripts."""

from collections.abc import Sequence
from dataclasses import dataclass

from generator.reckon.arrivals.shares import CoralShare, Shares
from generator.reckon.arrivals.what_if import Demand, Moved, WhatIf
from generator.reckon.finding import CannotTell
from generator.records.system import System
from generator.render import links
from generator.render.blocks import Figure, Fold
from generator.render.inline import Cannot, Link
from generator.render.numbers import Shown, say_amount, say_per_day
from generator.render.page import Frame
from generator.render.pages.behind_shares import behind_shares, behind_what_ifs, whole_label
from generator.render.pages.change_foreseen import say_share
from generator.render.pages.desk import Desk
from generator.render.pages.predicted import system_frame
from generator.render.pages.why import amount_figure, cannot, evidence
from generator.render.ranges import Ranges, Row, ranges
from generator.render.what_if_words import times_words
from generator.units.quantity import Estimate

# With more strips than this, only the table is shown.
_MOST_STRIPS = 12


@dataclass(frozen=True, slots=True)
class ShareRow:
    """One coral's part of the uptake."""

    coral: Link
    share: Shown
    grams: Shown
    alkalinity: Shown
    assumed: bool


@dataclass(frozen=True, slots=True)
class IfMoved:
    """What a coral's move does to the uptake of its new system; `there` is empty if there is no answer.

    `times` says how much it takes there against here.
    """

    before: str
    there: Shown
    times: str


@dataclass(frozen=True, slots=True)
class WhatIfRow:
    """Alkalinity uptake with a third of a coral cut, without the coral, and in each other system with it."""

    coral: Link
    cut: Shown
    gone: Shown
    moved: tuple[IfMoved, ...]


@dataclass(frozen=True, slots=True)
class SharesPage:
    """The measured uptake shared out among the corals, and what would change it."""

    frame: Frame
    title: str
    whole: Figure
    cannot: Cannot | None
    picture: Ranges | None
    rows: tuple[ShareRow, ...]
    behind: Fold | None
    hidden: str
    now: str
    others: tuple[Link, ...]
    what_ifs: tuple[WhatIfRow, ...]
    behind_ifs: Fold | None
    method: Link


def shares_page(desk: Desk, system: System, found: Shares | CannotTell) -> SharesPage:
    """The shares of one system's corals, as far as this audience may see them."""
    words = desk.words
    title = words("shares.title", system=system.name)
    told = evidence(desk.view.log_of(system.id), desk.display, words)
    whole = desk.findings[system.id].calcification.grams_per_day
    known = found if isinstance(found, Shares) else None
    seen = [each for each in known.corals if each.coral in desk.view.corals] if known else []
    unseen = sum(each.share.value for each in known.corals) - sum(each.share.value for each in seen) if known else 0.0
    ifs = [each for each in desk.found.what_if.get(system.id, ()) if each.coral in desk.view.corals] if known else []
    others = [id for id, _ in ifs[0].moved if id in desk.view.systems] if ifs else []
    return SharesPage(
        frame=system_frame(desk, system.id, title, words("shares.description", system=system.name)),
        title=title,
        whole=amount_figure(desk, whole_label(desk, system.id), whole, told),
        cannot=cannot(words, found) if isinstance(found, CannotTell) else None,
        picture=_picture(desk, seen) if seen else None,
        rows=tuple(_row(desk, each) for each in seen),
        behind=behind_shares(desk, known, seen) if known and seen else None,
        hidden=words("shares.hidden", share=f"{100.0 * unseen:.0f}") if unseen > 1e-9 else "",
        now=_now(desk, ifs),
        others=tuple(desk.to_system(id) for id in others),
        what_ifs=tuple(_what_if(desk, each, others) for each in ifs),
        behind_ifs=behind_what_ifs(desk, known, ifs, others, tall=False) if known and ifs else None,
        method=desk.link(f"{links.METHODS}#shares", words("shares.method")),
    )


def _row(desk: Desk, each: CoralShare) -> ShareRow:
    return ShareRow(
        desk.to_coral(each.coral),
        say_share(desk, each.share),
        say_amount(desk.words, each.grams_per_day),
        _per_day(desk, each.alkalinity),
        each.assumed,
    )


def _picture(desk: Desk, seen: Sequence[CoralShare]) -> Ranges:
    rows = [
        Row(
            desk.view.corals[each.coral].name,
            Shown(say_share(desk, each.share).value),
            each.share.scaled(100.0, "%"),
            "way" if each.assumed else "measured",
        )
        for each in seen[:_MOST_STRIPS]
    ]
    return ranges(desk.words, desk.words("shares.picture"), "%", rows)


def _now(desk: Desk, ifs: Sequence[WhatIf]) -> str:
    """The uptake now, with which all the others are compared."""
    before = next((each.cut.alkalinity_before for each in ifs if isinstance(each.cut, Demand)), None)
    if before is None:
        return ""
    said = _per_day(desk, before)
    return desk.words("shares.now", value=said.value, interval=said.interval)


def _what_if(desk: Desk, each: WhatIf, others: Sequence[str]) -> WhatIfRow:
    moved = dict(each.moved)
    return WhatIfRow(
        desk.to_coral(each.coral),
        _per_day(desk, each.cut.alkalinity_after) if isinstance(each.cut, Demand) else Shown("–"),
        _per_day(desk, each.gone.alkalinity_after) if isinstance(each.gone, Demand) else Shown("–"),
        tuple(_moved(desk, moved[id]) for id in others),
    )


def _moved(desk: Desk, moved: Moved | CannotTell) -> IfMoved:
    if isinstance(moved, CannotTell):
        return IfMoved("", Shown("–"), "")
    now = _per_day(desk, moved.arriving.alkalinity_before)
    before = desk.words("shares.from", value=now.value, interval=now.interval)
    return IfMoved(before, _per_day(desk, moved.arriving.alkalinity_after), times_words(desk.words, moved))


def _per_day(desk: Desk, found: Estimate) -> Shown:
    return say_per_day(desk.display, desk.words, "alkalinity", found)
