"""A trip that `journey` says is possible, recorded as it was told, makes no warning."""

import re
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, assume, given, settings
from hypothesis import strategies as st

from generator.__main__ import main
from tests.commands.two_tanks import AT, COMING, write

pytestmark = pytest.mark.usefixtures("courses_kept")

sides = st.tuples(st.integers(15, 90), st.integers(12, 60), st.integers(10, 60))
# As corals grow: no side is less than half of another.
colonies = st.integers(4, 45).flatmap(lambda side: st.tuples(*[st.integers((side + 1) // 2, side)] * 3))


@settings(
    max_examples=5, phases=[Phase.explicit, Phase.generate], suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(sides, colonies, st.floats(0.3, 1.0), st.floats(0.2, 96.0), st.booleans())
def test_a_trip_that_fits_makes_no_warning_when_it_is_recorded(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], box, colony, filled, hours, arrived
):
    litres = box[0] * box[1] * box[2] / 1000.0 * filled
    inner = "length: {} cm, width: {} cm, height: {} cm".format(*box)
    write(tmp_path, "newcomer")
    journal = tmp_path / "journal.yaml"
    told = journal.read_text(encoding="utf-8")
    journal.write_text(re.sub(r"vat: {.*}", f"vat: {{{inner}, volume: {litres:.2f} L}}", told), encoding="utf-8")
    content, when = ("--content", str(tmp_path)), ("--as-of", f"{AT:%Y-%m-%d} 15:00")
    size, length = "x".join(str(side) for side in colony), sorted(colony[:2])
    asked = ("journey", "--colony", f"{size} cm", "--container", "vat", "--duration", f"{hours:.1f} h")
    fits = main([*asked, *content, *when]) == 0
    said = capsys.readouterr().out
    assume(fits)
    water = re.search(r"Water to cover it: (\d+(?:\.\d+)? L)", said)
    assert water
    plan = re.sub(r"travel: {.*}", f"travel: {{container: vat, water: {water[1]}, duration: {hours:.1f} h}}", COMING)
    for field, side in (("length", length[1]), ("width", length[0]), ("height", colony[2])):
        plan = re.sub(rf"{field}: \d+ cm", f"{field}: {side} cm", plan)
    done = f"arrived: {AT:%Y-%m-%d %H:%M}\n" if arrived else ""
    (tmp_path / "plans/newcomer.yaml").write_text(plan + done, encoding="utf-8")
    assert main(["check", "--strict", *content, *when]) == 0, capsys.readouterr().out
    capsys.readouterr()


@pytest.mark.parametrize(("water", "bare"), [("40 L", False), ("12 L", True)])
def test_the_sheet_says_when_the_planned_water_does_not_cover_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], water: str, bare: bool
):
    write(tmp_path, "newcomer")
    plan = tmp_path / "plans/newcomer.yaml"
    plan.write_text(plan.read_text(encoding="utf-8").replace("water: 40 L", f"water: {water}"), encoding="utf-8")
    assert main(["sheet", "newcomer", "--content", str(tmp_path), "--as-of", f"{AT:%Y-%m-%d} 12:00"]) == 0
    said = capsys.readouterr().out
    assert f"Water: {water}" in said
    assert (f"{water} of water is planned. That does not cover it." in said) == bare
