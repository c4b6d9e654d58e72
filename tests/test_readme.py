"""What README tells a newcomer is so."""

import contextlib
import io
import re
import shlex
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from generator.__main__ import main
from generator.commands import COMMANDS
from tests.conftest import AS_OF, ROOT

README = (ROOT / "README.md").read_text(encoding="utf-8")


def blocks(language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```", README, re.MULTILINE | re.DOTALL)


def command_lines() -> Iterator[list[str]]:
    """The arguments of every `corallite …` line in README, in order, whether in a block or within a sentence."""
    for block, inline in re.findall(r"^```sh\n(.*?)^```|`(corallite [^`]+)`", README, re.MULTILINE | re.DOTALL):
        for line in (block or inline).splitlines():
            if called := re.search(r"\bcorallite (.*)", line):
                yield shlex.split(called[1], comments=True)


@pytest.fixture
def begun(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder in which someone began with the demo journal, as README says."""
    monkeypatch.chdir(tmp_path)
    assert "corallite demo content " in README
    assert main(["demo", "content"]) == 0
    return tmp_path / "content/logs/lagoon/2026-11.yaml"


def test_the_log_it_shows_is_one_and_the_mistake_it_shows_is_told_so(
    begun: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (log,), (complaint,) = blocks("yaml"), blocks("text")
    assert begun.relative_to(begun.parents[3]).as_posix() in log
    said_of = log.split("\n", 1)[1]
    begun.write_text(said_of, encoding="utf-8")
    assert main(["check", "--as-of", AS_OF]) == 0
    begun.write_text(said_of.replace("8.9 dKH", "8,9"), encoding="utf-8")
    capsys.readouterr()
    assert main(["check", "--as-of", AS_OF]) == 1
    assert complaint.rstrip() in capsys.readouterr().out


def help_of(command: str) -> str:
    said = io.StringIO()
    with contextlib.redirect_stdout(said), pytest.raises(SystemExit) as end:
        main([command, "--help"])
    assert not end.value.code
    return said.getvalue()


@pytest.mark.long
def test_every_command_line_does_what_it_says(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, demo_site: Path) -> None:
    monkeypatch.chdir(tmp_path)
    lines = sorted(command_lines(), key=lambda words: words[0] != "demo")
    assert {words[0] for words in lines} == set(COMMANDS)
    built = set()
    for words in dict.fromkeys(map(tuple, lines)):
        if "--help" in words or words[0] == "watch":  # which goes on until Ctrl-C
            assert "options:" in help_of(words[0])
            continue
        dated = (*words, "--as-of", AS_OF) if "--as-of" in help_of(words[0]) and "--as-of" not in words else words
        if dated == ("build", "--as-of", AS_OF):
            # The demo's public site was built by this very line, for all tests.
            built.add(shutil.copytree(demo_site, "site", dirs_exist_ok=True))
            continue
        assert main(list(dated)) == 0, words
        built |= {words[words.index("--site") + 1]} if words[0] == "build" else set()
    assert all((Path(site) / "index.html").is_file() for site in built)
    assert built == {"site", "for-tamsin"}


def test_it_begins_with_the_job_and_is_short() -> None:
    title, job, rest = README.split("\n\n", 2)
    assert title == "# Corallite"
    assert not job.startswith(("#", "```", "!"))
    assert len(rest.splitlines()) < 120


def test_its_picture_is_there_and_is_said_in_words() -> None:
    for said, file in re.findall(r"!\[(.*?)\]\((.*?)\)", README):
        assert (ROOT / file).is_file()
        assert len(said) > 40
