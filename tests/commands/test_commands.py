"""The commands as a keeper meets them: words in, lines and an exit code out.

What hangs on the process (what help loads, a terminal's letters, a closed pipe) is asked of one of its own.
"""

import io
import os
import re
import subprocess
import sys
from collections.abc import Callable
from contextlib import chdir, redirect_stderr, redirect_stdout
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from msgspec import Struct

from generator.__main__ import main
from generator.commands import COMMANDS
from generator.commands.options import day_or_moment
from generator.exchange.reading import published_schemas
from generator.read.kinds import schema_texts
from generator.records.journal import moment
from tests.conftest import lately

ROOT = Path(__file__).parents[2]
# The reader opens no photo, and this one is none; here it is left out.
PHOTO = "photos:\n  - {file: twig.png, alt: A twig with three branches}\n"
SOUND = (ROOT / "tests/read/sound.txt").read_text(encoding="utf-8").replace(PHOTO, "")
AS_OF = ("--as-of", "2026-03-31")
WARNED = "--- shopping.txt\nsalt\n"
WRONG = "--- logs/reef/2026-03.yaml\n- at: 2026-03-02 08:10\n  readings: {alkalinity: 8.1 mg/L, calcium: 42 mg/L}\n"

Write = Callable[[str], Path]


class Said(Struct, frozen=True, dict=True):
    returncode: int
    stdout: str
    stderr: str


def corallite(*words: str | Path, folder: Path = ROOT) -> Said:
    out, err = io.StringIO(), io.StringIO()
    with chdir(folder), redirect_stdout(out), redirect_stderr(err):
        try:
            code = main(list(map(str, words)))
        except SystemExit as end:
            code = int(end.code or 0)
    return Said(code, out.getvalue(), err.getvalue())


def tree(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def test_a_sound_journal_is_all_well(journal: Write) -> None:
    said = corallite("check", "--content", journal(SOUND), *AS_OF)
    assert (said.returncode, said.stdout, said.stderr) == (0, "no mistakes: 1 system, 2 corals, 4 readings\n", "")


def test_every_error_is_printed_at_once_with_its_count(journal: Write) -> None:
    journal(SOUND)
    said = corallite("check", "--content", journal(WRONG + WARNED), *AS_OF)
    assert said.returncode == 1
    assert said.stdout.splitlines() == [
        "logs/reef/2026-03.yaml:2: alkalinity is not measured in mg/L, a unit of dissolved substances "
        "(write meq/L, dKH, mmol/L, mg/L CaCO3, µmol/kg, mmol/kg)",
        "     2 |   readings: {alkalinity: 8.1 mg/L, calcium: 42 mg/L}",
        "       |                          ^",
        "shopping.txt:1: warning: this file does not belong in a journal (Corallite does not read it; remove it)",
        "1 error, 1 warning",
    ]
    assert said.stderr == ""


@pytest.mark.parametrize(("strict", "code"), [((), 0), (("--strict",), 1)])
def test_a_warning_fails_only_when_asked_to_be_strict(journal: Write, strict: tuple[str, ...], code: int) -> None:
    journal(SOUND)
    said = corallite("check", "--content", journal(WARNED), *AS_OF, *strict)
    assert said.returncode == code
    assert said.stdout.endswith("no errors, 1 warning\n")


def test_a_day_to_take_for_today_makes_later_readings_future(journal: Write) -> None:
    said = corallite("check", "--content", journal(SOUND), "--as-of", "2026-03-01")
    assert said.returncode == 1
    assert "2026-03-02 08:10 is in the future" in said.stdout


def test_check_looks_in_the_folder_content_by_default(journal: Write) -> None:
    folder = journal(SOUND)
    assert corallite("check", *AS_OF, folder=folder.parent).returncode == 0
    assert corallite("check", *AS_OF, folder=folder).returncode == 1


def test_a_folder_that_is_not_there_is_said_plainly(tmp_path: Path) -> None:
    said = corallite("check", "--content", tmp_path / "nowhere")
    assert said.returncode == 1
    assert said.stdout.startswith("journal.yaml:1: there is no folder '")


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (
            ("check", "--as-of", "yesterday"),
            "'yesterday' is not a day or a time (write for example 2026-03-02, or '2026-03-02 14:00')",
        ),
        (("check", "--as-of", "2026-02-30"), "'2026-02-30' is not a date (write for example 2026-03-02)"),
        (
            ("build", "--as-of", "2026-11-22 25:00"),
            "'2026-11-22 25:00' is not a day or a time (write for example 2026-03-02, or '2026-03-02 14:00')",
        ),
        (("build", "--as-of", "9999-12-31"), "'9999-12-31' is in the year 9999 (check the year)"),
        (("build", "--as-of", "0001-01-01"), "'0001-01-01' is in the year 1 (check the year)"),
        (("check", "--what"), "--what"),
        (("demo",), "FOLDER"),
    ],
)
def test_wrong_words_end_with_two_and_a_hint(words: tuple[str, ...], complaint: str) -> None:
    said = corallite(*words)
    assert said.returncode == 2
    assert complaint in said.stderr
    assert "Traceback" not in said.stderr


