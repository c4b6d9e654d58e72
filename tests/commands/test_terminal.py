"""A terminal receives text: no name of a file, and nothing that someone wrote, can steer it."""

import json
import re
import shutil
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from generator.commands.terminal import NOTHING, Stop, escaped, stopping
from tests.commands.test_commands import SOUND, Said, Write, corallite

# What sets a window's title, colours, clears the screen in one sign, and turns the direction of text.
EVIL = "\x1b]0;x\x07\x1b[31m\x9b2J\u202e"
STEERING = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069]")


def harmless(said: Said) -> bool:
    return not STEERING.search(said.stdout + said.stderr)


@pytest.mark.parametrize(
    ("error", "said"),
    [
        (OSError(28, "No space left", "a.yaml"), "nothing was written: a.yaml: No space left"),
        (OSError(28, "No space left"), "nothing was written: No space left"),
        (shutil.Error("three files"), "nothing was written: three files"),
    ],
)
def test_what_the_disk_refuses_is_said_with_its_file_where_it_has_one(error: OSError, said: str) -> None:
    with pytest.raises(Stop) as stopped, stopping(wrote=NOTHING):
        raise error
    assert stopped.value.args == (said,)


@pytest.fixture
def reef(journal: Write) -> Path:
    """A sound journal in a folder with an evil name."""
    content = journal(SOUND)
    return content.rename(content.parent / f"{EVIL}-content")


def test_files_with_evil_names_in_every_folder_are_named_without_harm(journal: Write) -> None:
    content = journal(SOUND)
    for folder in (content, *(each for each in content.iterdir() if each.is_dir()), content / "logs/reef"):
        for name in (EVIL, f"{EVIL}.yaml", f"a{EVIL}.jpg"):
            (folder / name).write_text(f"{EVIL}: [")
    said = corallite("check", "--content", content, "--as-of", "2026-03-31")
    assert said.returncode == 1
    assert r"\x1b]0;x\x07\x1b[31m\x9b2J\u202e.yaml:1: " in said.stdout
    assert harmless(said)
    data = corallite("check", "--content", content, "--as-of", "2026-03-31", "--json")
    assert json.loads(data.stdout)["runs"][0]["results"]
    assert harmless(data)


@pytest.mark.parametrize(
    "words",
    [
        "check --content EVIL-none",
        "today --content EVIL-none",
        "schemas --content EVIL-content",
        "schemas --content EVIL-none",
        "build --content EVIL-content --site EVIL-site --as-of 2026-03-31",
        "build --content EVIL-content --base-url https://EVIL",
        "build --content EVIL-content --audience partner:EVIL --as-of 2026-03-31",
        "note EVIL alk --content EVIL-content",
        "note reef EVIL --content EVIL-content",
        "gather EVIL-none --content EVIL-content",
        "gather EVIL-sheet.csv --content EVIL-content --system reef",
        "verify EVIL-none",
        "verify EVIL-sheet.csv",
        "take-in EVIL-none --content EVIL-content",
        "sheet EVIL --content EVIL-content",
        "what-if EVIL --content EVIL-content",
        "since EVIL --content EVIL-content",
        "place --size EVIL --content EVIL-content",
        "place --size 3x3cm --species EVIL --content EVIL-content --as-of 2026-03-31",
        "journey --colony EVIL --container 3x3x3cm --duration 1h --content EVIL-content",
        "recipe --compound EVIL --volume 5L",
        "origin tide-lantern --output EVIL.json --content EVIL-content --as-of 2026-03-31",
        "arrive EVIL --content EVIL-content",
        "demo EVIL-content",
        "begin EVIL-content --defaults",
        "check --as-of EVIL",
        "watch --port EVIL",
        "EVIL",
    ],
)
def test_evil_names_on_the_command_line_are_named_without_harm(words: str, reef: Path) -> None:
    (reef.parent / f"{EVIL}-sheet.csv").write_text(f"Date,KH,{EVIL}\n2026-03-03,8.1,x\n")
    said = corallite(*(word.replace("EVIL", EVIL) for word in words.split()), folder=reef.parent)
    assert said.stdout + said.stderr
    assert harmless(said)


def test_where_the_journal_is_can_be_told_of_a_folder_with_an_evil_name(reef: Path) -> None:
    reef.rename(reef.parent / "content")
    inside = corallite(folder=reef.parent / "content/systems")
    assert inside.stdout.startswith("The journal is in ")
    assert harmless(inside)


@given(st.text())
def test_text_goes_through_unchanged_but_for_what_steers(text: str) -> None:
    made = escaped(text)
    assert not STEERING.search(made.replace("\t", " "))
    if not STEERING.search(text):
        assert made == text
    # In JSON, the escape stands for the very sign, so that data stay as they were.
    whole = json.dumps(text, ensure_ascii=False)
    assert json.loads(escaped(whole)) == text
