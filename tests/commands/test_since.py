"""`corallite since`: what changed since a day, or since a revision of the journal's repository."""

import json
import shutil
import stat
import subprocess
from pathlib import Path

import pytest

from generator.read.git import history_of
from tests.commands import two_tanks
from tests.commands.test_commands import Said, corallite, tree

pytestmark = pytest.mark.usefixtures("courses_kept")

DAY = ("--as-of", "2026-10-30")
LATER = {
    "logs/bay/2026-10.yaml": """\
- at: 2026-10-30 09:00
  readings: {alkalinity: 8.6 dKH, calcium: 432 mg/L, magnesium: 1300 mg/L}
- at: 2026-10-30 09:10
  pumps: {soda: 99 mL/day}
  doses: {soda: 30 mL}
""",
    "corals/stag-1.yaml": """\
  - {at: 2026-10-30, length: 27 cm, width: 23 cm}
cuttings:
  - {at: 2026-09-01, frags: 1}
""",
    "corals/knob-1.yaml": "end: {at: 2026-10-29, how: died}\n",
    "trades/2026-10-20-swap.yaml": """\
at: 2026-10-20
partner: lowell
owed:
  - {by: them, what: A frag of their red one}
  - {by: us, what: A bag of salt, settled: 2026-10-29}
""",
    "corals/twig-1.yaml": """\
name: Twig
species: Acropora muricata
line: muricata
form: branching
arrival: {at: 2026-10-28, how: cutting}
parent: stag-1
placements: [{since: 2026-10-28, system: pond}]
""",
}


def git(folder: Path, *words: str) -> None:
    keeper = ("-c", "user.name=Ines", "-c", "user.email=ines@reef.example", "-c", "commit.gpgsign=false")
    subprocess.run(["git", "-C", folder, *keeper, *words], check=True, capture_output=True)


