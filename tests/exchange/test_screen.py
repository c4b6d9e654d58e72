"""What `corallite verify` says: on one screen, what weighs most first."""

from pathlib import Path

import pytest

from generator.__main__ import main
from generator.commands.asking import english
from generator.exchange.verify import Statement
from generator.render.pages.origin import statements_in_words
from tests.exchange.journals import NOW, ines_and_marta


@pytest.mark.parametrize(("columns", "rows"), [(80, 24), (200, 50), (60, 16)])
def test_a_record_of_thirty_pieces_is_told_on_one_screen_however_small(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], columns: int, rows: int
):
    ines, _ = ines_and_marta(tmp_path)
    file = ines.hand_over("tide-lantern", NOW, "--frags", "30")
    capsys.readouterr()
    monkeypatch.setenv("COLUMNS", str(columns))
    monkeypatch.setenv("LINES", str(rows))
    assert main(["verify", str(file)]) == 0
    said = capsys.readouterr().out
    assert sum(-(-len(line) // columns) for line in said.splitlines()) < rows
    assert "(×30)" in said
    assert ("more (--all)" in said) == (rows < 20)
    assert main(["verify", str(file), "--all"]) == 0
    assert "more (--all)" not in capsys.readouterr().out


@pytest.mark.parametrize(("oldest", "end"), [("Old Lantern", "Old Lantern"), ("Lantern", "the oldest coral in it")])
@pytest.mark.parametrize("chain", ["chain", "chain-withheld"])
def test_a_chain_does_not_lead_from_a_name_back_to_the_same_name(chain: str, oldest: str, end: str):
    hands = (("corals", "2"), ("hands", "2"), ("oldest", oldest), ("keeper", "Ines"))
    (said,) = statements_in_words(english(), [Statement(chain, (("coral", "Lantern"), *hands))], str)
    assert said.startswith(f"The chain of Lantern is complete back to {end}")
