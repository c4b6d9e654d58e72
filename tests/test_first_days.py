"""A journal in its first days: what its pages say while little is known."""

import re
from pathlib import Path

from generator.__main__ import main
from tests.archive import write_archive

BEGUN = """\
--- journal.yaml
title: First water
keeper: Ines
time_zone: Europe/Lisbon
base_url: https://first.example/
--- systems/reef.yaml
name: Reef
water: {volume: 200 L, uncertainty: 10 L}
low: {alkalinity: 7 dKH}
high: {alkalinity: 9 dKH}
--- logs/reef/2026-03.yaml
"""


def page_of(folder: Path, log: str, begun: str = BEGUN, audience: str = "public") -> str:
    """The text of the system's page, one blank between words."""
    write_archive(begun + (log or "[]\n"), folder / "content")
    words = ["--content", str(folder / "content"), "--site", str(folder / "site"), "--as-of", "2026-03-10"]
    words += ["--audience", audience]
    assert main(["build", *words]) == 0
    html = (folder / "site/systems/reef.html").read_text(encoding="utf-8")
    return re.sub(r"\s+", " ", re.sub(r"<script.*?</script>|<[^>]+>", " ", html, flags=re.DOTALL))


def read(*days: int, value: str = "alkalinity: 8.1 dKH") -> str:
    return "".join(f"- at: 2026-03-{day:02d} 08:00\n  readings: {{{value}}}\n" for day in days)


def test_without_a_reading_it_says_what_to_do_and_shows_no_number(tmp_path: Path) -> None:
    page = page_of(tmp_path, "")
    assert "Cannot tell yet. There are no readings yet." in page
    assert "g a day" not in page
    # Once for the uptake and once for the skeleton: the rest follows from these.
    assert page.count("There are no readings yet") == 2


def test_water_that_was_never_tested_says_so_once_at_a_glance(tmp_path: Path) -> None:
    page_of(tmp_path, "")
    systems = (tmp_path / "site/systems/index.html").read_text(encoding="utf-8")
    assert systems.count("not tested yet") == 1
    page_of(tmp_path, read(9))
    assert "last tested yesterday" in (tmp_path / "site/systems/index.html").read_text(encoding="utf-8")


def test_one_reading_is_a_level_and_no_uptake(tmp_path: Path) -> None:
    page = page_of(tmp_path, read(1))
    assert "8.1 dKH" in page
    assert "There is only one reading. A change takes two." in page
    assert "dKH a day" not in page
    assert "Alkalinity: one reading, 8.1 dKH" in page


def test_water_far_too_warm_is_not_to_wait_for_another_test(tmp_path: Path) -> None:
    bands = ("{alkalinity: 7 dKH}", "{alkalinity: 7 dKH, temperature: 24 °C}"), ("9 dKH}", "9 dKH, temperature: 27 °C}")
    begun = BEGUN
    for old, new in bands:
        begun = begun.replace(old, new)
    page = page_of(tmp_path, read(10, value="temperature: 34 °C"), begun, "own")
    assert "Check it now with a second thermometer, then heater, chiller and lamps." in page
    assert "before you act" not in page


def test_two_readings_are_an_uptake_in_the_unit_they_were_written_in(tmp_path: Path) -> None:
    page = page_of(tmp_path, read(1) + read(3, value="alkalinity: 7.5 dKH"))
    assert re.search(r"0\.\d+ dKH a day likely", page)
    assert "meq/L" not in page


def test_alkalinity_alone_is_not_said_to_be_alkalinity_and_calcium(tmp_path: Path) -> None:
    page = page_of(tmp_path, read(1, 3, 5))
    assert "from alkalinity alone" in page
    assert "from alkalinity and calcium together" not in page
    both = page_of(tmp_path, read(1, 3, 5, 7, value="alkalinity: 8.1 dKH, calcium: 420 mg/L"))
    assert "from alkalinity and calcium together" in both
    assert "the same calculation without calcium readings" in both


def test_what_cannot_be_told_is_in_no_chart_and_no_download_either(tmp_path: Path) -> None:
    for log in (read(1), read(1) + "- at: 2026-03-01 08:20\n  readings: {alkalinity: 7.9 dKH}\n"):
        page = page_of(tmp_path, log)
        assert "The coral takes up" not in page
        assert "Cannot tell yet" in page
        rows = (tmp_path / "site/data/systems/reef/uptake.csv").read_text(encoding="utf-8").splitlines()
        assert rows == ["at,quantity,per_day,low90,high90,unit,predicted"]


