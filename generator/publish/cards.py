"""Cards for shared links as PNG pictures, in the light scheme's colours of the stylesheet."""

import io
from typing import TYPE_CHECKING

from generator.render.site.cards import Card

if TYPE_CHECKING:
    from PIL.ImageDraw import ImageDraw

# The size that link previews ask for, 1.91 to 1.
SIZE = (1200, 630)
_PAPER, _INK, _SOFT, _SEA, _BAND, _EDGE = "#f5f2ea", "#15272e", "#4c5e66", "#0b5a70", "#c4e2d9", "#7c867f"
_LEFT, _RIGHT, _TOP, _BOTTOM = 70, 1130, 290, 570


def png(card: Card) -> bytes:
    """A card's picture."""
    from PIL import Image, ImageDraw

    picture = Image.new("RGB", SIZE, _PAPER)
    draw = ImageDraw.Draw(picture)
    _rule(draw)
    _text(draw, (_LEFT, 60), card.site, 34, _SOFT)
    _text(draw, (_LEFT, 105), card.title, 66, _INK)
    _text(draw, (_LEFT, 205), card.value, 44, _SEA)
    _chart(draw, card)
    out = io.BytesIO()
    # A few flat colours and their blends: a palette halves the file.
    picture.quantize(64).save(out, "PNG", optimize=True)
    return out.getvalue()


def _rule(draw: "ImageDraw") -> None:
    for number, x in enumerate(range(_LEFT, _RIGHT + 1, 20)):
        draw.line([(x, 30), (x, 44 if number % 5 == 0 else 36)], fill=_EDGE, width=2)


def _text(draw: "ImageDraw", at: tuple[int, int], text: str, size: int, colour: str) -> None:
    """One line of words, cut where it would leave the card."""
    from PIL import ImageFont

    font = ImageFont.load_default(size)
    while draw.textlength(text, font) > _RIGHT - _LEFT:
        text = text[:-2].rstrip("…") + "…"
    draw.text(at, text, fill=colour, font=font)


def _chart(draw: "ImageDraw", card: Card) -> None:
    def at(point: tuple[float, float]) -> tuple[float, float]:
        return _LEFT + point[0] * (_RIGHT - _LEFT), _BOTTOM - point[1] * (_BOTTOM - _TOP)

    if card.band:
        draw.rectangle([at((0, card.band[1])), at((1, card.band[0]))], fill=_BAND)
    if len(card.line) > 1:
        draw.line([at(point) for point in card.line], fill=_SEA, width=5, joint="curve")
    for dot in card.dots:
        x, y = at(dot)
        draw.ellipse([x - 6, y - 6, x + 6, y + 6], fill=_INK)
    draw.line([(_LEFT, _BOTTOM), (_RIGHT, _BOTTOM)], fill=_EDGE, width=2)
