"""`corallite completion`: a real shell completes commands, options, their values and the journal's names."""

import shutil
import subprocess
from pathlib import Path

import pytest

from generator.commands import COMMANDS
from generator.commands.options import parser_of
from tests.commands.test_commands import SOUND, Write, corallite

ASK = 'COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); _corallite; echo "${COMPREPLY[@]}"'


def completed(folder: Path, *words: str) -> list[str]:
    """What bash offers for the last word."""
    text = f"{corallite('completion', 'bash').stdout}\n{ASK}"
    said = subprocess.run(["bash", "-c", text, "bash", *words], cwd=folder, capture_output=True, text=True, check=True)
    assert said.stderr == ""
    return said.stdout.split()


@pytest.mark.parametrize(
    ("words", "offered"),
    [
        (["corallite", "w"], ["watch", "what-if"]),
        (["corallite", "build", "--a"], ["--as-of", "--audience"]),
        (["corallite", "begin", "--units", "m"], ["metric"]),
        (["corallite", "completion", ""], ["bash", "zsh", "fish"]),
        (["corallite", "note", ""], ["reef", "tide-lantern-2", "tide-lantern"]),
        (["corallite", "predict", "--system", "r"], ["reef"]),
        # Files and words of one's own are the shell's matter, or nobody's.
        (["corallite", "verify", ""], []),
        (["corallite", "build", "--site", "-"], []),
    ],
)
def test_a_shell_completes_what_can_be_known(words: list[str], offered: list[str], journal: Write) -> None:
    assert completed(journal(SOUND).parent, *words) == offered


def test_a_file_with_an_evil_name_is_neither_offered_nor_carried_out(journal: Write) -> None:
    folder = journal(SOUND)
    for name in ("$(touch x).yaml", "`touch x`.yaml", "a b.yaml", "\x1b[31m.yaml"):
        (folder / "systems" / name).touch()
    assert completed(folder.parent, "corallite", "predict", "--system", "") == ["reef"]
    assert not list(folder.parent.rglob("x"))


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_every_command_with_its_options_is_known_in_every_shell(shell: str) -> None:
    text = corallite("completion", shell).stdout
    commands = next(each.choices for each in parser_of(COMMANDS)._actions if each.choices)
    assert isinstance(commands, dict)
    actions = [action for command in commands.values() for action in command._actions]
    options = {option for action in actions for option in action.option_strings if len(option) > 2}
    assert {"--as-of", "--audience", "--holder"} < options
    for each in (*COMMANDS, *options):
        assert (f"-l {each[2:]} " if shell == "fish" and each.startswith("--") else each) in text
    if shutil.which(shell):
        checked = subprocess.run([shell, "-n"], input=text, capture_output=True, text=True, check=False)
        assert (checked.returncode, checked.stderr) == (0, "")
