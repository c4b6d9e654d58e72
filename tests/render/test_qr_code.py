"""The QR code on a paper, read by a general-purpose decoder, and as the page draws it."""

import re
from hashlib import sha256

import pytest
import zxingcpp
from PIL import Image

from generator.render.pages.origin import QrCode, qr_code

_STROKE = re.compile(r"M(\d+) (\d+)h(\d+)v1h-\3z")
DIGEST = "0c99daa7b5f830fd93917fb72d0a3c0b97afb8a6494824d1bd1ee34bc80b9471"


def painted(code: QrCode, scale: int = 6) -> Image.Image:
    """The picture a browser makes of the path, module by module."""
    image = Image.new("L", (code.side * scale, code.side * scale), 255)
    assert _STROKE.sub("", code.path) == ""
    for x, y, width in _STROKE.findall(code.path):
        left, top = int(x) * scale, int(y) * scale
        image.paste(0, (left, top, left + int(width) * scale, top + scale))
    return image


def read(image: Image.Image) -> list[str]:
    return [found.text for found in zxingcpp.read_barcodes(image)]


@pytest.mark.parametrize(
    "text",
    [f"sha256:{DIGEST}", f"https://quilverry.example/reef/origin/index.html#sha256:{DIGEST}", "a keeper’s ünïcode"],
)
def test_a_decoder_reads_what_the_code_was_made_of(text: str) -> None:
    assert read(painted(qr_code(text))) == [text]


def test_every_digest_reads_though_its_mask_is_not_chosen_for_it() -> None:
    for number in range(16):
        text = f"https://quilverry.example/reef/origin/index.html#sha256:{sha256(bytes([number])).hexdigest()}"
        assert read(painted(qr_code(text), 3)) == [text]


def test_a_code_has_four_light_modules_all_round() -> None:
    # ISO/IEC 18004: a quiet zone of 4 modules.
    code = qr_code(DIGEST)
    strokes = [tuple(map(int, each)) for each in _STROKE.findall(code.path)]
    assert min(x for x, _, _ in strokes) == min(y for _, y, _ in strokes) == 4
    assert max(x + width for x, _, width in strokes) == max(y for _, y, _ in strokes) + 1 == code.side - 4


def test_a_code_still_reads_with_a_drop_of_water_on_it() -> None:
    image = painted(qr_code(f"sha256:{DIGEST}"))
    middle, drop = image.width // 2, image.width // 8
    image.paste(255, (middle - drop, middle - drop, middle + drop, middle + drop))
    assert read(image) == [f"sha256:{DIGEST}"]
