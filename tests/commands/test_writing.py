"""What commands write into a journal: whole or not at all, and nothing of anyone else's is touched."""

import errno
import os
import secrets
import signal
import sys
from collections.abc import Iterator
from itertools import count
from pathlib import Path

import pytest

from generator.__main__ import main
from generator.commands.writing import locked, replace_text, write_new, write_over, write_texts
from tests.exchange.journals import ines_and_marta
from tests.kills import child, killed_at, refused_at
from tests.trials import trial

NEW = {"received/4f.json": b"{}", "corals/one.yaml": b"name: One\n", "corals/two.yaml": b"name: Two\n"}


def tree(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_a_pipe_in_place_of_a_file_is_refused_and_never_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "log.yaml")
    with pytest.raises(OSError, match="not a plain file"):
        replace_text(tmp_path / "log.yaml", "old", "new")


def test_no_draft_has_a_name_that_can_be_guessed_and_no_link_in_its_place_is_followed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    victim = tmp_path / "victim"
    victim.write_text("mine")
    folder = tmp_path / "content"
    (folder / "corals").mkdir(parents=True)
    # Even if it is guessed: the name is made only where nothing is.
    monkeypatch.setattr(secrets, "token_hex", lambda _: "guessed")
    (folder / "corals" / ".one.yaml.guessed.new").symlink_to(victim)
    with pytest.raises(FileExistsError):
        write_new(folder, {"corals/one.yaml": b"theirs"})
    assert victim.read_text() == "mine"
    assert (folder / "corals" / ".one.yaml.guessed.new").is_symlink(), "what is not ours stays"
    assert not (folder / "corals" / "one.yaml").exists()


def test_a_folder_that_leads_out_of_the_journal_is_not_written_into(tmp_path: Path) -> None:
    (tmp_path / "content").mkdir()
    (tmp_path / "content" / "corals").symlink_to(tmp_path)
    with pytest.raises(OSError, match="leads out"):
        write_new(tmp_path / "content", NEW)
    assert not (tmp_path / "one.yaml").exists()
    assert not (tmp_path / "content" / "received" / "4f.json").exists()


def test_a_text_that_someone_edited_meanwhile_is_not_replaced(tmp_path: Path) -> None:
    plan = tmp_path / "plan.yaml"
    plan.write_text("an edit\n")
    with pytest.raises(OSError, match="edited meanwhile"):
        replace_text(plan, "as it was read\n", "as it was read\narrived: 2026-03-20\n")
    assert tree(tmp_path) == {"plan.yaml": b"an edit\n"}


def test_a_link_is_not_replaced_by_a_file(tmp_path: Path) -> None:
    (tmp_path / "elsewhere.yaml").write_text("old\n")
    (tmp_path / "plan.yaml").symlink_to("elsewhere.yaml")
    with pytest.raises(OSError, match="it is a link"):
        replace_text(tmp_path / "plan.yaml", "old\n", "new\n")
    assert (tmp_path / "plan.yaml").is_symlink()


@pytest.mark.skipif(sys.platform == "win32", reason="processes are forked and killed")
def test_a_command_killed_at_any_step_loses_no_line_and_can_be_done_again(tmp_path: Path) -> None:
    for event in count():
        folder = tmp_path / str(event)
        (folder / "plans").mkdir(parents=True)
        plan = folder / "plans" / "plan.yaml"
        plan.write_text("old\n")

        def work(folder: Path = folder, plan: Path = plan) -> None:
            replace_text(plan, "old\n", "old\nnew\n")
            write_new(folder, NEW)

        running = killed_at(event, work)
        seen = {name: text for name, text in tree(folder).items() if not Path(name).name.startswith(".")}
        assert seen.pop("plans/plan.yaml") in (b"old\n", b"old\nnew\n")
        assert seen.items() <= NEW.items(), "each file is whole or is not there"
        write_new(folder, {name: text for name, text in NEW.items() if name not in seen})
        if not running:
            break
    assert event >= 20, "each step on the disk was tried"


@pytest.mark.long
@pytest.mark.skipif(sys.platform == "win32", reason="processes are forked and killed")
def test_real_commands_killed_at_random_moments_lose_no_line_and_no_site() -> None:
    assert trial(6).endswith("0 lines lost, 0 sites mixed, 0 missing")


