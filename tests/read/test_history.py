"""When a journal's files were written and changed: what git can say, and what it cannot."""

import shutil
import subprocess
from datetime import UTC, datetime
from pathlib import Path

import pytest

from generator.commands.remembering import digest_of_build
from generator.read.git import history_of
from generator.records.source import Commit, History

FIRST, SECOND = datetime(2026, 3, 1, 9, tzinfo=UTC), datetime(2026, 3, 8, 9, tzinfo=UTC)


def git(folder: Path, *words: str, at: datetime = FIRST, by: str = "Ines") -> None:
    who = ("-c", f"user.name={by}", "-c", "user.email=ines@reef.example", "-c", "commit.gpgsign=false")
    made = {"GIT_AUTHOR_DATE": at.isoformat(), "GIT_COMMITTER_DATE": at.isoformat(), "PATH": "/usr/bin:/bin"}
    subprocess.run(["git", "-C", folder, *who, *words], check=True, capture_output=True, env=made)


@pytest.fixture(scope="module")
def journal(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A journal in a folder of a repository: two commits by two people, and what is not committed."""
    folder = tmp_path_factory.mktemp("history") / "notes"
    content = folder / "reef"
    for name in ("corals/a b.yaml", "corals/ü.yaml", "corals/moved.yaml", "corals/touched.yaml"):
        file = content / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(f"name: {name}\n", "utf-8")
    (folder / "shopping.txt").write_text("salt\n")
    git(folder, "init", "--initial-branch=main")
    git(folder, "add", ".")
    git(folder, "commit", "-m", "first")
    git(folder, "mv", "reef/corals/moved.yaml", "reef/corals/came.yaml")
    (content / "corals/a b.yaml").write_text("name: A\n")
    git(folder, "commit", "-am", "second", at=SECOND, by="Commit\tR100")
    (content / "corals/touched.yaml").write_text("name: other\n")
    (content / "corals/new.yaml").write_text("name: new\n")
    return content


def test_each_file_has_its_commits_from_one_pass(journal: Path) -> None:
    found = history_of(journal)
    first, second = Commit(FIRST, "Ines"), Commit(SECOND, "Commit\tR100")
    assert found.commits == {
        "corals/a b.yaml": (second, first),
        "corals/came.yaml": (second, first),
        "corals/touched.yaml": (first,),
        "corals/ü.yaml": (first,),
    }
    assert found.uncommitted == {"corals/touched.yaml"}
    assert not found.cut_off
    assert history_of(journal) == found


def test_a_keepers_own_settings_of_git_change_nothing(journal: Path, tmp_path: Path) -> None:
    copy = shutil.copytree(journal.parent, tmp_path / "copy")
    odd = {"color.ui": "always", "log.showRoot": "false", "i18n.logOutputEncoding": "latin-1", "log.diffMerges": "on"}
    odd |= {"diff.renames": "false", "log.showSignature": "true", "core.quotePath": "true", "format.pretty": "oneline"}
    for name, value in odd.items():
        git(copy, "config", name, value)
    assert history_of(copy / "reef") == history_of(journal)


def test_a_clone_of_the_same_commit_has_the_same_history(journal: Path, tmp_path: Path) -> None:
    subprocess.run(["git", "clone", "-q", journal.parent, tmp_path / "clone"], check=True)
    found = history_of(tmp_path / "clone" / "reef")
    assert found.commits == history_of(journal).commits
    assert not found.uncommitted


def test_a_shallow_clone_does_not_know_when_its_files_were_written(journal: Path, tmp_path: Path) -> None:
    clone = tmp_path / "clone"
    subprocess.run(["git", "clone", "-q", "--depth", "1", journal.parent.as_uri(), clone], check=True)
    found = history_of(clone / "reef")
    assert found.cut_off == set(found.commits)
    assert not any(found.commits.values())


def test_without_git_or_a_repository_it_says_which_is_missing(
    journal: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plain = shutil.copytree(journal, tmp_path / "plain")
    assert history_of(plain) == History(unknown="no-repository")
    git(plain, "init")
    assert history_of(plain) == History(unknown="no-commit")
    monkeypatch.setenv("GIT_TEST_ASSUME_DIFFERENT_OWNER", "1")
    assert not history_of(journal).unknown, "variables of git's own do not reach it"
    monkeypatch.setenv("PATH", str(tmp_path))
    assert history_of(journal) == History(unknown="no-git")
    assert digest_of_build(b"seen", journal, True), "nor is git needed to build"
