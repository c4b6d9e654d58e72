"""`corallite today`, and `corallite` alone: what to do now, in this folder."""

import json
import re
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest

from generator.commands import COMMANDS
from tests.commands.test_commands import SOUND, corallite
from tests.conftest import AS_OF

Write = Callable[[str], Path]
# Three days after its last readings: nothing is out of its band yet, but calcium is not read as often as usual.
DAY = ("--as-of", "2026-03-05")
CALM = """--- journal.yaml
title: One reef
keeper: Ines
time_zone: Europe/Lisbon
--- systems/reef.yaml
name: Reef
water: {volume: 400 L, uncertainty: 10 L}
low: {alkalinity: 7.0 dKH}
high: {alkalinity: 9.0 dKH}
"""


@pytest.mark.long
def test_the_demos_day_is_said_in_lines_and_as_data() -> None:
    said = corallite("today", "--as-of", AS_OF)
    assert said.returncode == 0
    lines = said.stdout.splitlines()
    assert lines[0] == f"The Quilverry Tanks, {AS_OF}"
    assert "Check. Test alkalinity in The Lagoon again" in lines, "its band is left by less than the kit errs"
    assert "  logs/lagoon/2026-11.yaml:23" in lines, "a need leads to its line"
    assert any(line.startswith("  Test it again tomorrow, and go on as now until then.") for line in lines)
    tests = lines[lines.index("Next tests") + 1 : lines.index("", lines.index("Next tests"))]
    assert tests
    assert all(re.fullmatch(r"  (Today|2026-1[12]-\d\d), The [^:]+: .+ \(.+\)", test) for test in tests)
    assert any(line.startswith("The Lagoon: alkalinity 8.9 dKH, perhaps above its band (today); ") for line in lines)
    data = corallite("today", "--as-of", AS_OF, "--json", "--exit-code")
    assert data.returncode == 3
    day = json.loads(data.stdout)
    (lower,) = [need for need in day["needs"] if need["title"] == "Test alkalinity in The Lagoon again"]
    assert lower["alert"].startswith("out-of-band/lagoon/alkalinity/high-")
    assert len(day["needs"]) == sum(line.startswith(("Act. ", "Check. ", "Plan. ")) for line in lines)
    assert day["systems"]["lagoon"]["alkalinity"] == {
        "value": 8.9,
        "unit": "dKH",
        "at": "2026-11-22T08:40-01:00",
        "band": "high",
    }
    assert all(datetime.fromisoformat(test["at"]).tzinfo for test in day["tests"])


def test_nothing_to_do_is_said_and_quiet_says_nothing(journal: Write) -> None:
    content = journal(CALM)
    said = corallite("today", "--content", content, *DAY, "--exit-code")
    assert said.returncode == 0
    assert said.stdout.splitlines()[:2] == ["One reef, 2026-03-05", "Nothing to do today"]
    assert corallite("today", "--content", content, *DAY, "--quiet").stdout == ""
    assert json.loads(corallite("today", "--content", content, *DAY, "--json").stdout)["needs"] == []


def test_a_journal_with_errors_has_no_day(journal: Write) -> None:
    content = journal(SOUND)
    (content / "logs/reef/2026-03.yaml").write_text("- at: 2026-03-02 08:10\n  readings: {alkalinity: 81 dKH}\n")
    said = corallite("today", "--content", content, *DAY, "--exit-code")
    assert said.returncode == 1
    assert "impossible in a living reef" in said.stdout


def test_alone_it_says_what_to_do_next(journal: Write, tmp_path: Path) -> None:
    nowhere = tmp_path / "nowhere"
    nowhere.mkdir()
    said = corallite(folder=nowhere)
    assert said.returncode == 0
    assert said.stdout.startswith("There is no journal.yaml here or above.\n  corallite begin my-reef ")
    content = journal(CALM)
    said = corallite(folder=tmp_path).stdout
    assert said.startswith("One reef: 1 system, no corals, no readings.\n  corallite note reef ")
    assert corallite(folder=content / "systems").stdout.startswith(f"The journal is in {content}.\n  cd {tmp_path}\n")
    (content / "journal.yaml").write_text("title: x\n")
    assert corallite(folder=tmp_path).stdout.splitlines()[0].startswith("The journal in content has ")
    shown = [word for line in said.splitlines() if (word := line.strip()).startswith("corallite ")]
    assert {line.split()[1] for line in shown} <= {*COMMANDS, "--help"}


@pytest.mark.parametrize("command", ["check", "build", "today", "note reef alk", "schemas", "tidy"])
def test_the_wrong_folder_is_named_as_such(command: str, tmp_path: Path, journal: Write) -> None:
    said = corallite(*command.split(), folder=tmp_path)
    assert said.returncode == 1
    assert said.stderr.startswith("no journal.yaml here or above (begin one with corallite begin ")
    content = journal(CALM)
    said = corallite(*command.split(), folder=content)
    assert said.stderr == (
        f"no journal in this folder; there is one in {content} "
        f"(go to the folder above it, or add --content {content})\n"
    )


@pytest.mark.parametrize(
    ("typed", "meant"), [("chekc", "check"), ("biuld", "build"), ("notes", "note"), ("whatif", "what-if")]
)
def test_a_mistyped_command_suggests_the_right_one(typed: str, meant: str) -> None:
    said = corallite(typed, "--content", "content")
    assert (said.returncode, said.stdout) == (2, "")
    assert said.stderr == f"there is no command '{typed}' (did you mean {meant}?)\n"
    assert corallite("xyzzy").stderr == "there is no command 'xyzzy' (corallite --help lists them)\n"
