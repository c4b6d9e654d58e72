"""Names and units as keepers write them: read as they are meant, and written in the house form by `tidy`."""

import re
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from generator.read.draft import FORMER
from generator.records.settings import FORMAT
from generator.shorthand.yaml_text import CannotExtend, house_form, yaml_document
from generator.units.kinds import WATER_KINDS
from tests.commands.test_commands import SOUND, corallite, tree
from tests.commands.test_note import Write, loaded
from tests.read.test_hostile import cuts, spliced
from tests.shorthand.test_texts import entries

LOG = """\
# as the kits print it
- at: 2026-03-02 08:10
  readings: {KH: 8.1, Ca: 425 ppm, "Mg": '1290ppm', PO4: 30 ppb} # twice
- at: 2026-03-02 09:00
  readings:
    # the meter
    sal: 35ppt
    temp: 25.4C
    ph: 8.2
  doses: {soda: 40ml}
  pumps: {chloride: 1_000 ml/d}
  note: "KH: 8.1, Ca 425 ppm"
"""
HOUSE = """\
# as the kits print it
- at: 2026-03-02 08:10
  readings: {alkalinity: 8.1 dKH, calcium: 425 mg/L, "magnesium": '1290 mg/L', phosphate: 30 µg/L} # twice
- at: 2026-03-02 09:00
  readings:
    # the meter
    salinity: 35 psu
    temperature: 25.4 °C
    ph: 8.2
  doses: {soda: 40 mL}
  pumps: {chloride: 1_000 mL/day}
  note: "KH: 8.1, Ca 425 ppm"
"""


def values(text: str) -> list[str]:
    told: list[str] = []
    for entry in entries(text):
        levels = {kind: entry.readings.of(kind) for kind in WATER_KINDS} if entry.readings else {}
        for parts in (levels, entry.doses, entry.pumps):
            told += [f"{name} {value}" for name, value in parts.items() if value is not None]
    return told


def test_names_and_units_as_kits_print_them_are_what_they_mean() -> None:
    assert values(LOG) == values(HOUSE)
    assert "alkalinity 8.1 dKH" in values(LOG)


def test_the_house_form_changes_nothing_else_and_is_its_own() -> None:
    text, edits = house_form(LOG, "logs", "a.yaml")
    assert text == HOUSE
    assert [(edit.line, edit.old, edit.new) for edit in edits][:3] == [
        (3, "KH", "alkalinity"),
        (3, "8.1", "8.1 dKH"),
        (3, "Ca", "calcium"),
    ]
    assert house_form(HOUSE, "logs", "a.yaml") == (HOUSE, [])
    crlf = LOG.replace("\n", "\r\n")
    assert house_form(crlf, "logs", "a.yaml")[0] == HOUSE.replace("\n", "\r\n")


SHAPES = {"logs": LOG, "journal": "title: A\nunits: {KH: dkh, Ca: ppm}\noffers: {pieces_left: 2}\n"}


@given(kind=st.sampled_from(sorted(SHAPES)), pieces=cuts)
@example(kind="logs", pieces=[(0.3, 0.0, b"\r\n")])
@example(kind="journal", pieces=[(0.0, 0.0, b"\xef\xbb\xbf")])
def test_whatever_can_be_tidied_reads_as_before_and_is_tidy_then(
    kind: str, pieces: list[tuple[float, float, bytes]]
) -> None:
    text = spliced(SHAPES[kind].encode(), pieces).decode("utf-8", "replace")
    try:
        before = yaml_document(text, "a.yaml").value
    except CannotExtend:
        return
    tidied, _ = house_form(text, kind, "a.yaml")
    after = yaml_document(tidied, "a.yaml").value
    if isinstance(before, dict) and kind == "journal" and "format" not in before:
        assert after.pop("format") == str(FORMAT)
    assert built(after) == built(before)
    assert house_form(tidied, kind, "a.yaml") == (tidied, [])


def built(value: object) -> object:
    """How a value is built, whatever its names and texts are."""
    if isinstance(value, dict):
        return {n: built(each) for n, each in enumerate(value.values())}
    return [built(each) for each in value] if isinstance(value, list) else None


def test_the_demo_is_in_the_house_form() -> None:
    assert corallite("tidy", "--try").stdout == "every name and unit is in the house form\n"


def test_a_journal_is_tidied_and_means_the_same(journal: Write) -> None:
    content = journal(
        SOUND
        + "--- logs/reef/2026-02.yaml\n"
        + LOG.replace("2026-03", "2026-02").replace("chloride", "all-in-one").replace("ph: 8.2", "ph: 8.2 NBS")
    )
    settings = content / "journal.yaml"
    settings.write_text(settings.read_text().replace("alkalinity: dKH", "KH: dkh"))
    before, files = loaded(content), tree(content)
    assert corallite("tidy", "--content", content, "--try").returncode == 0
    assert tree(content) == files
    said = corallite("tidy", "--content", content)
    assert said.returncode == 0
    assert "logs/reef/2026-02.yaml:3: KH → alkalinity\n" in said.stdout
    assert "journal.yaml:5: KH → alkalinity\n" in said.stdout
    assert "journal.yaml:1: format: 2\n" in said.stdout
    after = loaded(content)
    assert after.settings.units == before.settings.units == {"alkalinity": "dKH"}
    for kind in ("readings", "doses", "pumps"):
        old, new = getattr(before.logs["reef"], kind), getattr(after.logs["reef"], kind)
        assert [str(each) for each in _plain(old)] == [str(each) for each in _plain(new)]
    assert corallite("tidy", "--content", content).stdout == "every name and unit is in the house form\n"


