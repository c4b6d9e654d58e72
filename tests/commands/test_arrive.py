"""`corallite arrive`: one line, and nothing typed twice."""

import shutil
from pathlib import Path

import pytest

from generator.__main__ import main
from generator.read.load import load
from generator.records.journal import Journal
from tests.archive import write_archive
from tests.records.test_carried_out import NOW, SOUND, SWAP

AT = "2026-03-20 15:10"


@pytest.fixture
def content(tmp_path: Path) -> Path:
    write_archive(SOUND, tmp_path)
    write_archive(SWAP, tmp_path)
    return tmp_path


def files(folder: Path) -> dict[str, str]:
    found = {path.relative_to(folder).as_posix(): path for path in folder.rglob("*") if path.is_file()}
    return {name: path.read_text(encoding="utf-8") for name, path in found.items()}


def arrive(content: Path, *words: str) -> int:
    return main(["arrive", "the-table", "--content", str(content), *words])


def test_one_command_writes_one_line_and_the_corals_file(content: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = files(content)
    assert arrive(content, "--at", AT) == 0
    after = files(content)
    assert after.keys() - before.keys() == {"corals/table-1.yaml"}
    assert after["plans/the-table.yaml"] == before["plans/the-table.yaml"] + f"arrived: {AT}\n"
    assert all(after[name] == before[name] for name in before if name != "plans/the-table.yaml")
    assert f"wrote 'arrived: {AT}' in plans/the-table.yaml" in capsys.readouterr().out


def test_it_says_by_which_name_the_trade_gets_its_record_of_origin(
    content: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert arrive(content, "--at", AT) == 0
    (trade,) = (id for id in _loaded(content).trades if id.endswith("the-table"))
    assert f"corallite origin {trade}\n" in capsys.readouterr().out


def test_how_a_colony_came_is_unknown_while_nobody_has_said_it(content: Path) -> None:
    plan = content / "plans/the-table.yaml"
    alone = """\
since: 2026-03-10
date: 2026-03-20 15:00
coming:
  - {coral: table-1, name: Table, species: Acropora sp., form: tabling, length: 18 cm, system: reef}
"""
    plan.write_text(alone, encoding="utf-8")
    assert arrive(content, "--at", AT) == 0
    assert _loaded(content).corals["table-1"].arrival.how == "unknown"
    plan.write_text(alone + "partner: marta\n", encoding="utf-8")
    (content / "corals/table-1.yaml").unlink()
    assert arrive(content, "--at", AT) == 0
    assert _loaded(content).corals["table-1"].arrival.how == "gift"


def _loaded(content: Path) -> Journal:
    found = load(content, NOW)
    assert found.journal is not None, found.problems
    return found.journal


def test_the_file_says_what_the_line_alone_says(content: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    by_hand = tmp_path_factory.mktemp("by-hand")
    shutil.copytree(content, by_hand, dirs_exist_ok=True)
    with (by_hand / "plans/the-table.yaml").open("a", encoding="utf-8") as plan:
        plan.write(f"arrived: {AT}\n")
    arrive(content, "--at", AT)
    one, other = load(content, NOW), load(by_hand, NOW)
    assert one.problems == other.problems == ()
    assert one.journal is not None
    assert other.journal is not None
    a, b = one.journal.corals["table-1"], other.journal.corals["table-1"]
    assert (a.name, a.species, a.line, a.form) == (b.name, b.species, b.line, b.form)
    assert [str(size.length) for size in a.sizes] == [str(size.length) for size in b.sizes]
    assert [str(w.mass) for w in a.weighings] == [str(w.mass) for w in b.weighings]
    assert [(p.since, p.system, p.place, str(p.x)) for p in a.placements] == [
        (p.since, p.system, p.place, str(p.x)) for p in b.placements
    ]
    assert (a.arrival.at, a.arrival.how, a.arrival.trade) == (b.arrival.at, b.arrival.how, b.arrival.trade)
    assert one.journal.trades == other.journal.trades
    assert one.journal.logs == other.journal.logs


def test_a_second_time_changes_nothing(content: Path) -> None:
    arrive(content, "--at", AT)
    once = files(content)
    assert arrive(content, "--at", "2026-03-21 09:00") == 0
    assert files(content) == once


def test_where_the_plan_does_not_say_where_it_stands_the_command_asks(
    content: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = content / "plans/the-table.yaml"
    without = plan.read_text(encoding="utf-8").replace(
        "    system: reef\n    place: bay\n    x: 30 cm\n    y: 30 cm\n", ""
    )
    plan.write_text(without, encoding="utf-8")
    before = files(content)
    assert arrive(content, "--at", AT) == 1
    assert "'table-1' is in no system yet (add --system" in capsys.readouterr().err
    assert files(content) == before
    assert arrive(content, "--at", AT, "--system", "reef") == 0
    loaded = load(content, NOW)
    assert loaded.problems == ()
    assert loaded.journal is not None
    assert loaded.journal.corals["table-1"].placements[0].system == "reef"
    assert {event.what for event in loaded.journal.logs["reef"].events if event.coral == "table-1"} == {"arrival"}


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--at", "2199-01-01 10:00"), "is in the future"),
        (("--at", "tomorrow"), "is not a date"),
        (("--at", "2025-12-31"), "is before 'the-table' was planned on 2026-03-01 (write an earlier day after"),
        (("--at", AT, "--system", "reaf"), "did you mean reef?"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_written(
    content: Path, words: tuple[str, ...], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    before = files(content)
    assert arrive(content, *words) == 1
    assert said in capsys.readouterr().err
    assert files(content) == before


@pytest.mark.parametrize(
    ("told", "said"),
    [
        ("{since: 2026-03-01, partner: marta, going: [{coral: tide-lantern, frags: 1}]}\n", "cannot be extended"),
        (
            "since: 2026-03-01\ndropped: 2026-03-05\npartner: marta\ngoing:\n  - {coral: tide-lantern, frags: 1}\n",
            "was dropped on",
        ),
    ],
)
def test_a_line_is_added_only_where_the_plan_goes_on_and_the_file_can_hold_it(
    content: Path, told: str, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    (content / "plans" / "other.yaml").write_text(told, encoding="utf-8")
    before = files(content)
    assert main(["arrive", "other", "--at", AT, "--content", str(content)]) == 1
    assert said in capsys.readouterr().err
    assert files(content) == before


def test_a_close_miss_of_the_name_says_what_may_be_meant(content: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["arrive", "the-tabel", "--content", str(content)]) == 1
    assert "there is no plan 'the-tabel' (did you mean the-table?)" in capsys.readouterr().err


@pytest.mark.parametrize(("when", "written"), [("2026-03-20", "2026-03-20"), ("2026-03-20 09:05", "2026-03-20 09:05")])
def test_it_arrived_when_the_question_is_asked_if_nothing_else_is_said(content: Path, when: str, written: str) -> None:
    assert arrive(content, "--as-of", when) == 0
    assert files(content)["plans/the-table.yaml"].endswith(f"\narrived: {written}\n")


def test_nothing_arrives_after_the_moment_that_counts_as_now(content: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert arrive(content, "--as-of", "2026-03-19", "--at", AT) == 1
    assert "is in the future" in capsys.readouterr().err
