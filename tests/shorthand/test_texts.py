"""Facts in the files: what is understood and written reads back as the same, and nothing else has changed."""

from datetime import datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from generator.read.kinds import Meaning, records_in
from generator.read.recovery import read_yaml
from generator.records.coral import Coral
from generator.records.log import LogEntry
from generator.records.system import Levels
from generator.shorthand.grammar import understood
from generator.shorthand.log_text import entries_of, with_entry, with_solution
from generator.shorthand.yaml_text import CannotExtend, frags_of, new_coral, with_fact
from tests.shorthand.known import KNOWN, ZONE

MEANING = Meaning(ZONE, dict(KNOWN.units))
FILE = "logs/lagoon/2026-11.yaml"
MONTH = """\
# yaml-language-server: $schema=../../.schemas/logs.json
# November, the month of storms
- at: 2026-11-03 08:53 # early
  readings: {alkalinity: 8.2 dKH, calcium: 425 mg/L}

# the pumps, at last
- at: 2026-11-03 09:10
  pumps:
    soda: 130 mL/day # by the cylinder
- {at: 2026-11-07 16:30, water_change: {volume: 45 L, mix: new-water}}
- note: >-
    9.3 on the drops,
    did it twice.
  at: 2026-11-18 21:45
# the end
"""


def entries(text: str) -> list[LogEntry]:
    document, problems = read_yaml(text, FILE)
    assert document is not None
    found, _, wrong = records_in("logs", document, FILE, MEANING)
    assert not [*problems, *wrong]
    return found


def facts(found: list[LogEntry]) -> set[tuple[str, ...]]:
    """Every fact of some entries, with its moment."""
    told: set[tuple[str, ...]] = set()
    for entry in found:
        at = entry.at.astimezone(ZONE).strftime("%Y-%m-%d %H:%M")
        for field in ("doses", "pumps", "filled", "measured_rate"):
            told |= {(at, field, name, str(value)) for name, value in getattr(entry, field).items()}
        if entry.readings:
            told |= {
                (at, "readings", k, str(v), entry.kit or "")
                for k in Levels.__struct_fields__
                if k != "source" and (v := entry.readings.of(k))
            }
        if entry.water_change:
            told.add((at, "water_change", str(entry.water_change.volume), str(entry.water_change.mix)))
        if entry.event:
            told.add((at, "event", entry.event.what, str(entry.event.text)))
        if entry.note:
            told |= {(at, "note", each, str(entry.private)) for each in entry.note.split("; ")}
    return told


def put(text: str, line: str) -> str:
    found = understood(line, KNOWN)
    assert not found.refusals, found.refusals
    for entry in entries_of(found.changes, ZONE):
        text = with_entry(text, entry, ZONE, FILE)
    return text


WHEN = st.integers(0, 60 * 24 * 21).map(lambda minutes: datetime(2026, 11, 1, tzinfo=ZONE) + timedelta(minutes=minutes))
LEVEL = st.decimals(1, 999, places=1).map(str)
FACTS = {
    "readings": st.tuples(
        st.sampled_from([("alk", "alkalinity", "dKH"), ("Ca", "calcium", "mg/L"), ("NO3", "nitrate", "mg/L")]), LEVEL
    ).map(lambda t: (f"{t[0][0]} {t[1].replace('.', ',')}", ("readings", t[0][1], f"{t[1]} {t[0][2]}", ""))),
    "doses": st.tuples(st.sampled_from(["soda", "chloride"]), LEVEL).map(
        lambda t: (f"dosed {t[0]} {t[1]}ml", ("doses", t[0], f"{t[1]} mL"))
    ),
    "pumps": st.tuples(st.sampled_from(["soda", "chloride"]), LEVEL).map(
        lambda t: (f"{t[0]} {t[1]} ml/day", ("pumps", t[0], f"{t[1]} mL/day"))
    ),
    "water_change": LEVEL.map(lambda v: (f"wc {v} L new water", ("water_change", f"{v} L", "new-water"))),
    "note": st.text(st.characters(categories=("L", "N", "P", "S", "Zs")), min_size=1, max_size=30)
    .map(lambda text: " ".join(text.replace(";", "").replace('"', "").split()).strip(":' \u2018\u201c\u201e"))
    .filter(bool)
    .map(lambda text: (f"note: {text}", ("note", text, "False"))),
}


@given(
    WHEN,
    st.fixed_dictionaries({}, optional=FACTS).filter(bool),
    st.sampled_from([MONTH, "", MONTH.replace("\n", "\r\n")]),
)
def test_what_is_understood_and_written_reads_back_as_the_same(
    when: datetime, told: dict[str, tuple[str, tuple[str, ...]]], month: str
) -> None:
    at = f"{when:%Y-%m-%d %H:%M}"
    text = put(month, f"{at} " + "; ".join(line for line, _ in told.values()))
    before = facts(entries(month)) if month else set()
    assert facts(entries(text)) == before | {(at, *fact) for _, fact in told.values()}
    ends = "\r\n" if "\r" in month else "\n"
    assert all(line.count("\r") == ends.count("\r") for line in text.splitlines(keepends=True))
    kept = iter(text.split(ends))
    assert all(line in kept for line in month.split(ends)[:-1]), "each old line is there, in its order"
    times = [entry.at for entry in entries(text)]
    assert times == sorted(times)