# Every name that the first format had and the second has not, and the file that it stands in.
FIRST = """\
--- journal.yaml
title: Two reefs
keeper: Ines
time_zone: Europe/Lisbon
units: {alkalinity: dKH}
containers:
  small-box: {length: 40 cm, width: 30 cm, height: 25 cm}
offers: {pieces_left: 2}
"""
EMBER = """\
name: Ember
species: Acropora sp.
line: ember
form: branching
arrival: {at: 2025-05-01, how: gift}
cuttings: """
RENAMED = {
    "systems/reef.yaml": ("matters: {alkalinity: 0.2 dKH}", "smallest_change: {alkalinity: 0.2 dKH}"),
    "corals/ember.yaml": (EMBER + "[{at: 2026-02-01, pieces: 2}]", EMBER + "[{at: 2026-02-01, frags: 2}]"),
    "logs/reef/2026-02.yaml": (
        "- {at: 2026-02-02 08:10, dismiss: {item: due/reef/alkalinity, reason: away}}",
        "- {at: 2026-02-02 08:10, dismiss: {alert: due/reef/alkalinity, reason: away}}",
    ),
    "trades/2026-03-03-a.yaml": (
        "{at: 2026-03-03, partner: marta, gave: [{coral: ember, pieces: 1}], states: [{days: 1, state: good}]}",
        "{at: 2026-03-03, partner: marta, gave: [{coral: ember, frags: 1}], checks: [{days: 1, condition: good}]}",
    ),
}


def test_a_journal_of_the_first_format_is_read_and_tidied_to_the_newest(journal: Write) -> None:
    content = journal(SOUND + FIRST)
    for file, (old, _) in RENAMED.items():
        path = content / file
        path.parent.mkdir(exist_ok=True)
        path.write_text((path.read_text() if path.exists() else "") + f"{old}\n")
    before = loaded(content)
    assert (before.settings.format, before.systems["reef"].smallest_change is None) == (1, False)
    assert corallite("tidy", "--content", content).returncode == 0
    for file, (_, new) in RENAMED.items():
        assert (content / file).read_text().endswith(f"{new}\n")
    assert (content / "journal.yaml").read_text() == "format: 2\n" + FIRST.split("\n", 1)[1].replace("pieces", "corals")
    after = loaded(content)
    assert after.settings.format == FORMAT
    for kind in ("corals", "trades", "systems"):
        assert _elsewhere(getattr(after, kind)) == _elsewhere(getattr(before, kind))
    assert (before.settings.offers.corals_left, after.settings.offers.corals_left) == (2, 2)  # type: ignore[union-attr]
    said = {word for old, new in RENAMED.values() for word in {*re.findall(r"\w+", old)} - {*re.findall(r"\w+", new)}}
    assert {name for names in FORMER.values() for name in names} == {"pieces_left", *said}


def _elsewhere(records: object) -> str:
    return re.sub(r"Source\(.*?\)", "", repr(records))


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("title: A\n", "format: 2\ntitle: A\n"),
        ("# one\n'title': A\nformat: 1\n", "# one\n'title': A\nformat: 2\n"),
        ("  title: A\r\n", "  format: 2\r\n  title: A\r\n"),
        ("{title: A}\n", "{format: 2, title: A}\n"),
        ("? title\n: A\n", "format: 2\n? title\n: A\n"),
        ("format: new\n", "format: new\n"),
        ("- a list\n", "- a list\n"),
    ],
)
def test_the_format_is_written_wherever_it_can_stand(before: str, after: str) -> None:
    assert house_form(before, "journal", "journal.yaml")[0] == after


def test_a_journal_of_a_later_format_is_left_alone(journal: Write) -> None:
    content = journal(SOUND.replace("title:", "format: 3\nnews: {}\ntitle:", 1))
    before = tree(content)
    refusal = (
        "journal.yaml:1: the journal has format 3, and this version of Corallite reads formats 1 to 2 "
        "(install a newer version of Corallite)"
    )
    for words in (["tidy"], ["check"], ["note", "reef", "alk 8.1"], ["build", "--site", content.with_name("site")]):
        said = corallite(*words, "--content", content)
        assert (said.returncode, refusal in said.stdout + said.stderr) == (1, True), said
    assert tree(content) == before
    assert not content.with_name("site").exists()


def _plain(facts: tuple[object, ...]) -> list[tuple[str, ...]]:
    """Facts without their places, which move."""
    return [tuple(str(getattr(fact, name)) for name in fact.__struct_fields__ if name != "source") for fact in facts]  # type: ignore[attr-defined]


def test_a_journal_with_broken_yaml_is_left_alone(journal: Write) -> None:
    content = journal(SOUND)
    (content / "systems/reef.yaml").write_text("low: {KH: 7\n")
    before = tree(content)
    assert corallite("tidy", "--content", content).returncode == 1
    assert tree(content) == before
    assert corallite("tidy", "--content", Path("nowhere")).returncode == 1