ALL_KINDS = """\
--- logs/reef/2026-03.yaml
- at: 2026-03-02 08:10
  readings: {alkalinity: 81 dKH}
--- corals/ember.yaml
name: Ember
--- corals/tide-lantern.md
It came as a [twig](coral:nope), beside [Ember](coral:ember).
--- entries/2026-03-01-spring.md
---
title: Spring
at: 2026-03-01
---
![A twig](photos/twig.png) ![A stone](photos/stone.png)
--- photos/twig.png
no picture
"""


def test_check_says_at_once_what_is_wrong_in_files_in_words_and_in_pictures(journal: Write) -> None:
    journal(SOUND)
    said = corallite("check", "--content", journal(ALL_KINDS), *AS_OF)
    assert said.returncode == 1
    wrong = [line.partition(" (")[0] for line in said.stdout.splitlines()]
    assert "logs/reef/2026-03.yaml:2: alkalinity of 81 dKH is impossible in a living reef" in wrong
    assert "corals/tide-lantern.md:1: there is no coral 'nope'" in wrong
    assert "entries/2026-03-01-spring.md:5: there is no photo 'photos/stone.png'" in wrong
    assert "photos/twig.png:1: the picture is not a JPEG, PNG or WebP picture" in wrong
    # A coral whose file is wrong is there all the same.
    assert not [line for line in wrong if "no coral 'ember'" in line]
    built = corallite("build", *AS_OF, folder=journal(ALL_KINDS).parent)
    assert (built.returncode, built.stdout) == (1, said.stdout)


def test_check_writes_nothing(journal: Write) -> None:
    journal(SOUND)
    folder = journal(WRONG)
    before = tree(folder.parent)
    corallite("check", "--content", folder, *AS_OF, folder=folder.parent)
    assert tree(folder.parent) == before


def test_build_writes_nothing_where_a_file_is_wrong(journal: Write) -> None:
    journal(SOUND)
    folder = journal(WRONG)
    site = folder.parent / "site"
    site.mkdir()
    (site / "index.html").write_text("the old site")
    before = tree(folder.parent)
    said = corallite("build", "--content", folder, "--site", site, *AS_OF)
    assert (said.returncode, said.stderr) == (1, "")
    assert "alkalinity is not measured in mg/L" in said.stdout
    assert tree(folder.parent) == before


def test_the_demo_is_a_sound_journal_of_ones_own(tmp_path: Path) -> None:
    said = corallite("demo", tmp_path / "mine")
    assert said.returncode == 0
    assert corallite("check", "--strict", "--content", tmp_path / "mine").stdout.startswith("no mistakes: ")


