"""`corallite begin`: a journal of one's own, that builds at once and is ready to be published."""

import io
import json
import re
import shlex
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest
import yaml

from generator.__main__ import main
from generator.commands import begin
from generator.read.load import load
from generator.records.journal import Journal
from tests.commands.test_commands import ROOT, Said, corallite, tree

DAY = "2026-03-05"


@pytest.fixture
def new(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder that is not there yet, on a computer where git knows its keeper."""
    for name, value in {"NAME": "Ines", "EMAIL": "ines@reef.example"}.items():
        monkeypatch.setenv(f"GIT_AUTHOR_{name}", value)
        monkeypatch.setenv(f"GIT_COMMITTER_{name}", value)
    return tmp_path / "my-reef"


def begun(folder: Path, *options: str) -> Said:
    return corallite("begin", folder, "--defaults", *options)


def journal(folder: Path) -> Journal:
    found = load(folder / "content", date.fromisoformat(DAY))
    assert found.journal is not None, found.problems
    assert not found.problems, "nothing is wrong with what was begun, and nothing odd"
    return found.journal


def git(folder: Path, *words: str) -> str:
    return subprocess.run(["git", "-C", folder, *words], capture_output=True, text=True, check=True).stdout


def test_it_makes_a_repository_with_a_sound_journal_in_it(new: Path) -> None:
    said = begun(new)
    assert (said.returncode, said.stderr) == (0, "")
    assert said.stdout.splitlines()[-1] == f"next: cd {new} && corallite build"
    made = journal(new)
    assert list(made.systems) == ["reef"]
    assert not made.corals
    assert not made.logs, "nothing is invented"
    assert git(new, "status", "--porcelain") == ""
    assert git(new, "log", "--format=%s") == "Begin the journal\n"
    assert git(new, "branch", "--show-current") == "main\n"


def test_the_examples_in_a_systems_file_are_sound_once_they_are_no_comments(new: Path) -> None:
    begun(new)
    file = new / "content/systems/reef.yaml"
    text = file.read_text()
    file.write_text(re.sub(r"^# ((?:  )*[a-z]+:(?: \{.*\})?)$", r"\1", text, flags=re.MULTILINE))
    reef = journal(new).systems["reef"]
    assert reef.kits
    assert reef.solutions
    assert reef.places


@pytest.mark.parametrize(
    ("units", "volume", "language", "dates"),
    [
        ("metric", "300 L", "de", "day-month-year"),
        ("metric", "300 L", "en", "year-month-day"),
        ("us", "80 gal", "en", "month-day-year"),
        ("us", "", "en", "month-day-year"),
    ],
)
def test_it_takes_every_answer_as_an_option(new: Path, units: str, volume: str, language: str, dates: str) -> None:
    options = [
        "--title",
        "Tide: pool #2",
        "--keeper",
        'Ines "Neni" S.',
        "--system",
        "The Cellar",
        "--time-zone",
        "Atlantic/Azores",
    ]
    said = begun(new, *options, "--units", units, "--language", language, *(["--volume", volume] if volume else []))
    assert said.returncode == 0, said
    made = journal(new)
    assert (made.settings.title, made.settings.keeper) == ("Tide: pool #2", 'Ines "Neni" S.')
    assert (made.settings.time_zone.key, made.settings.language) == ("Atlantic/Azores", language)
    assert made.settings.date_order == dates
    assert str(made.systems["the-cellar"].water.volume) == (volume or "50 gal")
    assert corallite("check", "--content", new / "content", "--strict").returncode == 0


def test_nothing_that_is_there_is_overwritten(new: Path) -> None:
    new.mkdir()
    (new / "README.md").write_text("mine\n")
    (new / "letter.txt").write_text("private\n")
    said = begun(new)
    assert said.returncode == 0
    assert "kept your own README.md\n" in said.stdout
    assert (new / "README.md").read_text() == "mine\n"
    assert git(new, "status", "--porcelain") == "?? letter.txt\n", "the first commit has the journal's files alone"
    before = tree(new)
    assert begun(new).stderr == f"there is a journal in {new} already: {new / 'content'} (name another folder)\n"
    assert tree(new) == before


@pytest.mark.parametrize(
    ("option", "answer", "message"),
    [
        ("--time-zone", "Mars/Olympus", "unknown time zone 'Mars/Olympus' (write a name such as Europe/Lisbon)"),
        (
            "--time-zone",
            "../../etc/passwd",
            "unknown time zone '../../etc/passwd' (write a name such as Europe/Lisbon)",
        ),
        (
            "--volume",
            "300 kg",
            "a volume is not measured in kg, a unit of mass (write L, mL, gal, qt, cup, fl oz, tbsp, tsp)",
        ),
        ("--title", "Reef\x1b[2J", "an invisible character U+001B in an answer (leave it out)"),
        ("--system", "???", "'???' has no letters for the name of a file (write a name with letters)"),
    ],
)
def test_an_answer_that_cannot_be_is_refused_and_nothing_is_written(
    new: Path, option: str, answer: str, message: str
) -> None:
    said = begun(new, option, answer)
    assert (said.returncode, said.stderr) == (1, f"{message}\n")
    assert not new.exists()


@pytest.mark.parametrize(
    ("remote", "address"),
    [  # the forms of git-fetch(1), "GIT URLS", from memory
        ("git@forge.example:ines/reef.git", "https://forge.example/ines/reef"),
        ("ssh://git@forge.example:2222/ines/reef.git", "https://forge.example/ines/reef"),
        ("https://secret@forge.example:8443/club/ines/reef/", "https://forge.example:8443/club/ines/reef"),
        ("/srv/git/reef.git", None),
        ("file:///srv/git/reef.git", None),
        ("../reef", None),
        ("", None),
    ],
)
def test_it_knows_the_remote_that_the_repository_has(new: Path, remote: str, address: str | None) -> None:
    new.mkdir()
    git(new, "init", "--initial-branch=trunk")
    if remote:
        git(new, "remote", "add", "origin", remote)
    assert begun(new / "tank").returncode == 0
    repository = journal(new / "tank").settings.repository
    if address is None:
        assert repository is None
        assert "# repository: {" in (new / "tank/content/journal.yaml").read_text(), "a line to fill in"
    else:
        assert repository is not None
        assert (repository.address, repository.branch, repository.folder) == (address, "trunk", "tank/content")


def test_a_folder_beside_a_journal_is_begun_from_within_it(new: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert begun(new).returncode == 0
    monkeypatch.chdir(new / "content")
    assert main(["begin", "../../other", "--defaults"]) == 0
    assert main(["begin", "other", "--defaults"]) == 1


def test_it_says_that_a_forge_publishes_from_the_top_of_a_repository_only(new: Path) -> None:
    new.mkdir()
    git(new, "init")
    assert "move .github and .gitlab-ci.yml there" in begun(new / "tank").stdout
    assert "move .github" not in begun(new).stdout


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_it_asks_at_a_terminal_and_only_there(new: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    wrong_first = "Tide Pool\nInes\nMars\nEurope/Lisbon\nno\n\n?\nCellar\nmuch\n300\n"
    monkeypatch.setattr(sys, "stdin", Terminal(wrong_first))
    monkeypatch.setattr(sys, "stdout", Terminal())
    assert main(["begin", str(new)]) == 0
    made = journal(new)
    assert (made.settings.title, str(made.systems["cellar"].water.volume)) == ("Tide Pool", "300 L")
    assert sys.stdout.getvalue().count("(write ") == 4, "each wrong answer is asked for again"
    # Nobody answers: what was asked for is not made, and nothing waits.
    monkeypatch.setattr(sys, "stdin", Terminal(""))
    assert main(["begin", str(new.with_name("other"))]) == 1
    monkeypatch.setattr(sys, "stdin", io.StringIO(""))
    assert main(["begin", str(new.with_name("third"))]) == 0


def test_the_editor_knows_the_schema_of_every_kind_of_file(new: Path) -> None:
    begun(new)
    settings = json.loads((new / ".vscode/settings.json").read_text())
    for schema, files in settings["yaml.schemas"].items():
        assert (
            json.loads((new / schema).read_text())["title"] == re.sub(r"\*+", "<>", files.removeprefix("content/"))
            or files
        )
        assert schema.rpartition("/")[2].removesuffix(".json") in files
    for file in new.glob("content/**/*.yaml"):
        schema = re.search(r"\$schema=(\S+)", file.read_text().splitlines()[0])
        assert schema is not None
        assert (file.parent / schema[1]).is_file()


def test_the_workflow_can_do_no_more_than_it_must_and_takes_no_action_that_may_change(new: Path) -> None:
    # The permissions that each action needs, and the names of what a forge sets: from memory, and so are the commits.
    begun(new, "--corallite", "corallite @ git+https://forge.example/corallite@0123abc")
    flow = yaml.safe_load((new / ".github/workflows/publish.yaml").read_text())
    assert flow["permissions"] == {}
    assert flow["jobs"]["build"]["permissions"] == {"contents": "read", "pages": "read"}
    assert flow["jobs"]["deploy"]["permissions"] == {"pages": "write", "id-token": "write"}
    steps = [step for job in flow["jobs"].values() for step in job["steps"]]
    used = [step["uses"] for step in steps if "uses" in step]
    assert len(used) == 6
    assert all(re.fullmatch(r"actions/[a-z-]+@[0-9a-f]{40}", each) for each in used)
    assert not any("${{" in step.get("run", "") for step in steps), "no expression can become part of a script"
    assert flow["env"]["CORALLITE"] == "corallite @ git+https://forge.example/corallite@0123abc"
    assert any("~/.cache/corallite" in step.get("with", {}).get("path", "") for step in steps)
    other = yaml.safe_load((new / ".gitlab-ci.yml").read_text())
    assert other["pages"]["artifacts"]["paths"] == ["public"]
    assert other["pages"]["cache"]["paths"] == [".cache/"]
    assert re.fullmatch(r"python:\d+\.\d+\.\d+-\w+", other["pages"]["image"])


@pytest.mark.long
def test_it_builds_at_once_where_the_workflow_puts_it(new: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    begun(new)
    monkeypatch.chdir(new)
    assert main(["build"]) == 0
    home = "https://ines.forge.example/my-reef"
    flow = yaml.safe_load(Path(".github/workflows/publish.yaml").read_text())
    lines = [step["run"] for step in flow["jobs"]["build"]["steps"] if step.get("run", "").startswith("corallite")]
    assert lines == ["corallite check", 'corallite build --base-url "$BASE_URL"']
    for line in lines:
        assert main(line.replace('"$BASE_URL"', home).split()[1:]) == 0
    front = Path("site/index.html").read_text(encoding="utf-8")
    assert f'content="{home}/index.html"' in front, "what a shared link shows names the published page"
    assert not re.search(r'(?:href|src)="/', front), "links are relative, so the site works below any path"


@pytest.mark.long
def test_the_guide_does_what_it_says(new: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    begun(new)
    # The picture that the guide's example takes in.
    (new.parent / "bell.jpg").write_bytes((ROOT / "content/photos/bell-buoy.png").read_bytes())
    (new / "content/partners").mkdir()
    (new / "content/partners/jon.yaml").write_text("name: Jon\n")
    monkeypatch.chdir(new)
    lines = [line for line in re.findall(r"`(corallite [^`]+)`", Path("README.md").read_text()) if "today" not in line]
    assert len(lines) >= 6
    for line in lines:
        words = shlex.split(line)[1:]
        if "--help" in words or words[0] == "watch":
            continue
        assert main(words) == 0, line


def test_the_address_is_one_that_another_computer_can_install_from() -> None:
    address = begin.installed_from()
    assert address == "" or re.fullmatch(r"corallite\[heic\] @ git\+https://\S+@[0-9a-f]{40}", str(address))
    told = begin._address("git@forge.example:club/corallite.git", "0123abc")
    assert told == "corallite[heic] @ git+https://forge.example/club/corallite@0123abc"


def test_what_was_installed_from_a_wheel_goes_into_the_repository(new: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    wheel = new.with_name("corallite-1.0-py3-none-any.whl")
    wheel.write_bytes(b"a wheel")
    monkeypatch.setattr(begin, "installed_from", lambda: wheel)
    assert "before you publish" not in begun(new).stdout
    for flow in (".github/workflows/publish.yaml", ".gitlab-ci.yml"):
        (place,) = re.findall(r'CORALLITE: "(\./\S+)\[heic\]"', (new / flow).read_text())
        assert (new / place).read_bytes() == b"a wheel"
