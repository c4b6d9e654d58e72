"""Small copies of photos, made of their pixels only; stylesheets and scripts by their digest; cards for links."""

import errno
import io
import os
import re
import stat
import warnings
from collections.abc import Iterable, Iterator
from contextlib import suppress
from hashlib import sha256
from importlib.resources.abc import Traversable
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING

from msgspec import Struct

from generator.render.base.prose import Copy, PhotoCopies
from generator.render.site.pages import Card

if TYPE_CHECKING:
    from PIL import Image
    from PIL.ImageDraw import ImageDraw


WIDTHS = (480, 960)
# The most pixels of a WebP picture's side (RFC 9649, 2.5: 14 bits), from memory.
_TALLEST = 16_383
_FORMATS = ("JPEG", "PNG", "WEBP")
# How a HEIC photo begins: the size of a box, its kind, its brand. Source: ISO/IEC 23008-12, annex B, from memory.
_HEIC = re.compile(rb"....ftyp(?:hei[cxms]|hev[cx]|mif1|msf1)", re.DOTALL)
NO_READER = "is a HEIC picture, and the reader of these is not installed"
_CAREFUL = getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
# How pillow turns a photo upright, by the tag that says how the camera was held (Exif 2.32, tag 0x0112).
_ORIENTATION = 0x0112
_TURNS = {2: 0, 3: 3, 4: 1, 5: 5, 6: 4, 7: 6, 8: 2}
_QUALITY = 78
# Limits that no keeper's photo passes: 60 megapixels is more than any phone's normal mode.
_MOST_PIXELS = 60_000_000
_MOST_BYTES = 60_000_000
# Part of the key of every cached copy: raise it when the way copies are made changes.
_RECIPE = "2"


class Album(Struct, frozen=True):
    """`pictures` by photo (path below the journal), `files` by address, and what is wrong with the rest."""

    pictures: dict[str, PhotoCopies]
    files: dict[str, bytes]
    refused: dict[str, str]


def small_copies(journal: Path, photos: Iterable[str], cache: Path) -> Album:
    """Copies of the named photos at most `WIDTHS` pixels wide, as WebP; `cache` keeps them for the next build.

    A photo that is not a JPEG, PNG or WebP picture of a sane size (or a HEIC one, if the package that reads these is
    installed) is in `refused` with the reason.
    """
    album = Album({}, {}, {})
    for name in photos:
        try:
            original = _read(journal / name)
            copies = [(width, _copy(original, width, cache)) for width in WIDTHS]
        except _Refused as refused:
            album.refused[name] = str(refused)
            continue
        made: dict[tuple[int, int], Copy] = {}
        for width, content in copies:
            address = f"photos/{_plain(name)}-{sha256(original).hexdigest()[:8]}-{width}.webp"
            size = _size(content)
            # A small original gives the same copy at every width; one is enough.
            made.setdefault(size, Copy(address, *size))
            album.files[made[size].address] = content
        (width, height), last = list(made.items())[-1]
        album.pictures[name] = PhotoCopies(tuple(made.values()), len(album.files[last.address]) / (width * height))
    return album


def _plain(name: str) -> str:
    """A photo's name as every address and disk can have it."""
    return re.sub(r"[^a-z0-9]+", "-", PurePosixPath(name).stem.lower()).strip("-")[:60] or "photo"


def refused(journal: Path, photos: Iterable[str], cache: Path) -> dict[str, str]:
    """What is wrong with each named photo that cannot be copied. Makes no copies."""
    found = {}
    for name in photos:
        try:
            original = _read(journal / name)
            if not all(_kept(original, width, cache).is_file() for width in WIDTHS):
                _pixels(original, WIDTHS[0])
        except _Refused as reason:
            found[name] = str(reason)
    return found


class _Refused(Exception):
    pass


def _read(path: Path) -> bytes:
    # A file may be replaced while the journal is read: by a link, a pipe nobody writes to, or a larger one.
    try:
        with open(os.open(path, os.O_RDONLY | _CAREFUL), "rb") as file:
            if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
                raise _Refused("is not a plain file")
            if os.fstat(file.fileno()).st_size > _MOST_BYTES:
                raise _Refused(f"is larger than {_MOST_BYTES // 1_000_000} MB")
            return file.read(_MOST_BYTES)
    except OSError as error:
        link = error.errno == errno.ELOOP
        raise _Refused("is a link, not a file" if link else f"cannot be read: {error.strerror}") from error