@pytest.mark.parametrize(
    ("line", "added"),
    [
        ("2026-11-03 9:00 alk 8.1", ["- at: 2026-11-03 09:00", "  readings: {alkalinity: 8.1 dKH}"]),
        ("2026-11-03 8:53 dosed soda 40 ml", ["  doses: {soda: 40 mL}"]),
        ("2026-11-03 9:10 chloride 60 ml/day", ["    chloride: 60 mL/day"]),
        ("2026-11-18 21:45 alk 9.3; fed", ["  readings: {alkalinity: 9.3 dKH}", "  event: {what: feeding}"]),
        ("2026-11-01 9:00 note: a: b", ["- at: 2026-11-01 09:00", '  note: "a: b"']),
        (
            "2026-11-03 8:53 kit lab; alk 8.1",
            ["- at: 2026-11-03 08:53", "  readings: {alkalinity: 8.1 dKH}", "  kit: lab"],
        ),
    ],
)
def test_only_these_lines_are_added(line: str, added: list[str]) -> None:
    old, new = MONTH.split("\n"), put(MONTH, line).split("\n")
    assert [each for each in new if each not in old] == [each for each in added if each not in old]
    assert len(new) == len(old) + len(added)


def test_a_reading_of_that_minute_joins_the_others_on_their_line() -> None:
    text = put(MONTH, "2026-11-03 8:53 mg 1290")
    assert "  readings: {magnesium: 1290 mg/L, alkalinity: 8.2 dKH, calcium: 425 mg/L}\n" in text
    assert len(text.splitlines()) == len(MONTH.splitlines())


@pytest.mark.parametrize(
    "text",
    [
        "[{at: 2026-11-03 08:53, note: a}]\n",
        "at: 2026-11-03 08:53\n",
        "- at: [\n",
        "- at: 2026-11-03 08:53\n  note: *x\n",
        "- -\n",
    ],
)
def test_a_month_that_cannot_be_extended_is_left_alone(text: str) -> None:
    with pytest.raises(CannotExtend, match=r"2026-11\.yaml"):
        put(text, "alk 8.1")


CORAL = """\
name: Tide Lantern 1 # the first
species: Acropora millepora
line: tide-lantern
form: corymbose
arrival: {at: 2021-03-14, how: gift}
# where it is
placements:
  - {since: 2021-03-14, system: fore-reef, place: crest}
weighings:
- at: 2026-04-25
  mass: 0.95 kg
  resolution: 0.05 kg
# pictures
photos: []
"""


def coral(text: str, id: str = "tide-lantern-1") -> Coral:
    file = f"corals/{id}.yaml"
    document, problems = read_yaml(text, file)
    assert document is not None
    document.value["id"] = id
    found, _, wrong = records_in("corals", document, file, MEANING)
    assert not [*problems, *wrong]
    return found[0]


def changed(line: str, text: str = CORAL) -> Coral:
    for change in understood(line, KNOWN).changes:
        text = with_fact(text, change, "corals/tide-lantern-1.yaml")
    kept = iter(text.split("\n"))
    assert all(old in kept for old in CORAL.split("\n"))
    return coral(text)


def test_each_fact_of_a_coral_reads_back() -> None:
    weighed = changed("weighed tide-lantern-1 412 g in water, holder 12 g, yesterday").weighings[-1]
    assert (str(weighed.mass), str(weighed.holder), weighed.in_water) == ("412 g", "12 g", True)
    assert str(weighed.at) == "2026-11-21"
    size = changed("tide-lantern-1 measured 24 x 21,5 x 13 cm").sizes[-1]
    assert (str(size.length), str(size.width), str(size.height)) == ("24 cm", "21.5 cm", "13 cm")
    home = changed("moved tide-lantern-1 to bommie 15 x 18 cm 200 par").placements[-1]
    assert (home.system, home.place, str(home.x), str(home.y), str(home.light)) == (
        "lagoon",
        "bommie",
        "15 cm",
        "18 cm",
        "200 PAR",
    )
    end = changed('lost tide-lantern-1: "no: tissue" left').end
    assert end is not None
    assert (end.how, end.cause) == ("lost", '"no: tissue" left')
    seen = changed("health tide-lantern-1 losing tissue colour d4: 2 cm").health[-1]
    assert (seen.what, seen.colour, seen.note) == ("tissue-loss", "D4", "2 cm")


def test_a_coral_ends_once_and_a_list_in_brackets_is_left_alone() -> None:
    (change,) = understood("lost tide-lantern-1", KNOWN).changes
    with pytest.raises(CannotExtend, match="an end already"):
        with_fact(f"{CORAL}end: {{at: 2026-11-01, how: lost}}\n", change, "corals/tide-lantern-1.yaml")
    (photo,) = understood("photo tide-lantern-1 a.jpg: pale", KNOWN).changes
    with pytest.raises(CannotExtend, match="photos is not a list, line by line"):
        with_fact(CORAL, photo, "corals/tide-lantern-1.yaml")


