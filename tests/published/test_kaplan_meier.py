"""Survival against a worked example of the textbooks."""

import pytest

from generator.nature.methods import Pinned
from generator.reckon.estimate.uncertainty import kaplan_meier
from tests.published.table import checks, holds


@pytest.mark.parametrize("check", checks("kaplan_meier"))
def test_survival_is_that_of_the_worked_example(check: Pinned):
    fell, left = check.inputs["fell"], check.inputs["left"]
    curve = kaplan_meier([*fell, *left], [True] * len(fell) + [False] * len(left))
    what, time = check.what.split()
    holds(check, getattr(next(step for step in curve.steps if step.time == int(time)), what))


def test_the_numbers_at_risk_are_those_of_the_worked_example():
    # Source: as in the table: 21, 17, 15, 12, 11, 7, 6 at risk (from memory, reproduced).
    fell, left = (checks("kaplan_meier")[0].values[0].inputs[name] for name in ("fell", "left"))
    curve = kaplan_meier([*fell, *left], [True] * len(fell) + [False] * len(left))
    assert [step.at_risk for step in curve.steps] == [21, 17, 15, 12, 11, 7, 6]
    assert [step.events for step in curve.steps] == [3, 1, 1, 1, 1, 1, 1]
