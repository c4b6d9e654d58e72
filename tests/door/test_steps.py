"""A build with a memory is the build without one, whatever was changed in between, and does no more than it must."""

import os
import pickle
import sqlite3
import sys
from collections.abc import Mapping
from contextlib import closing, nullcontext, suppress
from functools import partial
from itertools import product
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec import Struct

from generator.commands.remembering import with_memory
from generator.door.door import Door, grouped
from generator.door.memory import Lasting, MemoryInUse, Remembered
from generator.door.remembering import BrokenMemory, Done, News, pickled
from generator.door.steps import Steps

Answers = tuple[dict[str, str], dict[str, int], str]


def build(door: Door, files: Mapping[str, str], done: list[str], together: bool = False) -> Answers:
    """A small site: the page of each file shows its first letter, and those of the files that it names."""
    text = door.given("text", dict(files))
    names = door.given("names", {"": sorted(files)})
    door.all_given()

    def first(id: str) -> str:
        done.append(f"first {id}")
        return text(id)[:1]

    letters = door.each("letter", lambda: names(""), first)
    by_letter = door.each("by letter", lambda: sorted(set(letters.values())), lambda a: _sum(letters, a), keep=False)

    alike = door.by_id("alike", lambda: grouped((letter, id) for id, letter in letters.items()))

    def page(id: str) -> str:
        done.append(f"page {id}")
        shown = text(id)[1:].split()
        told = [letters[id], *(letters.get(other, "-") for other in shown), str(by_letter.get("a", 0))]
        return " ".join([*told, *alike.get("b", ())])

    pages = door.each("page", lambda: names(""), page)
    door.on_all_cores(
        lambda: [[("letter", id), ("page", id)] for id in sorted(files)] if together else [], again=together
    )
    if isinstance(door, Steps):  # somebody has a page open: it is made first, and asked for between steps
        door.between = lambda: door.soon(pages.get, max(files, default=""))
        door.between()
    return dict(pages), dict(by_letter), door.one("list", lambda: "".join(letters.values()))()


def _sum(letters: Mapping[str, str], letter: str) -> int:
    return sum(each == letter for each in letters.values())


def remembered(
    folder: Path, files: Mapping[str, str], program: str = "1", together: bool = False
) -> tuple[Answers, list[str]]:
    done: list[str] = []
    memory = Remembered(folder / "memory", program)
    door = Steps(memory)
    answers = build(door, files, done, together)
    memory.learn(door.news())
    return answers, done


FILES = st.dictionaries(
    st.sampled_from("pqrst"),
    st.builds(
        lambda a, b: f"{a} {' '.join(b)}", st.sampled_from("abc"), st.lists(st.sampled_from("pqrst"), max_size=3)
    ),
)


@settings(max_examples=40)
@given(st.lists(FILES, min_size=2, max_size=5))
def test_after_any_changes_a_build_is_the_same_as_without_a_memory(states: list[dict[str, str]]) -> None:
    with TemporaryDirectory() as folder:
        for files in states:
            assert remembered(Path(folder), files)[0] == build(Door(), files, [])


@settings(max_examples=20)
@given(st.lists(FILES, min_size=2, max_size=4))
def test_what_copies_of_a_process_do_again_is_what_one_does_alone(states: list[dict[str, str]]) -> None:
    with TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as patch:
        patch.setattr("generator.door.remembering.cores", lambda: 2)
        patch.setattr("generator.door.steps.MANY", 1)
        for files in states:
            assert remembered(Path(folder), files, together=True)[0] == build(Door(), files, [])


