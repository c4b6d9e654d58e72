"""A record made for a day that is past, of a journal that went on since."""

from datetime import date
from pathlib import Path

from msgspec.structs import replace

from generator.exchange.record_of_origin import day_of_leaving, own_texts_of
from generator.records.coral import Arrival, End
from tests.exchange.journals import ines_and_marta
from tests.reckon.growth.corals import coral, day, here
from tests.render import sample


def test_a_record_can_be_dated_back_though_more_was_written_since(tmp_path: Path) -> None:
    ines, marta = ines_and_marta(tmp_path)
    ines.write("--- logs/reef/2025-06.yaml\n- at: 2025-06-02 08:10\n  readings: {alkalinity: 8.1 dKH}\n")
    file = ines.hand_over("tide-lantern", date(2024, 6, 1))
    assert '"date":"2024-06-01"' in file.read_text()
    assert marta.take_in(file) == {"tide-lantern"}


def test_a_coral_leaves_on_the_day_it_is_handed_over_and_not_before_it_came() -> None:
    came = coral("one", arrival=Arrival(source=here(), at=day(10), how="trade"))
    assert [day_of_leaving(came, day(at)) for at in (9, 10, 50)] == [None, day(10), day(50)]
    given, dead = (replace(came, end=End(source=here(), at=day(40), how=how)) for how in ("given", "died"))
    assert [day_of_leaving(given, day(at)) for at in (40, 41)] == [day(40), day(40)]
    assert [day_of_leaving(dead, day(at)) for at in (40, 41)] == [day(40), None]


def test_the_text_of_a_photo_of_their_own_is_not_among_what_a_record_can_hold() -> None:
    texts = {text for each in sample.journal().corals.values() for _, _, text in own_texts_of(each)}
    assert "A lantern of green tips" in texts
    assert "CANARY-alt" not in texts
