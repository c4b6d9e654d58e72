"""What is made of the program's files is made once, and anew wherever that could matter."""

import sys
from pathlib import Path

import pytest

from generator.door.compiled import compiled


class Maker:
    """Makes the words of a text, and counts how often."""

    def __init__(self) -> None:
        self.times = 0

    def __call__(self, text: str) -> list[str]:
        self.times += 1
        return text.split()


@pytest.fixture
def file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(sys, "pycache_prefix", str(tmp_path / "kept"))
    monkeypatch.setattr(sys, "dont_write_bytecode", False)
    made = tmp_path / "words.txt"
    made.write_text("tide and reef", encoding="utf-8")
    return made


def test_what_is_made_of_a_file_is_made_once(file: Path) -> None:
    make = Maker()
    assert compiled(file, make) == compiled(file, make) == ["tide", "and", "reef"]
    assert make.times == 1


def test_another_text_or_another_way_makes_it_anew(file: Path) -> None:
    make = Maker()
    compiled(file, make)
    assert compiled(file, make, "another way") == ["tide", "and", "reef"]
    # As long, and written in the same second.
    file.write_text("reef and tide", encoding="utf-8")
    assert compiled(file, make, "another way") == ["reef", "and", "tide"]
    assert make.times == 3


def test_what_is_broken_is_made_anew(file: Path, tmp_path: Path) -> None:
    make = Maker()
    compiled(file, make)
    (kept,) = (path for path in (tmp_path / "kept").rglob("*") if path.is_file())
    for broken in (kept.read_bytes()[:-3], b""):
        kept.write_bytes(broken)
        assert compiled(file, make) == ["tide", "and", "reef"]
    assert make.times == 3


def test_nothing_is_kept_if_python_keeps_nothing(file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    assert compiled(file, Maker()) == ["tide", "and", "reef"]
    assert not (tmp_path / "kept").exists()
