"""Someone who waits at a terminal sees what is done; nobody else does."""

import argparse
import io
import sys
from pathlib import Path

import pytest

from generator.__main__ import main
from generator.commands import COMMANDS
from generator.commands.terminal import doing
from tests.commands.test_commands import AS_OF, SOUND, Write, corallite


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


LOUD, QUIET = argparse.Namespace(quiet=False), argparse.Namespace(quiet=True)


def at_a_terminal(monkeypatch: pytest.MonkeyPatch) -> Terminal:
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setattr(sys, "stderr", terminal := Terminal())
    return terminal


def left(written: str) -> str:
    """What stands on the line when all was written: a carriage return goes back to its start."""
    line = ""
    for piece in written.split("\r"):
        line = piece + line[len(piece) :]
    return line.rstrip()


def test_what_is_done_is_said_and_goes_before_the_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = at_a_terminal(monkeypatch)
    with doing(LOUD, "calculating"):
        assert left(terminal.getvalue()) == "calculating …"
    assert left(terminal.getvalue()) == ""
    assert terminal.getvalue().endswith("\r"), "what is printed next begins at the start of the line"


def test_a_part_that_takes_long_is_said_in_its_time(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = at_a_terminal(monkeypatch)
    with doing(LOUD, "making the site") as tell:
        tell("copying a-photo-of-kelp-and-more.jpg")
        assert left(terminal.getvalue()) == "copying a-photo-of-kelp-and-more.jpg …"
        tell("")
        assert left(terminal.getvalue()) == "making the site …"
    assert left(terminal.getvalue()) == ""


def test_what_fails_leaves_no_line_behind(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = at_a_terminal(monkeypatch)
    with pytest.raises(OSError, match="gone"), doing(LOUD, "reading"):
        raise OSError("gone")
    assert left(terminal.getvalue()) == ""


def test_quiet_a_plain_terminal_and_a_file_get_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = at_a_terminal(monkeypatch)
    with doing(QUIET, "reading"):
        pass
    monkeypatch.setenv("TERM", "dumb")
    with doing(LOUD, "making the site") as tell:
        tell("copying kelp.jpg")
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setattr(sys, "stderr", io.StringIO())
    with doing(LOUD, "reading"):
        pass
    assert (terminal.getvalue(), sys.stderr.getvalue()) == ("", "")


def test_no_command_writes_an_escape_to_a_terminal_without_colour(
    journal: Write, monkeypatch: pytest.MonkeyPatch
) -> None:
    terminal = at_a_terminal(monkeypatch)
    monkeypatch.setenv("NO_COLOR", "1")
    content = journal(SOUND)
    monkeypatch.setattr(sys, "stdout", out := Terminal())
    assert main(["build", "--content", str(content), "--site", str(content.with_name("site")), *AS_OF]) == 0
    for stage in ("reading the journal …", "making the site …", "writing the site …"):
        assert stage in terminal.getvalue()
    assert left(terminal.getvalue()) == ""
    assert "\x1b" not in out.getvalue() + terminal.getvalue()


@pytest.mark.parametrize("command", ["check", "build"])
def test_quiet_says_only_what_is_wrong(journal: Write, command: str) -> None:
    content = journal(SOUND + "--- content.txt\nx\n")
    said = corallite(command, "--content", content, *AS_OF, "--quiet", folder=content.parent)
    assert said.returncode == 0
    assert said.stdout.startswith("content.txt:1: warning: ")
    assert said.stdout.endswith("no errors, 1 warning\n" if command == "check" else " warnings\n")
    (content / "content.txt").unlink()
    assert corallite("schemas", "--content", content, "--quiet").stdout == ""
    assert corallite("check", "--content", content, *AS_OF, "--quiet").stdout == ""


def test_every_command_can_be_quiet(journal: Write, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    content, at = journal(SOUND), tmp_path / "elsewhere"
    at.mkdir()
    (at / "sheet.csv").write_text("date,alkalinity (dKH)\n2026-03-01,8.2\n2026-02-28,murky\n")
    words = ("--content", str(content), "--quiet")
    assert main(["note", "reef", "alk 8.1, ca 425", *words, *AS_OF]) == 0
    assert main(["tidy", *words]) == 0
    assert main(["begin", str(at / "my-reef"), "--defaults", "--quiet"]) == 0
    assert main(["demo", str(at / "demo"), "--quiet"]) == 0
    assert capsys.readouterr().out == ""
    assert main(["gather", str(at / "sheet.csv"), "--system", "reef", *words, *AS_OF]) == 0
    assert capsys.readouterr().out.startswith("not taken: "), "what is wrong is said"
    assert main(["note", "reef", "no3 5 mg/L", "--try", *words, *AS_OF]) == 0
    assert "would write" in capsys.readouterr().out, "and what is asked for"
    for command in COMMANDS:
        with pytest.raises(SystemExit, match="0"):
            main([command, "--help"])
        assert "--quiet" in capsys.readouterr().out, command
