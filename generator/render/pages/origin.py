"""Records of origin on paper: one sheet for each coral or trade, and the page that says how to verify one."""

import re
from bisect import bisect_right
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from datetime import date
from itertools import accumulate
from math import ceil

from msgspec import Struct

from generator.records.coral import Coral, Statement, Verdict
from generator.records.trade import Trade
from generator.render.audience import CORALS, PEOPLE, Hand, Paper, StatedFacts
from generator.render.base import links
from generator.render.base.blocks import Block, Drawn, Paragraph, Section, Table, group, items, row, section
from generator.render.base.context import PageContext, frame, page, section_crumb
from generator.render.base.links import Inline, Link, Span, code, joined, small
from generator.render.base.numbers import NBSP
from generator.render.base.page import Page
from generator.render.base.words import Words

# ISO/IEC 18004 asks for four modules of light around the code.
QUIET = 4
# A reader takes any of the eight masks. For a digest in hexadecimals this one has the least penalty of ISO/IEC 18004,
# 7.8.3, in three of four codes and on average; trying all eight each time takes five times as long.
MASK = 2
_DARK = re.compile(b"\x01+")


class QrCode(Struct, frozen=True):
    """A text as a QR code: `side` in modules with its quiet zone, and the path of what is dark, one unit a module.

    Source: ISO/IEC 18004, by way of the segno library.
    """

    side: int
    path: str


def qr_code(text: str) -> QrCode:
    """The code of a text; a quarter of it may be smudged and it still reads (level Q)."""
    import segno

    rows = segno.make_qr(text, error="q", boost_error=False, mask=MASK).matrix
    strokes = []
    for y, line in enumerate(rows):
        for start, end in map(re.Match.span, _DARK.finditer(line)):
            strokes.append(f"M{start + QUIET} {y + QUIET}h{end - start}v1h-{end - start}z")
    return QrCode(len(rows) + 2 * QUIET, "".join(strokes))


# How much of the chains fits on one sheet; the nearest come first, and the record itself has everything.
# A chain's headings take the room of two of its hands.
_ROWS, _ROWS_OF_HEADINGS, _MOST_PIECES = 10, 2, 2
# Lines of statements, and how many letters fill one.
_LINES_OF_PROOF, _LINES_OF_CLAIMS, _LINE = 6, 9, 100


def origin_page(ctx: PageContext) -> Page:
    """The page a QR code leads to: how a record is verified, and every paper of this site."""
    words, papers = ctx.words, ctx.papers.trades.values()
    trades = [ctx.view.trades[id] for id in ctx.papers.trades]
    files = (ctx.link(links.trade_paper_of(paper.id, "json"), f"{paper.id}.json") for paper in papers if paper.document)
    run = joined(words("origin.verify.run"), code("corallite verify FILE --digest SHA256"))
    steps = words("origin.verify.ask"), words("origin.verify.digest"), run, words("origin.verify.read")
    return page(
        ctx,
        "origin",
        "corals",
        section(
            words("origin.verify.title"),
            items(*steps, look="steps", ordered=True),
            Paragraph(words("origin.verify.offline"), "note"),
        ),
        section(
            words("origin.of_corals"),
            row(*(ctx.link(links.paper_of(id), ctx.to_coral(id).text) for id in ctx.papers.corals)),
        ),
        crumbs=(section_crumb(ctx, "corals"),),
        lead=words("origin.index_lead"),
        margin=(
            section(
                words("origin.of_trades"),
                row(*(ctx.link(links.trade_paper_of(trade.id), _trade_title(ctx, trade)) for trade in trades)),
            ),
            section(words("origin.files"), row(*files)),
        ),
    )


def coral_paper(ctx: PageContext, coral: Coral, paper: Paper) -> Page:
    """The record of origin of one coral, as it would be handed over."""
    subject = ctx.link(links.page_of("coral", coral.id), ctx.words("origin.to_coral"))
    title = ctx.words("origin.of", coral=coral.name)
    return _paper(ctx, paper, title, subject, coral.name, Paragraph(Span(coral.species, "i")))