@settings(max_examples=40)
@given(
    st.lists(
        st.tuples(FILES, st.sampled_from(["ours", "ours", "ours", "stopped", "another's"])), min_size=3, max_size=6
    )
)
def test_a_memory_that_lasts_is_right_whoever_else_builds_in_between(builds: list[tuple[dict[str, str], str]]) -> None:
    with TemporaryDirectory() as folder:
        file, ours = Path(folder) / "memory", None
        for files, who in builds:
            if who == "another's":
                assert remembered(Path(folder), files)[0] == build(Door(), files, [])
                continue
            if ours is None:
                ours = Lasting(file, "1")
            else:
                ours.open()
            door, done = Steps(ours), list[str]()
            assert build(door, files, done) == build(Door(), files, [])
            if who == "stopped":
                ours.close()
                continue
            ours.learn(door.news())
            ours.open()
            build(Steps(ours), files, again := list[str]())
            assert not again, "nothing has changed"
            ours.close()
            # What is at hand is what the file holds.
            other = Remembered(file, "1")
            for key in door.news().done:
                assert ours.known(key) == other.known(key)
                assert [*ours.asked(key)] == [*other.asked(key)]
            other.close()


def told(tmp_path: Path, *states: dict[str, str]) -> list[str]:
    """What the last of some builds had to do."""
    *_, (_, done) = (remembered(tmp_path, state) for state in states)
    return done


def test_nothing_is_done_where_nothing_changed(tmp_path: Path) -> None:
    assert told(tmp_path, {"p": "a", "q": "b p"}, {"p": "a", "q": "b p"}) == []


def test_a_change_goes_no_further_than_its_answers(tmp_path: Path) -> None:
    assert told(tmp_path, {"p": "a", "q": "b p"}, {"p": "a q", "q": "b p"}) == ["first p", "page p"]


def test_what_was_missing_is_asked_for_again_once_it_is_there(tmp_path: Path) -> None:
    assert "page q" in told(tmp_path, {"p": "b", "q": "c r"}, {"p": "b", "q": "c r", "r": "c"})


@pytest.mark.parametrize("through", [0, 1, 2])
def test_of_a_mapping_only_the_values_that_changed_are_made_again(tmp_path: Path, through: int) -> None:
    """However many steps hand the mapping on, in a tuple with something else."""

    def made_again(lengths: dict[str, int]) -> set[tuple[str, str]]:
        memory = Remembered(tmp_path / "memory", "1")
        door = Steps(memory)
        measured = partial(door.given("lengths", {"": lengths}), "")
        door.all_given()
        whole = door.one("with more", lambda: (dict(measured()), "more"))
        for number in range(through):
            whole = door.one(f"handed on {number}", whole)
        of = door.by_id("length", lambda: whole()[0])
        door.one("all told", lambda: [(id, of.get(id), id in of) for id in "pqrs"])()
        memory.learn(news := door.news())
        return {key for key in news.done if key[0] in ("length", "length: is there")}

    assert made_again({"p": 1, "q": 2, "r": 3}) == {*product(["length"], "pqr"), *product(["length: is there"], "pqrs")}
    assert made_again({"p": 1, "q": 5, "s": 4}) == {
        *(("length", id) for id in "qs"),
        *(("length: is there", id) for id in "rs"),
    }


def test_a_step_that_goes_on_without_what_failed_is_done_again_once_that_is_there(tmp_path: Path) -> None:
    def told(length: str) -> tuple[list[float], bool]:
        memory, done = Remembered(tmp_path / "memory", "1"), list[str]()
        door = Steps(memory)
        written = door.given("written", {"": length})
        door.all_given()
        read = door.step("read", lambda id: float(written(id)))

        def known() -> list[float]:
            done.append("known")
            with suppress(ValueError):
                return [read("")]
            return [0.0]

        told = door.one("known", known)()
        memory.learn(door.news())
        return told, bool(done)

    lengths = ("4", "four", "four", "5", "5")
    assert [told(each) for each in lengths] == [
        ([4.0], True),
        ([0.0], True),
        ([0.0], False),
        ([5.0], True),
        ([5.0], False),
    ]