def test_frags_take_the_next_numbers_and_all_of_their_parent_that_they_share() -> None:
    parent = coral(CORAL)
    (change,) = understood("frag tide-lantern-1 2", KNOWN).changes
    made = frags_of(change, {"tide-lantern-1": parent, "tide-lantern-4": parent})
    assert list(made) == ["tide-lantern-5", "tide-lantern-6"]
    frag = coral(made["tide-lantern-5"], "tide-lantern-5")
    assert (frag.name, frag.line, frag.parent, frag.form) == (
        "Tide Lantern 5",
        "tide-lantern",
        "tide-lantern-1",
        "corymbose",
    )
    assert (frag.arrival.how, frag.placements[0].system) == ("cutting", "fore-reef")
    # Files that are there already, of a command that was killed or by hand, are the cutting's.
    assert list(frags_of(change, {"tide-lantern-1": parent, "tide-lantern-5": frag})) == [
        "tide-lantern-5",
        "tide-lantern-6",
    ]
    assert frags_of(change, {"tide-lantern-1": parent, "tide-lantern-5": frag})["tide-lantern-5"] == ""
    (bare,) = understood("frag tide-lantern-1 2 without files", KNOWN).changes
    assert frags_of(bare, {"tide-lantern-1": parent}) == {}


def test_a_new_coral_has_its_file() -> None:
    (change,) = understood('new "Dawn Bell 3" Acropora millepora table, gift from Tamsin, 12 x 10 cm', KNOWN).changes
    new = coral(new_coral(change, "lagoon", {}), "dawn-bell-3")
    assert (new.name, new.line, new.form, new.arrival.partner) == (
        "Dawn Bell 3",
        "dawn-bell",
        "tabling",
        "tamsin-orlebrook",
    )
    assert (new.placements[0].system, str(new.sizes[0].length)) == ("lagoon", "12 cm")


LENGTH = st.decimals(1, 99, places=1).map(str)
CAUSE = st.text(st.characters(categories=("L", "N", "P", "S", "Zs")), min_size=1, max_size=30).map(
    lambda text: " ".join(text.replace(";", "").replace('"', "").split()).strip(":' \u2018\u201c\u201e")
)


@given(LEVEL, st.lists(LENGTH, min_size=1, max_size=3), CAUSE.filter(bool), st.sampled_from(["\n", "\r\n"]))
def test_whatever_is_measured_of_a_coral_reads_back_as_the_same(
    mass: str, sides: list[str], cause: str, end: str
) -> None:
    line = f"weighed {mass.replace('.', ',')} g; measured {' x '.join(sides)} cm; died: {cause}"
    found = understood(line, replace(KNOWN, coral="tide-lantern-1"))
    assert not found.refusals
    text = CORAL.replace("\n", end)
    for change in found.changes:
        text = with_fact(text, change, "corals/tide-lantern-1.yaml")
    read = coral(text)
    size = read.sizes[-1]
    assert str(read.weighings[-1].mass) == f"{mass} g"
    assert [str(side) for side in (size.length, size.width, size.height) if side] == [f"{side} cm" for side in sides]
    assert read.end is not None
    assert read.end.cause == cause
    kept = iter(text.split(end))
    assert all(old in kept for old in CORAL.split("\n")[:-1]), "each old line is there, in its order"


def test_a_solution_of_which_only_the_label_is_known_declares_what_a_litre_gives():
    (change,) = understood("solution all-in 10 ml per 100 l raises kh by 1 dkh", KNOWN).changes
    made = with_solution("name: Reef\n", change, "systems/reef.yaml")
    assert made == "name: Reef\nsolutions:\n  all-in: {declared: {alkalinity: 10000 dKH}}\n"


@pytest.mark.parametrize(
    ("text", "after"),
    [
        ("name: Reef\n", "name: Reef\nsolutions:\n  kalk: {compound: Ca(OH)2, strength: 1.5 g/L}\n"),
        (
            "solutions:  # mine\n  soda: {compound: Na2CO3, strength: 60 g/L}\nname: Reef\n",
            "solutions:  # mine\n  kalk: {compound: Ca(OH)2, strength: 1.5 g/L}\n"
            "  soda: {compound: Na2CO3, strength: 60 g/L}\nname: Reef\n",
        ),
        ("solutions: {}\n", "solutions: {kalk: {compound: Ca(OH)2, strength: 1.5 g/L}}\n"),
        ("solutions:\n", None),
        ("solutions: [soda]\n", None),
    ],
)
def test_a_solution_joins_those_of_its_system(text: str, after: str | None) -> None:
    (change,) = understood("solution kalk Ca(OH)2 1.5 g/L", KNOWN).changes
    if after is None:
        with pytest.raises(CannotExtend, match="solutions"):
            with_solution(text, change, "systems/reef.yaml")
    else:
        made = with_solution(text, change, "systems/reef.yaml")
        assert made.replace('"', "") == after
