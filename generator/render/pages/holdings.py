"""Who holds what: every line, where its pieces stand here, and which partners have one or could give one back."""

from collections.abc import Mapping, Sequence
from html import escape

from markupsafe import Markup

from generator.reckon.lineage.at_risk import AtRisk
from generator.reckon.lineage.family import Family
from generator.render.base.blocks import Table
from generator.render.base.context import PageContext
from generator.render.base.inline import Inline, Link, Span, joined
from generator.render.pages.attention import holders_of

_APART, _ROW = 11, 5


def holdings(ctx: PageContext, seen: Sequence[Family], risks: Mapping[str, AtRisk]) -> Table:
    """A row for each line, those that one loss would end first; a column for each place that holds a piece."""
    words = ctx.words
    here = [id for id in ctx.view.systems if any(_living(ctx, line, id) for line in seen)]
    away = {line.line: {holder.partner: holder.how for holder in holders_of(ctx, line.line)} for line in seen}
    # Partners whom this audience may not know by name stand in one column.
    named = sorted({ctx.partner(partner) for line in away.values() for partner in line})
    ranked = sorted(seen, key=lambda line: list(risks).index(line.line) if line.line in risks else len(risks))
    rows: list[tuple[Inline, ...]] = []
    for line in ranked:
        risk = risks.get(line.line)
        held = [_dots(_living(ctx, line, id), "own", words("lines.holds.own", n=_living(ctx, line, id))) for id in here]
        by_name = {ctx.partner(partner): how for partner, how in away[line.line].items()}
        back = [_dots(1, how, words(f"lines.holds.{how}")) if (how := by_name.get(name)) else "" for name in named]
        thread = Span(words(f"lines.hangs.{risk.by}"), look="thread") if risk else ""
        rows.append((joined(ctx.to_line(line.line), thread), *held, *back))
    places = [Link(ctx.view.systems[id].name) for id in here] + [Link(name) for name in named]
    heads: tuple[Inline, ...] = (words("coral.line"), *places)
    looks = tuple("hangs" if line.line in risks else "" for line in ranked)
    return Table(words("lines.holds.title"), heads, tuple(rows), "holds", looks)


def _living(ctx: PageContext, line: Family, system: str) -> int:
    return sum(piece.system == system and piece.coral in ctx.view.corals for piece in line.living)


def _dots(n: int, look: str, said: str) -> Inline:
    """As many marks as there are pieces, for eyes, and the words for ears."""
    if not n:
        return ""
    width, high = min(n, _ROW) * _APART, -(-n // _ROW) * _APART
    marks = "".join(f'<circle cx="{i % _ROW * _APART + 5.5}" cy="{i // _ROW * _APART + 5.5}" r="4"/>' for i in range(n))
    svg = (
        f'<svg class="held-{look}" width="{width}" height="{high}" role="img" aria-label="{escape(said)}">{marks}</svg>'
    )
    return Markup(svg)