@pytest.mark.parametrize("kind", [Remembered, Lasting])
def test_a_file_that_is_written_no_more_is_forgotten_though_a_build_between_wrote_nothing(
    tmp_path: Path, kind: type[Remembered]
) -> None:
    memory = kind(tmp_path / "memory", "1")
    for written in ({"old.html": b"1", "same.html": b"2"}, None, {"same.html": b"3", "new.html": b"4"}):
        memory.learn(News(), written)
        memory._open()
    assert memory.written() == {"same.html": b"3", "new.html": b"4"}
    memory.close()
    again = Remembered(tmp_path / "memory", "1")
    assert again.written() == {"same.html": b"3", "new.html": b"4"}
    again.close()


def test_for_many_steps_of_a_name_the_file_is_asked_at_once(tmp_path: Path) -> None:
    def built() -> tuple[list[int], int, int]:
        """The answers of a build, how many steps it did, and how often it asked the file what is known of one."""
        memory, asked = Remembered(tmp_path / "memory", "1"), list[str]()
        memory._file.set_trace_callback(asked.append)
        door = Steps(memory)
        length = door.given("length", {str(n): n for n in range(1000)})
        door.all_given()
        doubled = door.step("doubled", lambda id: 2 * (length(id) or 0))
        answers, questions = [doubled(str(n)) for n in range(1000)], sum("fingerprint" in each for each in asked)
        memory.learn(news := door.news())
        return answers, len(news.done), questions

    first, second = built(), built()
    assert second[0] == first[0] == list(range(0, 2000, 2))
    assert (first[1], second[1]) == (1000, 0)
    assert second[2] < 300


def test_a_build_that_did_not_end_leaves_no_trace(tmp_path: Path) -> None:
    remembered(tmp_path, {"p": "a"})
    memory = Remembered(tmp_path / "memory", "1")
    build(Steps(memory), {"p": "b"}, [])
    memory.close()
    assert sorted(told(tmp_path, {"p": "b"})) == ["first p", "page p"]


def test_another_version_of_the_program_starts_anew(tmp_path: Path) -> None:
    remembered(tmp_path, {"p": "a"})
    assert remembered(tmp_path, {"p": "a"}, "2")[1] == ["page p", "first p"]


def asked_late(folder: Path, day: str, at_once: bool = False) -> list[str]:
    """What a build had to do whose day is given after something was asked that does not rest on it."""
    done: list[str] = []
    memory = Remembered(folder / "memory", "1")
    door = Steps(memory)
    title = door.given("title", {"": "Reef"})
    head = door.one("head", lambda: (done.append("head"), title(""))[1])
    page = door.one("page", lambda: (done.append("page"), f"{head()} {days[0]('')}")[1])
    days = []
    if at_once:
        days.append(lambda _: None)
        page()
    head()
    days[:] = [door.given("day", {"": day})]
    door.all_given()
    assert page() == f"Reef {day}"
    memory.learn(door.news())
    return done


def test_what_is_given_late_counts(tmp_path: Path) -> None:
    assert asked_late(tmp_path, "Monday") == ["head", "page"]
    assert asked_late(tmp_path, "Monday") == []
    assert asked_late(tmp_path, "Tuesday") == ["page"]


def test_what_is_given_too_late_stops_the_build(tmp_path: Path) -> None:
    asked_late(tmp_path, "Monday")
    with pytest.raises(BrokenMemory):
        asked_late(tmp_path, "Tuesday", at_once=True)


