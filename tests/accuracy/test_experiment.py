"""The table of experiments: what counts as missed, and what several seeds say together."""

from collections.abc import Iterator
from math import nan

import pytest

from tests.accuracy import __main__ as command
from tests.accuracy import experiments
from tests.accuracy.experiment import Row, pooled, table


def coin(seed: int, systems: int) -> Iterator[Row]:
    yield Row("heads", {1: 0.4, 2: 0.6}[seed], least=0.45)
    yield Row("throws", systems)


def test_a_requirement_is_missed_below_its_least_above_its_most_and_by_no_number() -> None:
    assert Row("cover", 0.85, 0.85, 0.97).holds
    assert Row("cover", 0.97, 0.85, 0.97).holds
    assert not Row("cover", 0.84, 0.85, 0.97).holds
    assert not Row("cover", 0.98, 0.85, 0.97).holds
    assert not Row("cover", nan, least=0.85).holds
    assert Row("width", 12.0).holds


def test_seeds_are_judged_together_and_their_spread_is_told() -> None:
    lines = list(table("coin", pooled([coin(1, 10), coin(2, 10)])))
    assert lines[0] == "coin"
    assert lines[1].split() == ["heads", "0.5", "0.4", "to", "0.6", "≥", "0.45"]
    assert lines[2].split() == ["throws", "10"]


def test_the_command_says_what_was_missed_and_ends_with_one(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(experiments.EXPERIMENTS, "coin", coin)
    assert command.main(["--only", "coin", "--seeds", "1"]) == 1
    assert "MISSED" in capsys.readouterr().out
    assert command.main(["--only", "coin", "--seeds", "1", "2", "--systems", "3"]) == 0
    assert "MISSED" not in capsys.readouterr().out
