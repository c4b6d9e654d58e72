"""`corallite watch`: a save is a new site, a mistake is said, and nothing that happens to the files ends it."""

import os
import re
import signal
from collections.abc import Callable, Iterator
from pathlib import Path
from threading import Timer
from time import perf_counter

import pytest

from generator.commands.options import parser_of
from generator.commands.watch import SavedAgain, Watcher, looked_at, resting, seldom, site_made, wait, written_last
from generator.door.memory import Lasting, MemoryInUse
from tests.commands.test_commands import AS_OF, SOUND, Write, corallite
from tests.edits import Early, Tabs
from tests.watching import Watching


@pytest.fixture
def watching(journal: Write) -> Iterator[Callable[[], Watching]]:
    journal(SOUND)
    started: list[Watching] = []

    def start() -> Watching:
        started.append(Watching(journal(""), *AS_OF))
        return started[-1]

    yield start
    for each in started:
        each.end()


def test_a_day_of_writing_with_all_that_can_happen_to_the_files(
    watching: Callable[[], Watching], journal: Write
) -> None:
    content = journal("")
    settings = content / "journal.yaml"
    sound = settings.read_text("utf-8")
    watch = watching()
    assert " made in " in watch.until(" made in ")
    assert "<title>" in watch.page()

    def saved(text: str) -> None:
        # As most editors do: a new file beside the old one, then its name.
        (content / ".journal.yaml.swp").write_text(text, "utf-8")
        (content / ".journal.yaml.swp").replace(settings)

    saved(sound.replace("title: ", "title: New "))
    watch.until(" made in ")
    assert "· New " in watch.page()

    # A mistake while typing: named on the terminal and over the page, and the last good site stays.
    saved(sound + "units: {alkalinity: dK\n")
    said = watch.until("the last good site stays")
    assert re.search(r"journal\.yaml:\d+: .+ \(.+\)", said)
    assert "· New " in watch.page()
    assert 'class="watched" lang="en" open>' in watch.page()
    saved(sound)
    watch.until(" made in ")
    assert " open>" not in watch.page()

    # The folder is renamed and comes back; a file goes and comes back.
    content.rename(content.with_name("elsewhere"))
    assert "there is no folder" in watch.until("the last good site stays")
    assert "<title>" in watch.page()
    content.with_name("elsewhere").rename(content)
    watch.until(" made in ")
    settings.unlink()
    assert "journal.yaml:1: the file is missing" in watch.until("the last good site stays")
    settings.write_text(sound, "utf-8")
    watch.until(" made in ")

    watch.process.send_signal(signal.SIGINT)
    assert watch.process.wait(20) == 0
    assert watch.lines.empty(), "it ends without a word"
    assert not list(content.parent.glob(".site.corallite-*"))


def test_files_of_editors_never_count(tmp_path: Path) -> None:
    (tmp_path / "logs").mkdir()
    (tmp_path / "logs/a.yaml").write_text("a")
    before = looked_at(tmp_path)
    for name in (".a.yaml.swp", "a.yaml~", "4913", "#a.yaml#", ".#a.yaml", "a.jpg.part", "a.yaml.tmp"):
        (tmp_path / "logs" / name).write_text("passing")
    (tmp_path / "site").mkdir()
    (tmp_path / "site/.corallite-site").touch()
    (tmp_path / "site/index.html").touch()
    assert looked_at(tmp_path) == before
    assert looked_at(tmp_path / "gone") == {}


def test_nothing_is_shown_of_a_file_before_it_is_whole(tmp_path: Path) -> None:
    log, other = tmp_path / "a.yaml", tmp_path / "b.yaml"
    other.write_text("b")
    before = looked_at(tmp_path)
    for text in ("half", "half and half"):
        log.write_text(text)
        rest = resting(before, looked_at(tmp_path))
        if text == "half":
            log.write_text("half and")
            with pytest.raises(SavedAgain):
                rest()
    rest()
    whole = looked_at(tmp_path)
    log.unlink()
    rest = resting(whole, looked_at(tmp_path))
    log.write_text("an editor writes it anew")
    with pytest.raises(SavedAgain):
        rest()
    resting(whole, whole)()


