"""A text as a QR code: the path of its dark modules, one unit wide each, without the quiet zone.

Source: ISO/IEC 18004, by way of the segno library.
"""

from dataclasses import dataclass
from itertools import groupby

# ISO/IEC 18004 asks for four modules of light around the code.
QUIET = 4
# A reader takes any of the eight masks. For a digest in hexadecimals this one has the least penalty of ISO/IEC 18004,
# 7.8.3, in three of four codes and on average; trying all eight each time takes five times as long.
MASK = 2


@dataclass(frozen=True, slots=True)
class QrCode:
    """A drawn code: `side` in modules with its quiet zone, and the path of what is dark."""

    side: int
    path: str


def draw(text: str) -> QrCode:
    """The code of a text; a quarter of it may be smudged and it still reads (level Q)."""
    import segno

    rows = segno.make_qr(text, error="q", boost_error=False, mask=MASK).matrix
    strokes = []
    for y, row in enumerate(rows):
        x = 0
        for dark, run in groupby(row):
            length = len(list(run))
            if dark:
                strokes.append(f"M{x + QUIET} {y + QUIET}h{length}v1h-{length}z")
            x += length
    return QrCode(len(rows) + 2 * QUIET, "".join(strokes))