def test_the_demo_writes_over_nothing(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("mine")
    said = corallite("demo", tmp_path)
    assert (said.returncode, said.stdout) == (1, "")
    assert said.stderr == f"{tmp_path} is not empty (name a new folder)\n"
    assert corallite("demo", tmp_path / "mine.txt").stderr == f"{tmp_path / 'mine.txt'} is a file (name a new folder)\n"
    assert tree(tmp_path) == {"mine.txt": b"mine"}


def test_the_schemas_are_put_beside_the_journal(journal: Write) -> None:
    folder = journal(SOUND)
    assert corallite("schemas", "--content", folder).returncode == 0
    texts = {**schema_texts(), **published_schemas()}
    assert tree(folder / ".schemas") == {name: text.encode() for name, text in texts.items()}


def test_schemas_of_no_journal_are_refused(tmp_path: Path) -> None:
    said = corallite("schemas", "--content", tmp_path / "nowhere")
    assert (said.returncode, said.stdout) == (1, "")
    assert said.stderr.endswith("(give the journal's folder)\n")


def test_help_reaches_nothing_heavy() -> None:
    probe = (
        "import sys\n"
        "from generator.__main__ import main\n"
        "from generator.commands import COMMANDS\n"
        "heavy = set('yaml pydantic numpy gsw pandas altair jinja2 markdown_it PIL'.split())\n"
        "def reached(name):\n"
        "    return name in heavy or (name.startswith('generator.') and 'commands' not in name)\n"
        "for words in (['--help'], ['--version'], *([name, '--help'] for name in COMMANDS)):\n"
        "    try:\n        main(words)\n    except SystemExit as end:\n        assert not end.code, words\n"
        "    print('REACHED', *words, *filter(reached, sorted(sys.modules)))\n"
    )
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    said = subprocess.run([sys.executable, "-c", probe], env=environment, capture_output=True, text=True, check=True)
    reached = [line.removeprefix("REACHED ") for line in said.stdout.splitlines() if line.startswith("REACHED")]
    asked = ["--help", "--version", *(f"{name} --help" for name in COMMANDS)]
    assert reached == [f"{words} generator.__main__" for words in asked]


def test_help_names_every_command_in_a_few_words() -> None:
    said = corallite("--help").stdout
    for name, line in COMMANDS.items():
        assert re.search(rf"(?m)^ +{name}\s+{re.escape(line)}$", said)
        assert len(line) < 60


def test_a_terminal_that_cannot_show_a_letter_gets_its_escape(journal: Write) -> None:
    journal(SOUND)
    folder = journal("--- logs/reef/2026-03.yaml\n- at: gestern früh\n  note: x\n")
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"}
    command = [sys.executable, "-m", "generator", "check", "--content", str(folder)]
    said = subprocess.run(command, env=environment, capture_output=True, text=True, check=False)
    assert said.returncode == 1
    assert "'gestern fr\\xfch' is not a date and time" in said.stdout


def test_a_reader_that_had_enough_is_no_accident(journal: Write) -> None:
    folder = journal(SOUND)
    reading_end, writing_end = os.pipe()
    os.close(reading_end)
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-m", "generator", "check", "--content", str(folder)]
    with os.fdopen(writing_end, "w") as closed:
        said = subprocess.run(command, env=environment, stdout=closed, stderr=subprocess.PIPE, text=True, check=False)
    assert (said.returncode, said.stderr) == (1, "")


def test_a_program_can_call_the_same_start(journal: Write, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "--content", str(journal(SOUND)), *AS_OF]) == 0
    assert capsys.readouterr().out.startswith("no mistakes")


def test_ctrl_c_ends_any_command_without_a_traceback(journal: Write, monkeypatch: pytest.MonkeyPatch) -> None:
    def stopped(_: object) -> int:
        raise KeyboardInterrupt

    monkeypatch.setattr("generator.commands.check.run", stopped)
    said = corallite("check", "--content", journal(SOUND))
    assert (said.returncode, said.stdout, said.stderr) == (130, "", "\n")


def test_without_recorded_places_it_does_not_say_that_they_are_too_small(journal: Write) -> None:
    content = journal(
        "--- journal.yaml\ntitle: T\nkeeper: K\ntime_zone: Europe/Lisbon\n"
        "--- systems/reef.yaml\nname: Reef\nwater: {volume: 200 L, uncertainty: 60 L}\n"
        "low: {alkalinity: 7 dKH}\nhigh: {alkalinity: 9 dKH}\n"
    )
    said = corallite("place", "--size", "9 x 9 x 6 cm", "--content", content, "--as-of", "2026-03-05")
    assert (said.returncode, said.stdout) == (1, "")
    assert said.stderr.startswith("No places are recorded. ")


def test_a_place_whose_corals_have_nowhere_to_go_is_no_room_yet() -> None:
    said = corallite(
        "place", "--size", "46 x 37 x 24 cm", "--light", "210-280 PAR", "--flow", "strong", "--as-of", "2026-11-22"
    )
    assert said.returncode == 0
    first, stuck, told = said.stdout.splitlines()
    assert first.startswith("1. The Fore-reef, east-stand")
    assert first.endswith(": 210–280 PAR, strong flow; no room there now.")
    assert stuck == "   What has to move: Ballast → no place is free; Drowned Orchard → no place is free."
    assert told.endswith("and room for what it grows in 121 days, 1.7 cm on every side.")


