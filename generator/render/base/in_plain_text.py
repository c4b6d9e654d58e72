"""Blocks as lines of plain text, as commands print them: what pages say without their evidence and pictures."""

from collections.abc import Iterator

from markupsafe import Markup, escape

from generator.render.base.blocks import (
    Block,
    Drawn,
    Facts,
    Figure,
    Figures,
    Fold,
    Group,
    Items,
    Paragraph,
    Section,
    Table,
)
from generator.render.base.inline import Cannot, plain_text
from generator.render.base.scale import Ranges


def lines(blocks: tuple[Block, ...]) -> Iterator[str]:
    """Each block line by line; sections begin with an empty line and their title, and are set in."""
    for block in blocks:
        if not block:
            continue
        match block:
            case Section():
                yield from ("", said(block.title))
                yield from (f"  {line}" if line else "" for line in lines(block.blocks))
            case Group():
                yield from lines(block.blocks)
            case Paragraph() if "how" not in block.look:
                yield said(block.text)
            case Cannot():
                yield said(block)
            case Facts():
                yield from (f"{said(term)}: {said(fact)}" for term, fact in block.rows)
            case Figures():
                yield from map(_figure, block.figures)
            case Items():
                yield from map(said, block.items)
            case Fold() if "numbers" in block.look:
                yield from lines(block.blocks)
            case Table():
                heads = tuple(map(said, block.heads))
                yield from (_row(heads, tuple(map(said, row))) for row in block.rows)
            case Drawn(model=Ranges(strips=strips)):
                yield from (f"{strip.label}: {strip.said.value}, {strip.said.interval}" for strip in strips)


def said(inside: object) -> str:
    """A text whose lines and small print stand apart by signs."""
    html = escape(inside).replace(Markup("<br><small>"), ", ")
    html = html.replace(Markup(".<br>"), Markup("<br>"))
    return plain_text(Markup(html.replace(Markup("<br>"), "; ").replace(Markup(" <small>"), ", ")))


def _figure(found: Figure) -> str:
    return f"{found.label}: {said(found.shown or found.cannot or '')}"


def _row(heads: tuple[str, ...], cells: tuple[str, ...]) -> str:
    named = (f"{head}: {cell}" for head, cell in zip(heads[1:], cells[1:], strict=False) if cell)
    return f"{cells[0]}: {'; '.join(named)}"
