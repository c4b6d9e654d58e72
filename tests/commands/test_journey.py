"""`corallite journey`, for a colony and a container in the files or in none."""

import re
from pathlib import Path

import pytest

from generator.__main__ import main


def journey(*words: str, content: Path) -> int:
    return main(["journey", *words, "--content", str(content)])


def test_a_colony_and_a_container_that_are_in_no_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    words = ("--colony", "52x31x17 cm", "--container", "56x36x38", "--duration", "40 min", "--form", "plating")
    assert journey(*words, content=tmp_path) == 0
    said = capsys.readouterr().out
    assert "It lies tilted" in said
    assert "Temperature (the risk is low): " in said
    assert "Oxygen (the risk is low): " in said
    assert "CITES" in said


def test_inches_are_as_good_as_centimetres(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    assert journey("--colony", "8x6x4 in", "--container", "20x15x12 in", "--duration", "1 h", content=tmp_path) == 0
    inches = capsys.readouterr().out
    words = ("--colony", "20.32x15.24x10.16", "--container", "50.8x38.1x30.48", "--duration", "60 min")
    assert journey(*words, content=tmp_path) == 0
    assert capsys.readouterr().out == inches


def test_what_does_not_fit_ends_with_one(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    assert journey("--colony", "34x27x22", "--container", "28x28x28", "--duration", "1 h", content=tmp_path) == 1
    assert "It does not fit" in capsys.readouterr().out


_ASKED = ("--colony", "34x27x22", "--container", "72x72x64", "--duration", "1 h")


def test_a_small_bag_of_water_is_told_to_a_tenth(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    assert journey("--colony", "4x4x3", "--container", "12x12x15", "--duration", "1 h", content=tmp_path) == 0
    assert re.search(r"Water to cover it: \d\.\d L \(\d\.\d to \d\.\d\)", capsys.readouterr().out)


@pytest.mark.parametrize(
    ("colony", "container", "said"),
    [
        ("3x3x2", "44x30x24", r"\d\.\d\d L \(\d\.\d\d to \d\.\d\d\)\."),
        ("5x5x7", "40x30x15", r"\d\d\.\d L \(\d\d\.\d to \d\d\.\d\)\."),
        ("8x7x9", "40x30x14", r"\d\d\.\d\d L\. Even filled to the brim"),
    ],
)
def test_the_two_ends_of_a_range_are_never_the_same(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], colony: str, container: str, said: str
):
    assert journey("--colony", colony, "--container", container, "--duration", "1 h", content=tmp_path) == 0
    told = capsys.readouterr().out
    assert re.search(f"Water to cover it: {said}", told)
    assert not re.search(r"\(([\d.]+) to \1\)", told)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--colony", "34x27x22", "--container", "72x72x64", "--duration", "1 kg"), "duration is not measured in kg"),
        (("--colony", "34x27x22", "--container", "72x72x64", "--duration", "-2 h"), "not a time on the road"),
        (("--colony", "34x27x22", "--container", "barrel", "--duration", "1 h"), "the file is missing"),
        (("--colony", "34x27", "--container", "barrel", "--duration", "1 h"), "not a size such as 31x27x24 cm"),
        ((*_ASKED, "--water", "400 °C"), "'400 °C' is out of range (write 0 to 40 °C)"),
        ((*_ASKED, "--water", "25 F"), "'25 F' is out of range"),
        ((*_ASKED, "--air", "-90 °C"), "'-90 °C' is out of range"),
        ((*_ASKED, "--padding", "-1 cm"), "'-1 cm' is out of range (write 0 to 50 cm)"),
        (("--colony", "34x0x22", "--container", "72x72x64", "--duration", "1 h"), "a side of 0"),
    ],
)
def test_words_that_are_not_understood_get_one_clear_line(
    words: tuple[str, ...], said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    assert journey(*_joined(words), content=tmp_path) == 1
    captured = capsys.readouterr()
    assert said in captured.err + captured.out


def _joined(words: tuple[str, ...]) -> list[str]:
    """Options as --name=value, so that a value may begin with a minus."""
    return [f"{name}={value}" for name, value in zip(words[::2], words[1::2], strict=True)]


def test_a_coral_and_a_container_of_the_journal(journal, capsys: pytest.CaptureFixture[str]):
    folder = journal(
        """\
--- journal.yaml
title: Reef
keeper: Ines
time_zone: Europe/Lisbon
containers:
  herring-box: {length: 40 cm, width: 30 cm, height: 25 cm, mass: 1.2 kg}
--- corals/ember.yaml
name: Ember
species: Acropora millepora
line: ember
form: corymbose
arrival: {at: 2025-05-01, how: gift}
sizes:
  - {at: 2025-06-01, length: 14 cm, width: 11 cm, height: 8 cm}
"""
    )
    assert journey("--colony", "ember", "--container", "herring-box", "--duration", "2 h", content=folder) == 0
    assert "It lies flat" in capsys.readouterr().out
    assert journey("--colony", "embers", "--container", "herring-box", "--duration", "2 h", content=folder) == 1
    assert "there is no coral 'embers'" in capsys.readouterr().err


IMPERIAL = """\
--- journal.yaml
title: Reef
keeper: Ines
time_zone: Europe/Lisbon
units: {length: in, mass: lb, volume: gal, temperature: °F}
containers:
  small-tote: {length: 16 in, width: 12 in, height: 10 in}
--- corals/ember.yaml
name: Ember of the Harbour
species: Acropora millepora
line: ember
form: corymbose
arrival: {at: 2025-05-01, how: gift}
sizes:
  - {at: 2025-06-01, length: 5.5 in, width: 4.3 in, height: 3.1 in}
"""


def test_a_bare_number_takes_the_journals_unit_and_so_does_the_answer(journal, capsys: pytest.CaptureFixture[str]):
    folder = journal(IMPERIAL)
    assert journey("--colony", "8x6x4", "--container", "20x15x12", "--duration", "1 h", content=folder) == 0
    own = capsys.readouterr().out
    assert re.search(r"It fits, with [\d.]+ in to spare", own)
    assert re.search(r"Water to cover it: [\d.]+ gal", own)
    assert re.search(r"Mass to lift: \d+ lb .*guideline of \d+ lb for two people together \(\d+ lb for one\)", own)
    assert re.search(r"Water on arrival: [\d.]+ °F", own)
    assert journey("--colony", "8x6x4 in", "--container", '20" x 15" x 12"', "--duration", "1 h", content=folder) == 0
    assert capsys.readouterr().out == own


@pytest.mark.parametrize(
    "size", ["60x40x25", "60×40×25", "60 x 40 x 25 cm", "60 cm x 40 cm x 25 cm", "60*40*25", "60 by 40 by 25"]
)
def test_a_size_is_understood_as_people_write_it(size: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    assert journey("--colony", size, "--container", "90x80x70", "--duration", "1 h", content=tmp_path) == 0
    said = capsys.readouterr().out
    journey("--colony", "60x40x25 cm", "--container", "90x80x70", "--duration", "1 h", content=tmp_path)
    assert capsys.readouterr().out == said


def test_a_mass_that_is_known_counts_instead_of_the_usual(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    words = ("--colony", "60x40x25", "--container", "90x80x70", "--duration", "1 h")
    journey(*words, content=tmp_path)
    usual = capsys.readouterr().out
    journey(*words, "--mass", "14 kg", content=tmp_path)
    weighed = capsys.readouterr().out
    width = [
        float(high) - float(low)
        for said in (usual, weighed)
        for low, high in re.findall(r"Mass to lift:.*?\((\d+) to (\d+)\)", said)
    ]
    assert width[1] < width[0]


def test_a_coral_is_found_by_its_name_and_a_close_miss_says_what_is_meant(journal, capsys: pytest.CaptureFixture[str]):
    folder = journal(IMPERIAL)

    def asked(colony: str, container: str) -> int:
        return journey("--colony", colony, "--container", container, "--duration", "1 h", content=folder)

    assert asked("Ember of the harbour", "small-tote") == 0
    capsys.readouterr()
    assert asked("Ember of the harbor", "small-tote") == 1
    assert "did you mean ember?" in capsys.readouterr().err
    assert asked("ember", "smal-tote") == 1
    assert "there is no container 'smal-tote' (did you mean small-tote?)" in capsys.readouterr().err
