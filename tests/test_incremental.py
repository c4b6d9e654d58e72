"""After any changes, a build that remembers the one before makes the site of one that remembers nothing."""

import os
import random
import shutil
import signal
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from generator.commands import remembering
from generator.commands.watch import Watcher
from generator.door.memory import Remembered
from generator.door.steps import Steps
from generator.render.base import page as pages
from generator.render.base import words
from tests.conftest import ROOT, further
from tests.edits import EDITS, Desk, Tabs, between, difference, fields, said, with_field_changed
from tests.kills import child


def _not_forgotten(_: Remembered) -> Exception:
    raise AssertionError("a build must not help itself by forgetting the one before")


@pytest.mark.long
@pytest.mark.parametrize("seed", range(max(2, further)))
def test_after_any_changes_the_site_is_the_one_made_from_nothing(
    tmp_path: Path, seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Remembered, "broken", _not_forgotten)
    rng, tabs, done = random.Random(seed), Tabs(seed), []
    desk = Desk(tmp_path, live=Watcher(tabs) if seed % 2 else None)
    sound = desk.files
    for _ in range(20 if further else 5):
        for edit in rng.choices(EDITS, k=rng.randrange(1, 4)):
            done.append(edit.__name__)
            desk.change(lambda desk, edit=edit: edit(desk, rng))
        warm = desk.build()
        assert not between(warm, desk.cold()), done
        assert not tabs.wrong(warm[2]), done
        assert desk.check() == desk.check(forget=True), done
        # A journal with a mistake gets no site: the keeper takes the change back.
        sound = dict(desk.files if warm[0] == 0 else sound)
        desk.change(lambda desk, sound=sound: setattr(desk, "files", dict(sound)))
    assert not desk.live or tabs.shown > 2


