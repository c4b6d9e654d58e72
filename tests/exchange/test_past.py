"""A record made for a day that is past, of a journal that went on since."""

from datetime import date
from pathlib import Path

from tests.exchange.journals import ines_and_marta


def test_a_record_can_be_dated_back_though_more_was_written_since(tmp_path: Path) -> None:
    ines, marta = ines_and_marta(tmp_path)
    ines.write("--- logs/reef/2025-06.yaml\n- at: 2025-06-02 08:10\n  readings: {alkalinity: 8.1 dKH}\n")
    file = ines.hand_over("tide-lantern", date(2024, 6, 1))
    assert '"date":"2024-06-01"' in file.read_text()
    assert marta.take_in(file) == {"tide-lantern"}
