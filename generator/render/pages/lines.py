"""Every line: its family tree, where its corals are, who holds one, and which lines one loss would end."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from markupsafe import Markup

from generator.reckon.lineage.at_risk import AtRisk, Holder
from generator.reckon.lineage.family import Family, Piece
from generator.render import links
from generator.render.drawings.family_tree import Bar, Fate, Tree, draw
from generator.render.inline import Link
from generator.render.numbers import say_day
from generator.render.page import Frame
from generator.render.pages.attention import holders_of, nobody
from generator.render.pages.corals import state_of
from generator.render.pages.desk import Desk, frame, section_crumb

_MS_PER_DAY = 86_400_000
_EPOCH = date(1970, 1, 1)
FATES: tuple[Fate, ...] = ("living", "given", "lost", "merged")


@dataclass(frozen=True, slots=True)
class HolderRow:
    """A partner who has a coral of the line, or gave us ours, and could give one back."""

    partner: str
    how: str


@dataclass(frozen=True, slots=True)
class LineSection:
    """One line: how many live, where, its tree, who holds one, and which loss would end it ("" if none)."""

    id: str
    name: str
    species: str
    living: str
    systems: tuple[Link, ...]
    holders: tuple[HolderRow, ...]
    nobody: str
    risk: str
    tree: Markup
    cycles: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LinesPage:
    """All lines, the hardest to replace named first."""

    frame: Frame
    lead: str
    at_risk: tuple[Link, ...]
    fates: tuple[tuple[Fate, str], ...]
    lines: tuple[LineSection, ...]
    by_system: Link
    survival: Link
    data: tuple[Link, ...]


def lines_page(desk: Desk) -> LinesPage:
    """The page of every line of the view."""
    words = desk.words
    seen = [line for line in desk.found.families.values() if _pieces(desk, line)]
    risks = {risk.line: risk for risk in desk.found.at_risk}
    ids = {line.line for line in seen}
    return LinesPage(
        frame(desk, words("lines.title"), words("lines.description"), "corals", section_crumb(desk, "corals")),
        words("lines.lead", n=len(seen)),
        tuple(desk.to_line(risk.line) for risk in desk.found.at_risk if risk.line in ids),
        tuple((fate, words(f"lines.fates.{fate}")) for fate in FATES),
        tuple(_section(desk, line, risks.get(line.line)) for line in seen),
        desk.link(links.CORALS, words("corals.by_system")),
        desk.link(links.SURVIVAL, words("survival.title")),
        tuple(desk.link(f"data/{name}.csv", words(f"data.tables.{name}.name")) for name in ("lines", "corals")),
    )


def line_tree(desk: Desk, family: Family) -> Markup:
    """The family tree of a line, as far as the view shows it."""
    pieces = _pieces(desk, family)
    rows = list(_order(pieces))
    place = {piece.coral: row for row, piece in enumerate(rows)}
    today = _ms(desk.today)
    first = min((_ms(piece.since) for piece in rows), default=today)
    bars = tuple(_bar(desk, piece, place) for piece in rows)
    # A line that came today still has a stretch of time to be drawn on.
    start = min(first, today - 90 * _MS_PER_DAY)
    title = desk.words("lines.tree", line=desk.to_line(family.line).text, n=len(bars))
    return Markup(draw(Tree(f"tree-{family.line}", title, start, today, bars), desk.words))


def _section(desk: Desk, family: Family, risk: AtRisk | None) -> LineSection:
    words = desk.words
    pieces = _pieces(desk, family)
    living = [piece for piece in pieces.values() if piece.fate == "living"]
    systems = sorted({piece.system for piece in living if piece.system in desk.view.systems and piece.system})
    species = sorted({desk.view.corals[id].species for id in pieces})
    return LineSection(
        family.line,
        desk.to_line(family.line).text,
        ", ".join(species),
        words("lines.living", n=len(living)),
        tuple(desk.to_system(id) for id in systems),
        tuple(_holder(desk, holder) for holder in holders_of(desk, family.line)),
        nobody(desk, family.line),
        words(f"lines.risk.{risk.by}") if risk else "",
        line_tree(desk, family),
        tuple(
            " → ".join(desk.to_coral(id).text for id in ring)
            for ring in family.cycles
            if all(id in desk.view.corals for id in ring)
        ),
    )


def _holder(desk: Desk, holder: Holder) -> HolderRow:
    day = say_day(desk.display, desk.words, holder.since).text
    return HolderRow(desk.partner(holder.partner), desk.words(f"lines.holders.{holder.how}", day=day))


def _pieces(desk: Desk, family: Family) -> dict[str, Piece]:
    return {id: piece for id, piece in family.pieces.items() if id in desk.view.corals}


def _order(pieces: dict[str, Piece]) -> Iterator[Piece]:
    """Each coral below its parent, the latest cut next to it, so that no lines cross."""
    cut: dict[str | None, list[Piece]] = {}
    for piece in pieces.values():
        cut.setdefault(piece.parent if piece.parent in pieces else None, []).append(piece)
    # The last of a pile comes first: roots from the oldest on, cuttings from the latest.
    stack = sorted(cut.get(None, ()), key=lambda piece: (piece.since, piece.coral), reverse=True)
    while stack:
        piece = stack.pop()
        yield piece
        stack += sorted(cut.get(piece.coral, ()), key=lambda piece: (piece.since, piece.coral))


def _bar(desk: Desk, piece: Piece, place: dict[str, int]) -> Bar:
    words, coral = desk.words, desk.view.corals[piece.coral]
    ended = min(piece.until or desk.today, desk.today)
    given = tuple(
        (
            _ms(gift.at),
            words(
                "lines.pieces_to",
                pieces=words("coral.pieces", n=gift.pieces),
                who=desk.partner(gift.partner),
                day=say_day(desk.display, words, gift.at).text,
            ),
        )
        for gift in piece.given
        if gift.trade in desk.view.trades or desk.view.audience == "own"
    )
    link = desk.to_coral(coral.id)
    return Bar(
        link.text,
        link.href,
        _whereabouts(desk, piece),
        _ms(piece.since),
        _ms(ended),
        piece.fate,
        place.get(piece.parent or ""),
        given,
    )


def _whereabouts(desk: Desk, piece: Piece) -> str:
    coral = desk.view.corals[piece.coral]
    said = state_of(desk, coral)
    if piece.fate == "given" and coral.end and coral.end.partner:
        return desk.words("lines.given_to", said=said, who=desk.partner(coral.end.partner))
    return said


def _ms(day: date) -> float:
    return float((day - _EPOCH).days * _MS_PER_DAY)