def trade_paper(ctx: PageContext, trade: Trade, paper: Paper) -> Page:
    """The record of origin of all that was given in a trade."""
    subject = ctx.link(links.page_of("trade", trade.id), ctx.words("origin.to_trade"))
    file = ctx.link(links.trade_paper_of(trade.id, "json"), f"{trade.id}.json") if paper.document else ""
    return _paper(ctx, paper, _trade_title(ctx, trade), joined(file, subject, by=" · "), trade.id)


def _trade_title(ctx: PageContext, trade: Trade) -> str:
    return ctx.words("origin.of_trade", day=ctx.say.on(trade.at))


def _paper(ctx: PageContext, paper: Paper, title: str, onward: Inline, name: str, *below: Block) -> Page:
    """A record of origin on one sheet; what stands `below` its title goes before what it is."""
    words = ctx.words
    day = ctx.say.on(paper.at)
    digest = paper.verified.digest.removeprefix("sha256:")
    base = ctx.view.settings.base_url
    where = f"{base.rstrip('/')}/{links.ORIGIN}" if base else ""
    file = f"{paper.id}.{'json' if paper.document else 'origin.json'}"
    command = joined(words("origin.check"), code(words("origin.command", file=file, digest=digest)))
    see = joined(words("origin.or_see"), Span(where, look="address")) if where else ""
    head = (
        *below,
        Paragraph(words("origin.signed_lead" if paper.signed else "origin.lead", keeper=paper.giver, day=day), "lead"),
        *((_digest(digest), Paragraph(joined(command, see), "note")) if digest else ()),
    )
    # The page that says how to verify, with the digest; without a public address, only the digest.
    qr = qr_code(f"{where}#sha256:{digest}" if where else f"sha256:{digest}") if digest else None
    came = joined(words("origin.came_lead"), code(paper.file))
    crumbs = section_crumb(ctx, "corals"), ctx.link(links.ORIGIN, words("origin.title"))
    return Page(
        ctx.url,
        "paper",
        frame(ctx, title, words("origin.paper_description", name=name), "corals", *crumbs),
        (
            group(
                "paper",
                Drawn("paper_head", (title, head, qr)),
                *_chains(ctx, paper),
                section("", *_findings(ctx, paper.verified), look="said"),
                Paragraph(words("verdicts.note"), "note"),
                *(Paragraph(words(f"cautions.{id}"), "caution") for id in ("cites", "no-release")),
            ),
            section(
                words("origin.came_with"),
                Paragraph(came, "lead"),
                _digest(paper.came_with.digest.removeprefix("sha256:")),
                *_findings(ctx, paper.came_with),
                look="came",
            )
            if paper.came_with
            else None,
            Paragraph(onward, "onward"),
        ),
        titled=False,
    )


def _digest(digest: str) -> Paragraph:
    parts = (code(digest[at : at + 8]) for at in range(0, len(digest), 8))
    return Paragraph(joined("SHA-256", *parts) if digest else "", "digest")


