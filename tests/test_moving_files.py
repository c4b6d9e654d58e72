"""Files that vanish, change or are replaced while a journal is read: always a message or a site, never a traceback."""

import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from generator.read import load as reading
from tests.archive import write_archive
from tests.test_check_and_build import AS_OF, SOUND, png, run

HUGE = 40_000_000_000


def vanish(path: Path) -> None:
    path.unlink()


def pipe(path: Path) -> None:
    path.unlink()
    os.mkfifo(path)


def folder(path: Path) -> None:
    path.unlink()
    path.mkdir()


def link(path: Path) -> None:
    path.unlink()
    path.symlink_to("/etc/hostname")


def link_to_itself(path: Path) -> None:
    path.unlink()
    path.symlink_to(path)


def device(path: Path) -> None:
    path.unlink()
    path.symlink_to("/dev/zero")


def huge(path: Path) -> None:
    with path.open("r+b") as file:
        file.truncate(HUGE)


def emptied(path: Path) -> None:
    path.write_bytes(b"")


def folder_gone(path: Path) -> None:
    shutil.rmtree(path.parent)


CHANGES = (vanish, pipe, folder, link, link_to_itself, device, huge, emptied, folder_gone)
FILES = (
    "systems/reef.yaml",
    "corals/tide-lantern.yaml",
    "corals/tide-lantern.md",
    "entries/2026-03-01-spring.md",
    "logs/reef/2026-03.yaml",
    "photos/twig.png",
    "received/note.json",
)


@pytest.fixture
def journal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    made = tmp_path / "journal"
    made.mkdir()
    write_archive(SOUND, made)
    png(made / "photos/twig.png")
    (made / "received").mkdir()
    (made / "received/note.json").write_text("{}")
    return made


def afterwards(monkeypatch: pytest.MonkeyPatch, name: str, change: Callable[[Path], None], path: Path) -> None:
    """Change a file once a step of reading has been made."""
    step = getattr(reading, name)

    def changed(*given: object, **named: object) -> object:
        made = step(*given, **named)
        if os.path.lexists(path):
            change(path)
        return made

    monkeypatch.setattr(reading, name, changed)


@pytest.mark.parametrize("change", CHANGES, ids=lambda change: change.__name__)
@pytest.mark.parametrize("file", ["journal.yaml", *FILES])
def test_a_file_changed_before_it_is_read_is_a_problem(
    file: str, change: Callable[[Path], None], journal: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    afterwards(monkeypatch, "discover", change, journal / file)
    code, said = run("check", "--content", journal, "--as-of", AS_OF)
    assert code in (0, 1)
    assert "Traceback" not in said
    assert code or change in (vanish, emptied) or file.startswith("received") or file.endswith("lantern.md"), said


@pytest.mark.parametrize(
    "change", [pipe, folder, link, link_to_itself, device, huge], ids=lambda change: change.__name__
)
def test_a_file_of_any_sort_is_a_problem_from_the_start(change: Callable[[Path], None], journal: Path) -> None:
    for file in FILES:
        if (journal / file).exists():
            change(journal / file)
    code, said = run("check", "--content", journal, "--as-of", AS_OF)
    assert (code, "Traceback" in said) == (1, False), said


@pytest.mark.parametrize("change", [vanish, pipe, link_to_itself, huge], ids=lambda change: change.__name__)
def test_photos_and_received_files_may_change_while_the_site_is_made(
    change: Callable[[Path], None], journal: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for file in ("photos/twig.png", "received/note.json"):
        afterwards(monkeypatch, "load", change, journal / file)
    for audience in ("own", "partner:marta"):
        site = journal.with_name(f"site-{audience.replace(':', '-')}")
        code, said = run("build", "--content", journal, "--as-of", AS_OF, "--audience", audience, "--site", site)
        assert "Traceback" not in said
        assert (code, site.exists()) in ((0, True), (1, False)), said
