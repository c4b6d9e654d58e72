"""Beside pumps a plan counts on regular water changes, and says so; where they are the supply, it sets them."""

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from generator.read.load import load
from generator.reckon.analysis.journal import analyse
from generator.reckon.attention import alerts
from generator.reckon.dosing.phases import DoseRate, Phase
from generator.reckon.dosing.plan import Plan
from generator.reckon.dosing.pouring import WaterChanges
from generator.reckon.finding import Finding
from generator.reckon.water.deliveries import Habit
from generator.reckon.water.findings import NextTest
from generator.reckon.water.forecast import Counted
from generator.records.journal import as_it_stood
from generator.records.source import Source
from generator.render.audience import view
from generator.render.base import links
from generator.render.base.blocks import Table
from generator.render.base.numbers import Shown
from generator.render.pages.doses import change_words, counts_on, doses, to_set
from generator.units.kinds import MEQ_PER_DKH
from generator.units.quantity import Estimate
from tests.commands.two_tanks import AT, START, write
from tests.render import sample
from tests.render.pages import drawn, site, texts

COUNTED = "The doses count on your water changes: 40.0 L of salt every 2 days add 0.13 dKH a day of alkalinity"
UNKNOWN = "because the alkalinity of salt is not recorded"


def said(folder: Path, mixes: str, pumped: bool = True) -> str:
    write(folder)
    file, log = folder / "systems/bay.yaml", folder / "logs/bay/2026-10.yaml"
    told = file.read_text(encoding="utf-8")
    file.write_text(told.replace("kits:", mixes + "kits:"), encoding="utf-8")
    if not pumped:
        file.write_text(re.sub(r"solutions:\n(  .*\n)+", "", file.read_text(encoding="utf-8")), encoding="utf-8")
        log.write_text(re.sub(r"^.*\n.*pumps.*\n", "", log.read_text(encoding="utf-8")), encoding="utf-8")
    with log.open("a", encoding="utf-8") as more:
        for day in range(0, 29, 2):
            at = START + timedelta(days=day, minutes=10)
            more.write(f"- at: {at:%Y-%m-%d %H:%M}\n  water_change: {{volume: 40 L, mix: salt}}\n")
    loaded = load(folder, AT)
    assert loaded.journal is not None, loaded.problems
    journal = as_it_stood(loaded.journal, AT)
    found = analyse(journal, AT)
    pages = drawn(site(view(journal, "own"), found, alerts(journal, found), AT, {}))
    return " ".join(text for _, text in texts(pages[links.dosing_of("bay")])).replace("\N{NO-BREAK SPACE}", " ")


@pytest.mark.parametrize("pumped", [True, False])
def test_what_a_plan_counts_on(tmp_path: Path, pumped: bool) -> None:
    page = said(tmp_path, "mixes:\n  salt: {alkalinity: 11 dKH, calcium: 450 mg/L}\n", pumped)
    assert "Effect of a water change" in page
    assert (COUNTED in page) == pumped
    assert ("This replaces the uptake." in page) != pumped


@pytest.mark.parametrize("unit", ["dKH", "mg/L CaCO3"])
@pytest.mark.parametrize(("dkh", "told"), [(0.13, True), (-0.13, True), (0.0, False)])
def test_of_water_changes_that_add_nothing_a_page_could_show_nothing_is_said(dkh: float, told: bool, unit: str) -> None:
    habit = Habit("salt", 40.0, 1.0, 2.0, 0.2, AT, Source("logs/bay/2026-10.yaml", 1), 14)
    meq = dkh * MEQ_PER_DKH
    per_day = Estimate(meq, meq - abs(meq) / 2.0, meq + abs(meq) / 2.0, "meq/L/day")
    ctx = sample.context(sample.seen("own", settings=sample.settings(units={"alkalinity": unit})))
    assert bool(counts_on(ctx, Counted(habit, per_day))) == told


