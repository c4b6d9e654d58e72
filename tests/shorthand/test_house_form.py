"""Names and units as keepers write them: read as they are meant, and written in the house form by `tidy`."""

from pathlib import Path

from generator.shorthand.house_form import house_form
from generator.units.kinds import WATER_KINDS
from tests.commands.test_commands import SOUND, corallite, tree
from tests.commands.test_note import Write, loaded
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
    after = loaded(content)
    assert after.settings.units == before.settings.units == {"alkalinity": "dKH"}
    for kind in ("readings", "doses", "pumps"):
        old, new = getattr(before.logs["reef"], kind), getattr(after.logs["reef"], kind)
        assert [str(each) for each in _plain(old)] == [str(each) for each in _plain(new)]
    assert corallite("tidy", "--content", content).stdout == "every name and unit is in the house form\n"


def _plain(facts: tuple[object, ...]) -> list[tuple[str, ...]]:
    """Facts without their places, which move."""
    return [tuple(str(getattr(fact, name)) for name in fact.__slots__ if name != "source") for fact in facts]  # type: ignore[attr-defined]


def test_a_journal_with_broken_yaml_is_left_alone(journal: Write) -> None:
    content = journal(SOUND)
    (content / "systems/reef.yaml").write_text("low: {KH: 7\n")
    before = tree(content)
    assert corallite("tidy", "--content", content).returncode == 1
    assert tree(content) == before
    assert corallite("tidy", "--content", Path("nowhere")).returncode == 1
