"""Records of origin on paper: one sheet for each coral or trade, and the page that says how to verify one."""

from bisect import bisect_right
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from itertools import accumulate
from math import ceil

from generator.records.coral import Coral
from generator.records.trade import Trade
from generator.render import links
from generator.render.blocks import Paragraph, items, row, section
from generator.render.drawings import qr_code
from generator.render.drawings.qr_code import QrCode
from generator.render.inline import Link, code, joined
from generator.render.numbers import NBSP, Moment, say_day
from generator.render.page import Frame, Page
from generator.render.pages.desk import Desk, frame, page, section_crumb
from generator.render.papers import CORALS, PEOPLE, Facts, Hand, Paper, Told, Verified

# How much of the chains fits on one sheet; the nearest come first, and the record itself has everything.
# A chain's headings take the room of two of its hands.
_ROWS, _ROWS_OF_HEADINGS, _MOST_PIECES = 10, 2, 2
# Lines of statements, and how many letters fill one.
_LINES_OF_PROOF, _LINES_OF_CLAIMS, _LINE = 6, 9, 100
_PAPERS = ("region", "year", "source_code", "appendix", "permit")


@dataclass(frozen=True, slots=True)
class HandRow:
    """A coral while one keeper had it."""

    coral: Link
    keeper: str
    how: str
    at: Moment


@dataclass(frozen=True, slots=True)
class Chain:
    """The keepers a coral came through, the nearest first, and how many frags have the same chain, if several."""

    name: str
    pieces: str
    hands: tuple[HandRow, ...]
    more: str


@dataclass(frozen=True, slots=True)
class Findings:
    """What a record proves, what it only claims, and which checks fail, in words."""

    digest: tuple[str, ...]
    proven: tuple[str, ...]
    more_proven: str
    claimed: tuple[str, ...]
    more_claimed: str
    faults: tuple[str, ...]
    refused: str


@dataclass(frozen=True, slots=True)
class PaperPage:
    """A record of origin on one sheet."""

    frame: Frame
    title: str
    lead: str
    species: str
    subject: Link
    qr: QrCode | None
    where: str
    command: str
    found: Findings
    chains: tuple[Chain, ...]
    more: str
    file: Link | None
    came_file: str
    came: Findings | None
    cautions: tuple[str, ...]


def origin_page(desk: Desk) -> Page:
    """The page a QR code leads to: how a record is verified, and every paper of this site."""
    words, papers = desk.words, desk.papers.trades.values()
    trades = [desk.view.trades[id] for id in desk.papers.trades]
    files = (
        desk.link(links.trade_paper_of(paper.id, "json"), f"{paper.id}.json") for paper in papers if paper.document
    )
    run = joined(words("origin.verify.run"), code("corallite verify FILE --digest SHA256"))
    steps = words("origin.verify.ask"), words("origin.verify.digest"), run, words("origin.verify.read")
    return page(
        desk,
        "origin",
        "corals",
        section(
            words("origin.verify.title"),
            items(*steps, look="steps", ordered=True),
            Paragraph(words("origin.verify.offline"), "note"),
        ),
        section(words("origin.files"), row(*files)),
        section(
            words("origin.of_trades"),
            row(*(desk.link(links.trade_paper_of(trade.id), _trade_title(desk, trade)) for trade in trades)),
        ),
        section(
            words("origin.of_corals"),
            row(*(desk.link(links.paper_of(id), desk.to_coral(id).text) for id in desk.papers.corals)),
        ),
        crumbs=(section_crumb(desk, "corals"),),
        lead=words("origin.index_lead"),
    )


def coral_paper(desk: Desk, coral: Coral, paper: Paper) -> PaperPage:
    """The record of origin of one coral, as it would be handed over."""
    subject = desk.link(links.page_of("coral", coral.id), desk.words("origin.to_coral"))
    made = _paper(desk, paper, desk.words("origin.of", coral=coral.name), subject, coral.name)
    return replace(made, species=coral.species)


def trade_paper(desk: Desk, trade: Trade, paper: Paper) -> PaperPage:
    """The record of origin of all that was given in a trade."""
    subject = desk.link(links.page_of("trade", trade.id), desk.words("origin.to_trade"))
    made = _paper(desk, paper, _trade_title(desk, trade), subject, trade.id)
    file = desk.link(links.trade_paper_of(trade.id, "json"), f"{trade.id}.json") if paper.document else None
    return replace(made, file=file)


def _trade_title(desk: Desk, trade: Trade) -> str:
    return desk.words("origin.of_trade", day=say_day(desk.display, desk.words, trade.at).text)