@pytest.mark.parametrize("rest", [b"", b"not a memory", None])
def test_a_broken_memory_is_forgotten(tmp_path: Path, rest: bytes | None) -> None:
    remembered(tmp_path, dict.fromkeys("pqrst", f"a {'x' * 9000}"))
    file = tmp_path / "memory"
    whole = file.read_bytes()
    file.write_bytes(whole[: len(whole) // 2] if rest is None else rest)
    with suppress(BrokenMemory):
        assert remembered(tmp_path, {"p": "a"})[1] == ["page p", "first p"]
        return
    assert not file.exists()


@pytest.mark.parametrize(
    "changed", ["height = NULL", "height = x'00'", "answer = NULL", "name = x'ff' || id || n", "asked = x'ff'"]
)
def test_work_is_done_without_a_memory_in_which_the_disk_changed_a_line(
    tmp_path: Path, changed: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("CORALLITE_FORGET")
    monkeypatch.setattr("generator.commands.remembering.program", lambda: "1")
    file, files = tmp_path / "memory", {"p": "a q", "q": "b p", "r": "a"}
    with_memory(file, partial(build, files=files, done=[]))
    with closing(sqlite3.connect(file)) as memory, memory:
        memory.execute(f"UPDATE step SET {changed}")
    for told in (files, files | {"q": "a r"}):
        assert with_memory(file, partial(build, files=told, done=[])) == build(Door(), told, [])


def test_two_builds_do_not_share_a_memory(tmp_path: Path) -> None:
    first = Remembered(tmp_path / "memory", "1")
    with pytest.raises(MemoryInUse):
        Remembered(tmp_path / "memory", "1")
    first.close()


@pytest.mark.skipif(sys.platform == "win32", reason="who may write is asked another way there")
@pytest.mark.parametrize(
    ("folder", "file", "used"), [(0o770, 0o600, False), (0o755, 0o666, False), (0o700, 0o666, True)]
)
def test_a_memory_into_which_others_can_write_is_not_read(tmp_path: Path, folder: int, file: int, used: bool) -> None:
    """What is unpickled may do anything."""
    shared = tmp_path / "builds"
    Remembered(shared / "memory", "1").close()
    (shared / "memory").chmod(file)
    shared.chmod(folder)
    with nullcontext() if used else pytest.raises(PermissionError):
        Remembered(shared / "memory", "1").close()


@pytest.mark.skipif(sys.platform == "win32", reason="who may write is asked another way there")
@pytest.mark.parametrize(("mode", "used"), [(0o755, True), (0o1777, True), (0o777, False)])
def test_a_memory_in_whose_place_others_can_put_another_is_not_read(tmp_path: Path, mode: int, used: bool) -> None:
    (tmp_path / "above").mkdir()
    (tmp_path / "above").chmod(mode)
    with nullcontext() if used else pytest.raises(PermissionError):
        Remembered(tmp_path / "above" / "builds" / "memory", "1").close()


def test_a_folder_in_the_place_of_a_memory_is_no_memory(tmp_path: Path) -> None:
    (tmp_path / "memory").mkdir()
    with pytest.raises(OSError, match="memory"):
        Remembered(tmp_path / "memory", "1")


@pytest.mark.parametrize("kept", ["answer", "build"])
def test_an_answer_of_which_a_disk_changed_a_bit_is_forgotten(tmp_path: Path, kept: str) -> None:
    memory = Remembered(tmp_path / "memory", "1")
    memory.learn(News(done={("page", "p"): Done((), b"f", 1, b"pickled")}), last=b"pickled")
    with closing(sqlite3.connect(tmp_path / "memory")) as file:
        file.execute(f"UPDATE {'step' if kept == 'answer' else 'last'} SET {kept} = ? || substr({kept}, 2)", (b"?",))
        file.commit()
    again = Remembered(tmp_path / "memory", "1")
    with pytest.raises(BrokenMemory):
        again.answer(("page", "p")) if kept == "answer" else again.last()
    assert not (tmp_path / "memory").exists()


def shared_out(
    folder: Path, cores: int, monkeypatch: pytest.MonkeyPatch, fails: str = ""
) -> tuple[dict[str, str], list[str]]:
    """Forty pages, each of which asks for a file that is not there; copies of the process fail at one of them."""
    monkeypatch.setattr("generator.door.remembering.cores", lambda: cores)
    here, done = os.getpid(), []
    memory = Remembered(folder / "memory", "1")
    door = Steps(memory)
    ids = [f"{n:02}" for n in range(40)]
    text = door.given("text", {id: id for id in ids})
    door.all_given()

    def page(id: str) -> str:
        if os.getpid() != here and id == fails:
            os._exit(1)
        done.append(id)
        return f"{text(id)} {text(id + '-more')}"

    pages = door.each("page", lambda: ids, page)
    plain = door.step("plain", lambda id: pages[id].encode(), keep=False)
    door.on_all_cores(list, "page")
    door.on_all_cores(lambda: [[("plain", id)] for id in ids])
    made = {id: plain(id).decode() for id in ids}
    memory.learn(door.news())
    return made, done


@pytest.mark.parametrize("fails", ["", "000", "399"])
def test_copies_do_again_a_part_of_what_a_change_asks_for(
    tmp_path: Path, fails: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("generator.door.remembering.cores", lambda: 2)
    monkeypatch.setattr("generator.door.steps.MANY", 400)
    here, done = os.getpid(), []
    ids = [f"{n:03}" for n in range(400)]

    def page(id: str, head: str) -> str:
        if os.getpid() != here and id == fails and head == "new":
            os._exit(1)
        done.append(id)
        return head + id

    def built(head: str) -> tuple[dict[str, str], dict[str, int]]:
        done.clear()
        memory = Remembered(tmp_path / "memory", "1")
        door = Steps(memory)
        given = door.given("head", {"": head})
        door.all_given()
        pages = door.each("page", lambda: ids, lambda id: page(id, given("")), keep=False)
        lengths = door.each("length", lambda: ids, lambda id: len(pages[id]))
        door.on_all_cores(lambda: [[("page", id), ("length", id)] for id in ids], again=True)
        made = dict(pages), dict(lengths)
        memory.learn(door.news())
        return made

    built("old")
    assert built("new") == ({id: f"new{id}" for id in ids}, dict.fromkeys(ids, 6))
    assert len(done) < 400 or fails
    assert built("new") == ({id: f"new{id}" for id in ids}, dict.fromkeys(ids, 6))


@pytest.mark.parametrize("fails", ["", "00", "39"])
def test_copies_of_a_of_a_process_do_a_part_of_the_steps(
    tmp_path: Path, fails: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    alone, all_of_them = shared_out(tmp_path / "one", 1, monkeypatch)
    together, here = shared_out(tmp_path / "three", 3, monkeypatch, fails)
    assert together == alone
    assert len(here) <= len(all_of_them) == 40
    kept = [Remembered(tmp_path / name / "memory", "1") for name in ("one", "three")]
    for key in kept[0].given() | {("page", f"{n:02}"): b"" for n in range(40)}:
        known = [memory.known(key) for memory in kept]
        assert known[0] == known[1], key
        assert [list(memory.asked(key)) for memory in kept][1] == list(kept[0].asked(key))
        assert sorted(kept[0].askers(key)) == sorted(kept[1].askers(key))


class _Cup(Struct, frozen=True):
    litres: float


class _CupWithLid(_Cup, frozen=True):
    lid: str


@pytest.mark.parametrize("record", [_Cup(0.2), _CupWithLid(0.2, "tin"), (_Cup(1.0), _Cup(1.0))])
def test_a_record_is_read_as_it_was_kept(record: object) -> None:
    assert pickle.loads(pickled(record)) == record


def test_where_nothing_is_remembered_only_what_is_asked_for_is_made_and_once() -> None:
    made: list[str] = []
    each = Door().each("told", lambda: made.append("ids") or ("one", "two"), lambda id: made.append(id) or id.upper())
    assert made == []
    assert (each["two"], each["two"], "three" in each) == ("TWO", "TWO", False)
    assert made == ["ids", "two"]
    with pytest.raises(KeyError):
        each["three"]
    whole = {"one": "ONE", "two": "TWO"}
    assert (dict(each), pickle.loads(pickle.dumps(each)), repr(each)) == (whole, whole, repr(whole))
