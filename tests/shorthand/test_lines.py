"""What lines of shorthand mean: a table that a keeper can read, and what must hold for any line at all."""

import re
from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from msgspec.structs import replace

from generator.shorthand.finish import Terms
from generator.shorthand.grammar import LONGEST, understood
from generator.shorthand.scanner import word_tables
from generator.units.kinds import KINDS, NAMES, WATER_KINDS, kind_named
from tests.shorthand.known import KNOWN
from tests.shorthand.said import said


def table() -> list[tuple[str, list[str]]]:
    """Each line of lines.txt with what it means, which is indented below it."""
    rows: list[tuple[str, list[str]]] = []
    for line in (Path(__file__).parent / "lines.txt").read_text(encoding="utf-8").splitlines():
        if line.startswith("    "):
            rows[-1][1].append(line.strip())
        else:
            rows.append((line, []))
    return rows


@pytest.mark.parametrize(("line", "meaning"), table(), ids=[line for line, _ in table()])
def test_a_line_means_what_the_table_says(line: str, meaning: list[str]) -> None:
    assert list(said(understood(line, KNOWN))) == meaning


def test_the_table_is_long_and_shows_what_is_refused_too() -> None:
    rows = table()
    assert len(rows) >= 80
    assert sum(any(each.startswith("!") for each in meaning) for _, meaning in rows) >= 25
    into = {each.partition(":")[0].split(" ")[0] for _, meaning in rows for each in meaning}
    assert {row.into for row in word_tables().rows} <= into, "every row of the grammar's tables is in it"


def test_every_quantity_has_its_usual_names_and_no_name_two_meanings() -> None:
    names = [name for names in NAMES.values() for name in names]
    assert len(set(names)) == len(names)
    assert {kind_named(kind) for kind in WATER_KINDS} == set(WATER_KINDS)
    assert kind_named(" KH ") == "alkalinity"
    assert kind_named("tds") is None
    for kind in NAMES:
        (change,) = understood(f"{NAMES[kind][0]} {KINDS[kind].example}", KNOWN).changes
        assert str(change.values[kind]) == KINDS[kind].example


WORDS = st.sampled_from(
    [
        *word_tables().openings(),
        *word_tables().fillers,
        "soda",
        "tide-lantern-1",
        "bommie",
        "polyps",
        "out",
        ",",
        ";",
        ":",
        "ml",
        "dKH",
    ]
)
NUMBERS = st.from_regex(r"[1-9]\d{0,2}([.,]\d)?", fullmatch=True)


@given(st.lists(st.one_of(WORDS, NUMBERS), max_size=14))
@example(["alk", "8.1", "soda", "40"])
@example(["fed", "polyps", "8"])
def test_no_number_is_ever_dropped(words: list[str]) -> None:
    """Of a line that is taken, every number is part of a fact, or of a note that says it is one, or of its time."""
    found = understood(" ".join(words), KNOWN)
    if found.refusals:
        return
    facts = " ".join(change.said for change in found.changes)
    times = {change.at for change in found.changes}
    numbers = re.findall(r"\d+(?:[.,]\d+)?", " ".join(words))
    assert (
        len(times) > 1
        or all(number in facts for number in numbers)
        or "ago" in words
        or any(month in words for month in word_tables().months)
    )


@given(st.text(max_size=120))
@example('"' * 60 + ";" + "'" * 60)
@example("new '" + "A" * 90)
@example("weighed tide-lantern-1 " + "9" * 300 + " g")
@example("alk " + "1" * 40)
@example("99999999999999999999 days ago fed")
@example("0000-00-00 00:00 alk 8")
@example("\u0130\u0131ı alk 8")
@example("alk 8\u2028ca 400\x85;\x00")
def test_no_text_is_more_than_refused(text: str) -> None:
    found = understood(text, KNOWN)
    assert found.changes or found.refusals
    for change in found.changes:
        assert change.at.day <= KNOWN.now.date()
    for refusal in found.refusals:
        assert refusal.wrong
        assert refusal.remedy


def test_a_line_that_is_too_long_is_refused_at_once() -> None:
    (refusal,) = understood("alk 8.1," * LONGEST, KNOWN).refusals
    assert "too long" in refusal.wrong


@given(st.integers(1, 900))
def test_a_time_ago_is_that_long_ago(minutes: int) -> None:
    (change,) = understood(f"{minutes} min ago alk 8.1", KNOWN).changes
    then = KNOWN.now - timedelta(minutes=minutes)
    assert (change.at.day, change.at.clock) == (then.date(), then.time())


@pytest.mark.parametrize(
    ("order", "line", "day"),
    [
        ("month-day-year", "8/3 9am: alk 8.1", "2026-08-03"),
        ("day-month-year", "8/3 9am: alk 8.1", "2026-03-08"),
        ("month-day-year", "25/3 9am: alk 8.1", "2026-03-25"),
        ("day-month-year", "3/25/26 9am: alk 8.1", "2026-03-25"),
    ],
)
def test_a_day_in_two_numbers_is_read_in_the_order_of_the_journal_where_that_is_a_day(order, line, day) -> None:
    (change,) = understood(line, replace(KNOWN, date_order=order)).changes
    assert str(change.at.day) == day


def test_without_declared_units_every_number_needs_one() -> None:
    bare = Terms(KNOWN.now)
    assert [str(each) for each in understood("alk 8.1", bare).refusals] == [
        "'8.1' has no unit (write for example 8.1 dKH)"
    ]
    assert understood("KH 8.1, ca 425 ppm", bare).refusals == ()


@pytest.mark.parametrize(
    ("line", "example"),
    [
        ("alk", "145 mg/L CaCO3"),
        ("temp", "77.7 °F"),
        ("salinity", "1.0264 sg 25/25"),
        ("wc", "10 gal or 10 %"),
        ("measured kelp-witch-1", "9.5 x 8.5 x 5 in"),
        ("weighed kelp-witch-1", "412 g"),
        ("ca", "425 mg/L"),
    ],
)
def test_an_example_is_in_the_units_of_the_journal(line: str, example: str) -> None:
    units = {"alkalinity": "mg/L CaCO3", "temperature": "°F", "salinity": "sg 25/25", "volume": "gal", "length": "in"}
    found = understood(line, replace(KNOWN, units={**KNOWN.units, **units}))
    assert [each.remedy for each in found.refusals] == [f"write for example {example}"]


def test_a_coral_of_a_journal_without_corals_is_named_as_missing() -> None:
    bare = Terms(KNOWN.now, units=KNOWN.units, names={"coral": {}})
    for line in ("weighed nemo 30 g", "lost nemo"):
        assert [str(each) for each in understood(line, bare).refusals] == [
            "there is no coral 'nemo' (make its file first)"
        ]


def test_a_solution_that_is_not_described_is_named_as_such() -> None:
    bare = Terms(KNOWN.now, units=KNOWN.units, names={"solution": {}})
    for line in ("soda 40 ml", "dosed soda 40 ml"):
        assert [str(each) for each in understood(line, bare).refusals] == [
            "there is no solution 'soda' (say first what is in it, "
            "with your own compound and strength: 'solution soda Na2CO3 60 g/L', "
            "or as its label does: 'solution soda raises 1 dKH in 100 L per 10 mL')"
        ]
    described = understood("solution soda Na2CO3 60 g/L; dosed soda 40 ml", bare)
    assert [change.into for change in described.changes] == ["solutions", "doses"]
    assert not described.refusals