def test_a_genus_written_small_is_known_and_a_misspelt_one_is_doubted() -> None:
    asked = ("place", "--size", "9 x 9 x 6 cm", "--as-of", "2026-11-22", "--system", "lagoon", "--species")
    small, misspelt = corallite(*asked, "acropora"), corallite(*asked, "Acropra")
    assert small.stderr == ""
    assert small.stdout.splitlines()[-1].startswith("Calculated with a gap of 5 cm to its neighbours, and room for ")
    assert misspelt.stderr == "warning: Corallite does not know the genus Acropra (did you mean Acropora?)\n"
    assert misspelt.returncode == 0


@pytest.mark.parametrize(
    "question",
    [
        ("place", "--size", "9 x 9 x 6 cm"),
        pytest.param(("what-if", "bell-buoy-1"), marks=pytest.mark.long),
        ("predict", "--system", "lagoon", "--genus", "Acropora", "--form", "tabling", "--size", "20 x 18 x 9 cm"),
    ],
    ids=lambda question: question[0],
)
def test_a_day_gone_by_can_be_asked_about_though_much_was_written_since(question: tuple[str, ...]) -> None:
    said = corallite(*question, "--as-of", "2026-06-01")
    assert (said.returncode, said.stderr) == (0, "")


def test_a_misspelt_system_is_told_with_the_nearest_one() -> None:
    said = corallite("place", "--size", "9 x 9 x 6 cm", "--as-of", "2026-11-22", "--system", "lagon")
    assert (said.returncode, said.stderr) == (1, "there is no system 'lagon' (did you mean lagoon?)\n")


def test_a_size_that_cannot_be_read_is_said_plainly() -> None:
    said = corallite("place", "--size", "forty eight")
    assert (said.returncode, said.stdout) == (1, "")
    assert said.stderr == "'forty eight' is not a size (write for example '48 x 40 x 18 cm')\n"
    said = corallite("place", "--size", "12,5 x 10 x 4 cm")
    assert said.stderr == "'12,5 x 10 x 4 cm' has a comma in a number (write '12.5 x 10 x 4 cm', with a point)\n"


@pytest.mark.parametrize(
    "question",
    [
        ("check",),
        ("predict", "--system", "lagoon", "--genus", "Acropora", "--form", "tabling", "--size", "20 x 18 x 9 cm"),
        ("predict", "--system", "lagoon", "--genus", "Acropora", "--form", "tabling"),
        pytest.param(("what-if", "bell-buoy-1"), marks=pytest.mark.long),
    ],
    ids=" ".join,
)
def test_commands_speak_english_whatever_language_the_pages_have(
    question: tuple[str, ...], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    settings = lately(tmp_path / "content") / "journal.yaml"
    said = []
    for language in ("en", "de"):
        english = (ROOT / "content/journal.yaml").read_text(encoding="utf-8")
        settings.write_text(re.sub(r"(?m)^language: .*", f"language: {language}", english), encoding="utf-8")
        code = main([*question, "--content", str(tmp_path / "content"), "--as-of", "2026-11-22"])
        said.append((code, *capsys.readouterr()))
    assert said[0] == said[1]
    assert "journal.yaml" not in said[0][1], "an answer, not a complaint about the journal"


def test_a_moment_is_on_the_journals_clock_unless_it_has_an_offset_and_a_day_alone_is_its_last_second() -> None:
    azores = ZoneInfo("Atlantic/Azores")  # an hour behind Greenwich in November
    at = {
        text: moment(day_or_moment(text), azores).astimezone(UTC) for text in ("2026-11-22 14:00", "2026-11-22 14:00Z")
    }
    assert at["2026-11-22 14:00"] == datetime(2026, 11, 22, 15, 0, tzinfo=UTC)
    assert at["2026-11-22 14:00Z"] == datetime(2026, 11, 22, 14, 0, tzinfo=UTC)
    assert moment(day_or_moment("2026-11-22"), azores) == datetime(2026, 11, 23, 0, 59, 59, tzinfo=UTC)