def test_equal_readings_take_up_about_nothing(tmp_path: Path) -> None:
    page = page_of(tmp_path, read(1, 2, 3, 5, 8))
    assert re.search(r"0\.00 dKH a day likely 0\.00 to 0\.\d+ dKH a day", page)


def test_a_coral_that_bleaches_is_on_the_page_of_today_with_the_way_to_its_health(tmp_path: Path) -> None:
    coral = """\
--- corals/stag-1.yaml
name: Stag
species: Acropora muricata
line: stag
form: branching
arrival: {at: 2026-03-01, how: bought}
placements:
  - {since: 2026-03-01, system: reef}
health:
  - {at: 2026-03-08, what: bleaching}
"""
    page = page_of(tmp_path, read(9), coral + BEGUN, "own")
    assert "Look after Stag: it bleaches" in page
    assert "Frag Stag once it recovers" in page
    assert 'href="corals/stag-1.html#health"' in (tmp_path / "site/index.html").read_text(encoding="utf-8")
    assert 'id="health"' in (tmp_path / "site/corals/stag-1.html").read_text(encoding="utf-8")


IN_GERMAN = BEGUN.replace("keeper: Ines\n", "keeper: Ines\nlanguage: de\n")
LANTERNS = "".join(
    f"--- corals/lantern-{n}.yaml\nname: Lantern {n}\nspecies: Acropora tenuis\nline: lantern\nform: corymbose\n"
    "arrival: {at: 2026-01-05, how: gift}\nsizes:\n"
    "  - {at: 2026-03-01, length: 30 cm, width: 28 cm, height: 18 cm}\n"
    f"placements:\n  - {{since: 2026-01-05, system: reef}}\nend: {{at: 2026-03-0{n}, how: lost}}\n"
    for n in (8, 9)
)


def test_several_changes_that_are_only_predicted_are_counted_first(tmp_path: Path) -> None:
    log = BEGUN.replace("--- logs", f"{LANTERNS}--- logs")
    page = page_of(tmp_path, read(1, 3, 5, 7), log)
    assert page.count("Predicted: Lantern") == 2
    assert page.count("2 changes since the last test of alkalinity are only predicted.") == 1
    assert "Lantern 8 has been gone since 2026-03-08 ." in page
    assert "00:00" not in page, "nobody wrote the hour"
    page = page_of(tmp_path, read(1, 3, 5, 7), log.replace("keeper: Ines\n", "keeper: Ines\nlanguage: de\n"))
    assert page.count("Der Verbrauch an Alkalinität sank um etwa") == 2
    assert page.count("2 Änderungen seit dem letzten Test der Alkalinität sind nur vorhergesagt.") == 1


def test_of_a_coral_that_is_gone_nothing_is_asked(tmp_path: Path) -> None:
    bare = re.sub(r"sizes:\n.*\n", "", LANTERNS).replace("end: {at: 2026-03-09, how: lost}\n", "")
    page_of(tmp_path, read(1, 3), BEGUN.replace("--- logs", f"{bare}--- logs"))
    gone, here = ((tmp_path / f"site/corals/lantern-{n}.html").read_text(encoding="utf-8") for n in (8, 9))
    for asked in ("Weigh it", "Measure its length"):
        assert asked in here
        assert asked not in gone


def test_a_table_of_all_readings_is_not_said_to_be_the_last_of_them(tmp_path: Path) -> None:
    assert "All 3 readings." in page_of(tmp_path, read(1, 3, 5))
    assert "The last 8 of 9 readings. The download has all of them." in page_of(tmp_path, read(*range(1, 10)))


def test_a_check_after_one_day_is_said_so_in_german(tmp_path: Path) -> None:
    came = IN_GERMAN.replace(
        "--- logs",
        "--- partners/ole.yaml\nname: Ole\n"
        "--- trades/2026-03-08-lantern.yaml\nat: 2026-03-08\npartner: ole\nreceived: [{coral: lantern-1}]\n"
        "--- corals/lantern-1.yaml\nname: Lantern 1\nspecies: Acropora tenuis\nline: lantern\nform: corymbose\n"
        "arrival: {at: 2026-03-08, how: trade, partner: ole}\nplacements:\n  - {since: 2026-03-08, system: reef}\n"
        "--- logs",
    )
    page = page_of(tmp_path, read(1), came, audience="own")
    assert "Die Prüfung nach einem Tag war am 2026-03-09 fällig." in page
