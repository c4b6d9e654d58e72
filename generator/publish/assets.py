"""Stylesheets and scripts under names that carry a digest, so that no browser shows an old one; cards for links."""

import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from hashlib import sha256
from importlib.resources.abc import Traversable
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


_FINGERPRINTED = (".css", ".js")


@dataclass(frozen=True, slots=True)
class Assets:
    """`addresses` maps a name below the assets folder to its address in the site; `files` hold the bytes."""

    addresses: dict[str, str]
    files: dict[str, bytes]


def gather(folder: Traversable) -> Assets:
    """Every file below the assets folder; licences and the like keep their names."""
    addresses, files = {}, {}
    for name, content in _walk(folder, ""):
        content = _tight(content) if name.endswith(".css") else content
        addresses[name] = f"assets/{_fingerprinted(name, content)}"
        files[addresses[name]] = content
    return Assets(addresses, files)


def _tight(css: bytes) -> bytes:
    """A stylesheet without comments and spare white space, because every page loads it."""
    bare = re.sub(r'("[^"]*")|/\*.*?\*/', r"\1", css.decode(), flags=re.DOTALL)
    # Text between quotes is shown on the page, so it stays unchanged.
    pieces = re.split(r'("[^"]*")', bare)
    pieces[::2] = map(_without_room, pieces[::2])
    return "".join(pieces).strip().encode()


def _without_room(css: str) -> str:
    # A space before a colon changes a selector's meaning, so it stays.
    return re.sub(r" ?([{};,]) ?|(?<=:) ", r"\1", re.sub(r"\s+", " ", css)).replace(";}", "}")


def _walk(folder: Traversable, above: str) -> Iterator[tuple[str, bytes]]:
    for entry in sorted(folder.iterdir(), key=lambda entry: entry.name):
        if entry.is_dir():
            yield from _walk(entry, f"{above}{entry.name}/")
        elif not entry.name.startswith("."):
            yield f"{above}{entry.name}", entry.read_bytes()


def _fingerprinted(name: str, content: bytes) -> str:
    stem, dot, suffix = name.rpartition(".")
    if dot + suffix not in _FINGERPRINTED:
        return name
    return f"{stem}.{sha256(content).hexdigest()[:10]}.{suffix}"