def _kept(original: bytes, width: int, cache: Path) -> Path:
    """Where the cache keeps a copy."""
    from PIL import __version__

    key = sha256(f"{_RECIPE} {__version__} {width} {_QUALITY} ".encode() + sha256(original).digest()).hexdigest()
    return cache / "photos" / key[:2] / f"{key}.webp"


def _copy(original: bytes, width: int, cache: Path) -> bytes:
    kept = _kept(original, width, cache)
    with suppress(OSError):
        copy = kept.read_bytes()
        # A computer that lost its power may have kept less than the length that a WebP has at its head (RFC 9649, 2.3).
        if copy[:4] == b"RIFF" and int.from_bytes(copy[4:8], "little") + 8 == len(copy):
            return copy
    content = _shrunk(original, width)
    # The cache only saves time. If it cannot be written, the site is built without it.
    with suppress(OSError):
        kept.parent.mkdir(parents=True, exist_ok=True)
        half_written = kept.with_suffix(f".{os.getpid()}")
        half_written.write_bytes(content)
        half_written.replace(kept)
    return content


def _pixels(original: bytes, width: int) -> "Image.Image":
    """The photo the right way up, in pixels, at least `width` wide."""
    from PIL import Image, UnidentifiedImageError

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of what a damaged photo says of itself
        warnings.simplefilter("error", Image.DecompressionBombWarning)
        try:
            with Image.open(io.BytesIO(original), formats=_formats(original)) as photo:
                if photo.width * photo.height > _MOST_PIXELS:
                    raise _Refused(f"has more than {_MOST_PIXELS // 1_000_000} million pixels")
                # A JPEG can be decoded at an eighth of its size: less work for the same copy.
                photo.draft("RGB", (2 * width, 2 * width))
                photo.load()  # a PNG may say only at its end how it was held
                held = photo.getexif().get(_ORIENTATION)
                upright = photo.transpose(Image.Transpose(_TURNS[held])) if held in _TURNS else photo
                has_alpha = "A" in upright.getbands() or "transparency" in upright.info
                return upright.convert("RGBA" if has_alpha else "RGB")
        except (Image.DecompressionBombError, Image.DecompressionBombWarning):
            raise _Refused(f"has more than {_MOST_PIXELS // 1_000_000} million pixels") from None
        except UnidentifiedImageError:
            raise _Refused("is not a JPEG, PNG or WebP picture") from None
        except _Refused:
            raise
        except Exception as error:  # a photo can be damaged in more ways than its reader has names for
            raise _Refused(f"is damaged: {error}") from error


def _formats(original: bytes) -> tuple[str, ...]:
    if not _HEIC.match(original):
        return _FORMATS
    try:
        from pillow_heif import register_heif_opener
    except ImportError:
        raise _Refused(NO_READER) from None
    register_heif_opener()
    return ("HEIF",)


def _shrunk(original: bytes, width: int) -> bytes:
    from PIL import Image

    pixels = _pixels(original, width)
    scale = min(1.0, width / pixels.width, _TALLEST / pixels.height)
    if scale < 1.0:
        size = max(1, round(pixels.width * scale)), max(1, round(pixels.height * scale))
        pixels = pixels.resize(size, Image.Resampling.LANCZOS, reducing_gap=3.0)
    # A new image holds pixels and nothing else: no EXIF, XMP, colour profile, comment or thumbnail.
    bare = Image.new(pixels.mode, pixels.size)
    bare.paste(pixels)
    out = io.BytesIO()
    bare.save(out, "WEBP", quality=_QUALITY, method=2)
    return out.getvalue()


def _size(content: bytes) -> tuple[int, int]:
    from PIL import Image

    with Image.open(io.BytesIO(content), formats=("WEBP",)) as copy:
        return copy.size


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
    picture.quantize(64, method=Image.Quantize.FASTOCTREE).save(out, "PNG")
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


class Assets(Struct, frozen=True):
    """`addresses` maps a name below the assets folder to its address in the site; `files` hold the bytes."""

    addresses: dict[str, str]
    files: dict[str, bytes]


def assets_in(folder: Traversable) -> Assets:
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