def test_all_that_a_supply_gives_is_said_in_one_unit() -> None:
    ctx = sample.context(sample.seen("own"))
    rates = (Estimate(1.0, 0.9, 1.1, "L/day"), Estimate(40.0, 38.0, 42.0, "L/day"))
    steps = [Phase(1, (DoseRate("reactor", "reactor", Finding(rate, "dosing"), 39.0),), ()) for rate in rates]
    table = doses(ctx, sample.system(), steps, ("For one day", "After that"), "Now")[0]
    assert isinstance(table, Table)
    ((_, now, *then),) = table.rows
    said = [each.value.replace("\N{NO-BREAK SPACE}", " ") for each in (now, *then) if isinstance(each, Shown)]
    assert said == ["39.0 L a day", "1.00 L a day", "40.0 L a day"]


@pytest.mark.parametrize(
    ("runs", "asked"), [(100.0, []), (104.0, []), (95.0, ["103 mL a day"]), (110.0, ["103 mL a day"])]
)
def test_a_pump_is_not_to_be_set_anew_by_less_than_it_is_known_to_give(runs: float, asked: list[str]) -> None:
    ctx = sample.context(sample.seen("own"))
    rate = Finding(Estimate(0.103, 0.095, 0.111, "L/day"), "dosing")
    phase = Phase(None, (DoseRate("soda", "pump", rate, runs / 1000.0),), ())
    test = NextTest("alkalinity", sample.AS_OF, "usual-interval")
    plan = Plan("lagoon", sample.AS_OF, "measured", (), (), (), (phase,), ("alkalinity",), 3.0, test, None, ())
    assert [rate.replace("\N{NO-BREAK SPACE}", " ") for _, rate in to_set(ctx, plan, "alkalinity")] == asked


def test_a_mix_whose_alkalinity_nobody_wrote_is_not_counted_and_named(tmp_path: Path) -> None:
    assert UNKNOWN in said(tmp_path, "mixes:\n  salt: {calcium: 450 mg/L}\n")


# Half a day ahead of UTC and more: a tank's evening is still the day's morning there.
AT_HOME = ZoneInfo("Pacific/Auckland")
MORNING, EVENING = datetime(2026, 3, 11, 8, tzinfo=AT_HOME), datetime(2026, 3, 11, 20, tzinfo=AT_HOME)  # a Wednesday


def change_told(at: datetime, change: WaterChanges) -> str:
    """What a keeper at home is told of a water change at an hour."""
    at = at.astimezone(UTC)
    ctx = sample.context(sample.seen("own"), at, AT_HOME)
    return change_words(ctx, sample.system(), change, at).replace("\N{NO-BREAK SPACE}", " ")


@pytest.mark.parametrize(
    ("at", "in_days", "day"),
    [
        (MORNING, 0.0, "today"),
        (MORNING, 0.3, "today"),
        (MORNING, 0.9, "tomorrow"),
        (EVENING, 0.1, "today"),
        (EVENING, 0.3, "tomorrow"),
        (EVENING, 1.0, "tomorrow"),
    ],
)
@pytest.mark.parametrize("times", [1, 3])
def test_water_changed_to_bring_a_level_down_is_told_its_day(
    at: datetime, in_days: float, day: str, times: int
) -> None:
    told = change_told(at, WaterChanges("sea", 100.0, 1, times, 3.0, first=in_days))
    assert f"with sea {day}" in told
    assert ("daily after that" in told) == (times > 1)


@pytest.mark.parametrize(
    ("at", "in_days", "waits"), [(MORNING, 0.3, False), (EVENING, 0.3, True), (EVENING, 0.1, False)]
)
def test_water_changed_in_a_rhythm_is_told_the_day_it_begins(at: datetime, in_days: float, waits: bool) -> None:
    told = change_told(at, WaterChanges("salt", 40.0, 3, None, 2.8, first=in_days))
    assert ("The first time: Thursday" in told) == waits
    assert ("The first time: today" in told) != waits


def test_where_changing_water_is_not_enough_no_level_is_promised() -> None:
    told = change_told(MORNING, WaterChanges("salt", 100.0, 1, None, 7.5 * MEQ_PER_DKH, meets=False))
    assert "alkalinity settles at 7.50 dKH or lower" in told
