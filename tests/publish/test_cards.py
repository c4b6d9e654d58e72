"""The picture of a card."""

import io

from PIL import Image

from generator.publish.assets import SIZE, png
from generator.render.site.pages import Card

CARD = Card("Two tanks", "Lagoon", "Alkalinity 8.1 dKH", (0.3, 0.6), ((0.1, 0.5), (0.9, 0.4)), ((0.5, 0.5),))


def picture(card: Card) -> Image.Image:
    return Image.open(io.BytesIO(png(card))).convert("RGB")


def test_a_card_is_a_small_picture_of_the_size_that_is_asked_for() -> None:
    content = png(CARD)
    assert picture(CARD).size == SIZE
    assert len(content) < 60_000
    assert content == png(CARD)


def test_a_reading_and_the_band_stand_where_they_belong() -> None:
    left, right, top, bottom = 70, 1130, 290, 570
    dot = picture(CARD).getpixel(((left + right) // 2, (top + bottom) // 2))
    band = picture(CARD).getpixel((left + 5, bottom - round(0.45 * (bottom - top))))
    assert isinstance(dot, tuple)
    assert isinstance(band, tuple)
    assert sum(dot) < 200
    assert band[1] > band[0] > 150


def test_a_long_name_is_cut_and_does_not_run_over_the_edge() -> None:
    shown = picture(Card("A", "Long " * 60, "B", None, (), ((0.5, 0.5),)))
    edge = [shown.getpixel((1190, y)) for y in range(100, 200)]
    assert len(set(edge)) == 1