def _paper(desk: Desk, paper: Paper, title: str, subject: Link, name: str) -> PaperPage:
    words = desk.words
    day = say_day(desk.display, words, paper.at).text
    crumbs = section_crumb(desk, "corals"), desk.link(links.ORIGIN, words("origin.title"))
    digest = paper.verified.digest.removeprefix("sha256:")
    chains, left_out = _chains(desk, paper)
    base = desk.view.settings.base_url
    where = f"{base.rstrip('/')}/{links.ORIGIN}" if base else ""
    return PaperPage(
        frame=frame(desk, title, words("origin.paper_description", name=name), "corals", *crumbs),
        title=title,
        lead=words("origin.signed_lead" if paper.signed else "origin.lead", keeper=paper.giver, day=day),
        species="",
        subject=subject,
        # The page that says how to verify, with the digest; without a public address, only the digest.
        qr=qr_code.draw(f"{where}#sha256:{digest}" if where else f"sha256:{digest}") if digest else None,
        where=where,
        command=words(
            "origin.command", file=f"{paper.id}.{'json' if paper.document else 'origin.json'}", digest=digest
        ),
        found=_findings(desk, paper.verified),
        chains=chains,
        more=words("origin.more_pieces", n=left_out) if left_out else "",
        file=None,
        came_file=paper.file,
        came=_findings(desk, paper.came_with) if paper.came_with else None,
        cautions=tuple(words(f"cautions.{id}") for id in ("cites", "no-release")),
    )


def _chains(desk: Desk, paper: Paper) -> tuple[tuple[Chain, ...], int]:
    """The chains that fit on the sheet, equal frags as one; and how many frags are left out."""
    same = Counter(paper.chains)
    told = same.most_common(_MOST_PIECES)
    chains = tuple(_chain(desk, hands, n, _ROWS // len(told) - _ROWS_OF_HEADINGS) for hands, n in told)
    return chains, same.total() - sum(n for _, n in told)


def _chain(desk: Desk, hands: tuple[Hand, ...], pieces: int, most: int) -> Chain:
    shown = hands if len(hands) <= most else (*hands[: most - 1], hands[-1])
    rows = tuple(_hand(desk, hand) for hand in shown)
    left_out = len(hands) - len(shown)
    return Chain(
        rows[0].coral.text,
        desk.words("coral.pieces", n=pieces) if pieces > 1 else "",
        rows,
        desk.words("origin.more_hands", n=left_out) if left_out else "",
    )


def _hand(desk: Desk, hand: Hand) -> HandRow:
    ours = hand.ours if hand.ours in desk.view.corals else None
    return HandRow(
        Link(hand.coral or desk.words("origin.hidden"), desk.way(links.page_of("coral", ours)) if ours else ""),
        hand.keeper or desk.words("origin.unnamed"),
        desk.words(f"origin.how.{hand.how}"),
        say_day(desk.display, desk.words, hand.at),
    )


def _findings(desk: Desk, found: Verified) -> Findings:
    words = desk.words
    digest = found.digest.removeprefix("sha256:")
    proven, claimed = _said(desk, found.proven), _said(desk, found.claimed)
    proofs, claims = _fitting(proven, _LINES_OF_PROOF), _fitting(claimed, _LINES_OF_CLAIMS)
    proofs_left, claims_left = len(proven) - len(proofs), len(claimed) - len(claims)
    refused = words("origin.refused") if found.refused == "withheld" else found.refused
    return Findings(
        tuple(digest[at : at + 8] for at in range(0, len(digest), 8)),
        proofs,
        words("origin.more_proven", n=proofs_left) if proofs_left else "",
        claims,
        words("origin.more_claims", n=claims_left) if claims_left else "",
        _said(desk, found.faults),
        refused,
    )


def _fitting(said: tuple[str, ...], lines: int) -> tuple[str, ...]:
    """The first of these that fit in a number of lines of the sheet, and at least one."""
    filled = list(accumulate(ceil(len(text) / _LINE) for text in said))
    return said[: max(1, bisect_right(filled, lines))]


def _said(desk: Desk, told: Iterable[Told]) -> tuple[str, ...]:
    """Each statement in words, once: equal frags have equal statements."""
    said = Counter(desk.words(f"verdicts.{each.id}", **_blanks(desk, each.facts)) for each in told)
    return tuple(f"{text}{NBSP}(×{n})" if n > 1 else text for text, n in said.items())


def _blanks(desk: Desk, facts: Facts) -> dict[str, str]:
    """The blanks of a statement's words. A name that this audience may not see is replaced by a general word."""
    words = desk.words
    filled = dict(facts)
    for name in PEOPLE:
        if name in filled:
            filled[name] = filled[name] or words("origin.unnamed")
    for name in CORALS:
        if name in filled:
            filled[name] = filled[name] or words("origin.hidden")
    if "date" in filled:
        filled["date"] = say_day(desk.display, words, date.fromisoformat(filled["date"])).text
    if "how" in filled:
        filled["how"] = words(f"origin.how.{filled['how']}")
    for name, plural in (("corals", "origin.corals"), ("hands", "origin.hands"), ("photos", "origin.photos")):
        if name in filled:
            filled[name] = words(plural, n=int(filled[name]))
    told = [words(f"origin.papers.{name}", value=filled[name]) for name in _PAPERS if name in filled]
    return {**filled, "papers": ", ".join(told)}
