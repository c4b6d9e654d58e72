"""Every mistake at once: a journal with dozens of planted mistakes is read once, and nearly all of them are named."""

import contextlib
import time
from collections import Counter
from datetime import UTC, datetime
from pathlib import Path

import pytest

from generator.commands.check import judged
from generator.door.door import Door, grouped, parts_of
from generator.read.checks import CHECKS, LOG_BY_LOG, MONTH_BY_MONTH, RECORD_BY_RECORD
from generator.read.discover import discover
from generator.read.draft import Draft
from generator.read.files import files
from generator.read.load import Loaded, across_records, load
from generator.units.quantity import NotAQuantity, parse_quantity
from tests.archive import sections, write_archive

HERE = Path(__file__).parent
PLANTED = [(HERE / name).read_text(encoding="utf-8") for name in ("planted.txt", "planted-in-a-mill.txt")]
KEPT = (HERE / "kept.txt").read_text(encoding="utf-8")
NOW = datetime(2026, 3, 31, 12, 0, tzinfo=UTC)
# The mark at the end of a line, once for each mistake in it. A merge is named where it begins.
MARK = "#!"


def planted_in(journal: str) -> Counter[tuple[str, int]]:
    found: Counter[tuple[str, int]] = Counter()
    for file, (text, _) in sections(journal).items():
        lines = text.split("\n")
        for number, line in enumerate(lines, start=1):
            if line.count(MARK):
                after_merge = number > 1 and lines[number - 2].startswith("<<<<<<<")
                found[file, number - after_merge] += line.count(MARK)
    return found


def read(folder: Path, files: str) -> Loaded:
    write_archive(files, folder)
    return load(folder, NOW)


@pytest.mark.parametrize("planted", PLANTED, ids=["reefs", "mill"])
def test_at_least_sixty_four_in_sixty_eight_mistakes_are_named_in_one_run(planted: str, tmp_path: Path) -> None:
    loaded = read(tmp_path, planted.replace(" #!", ""))
    named = Counter((p.source.file, p.source.line) for p in judged(loaded, tmp_path, tmp_path / "cache"))
    there = planted_in(planted)
    assert there.total() >= 68
    missed = there - named
    assert (there - missed).total() >= there.total() * 64 / 68, sorted(missed.items())


@pytest.mark.parametrize("journal", [KEPT, *PLANTED], ids=["kept for a year", "reefs", "mill"])
def test_checks_that_look_at_several_records_need_nothing_that_is_measured_of_a_coral(journal: str, tmp_path: Path):
    write_archive(journal.replace(" #!", ""), tmp_path)
    door = Door()
    draft = files(door, tmp_path, discover(tmp_path, door.was), {}, NOW).draft
    across = across_records(draft, door)
    assert any(coral.sizes for coral in draft.corals.values()) or journal != KEPT
    assert not any(coral.sizes for coral in across.corals.values())
    for check in CHECKS:
        if check not in (*RECORD_BY_RECORD, *MONTH_BY_MONTH, *LOG_BY_LOG):
            assert list(check(across)) == list(check(draft)), check.__qualname__


def test_checks_of_a_month_find_all_that_is_wrong_in_it_without_any_other_month(tmp_path: Path):
    journal = KEPT
    for month, slip in (("2026-01", "{at: 2026-01-02 07:00}"), ("2026-03", "{at: 2026-02-27 08:00, note: Late.}")):
        journal = journal.replace(f"--- logs/reef/{month}.yaml\n", f"--- logs/reef/{month}.yaml\n- {slip}\n")
    write_archive(journal, tmp_path)
    door = Door()
    draft = files(door, tmp_path, discover(tmp_path, door.was), {}, NOW).draft
    months = [
        door.view(Draft, **(parts_of(draft) | {"written": lambda id=id, month=month: {id: month}}))
        for id, entries in draft.written.items()
        for month in grouped((entry.source.file, entry) for entry in entries).values()
    ]
    assert len(months) == 3
    whole, apart = (
        Counter(problem for check in MONTH_BY_MONTH for part in parts for problem in check(part))
        for parts in ([draft], months)
    )
    assert apart == whole
    assert {problem.kind for problem in whole} >= {"empty-entry", "wrong-month"}


@pytest.mark.parametrize("planted", PLANTED, ids=["reefs", "mill"])
def test_no_mistake_is_made_up(planted: str, tmp_path: Path) -> None:
    loaded = read(tmp_path, planted.replace(" #!", ""))
    errors = [p for p in judged(loaded, tmp_path, tmp_path / "cache") if p.severity == "error"]
    assert not [str(p) for p in errors if "made-up" in str(p)]
    strangers = [str(p) for p in errors if (p.source.file, p.source.line) not in planted_in(planted)]
    assert len(strangers) <= 2, strangers


MERGED = "<<<<<<< mine\n{a}\n||||||| before\n{b}\n=======\n{c}\n>>>>>>> theirs\n"


@pytest.mark.parametrize("file", ["journal.yaml", "corals/a.yaml", "corals/a.md", "entries/2026-03-01-a.md"])
def test_a_merge_is_named_as_such_in_every_kind_of_file(file: str, tmp_path: Path) -> None:
    sound = (HERE / "sound.txt").read_text(encoding="utf-8")
    texts = {
        "journal.yaml": sections(sound)["journal.yaml"][0] + MERGED.format(a="about: a", b="about: b", c="about: c"),
        "corals/a.yaml": sections(sound)["corals/tide-lantern.yaml"][0].partition("cuttings:")[0].replace("Tide", "Low")
        + MERGED.format(a="private: |\n  a", b="private: b", c="private: c"),
        "corals/a.md": MERGED.format(a="A.", b="B.", c="C."),
        "entries/2026-03-01-a.md": "---\ntitle: A\nat: 2026-03-01\n---\n" + MERGED.format(a="A.", b="B.", c="C."),
    }
    write_archive(sound, tmp_path)
    (tmp_path / "corals/a.yaml").write_text(texts["corals/a.yaml"].partition("<<<<<<<")[0])
    (tmp_path / file).write_text(texts[file], encoding="utf-8")
    errors = [p for p in load(tmp_path, NOW).errors if p.source.file == file]
    assert [p.kind for p in errors] == ["merge"]
    assert (tmp_path / file).read_text().split("\n")[errors[0].source.line - 1].startswith("<<<<<<< ")


def test_many_entries_of_one_moment_are_one_message(tmp_path: Path) -> None:
    sound = (HERE / "sound.txt").read_text(encoding="utf-8")
    entry = "- at: 2026-03-02 08:10\n  readings: {alkalinity: 8.1 dKH}\n  doses: {soda: 4 mL}\n"
    loaded = read(tmp_path, f"{sound}--- logs/reef/2026-03.yaml\n{entry * 300}")
    assert [p.wrong for p in loaded.errors] == ["300 entries have the time 2026-03-02 08:10"]


@pytest.mark.parametrize("text", ["{blanks}8.1 dKH", "8.1{blanks}dKH", "{blanks}x", "1{digits}", "8.1 {letters}"])
def test_a_quantity_of_blanks_costs_milliseconds(text: str) -> None:
    text = text.format(blanks=" " * 40_000, digits="1" * 40_000, letters="d" * 40_000)
    begun = time.perf_counter()
    with contextlib.suppress(NotAQuantity):
        assert parse_quantity(text, "alkalinity").value == 8.1
    assert time.perf_counter() - begun < 0.1