@pytest.mark.long
def test_each_field_is_watched(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A page that peeks past the door at any field is not made again when that field changes."""
    monkeypatch.setattr(Remembered, "broken", _not_forgotten)
    every = list(fields())
    desk, wrong = Desk(tmp_path), []
    desk.build()
    for name, found in every if further else random.Random(1).sample(every, 6):
        desk.change(lambda desk, name=name, found=found: with_field_changed(desk, name, found))
        wrong += [f"{name}: {found[0]}: {each}" for each in difference(desk)]
    assert not wrong, "\n".join(wrong)


@pytest.mark.long
def test_a_page_that_peeks_past_the_door_is_found(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nobody takes note that an entry was asked for, as if its text had been at hand."""
    asking = Steps._asking

    def peeking(self: Steps, name: str) -> Callable[[str], object]:
        return (lambda id: self._answer((name, id))) if "entr" in name else asking(self, name)

    monkeypatch.setattr(Steps, "_asking", peeking)
    desk = Desk(tmp_path)
    desk.build()
    desk.change(lambda desk: desk.replace("entries/2026-03-01-spring.md", "days are", "nights are"))
    assert "journal/2026-03-01-spring.html" in difference(desk)


@pytest.mark.long
@pytest.mark.skipif(sys.platform == "win32", reason="processes are forked and killed")
def test_a_build_killed_in_between_changes_nothing_for_the_next(tmp_path: Path) -> None:
    rng, desk = random.Random(2), Desk(tmp_path)
    desk.build()
    for turn in range(5):
        desk.change(lambda desk: said(desk, rng))
        pid = child(desk.build)
        # The first are killed soon, when they have just begun; later ones when they write, or when they are done.
        time.sleep(rng.uniform(0.0, 0.1 * (turn + 1)))
        os.kill(pid, signal.SIGKILL)
        os.waitpid(pid, 0)
        if turn % 2:
            desk.build()
    assert not difference(desk)


@pytest.mark.long
@pytest.mark.skipif(sys.platform == "win32", reason="processes are forked")
def test_two_builds_at_once_make_the_site_and_leave_a_memory_that_is_right(tmp_path: Path) -> None:
    desk = Desk(tmp_path)
    for turn in range(2):
        desk.change(lambda desk, turn=turn: desk.replace("journal.yaml", "title: ", f"title: {turn} "))
        pids = [child(desk.build), child(desk.build)]
        assert {os.waitpid(pid, 0)[1] for pid in pids} == {0}
    assert not difference(desk)


@pytest.mark.long
def test_what_is_broken_foreign_or_of_another_version_is_forgotten(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = Desk(tmp_path)
    cold = desk.build()
    (memory,) = (desk.folder / "cache" / "corallite" / "builds").glob("*.sqlite")
    whole = memory.read_bytes()
    for kept in (b"not a memory", whole[:4096] + bytes(len(whole) - 4096)):
        memory.write_bytes(kept)
        assert not between(desk.build(), cold)
    monkeypatch.setattr(remembering, "program", lambda: "another")
    made: list[str] = []
    again = Steps._made
    monkeypatch.setattr(Steps, "_made", lambda self, make, id: made.append(id) or again(self, make, id))
    assert not between(desk.build(), cold)
    assert len(made) > 500, "all was made anew"
    made.clear()
    assert not between(desk.build(), cold)
    assert not made, "and is remembered from then on"


def test_with_another_template_pages_are_drawn_anew_and_nothing_is_calculated(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    ours = tmp_path / "templates"
    shutil.copytree(ROOT / "templates", ours)

    def shipped_now() -> None:
        words.digest_of_templates.cache_clear()
        pages.environment.cache_clear()

    for module in (words, pages):
        monkeypatch.setattr(module, "template_files", lambda: ours)
    shipped_now()
    desk = Desk(tmp_path / "desk")
    desk.build()
    page = ours / "page.html"
    page.write_text(page.read_text("utf-8").replace("</body>", "<!-- mine --></body>"), "utf-8")
    shipped_now()
    made: list[str] = []
    again = Steps._do
    monkeypatch.setattr(Steps, "_do", lambda self, key, known: made.append(key[0]) or again(self, key, known))
    warm = desk.build()
    assert set(made) <= {"drawn", "drawn: is there", "links", "dead links of", "all feed", "feed", "problems of site"}
    assert (desk.site() / "index.html").read_text("utf-8").count("<!-- mine -->") == 1
    assert not between(warm, desk.cold())
    monkeypatch.undo()
    shipped_now()


def built(folder: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[Desk, list[tuple[str, str]]]:
    """A journal that was built, and the names and ids of the steps that are done from now on."""
    desk, made, again = Desk(folder), list[tuple[str, str]](), Steps._do
    desk.build()
    monkeypatch.setattr(Steps, "_do", lambda self, key, known: made.append(key) or again(self, key, known))
    return desk, made


def test_a_reading_redoes_nothing_of_old_events_of_other_months_or_of_another_water(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk, made = built(tmp_path, monkeypatch)
    log = "logs/nook/2026-03.yaml"
    desk.change(
        lambda desk: desk.files.update({log: desk.files[log] + b"- at: 2026-03-05 09:00\n  readings: {KH: 8}\n"})
    )
    desk.build()
    assert {id for name, id in made if name == "facts"} == {log}
    assert {id for name, id in made if name in ("water", "events", "dosing", "checks of log")} == {"nook"}
    assert not {"told of events", "change foretold", "water of plan", "places of plan", "volume before"} & {
        name for name, _ in made
    }


def test_a_coral_that_is_measured_changes_nothing_of_older_events_and_no_water(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk, made = built(tmp_path, monkeypatch)
    length = "  - {at: 2025-09-01, length: 4 cm}\n"
    later = "  - {at: 2026-03-05, length: 6 cm}\n"
    desk.change(lambda desk: desk.replace("corals/tide-lantern-2.yaml", length, length + later))
    desk.build()
    assert ("growth", "tide-lantern-2") in made
    assert not {"told of events", "events", "change foretold", "water", "dosing"} & {name for name, _ in made}


def test_a_size_above_cuttings_moves_their_lines_and_changes_neither_the_line_nor_what_others_are_held_against(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk, made = built(tmp_path, monkeypatch)
    later = "  - {at: 2026-03-05, length: 9 cm, width: 8 cm, height: 7 cm}\n"
    desk.change(lambda desk: desk.replace("corals/tide-lantern.yaml", "weighings:\n", f"{later}weighings:\n"))
    desk.build()
    assert ("growth", "tide-lantern") in made
    assert not {"check", "all families", "standing in"} & {name for name, _ in made}


def test_a_page_that_someone_changed_or_removed_is_there_again(tmp_path: Path) -> None:
    desk = Desk(tmp_path)
    cold = desk.build()
    (desk.site() / "index.html").write_text("<p>Mine</p>")
    (desk.site() / "systems" / "reef.html").unlink()
    shutil.rmtree(desk.site() / "journal")
    assert not between(desk.build(), cold)
    shutil.rmtree(desk.site())
    assert not between(desk.build(), cold)


def test_what_lies_by_for_a_site_that_nobody_builds_any_more_is_removed(tmp_path: Path) -> None:
    old, new = 1.0, 100 * 86400.0
    for name, written in (("gone", old), ("built", new)):
        (tmp_path / f"{name}.site" / "corals").mkdir(parents=True)
        (tmp_path / f"{name}.site" / "corals" / "1.html").write_text("a page")
        (tmp_path / f"{name}.sqlite").write_bytes(b"")
        for end in (".site", ".sqlite"):
            os.utime(tmp_path / f"{name}{end}", (written, written))
    remembering.forget_others(tmp_path, new)
    assert {path.name for path in tmp_path.iterdir()} == {"built.site", "built.sqlite"}


def test_a_site_is_not_made_in_a_folder_that_is_being_removed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    place, found = tmp_path / "reef.site", list[bool]()
    place.mkdir()
    os.utime(place, (1.0, 1.0))
    remove = shutil.rmtree

    def looking(path: Path) -> None:
        found.append(place.exists())
        remove(path)

    monkeypatch.setattr(shutil, "rmtree", looking)
    remembering.forget_others(tmp_path, 100 * 86400.0)
    assert found == [False], "the next build of that site does not find it"
    assert [*tmp_path.iterdir()] == []