def _chains(ctx: PageContext, paper: Paper) -> Iterator[Block]:
    """The chains that fit on the sheet, equal frags as one; and how many frags are left out."""
    same = Counter(paper.chains)
    told = same.most_common(_MOST_PIECES)
    for hands, n in told:
        yield _chain(ctx, hands, n, _ROWS // len(told) - _ROWS_OF_HEADINGS)
    left_out = same.total() - sum(n for _, n in told)
    yield Paragraph(ctx.words("origin.more_pieces", n=left_out) if left_out else "", "note")


def _chain(ctx: PageContext, hands: tuple[Hand, ...], pieces: int, most: int) -> Section:
    """The keepers a coral came through, the nearest first, and how many frags have the same chain, if several."""
    words = ctx.words
    shown = hands if len(hands) <= most else (*hands[: most - 1], hands[-1])
    left_out = len(hands) - len(shown)
    title = words("origin.chain", coral=shown[0].coral or words("origin.hidden"))
    heads = words.each("trades.coral", "origin.keeper", "origin.came", "coral.at")
    return section(
        joined(title, small(words("coral.pieces", n=pieces)) if pieces > 1 else ""),
        Table(title, heads, tuple(_hand(ctx, hand) for hand in shown), "tall"),
        Paragraph(words("origin.more_hands", n=left_out) if left_out else "", "note"),
    )


def _hand(ctx: PageContext, hand: Hand) -> tuple[Inline, ...]:
    """A coral while one keeper had it."""
    return (
        Link(hand.coral or ctx.words("origin.hidden"), ctx.to_coral(hand.ours).href if hand.ours else ""),
        hand.keeper or ctx.words("origin.unnamed"),
        ctx.words(f"origin.how.{hand.how}"),
        ctx.say.day(hand.at),
    )


def _findings(ctx: PageContext, found: Verdict) -> Iterator[Block]:
    """What a record proves, what it only claims, and which checks fail, in words."""
    words = ctx.words
    proven, claimed = _said(ctx, found.proven), _said(ctx, found.claimed)
    proofs, claims = _fitting(proven, _LINES_OF_PROOF), _fitting(claimed, _LINES_OF_CLAIMS)
    more_proven, more_claims = len(proven) - len(proofs), len(claimed) - len(claims)
    refused = words("origin.refused") if found.refused == "withheld" else found.refused
    yield Paragraph(refused, "off")
    yield section(words("verdicts.faults"), items(*_said(ctx, found.faults), look="faults"))
    left = words("origin.more_proven", n=more_proven) if more_proven else ""
    yield section(words("verdicts.proven"), items(*proofs, left, look="proven"))
    left = words("origin.more_claims", n=more_claims) if more_claims else ""
    yield section(words("verdicts.claimed"), items(*claims, left, look="claimed"))


def _fitting(said: tuple[str, ...], lines: int) -> tuple[str, ...]:
    """The first of these that fit in a number of lines of the sheet, and at least one."""
    filled = list(accumulate(ceil(len(text) / _LINE) for text in said))
    return said[: max(1, bisect_right(filled, lines))]


def _said(ctx: PageContext, told: Iterable[Statement]) -> tuple[str, ...]:
    return statements_in_words(ctx.words, told, lambda day: ctx.say.on(date.fromisoformat(day)))


_PAPERS = ("region", "year", "source_code", "appendix", "permit")


def statements_in_words(words: Words, statements: Iterable[Statement], day: Callable[[str], str]) -> tuple[str, ...]:
    """Each statement in words, once: equal frags have equal statements. `day` says a day that is given as in ISO 8601.

    A name that may not be seen is replaced by a general word.
    """
    said = Counter(words(f"verdicts.{each.id}", **_blanks(words, each.facts, day)) for each in statements)
    return tuple(f"{text}{NBSP}(×{n})" if n > 1 else text for text, n in said.items())


def _blanks(words: Words, facts: StatedFacts, day: Callable[[str], str]) -> dict[str, str]:
    filled = dict(facts)
    hidden = {**dict.fromkeys(PEOPLE, "origin.unnamed"), **dict.fromkeys(CORALS, "origin.hidden")}
    filled |= {name: words(key) for name, key in hidden.items() if filled.get(name) == ""}
    # A frag often has its parent's name: that the chain of a name goes back to the same name would tell nothing.
    if filled.get("oldest") and filled["oldest"] == filled.get("coral"):
        filled["oldest"] = words("verdicts.oldest-of-this-name")
    if "date" in filled:
        filled["date"] = day(filled["date"])
    if "how" in filled:
        filled["how"] = words(f"origin.how.{filled['how']}")
    for name in ("corals", "hands", "photos"):
        if name in filled:
            filled[name] = words(f"origin.{name}", n=int(filled[name]))
    told = [words(f"origin.papers.{name}", value=filled[name]) for name in _PAPERS if name in filled]
    return {**filled, "papers": ", ".join(told)}
