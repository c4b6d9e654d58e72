"""What README tells a newcomer is so."""

import re
from pathlib import Path

import pytest

from generator.__main__ import main
from generator.commands import COMMANDS

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
AS_OF = ["--as-of", "2026-11-22"]


def blocks(language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```", README, re.MULTILINE | re.DOTALL)


@pytest.fixture
def begun(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder in which someone began with the demo journal, as README says."""
    monkeypatch.chdir(tmp_path)
    assert "`corallite demo content`" in README
    assert main(["demo", "content"]) == 0
    return tmp_path / "content/logs/lagoon/2026-11.yaml"


@pytest.mark.usefixtures("begun")
def test_a_copy_of_the_demo_is_well_in_the_folder_check_looks_in() -> None:
    assert main(["check", *AS_OF]) == 0


def test_the_log_it_shows_is_one_and_the_mistake_it_shows_is_told_so(
    begun: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (log,), (complaint,) = blocks("yaml"), blocks("text")
    assert begun.relative_to(begun.parents[3]).as_posix() in log
    said_of = log.split("\n", 1)[1]
    begun.write_text(said_of, encoding="utf-8")
    assert main(["check", *AS_OF]) == 0
    begun.write_text(said_of.replace("8.9 dKH", "8,9"), encoding="utf-8")
    capsys.readouterr()
    assert main(["check", *AS_OF]) == 1
    assert complaint.strip() in capsys.readouterr().out.splitlines()


def test_every_command_is_named_and_every_command_named_exists() -> None:
    named = set(re.findall(r"`(?:corallite )?([a-z-]+)(?: [^`]*)?`", README.split("## What it is")[0]))
    assert set(COMMANDS) <= named
    assert set(re.findall(r"`corallite ([a-z-]+)", README)) <= set(COMMANDS)


def test_its_picture_is_there_and_is_said_in_words() -> None:
    for said, file in re.findall(r"!\[(.*?)\]\((.*?)\)", README):
        assert (ROOT / file).is_file()
        assert len(said) > 40
