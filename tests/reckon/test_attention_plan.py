"""Who follows the dosing plan is not told to stop what the plan began."""

from datetime import datetime, timedelta
from pathlib import Path

import pytest

from generator.read.load import load
from generator.reckon.analysis.journal import Findings, analyse
from generator.reckon.attention import alerts
from generator.reckon.dosing.plan import Plan
from generator.records.journal import as_it_stood
from generator.units.kinds import MEQ_PER_DKH
from tests.commands.two_tanks import AT, write


def of_bay(folder: Path, at: datetime) -> tuple[Plan, list[tuple[str, str]]]:
    """The bay's dosing plan at a moment, and the kind and quantity of its alerts."""
    journal = load(folder, at).journal
    assert journal is not None
    stood = as_it_stood(journal, at)
    found: Findings = analyse(stood, at)
    plan = found.dosing["bay"].plan
    assert isinstance(plan, Plan)
    return plan, [(each.kind, each.quantity) for each in alerts(stood, found) if each.system == "bay"]


def test_a_level_on_its_way_to_target_by_the_plan_is_no_alert_until_it_is_there(tmp_path: Path) -> None:
    log = write(tmp_path) / "logs/bay/2026-10.yaml"
    log.write_text(log.read_text("utf-8").replace("alkalinity: 8.2", "alkalinity: 7.6"), "utf-8")
    plan, _ = of_bay(tmp_path, AT)
    (up,) = plan.corrections
    assert up.change.value > 0.0
    rates = {dose.supply: f"{1000.0 * dose.rate.estimate.value:.1f} mL/day" for dose in plan.phases[0].doses}
    with log.open("a", encoding="utf-8") as lines:
        lines.write(f"- at: {AT:%Y-%m-%d %H:%M}\n  pumps: {{{', '.join(f'{id}: {at}' for id, at in rates.items())}}}\n")
    rising = ("leaving-band", "alkalinity")
    assert rising not in of_bay(tmp_path, AT + up.days * timedelta(hours=12))[1]
    assert rising in of_bay(tmp_path, AT + up.days * timedelta(hours=36))[1], "nobody set the pumps back"


def test_a_whole_tank_that_left_is_one_alert_with_all_that_it_took(tmp_path: Path) -> None:
    journal = load(write(tmp_path, "all-move", arrived=True), AT).journal
    assert journal is not None
    stood = as_it_stood(journal, AT)
    found = analyse(stood, AT)
    (gone,) = [each for each in alerts(stood, found) if each.kind == "predicted" and each.system == "bay"]
    assert set(gone.subject) == {"stag-1", "boulder-1"}
    assert gone.facts["side"] == "several.loss"
    assert gone.size is not None
    # It took 1.1 dKH a day in all.
    assert gone.size.value == pytest.approx(1.1 * MEQ_PER_DKH, rel=0.05)