def test_a_file_that_was_written_last_is_looked_at_the_most(tmp_path: Path) -> None:
    for number in range(40):
        (tmp_path / f"{number:02}.yaml").touch()
        os.utime(tmp_path / f"{number:02}.yaml", (number, number))
    last = written_last(looked_at(tmp_path))
    assert sorted(Path(path).name for path in last) == [f"{number:02}.yaml" for number in range(8, 40)]
    started = perf_counter()
    Timer(0.05, (tmp_path / "39.yaml").write_text, ["saved"]).start()
    wait(20.0, last)
    assert perf_counter() - started < 5.0


def test_a_port_that_cannot_be_had_is_said(journal: Write) -> None:
    import socket

    content = journal(SOUND)
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = str(taken.getsockname()[1])
        said = corallite("watch", "--content", content, "--port", port, folder=content.parent)
    assert (said.returncode, said.stdout) == (1, "")
    assert said.stderr == f"port {port}: Address already in use (give another with --port, or none)\n"
    assert corallite("watch", "--port", "70000").returncode == 2


class Showing(Tabs):
    """A browser that has the front page open, and what it was shown."""

    def __init__(self) -> None:
        super().__init__(0)
        self.shown: list[str] = []
        self.told: list[str] = []

    def wanted(self) -> list[str]:
        return ["index.html"]

    def show_early(self, files: Early) -> None:
        super().show_early(files)
        self.told += [*files]

    def show(self, said: str, good: bool) -> None:
        self.shown.append("good" if good else said)


def test_a_site_is_shown_with_and_without_a_memory(journal: Write, monkeypatch: pytest.MonkeyPatch) -> None:
    content, tabs = journal(SOUND), Showing()
    live = Watcher(tabs)
    words = ["--content", str(content), "--site", str(content.parent / "site"), *AS_OF]
    args = parser_of(["watch"]).parse_args(["watch", *words])
    monkeypatch.setenv("XDG_CACHE_HOME", str(content.parent / "cache"))
    for forget in ("", "all", ""):
        monkeypatch.setenv("CORALLITE_FORGET", forget)
        assert site_made(args, live)[0]
    monkeypatch.setattr(Lasting, "open", busy)
    assert site_made(args, live)[0], "another build has the memory"
    assert tabs.shown == ["good"] * 4


def busy(_: Lasting) -> None:
    raise MemoryInUse


def test_a_save_while_the_site_is_made_begins_anew_between_steps(
    journal: Write, monkeypatch: pytest.MonkeyPatch
) -> None:
    content, tabs = journal(SOUND), Showing()
    live, site, settings = Watcher(tabs), content.parent / "site", content / "journal.yaml"
    args = parser_of(["watch"]).parse_args(["watch", "--content", str(content), "--site", str(site), *AS_OF])
    monkeypatch.setenv("XDG_CACHE_HOME", str(content.parent / "cache"))
    monkeypatch.setenv("CORALLITE_FORGET", "")
    site_made(args, live)
    before = (site / "index.html").read_bytes()
    settings.write_text(settings.read_text("utf-8").replace("title: ", "title: New "), "utf-8")
    tabs.early, steps = {}, iter(range(100))
    live.saved = lambda: next(steps) == 3
    with pytest.raises(SavedAgain):
        site_made(args, live)
    early = tabs.early["index.html"]
    assert early
    assert early != before == (site / "index.html").read_bytes(), "the page was shown, the site is the last good one"
    settings.write_text(settings.read_text("utf-8").replace("title: New ", "title: Newer "), "utf-8")
    live.saved, tabs.told = bool, []
    assert site_made(args, live)[0]
    assert early != (site / "index.html").read_bytes() == tabs.early["index.html"], "the open page comes first again"
    assert tabs.told.count("index.html") == 1
    assert not list(content.parent.glob(".site.corallite-*"))


def test_files_are_looked_at_seldom_while_a_site_is_made(monkeypatch: pytest.MonkeyPatch) -> None:
    clock, looks = [0.0], []
    monkeypatch.setattr("time.perf_counter", lambda: clock[0])

    def look() -> bool:
        looks.append(clock[0])
        clock[0] += 0.01
        return True

    looked = seldom(look)
    for _ in range(100):
        clock[0] += 0.01
        looked()
    assert 5 <= len(looks) <= 10, "a tenth of the time"