@pytest.fixture(scope="module")
def repository(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two tanks in a folder of a repository: a first commit, and a second one with what came later."""
    folder = tmp_path_factory.mktemp("since") / "notes"
    content = two_tanks.write(folder / "reef")
    git(folder, "init", "--initial-branch=main")
    git(folder, "add", ".")
    git(folder, "commit", "-m", "as it was", "--date", "2026-10-29T12:00:00Z")
    for name, text in LATER.items():
        file = content / name
        file.parent.mkdir(exist_ok=True)
        with file.open("a", encoding="utf-8") as written:
            written.write(text)
    git(folder, "add", ".")
    git(folder, "commit", "-m", "as it is")
    return folder


def since(repository: Path, what: str, *words: str) -> Said:
    return corallite("since", what, "--content", repository / "reef", *DAY, *words)


def test_it_says_what_changed_since_a_day(repository: Path) -> None:
    said = since(repository, "2026-10-19")
    assert (said.returncode, said.stderr) == (0, "")
    lines = [line.strip() for line in said.stdout.splitlines()]
    assert lines[:2] == ["Two tanks", "Since 2026-10-19, 23:59."]
    # 8.6 - 8.2 dKH, kits of 0.1 dKH each: 0.4 give or take 1.645 * 0.1 * sqrt(2) = 0.23.
    assert any("up by 0.40 dKH, likely 0.17 to 0.63 dKH" in line for line in lines)
    # 432 - 430 mg/L is well within two kits of 8 mg/L.
    (calcium,) = [line for line in lines if line.startswith("Calcium: Then: 430 mg/L (2026-10-19); Now: 432 mg/L")]
    assert calcium.endswith("Change: no clear change")
    assert any(line.startswith("Pump of soda: ") and line.endswith(", now 99 mL a day") for line in lines)
    for expected in (
        "soda by hand: 30 mL",
        "Gained: Twig (own frag, 2026-10-28)",
        "Lost: Damicornis (died, 2026-10-29)",
        "Lowell: they owe: A frag of their red one",
        "Lowell: we owe: A bag of salt",
    ):
        assert expected in lines, expected
    # A frag in the other system: no single loss ends the line any more.
    assert "Muricata no longer ends with one loss" in lines


def test_it_says_the_same_as_data(repository: Path) -> None:
    found = json.loads(since(repository, "2026-10-19", "--json").stdout)
    assert found["corals"] == {"gained": ["twig-1"], "lost": ["knob-1"]}
    by = found["systems"]["bay"]["levels"]["alkalinity"]["by"]
    assert (by["value"], by["unit"]) == (pytest.approx(0.4), "dKH")
    assert by["high"] - by["low"] == pytest.approx(2 * 1.6449 * 0.1 * 2**0.5, rel=1e-3)
    assert found["promises"]["kept"] == [{"trade": "2026-10-20-swap", "number": 2, "by": "us"}]
    uptake = found["systems"]["bay"]["uptake"]["alkalinity"]
    assert uptake["before"]["low"] < 1.1 < uptake["before"]["high"], "what is really taken up"
    assert found["grown"][0]["by"] is not None, "it was cut before it was first measured"


def test_a_revision_asks_its_own_files_and_touches_nothing(repository: Path) -> None:
    before = tree(repository)
    said = since(repository, "HEAD~1")
    assert said.returncode == 0, said.stderr
    assert "Gained: Twig (own frag, 2026-10-28)" in said.stdout
    assert "Lost: Damicornis (died, 2026-10-29)" in said.stdout
    nothing = json.loads(since(repository, "HEAD", "--json").stdout)
    assert nothing["corals"] == {"gained": [], "lost": []}
    assert not nothing["grown"]
    assert tree(repository) == before


def test_no_program_that_a_repository_names_is_run(repository: Path, tmp_path: Path) -> None:
    hostile = shutil.copytree(repository, tmp_path / "hostile")
    trap = tmp_path / "trap"
    trap.write_text(f"#!/bin/sh\ntouch {tmp_path}/sprung\ncat\n")
    trap.chmod(trap.stat().st_mode | stat.S_IXUSR)
    for setting in ("core.pager", "core.fsmonitor", "gpg.program", "filter.trap.smudge", "alias.log", "diff.external"):
        git(hostile, "config", setting, f"!{trap}" if setting.startswith("alias") else str(trap))
    for setting in ("log.showSignature", "filter.trap.required"):
        git(hostile, "config", setting, "true")
    (hostile / ".git/info/attributes").write_text("* filter=trap\n")
    for hook in ("post-index-change", "post-checkout", "reference-transaction"):
        shutil.copy(trap, hostile / ".git/hooks" / hook)
    assert since(hostile, "HEAD~1").returncode == 0
    assert history_of(hostile / "reef") == history_of(repository / "reef")
    assert not (tmp_path / "sprung").exists()


@pytest.mark.parametrize(
    ("what", "why"),
    [
        ("2026-11-05", "is not before 2026-10-30"),
        ("2026-02-30", "is not a date"),
        ("last-tuesday", "neither a day nor a revision of this repository"),
        ("--output=x", "arguments are required"),
    ],
)
def test_what_it_cannot_answer_it_says_in_one_line(repository: Path, what: str, why: str) -> None:
    said = since(repository, what)
    assert said.returncode in (1, 2)
    assert said.stdout == ""
    assert why in said.stderr
    assert "Traceback" not in said.stderr


def test_without_git_a_repository_or_old_commits_it_says_so(
    repository: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shallow = tmp_path / "shallow"
    subprocess.run(["git", "clone", "-q", "--depth", "1", repository.as_uri(), shallow], check=True)
    assert "this clone lacks older ones, git fetch --unshallow brings them" in since(shallow, "HEAD~1").stderr
    plain = shutil.copytree(repository, tmp_path / "plain", ignore=shutil.ignore_patterns(".git"))
    assert "is not in a git repository (begin one with git init" in since(plain, "HEAD").stderr
    monkeypatch.setenv("PATH", str(tmp_path))
    assert "git is not installed" in since(repository, "HEAD").stderr
    assert since(repository, "2026-10-19").returncode == 0, "a day needs no git"
