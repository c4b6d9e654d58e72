"""What README tells a newcomer is so."""

import contextlib
import io
import re
import shlex
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pandas
import pytest

from generator.__main__ import main
from generator.commands import COMMANDS
from tests.conftest import AS_OF, ROOT

# First there is a journal, which is asked before it is written in: so what is found of it was found for other tests.
# What comes from a partner comes today, which is after the day that the others ask about.
ORDER = {"demo": 0, **dict.fromkeys(("tables", "since", "today", "what-if", "build", "sheet lot-19"), 1), "take-in": 3}
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


def examples(command: str) -> Iterator[list[str]]:
    """The arguments of every example in a command's help, without what it says beside them."""
    for line in re.findall(r"(?m)^  corallite (.+?)(?:   .*)?$", help_of(command)):
        words = shlex.split(line)
        assert words[0] == command
        yield words[: words.index(">" if ">" in words else ">>")] if {">", ">>"} & set(words) else words


def what_the_examples_speak_of(folder: Path) -> None:
    shutil.copy(ROOT / "content/photos/tide-lantern.png", folder / "lantern.jpg")
    notes = pandas.DataFrame({"Date": ["13/11/2026", "14/11/2026"], "KH": [8.6, 8.7], "Ca": [421, 424]})
    notes.to_csv(folder / "notes.csv", index=False)
    notes.to_excel(folder / "notes.xlsx", index=False)
    report = pandas.DataFrame({"Element": ["Sr"], "Result": ["8100 µg/L"]})
    report.to_excel(folder / "report.ods", index=False, engine="odf")
    tanks = "Date,Tank,Salinity,Mood\n2026-11-03,big tank,1.0255,good\n"
    (folder / "tanks.csv").write_text(tanks, "utf-8")


def committed(folder: Path) -> None:
    for words in (["init", "-q"], ["add", "content"], *[["commit", "-qm", "x", "--allow-empty"]] * 4):
        subprocess.run(["git", "-c", "user.name=x", "-c", "user.email=x@x.example", *words], cwd=folder, check=True)


def run_example(words: tuple[str, ...]) -> int:
    if words[0] not in ("since", "tables", "today"):
        return run_as_of(words)
    # These calculate everything: README's line did that for the demo, so here they take a journal just begun.
    if not Path("new").exists():
        assert main(["begin", "new", "--defaults"]) == 0
        committed(Path("new"))
    return main([*words, "--content", "new/content"])


def run_as_of(words: tuple[str, ...]) -> int:
    dated = "--as-of" in words or "--as-of" not in help_of(words[0])
    return main(list(words if dated else (*words, "--as-of", AS_OF)))


@pytest.mark.long
@pytest.mark.usefixtures("courses_kept")
def test_every_command_line_does_what_it_says(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, demo_site: Path) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HOME", str(tmp_path))
    what_the_examples_speak_of(tmp_path)
    told = list(dict.fromkeys(map(tuple, command_lines())))
    shown = {words: None for command in COMMANDS for words in map(tuple, examples(command)) if words not in told}
    assert {words[0] for words in told} == set(COMMANDS)
    built = set()
    for words in sorted([*told, *shown], key=lambda words: ORDER.get(words[0], ORDER.get(" ".join(words[:2]), 2))):
        if "--help" in words or words[0] == "watch":  # which goes on until Ctrl-C
            assert "options:" in help_of(words[0])
        elif words[:3] == ("build", "--as-of", AS_OF) or words == ("build",):
            # The demo's public site was built by this very line, for all tests.
            built.add(shutil.copytree(demo_site, "site", dirs_exist_ok=True))
        else:
            assert (run_example if words in shown else run_as_of)(words) == 0, words
            built |= {words[words.index("--site") + 1]} if words[0] == "build" else set()
    assert all((Path(site) / "index.html").is_file() for site in built)
    assert built == {"site", "for-tamsin"}


GUIDES = {language: (ROOT / f"templates/guides/{language}.md").read_text("utf-8") for language in ("en", "de")}


def test_every_language_has_the_same_guides_and_command_lines() -> None:
    codes = [re.findall(r"^```.*?^```", guide, re.MULTILINE | re.DOTALL) for guide in GUIDES.values()]
    assert codes[0] == codes[1]
    assert (
        len(re.findall("^## ", GUIDES["en"], re.MULTILINE)) == len(re.findall("^## ", GUIDES["de"], re.MULTILINE)) == 6
    )


@pytest.mark.long
@pytest.mark.usefixtures("courses_kept")
def test_every_command_line_of_the_guides_does_what_it_says(begun: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """In the demo's folder, in order; the sites of it are README's, and built there.

    The logs of its last month will do, and take a tenth of the time.
    """
    for log in begun.parents[1].glob("*/*.yaml"):
        if log.stem < "2026-11":
            log.unlink()
    for language, code in re.findall(r"^```(sh|yaml)\n(.*?)^```", GUIDES["en"], re.MULTILINE | re.DOTALL):
        if language == "yaml":
            name, text = code.removeprefix("# ").split("\n", 1)
            Path(name).write_text(text, "utf-8")
            continue
        for line in code.replace("\\\n", "").splitlines():
            words = shlex.split(line)
            if words[0] == "cp":
                shutil.copy(*words[1:])
            elif words[:2] == ["corallite", "build"]:
                assert words[1:] in list(command_lines())
            elif words[0] == "corallite":
                dated = ["--as-of", AS_OF] if "--as-of" in help_of(words[1]) else []
                assert main([*words[1:], *dated]) == 0, line
            else:
                assert words[0] == "git"
    said = capsys.readouterr().out
    assert "wrote plans/bell-rock-1.yaml" in said
    assert "made corals/bell-rock-1.yaml" in said
    assert "nothing new to write" in said, "a sheet of what is there adds nothing"


def test_it_begins_with_the_job_and_is_short() -> None:
    title, job, rest = README.split("\n\n", 2)
    assert title == "# Corallite"
    assert not job.startswith(("#", "```", "!"))
    assert len(rest.splitlines()) < 120


def test_its_picture_is_there_and_is_said_in_words() -> None:
    for said, file in re.findall(r"!\[(.*?)\]\((.*?)\)", README):
        assert (ROOT / file).is_file()
        assert len(said) > 40