@pytest.mark.parametrize("for_good", [False, True])
@pytest.mark.skipif(sys.platform == "win32", reason="processes are forked")
def test_whatever_the_disk_refuses_no_line_is_lost_and_each_file_is_whole(tmp_path: Path, for_good: bool) -> None:
    for event in count():
        folder = tmp_path / str(event)
        folder.mkdir()
        (folder / "log.yaml").write_text("old\n")

        def work(folder: Path = folder) -> None:
            write_texts(folder, {"log.yaml": ("old\n", "old\nnew\n")}, NEW)
            write_over(folder, {"table.csv": b"1"})

        outcome = refused_at(event, errno.ENOSPC, for_good, work)
        seen = {name: text for name, text in tree(folder).items() if not Path(name).name.startswith(".")}
        assert seen.pop("log.yaml") in ((b"old\n", b"old\nnew\n") if outcome else (b"old\nnew\n",))
        table = seen.pop("table.csv", None)
        assert table in ((None, b"1") if outcome else (b"1",))
        # A disk that takes no change back leaves some of what is new, each whole.
        assert seen in (NEW, {}) or (for_good and seen.items() <= NEW.items())
        assert for_good or outcome == 0 or len(tree(folder)) == len(seen) + 1 + (table is not None), "no draft is left"
        if outcome is None:
            break
    assert event >= 15, "each change of the disk was tried"


def test_a_full_disk_is_said_of_the_file_that_it_kept_from_being_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space left on device") as refused:
        write_over(tmp_path, {"table.csv": b"1"})
    assert refused.value.filename == str(tmp_path / "table.csv")
    assert tree(tmp_path) == {}


def test_where_nothing_may_be_written_the_file_is_named_and_not_its_draft(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def forbidden(path: str, *_: object) -> int:
        raise OSError(errno.EROFS, os.strerror(errno.EROFS), str(path))

    monkeypatch.setattr(os, "open", forbidden)
    with pytest.raises(OSError, match="Read-only file system") as refused:
        write_over(tmp_path, {"log.yaml": b"1"})
    assert refused.value.filename == str(tmp_path / "log.yaml")


def test_a_full_disk_keeps_no_part_of_the_demo_or_of_a_record_and_both_can_be_made_again(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ines, _ = ines_and_marta(tmp_path)
    for name, command in (
        ("mine", ["demo", str(tmp_path / "mine")]),
        ("out.json", ["origin", "tide-lantern", "--content", str(ines.folder), "--output", str(tmp_path / "out.json")]),
    ):
        # Of the demo, one file is whole before the disk is full.
        before, room = tree(tmp_path), iter(range(name == "mine"))

        def full(_: int, room: Iterator[int] = room) -> None:
            if next(room, None) is None:
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(os, "fsync", full)
            assert main(command) == 1
        (line,) = capsys.readouterr().err.splitlines()
        assert "cannot be written" in line
        assert "No space left on device" in line
        assert len(line) < 300
        assert tree(tmp_path) == before
        assert not (tmp_path / name).exists(), "nor an empty folder"
        assert main(command) == 0
        assert any(made.startswith(name) for made in tree(tmp_path))


@pytest.mark.skipif(sys.platform == "win32", reason="processes are forked")
def test_twenty_writers_at_once_lose_no_line(tmp_path: Path) -> None:
    log = tmp_path / "log.yaml"
    log.write_text("start\n")

    def add(line: str) -> None:
        with locked(tmp_path):
            before = log.read_text()
            replace_text(log, before, f"{before}{line}\n")

    writers = [child(lambda name=name: [add(f"{name} {n}") for n in range(5)]) for name in "abcdefghijklmnopqrst"]
    assert all(os.waitpid(pid, 0)[1] == 0 for pid in writers)
    lines = log.read_text().splitlines()
    assert len(lines) == 1 + 20 * 5
    assert set(lines) == {"start", *(f"{name} {n}" for name in "abcdefghijklmnopqrst" for n in range(5))}
    assert list(tree(tmp_path)) == ["log.yaml"], "no draft and no lock is left"


@pytest.mark.skipif(sys.platform == "win32", reason="processes are forked and killed")
def test_the_lock_of_a_killed_command_is_free(tmp_path: Path) -> None:
    def hold() -> None:
        with locked(tmp_path):
            os.kill(os.getpid(), signal.SIGKILL)

    os.waitpid(child(hold), 0)
    with locked(tmp_path, patience=0.5), pytest.raises(OSError, match="another command"):
        locked(tmp_path, patience=0.0).__enter__()


def test_what_a_killed_command_left_is_gone_after_a_while(tmp_path: Path) -> None:
    old, new, other = (tmp_path / name for name in (".a.yaml.00.new", ".a.yaml.11.new", ".b.yaml.00.new"))
    for left in (old, new, other):
        left.touch()
    for left in (old, other):
        os.utime(left, (1.0, 1.0))
    write_over(tmp_path, {"a.yaml": b"a: 1\n"})
    assert sorted(path.name for path in tmp_path.iterdir()) == [new.name, other.name, "a.yaml"]
