"""How the supplies share the work."""

from math import inf

import numpy as np
import pytest
from hypothesis import given as for_all
from hypothesis import settings
from hypothesis import strategies as st
from scipy.optimize import nnls

from generator.reckon.dosing.phases import AS_GOOD, LEADS, combination, given_a_day
from generator.reckon.dosing.supplies import KINDS_HELD, Supply


def pump(name: str, now: float = 0.0, **gives: float) -> Supply:
    return Supply(name, "pump", gives, inf, now)


amounts = st.one_of(st.just(0.0), st.floats(1.0, 1000.0))
pumps = st.lists(st.fixed_dictionaries(dict.fromkeys(KINDS_HELD, amounts)), min_size=1, max_size=5)
needs = st.fixed_dictionaries(dict.fromkeys(KINDS_HELD, st.floats(1.0, 500.0)))


@settings(max_examples=200)
@for_all(pumps, needs)
def test_no_non_negative_amounts_come_nearer(gives, wanted):
    supplies = [pump(f"{n}", **each) for n, each in enumerate(gives)]
    litres = combination(wanted, supplies)
    assert all(value >= 0.0 for value in litres.values())
    scale = np.array([wanted[kind] for kind in KINDS_HELD])
    weights = np.array([LEADS if kind == "alkalinity" else 1.0 for kind in KINDS_HELD])
    matrix = np.array([[each[kind] for each in gives] for kind in KINDS_HELD]) / scale[:, None]
    _, nearest = nnls(weights[:, None] * matrix, weights)
    left = [1.0 - given_a_day(litres, supplies, kind) / wanted[kind] for kind in KINDS_HELD]
    ours = np.linalg.norm(weights * left)
    assert ours <= nearest + AS_GOOD + 1e-6


@settings(max_examples=200)
@for_all(st.floats(0.0, 20.0), needs)
def test_limewater_never_overshoots_and_never_exceeds_what_evaporates(evaporates, wanted):
    lime = Supply("lime", "top-off", {"alkalinity": 45.0, "calcium": 900.0}, evaporates, 0.0)
    litres = combination(wanted, [lime, pump("soda", alkalinity=1000.0)])["lime"]
    assert 0.0 <= litres <= evaporates
    assert 45.0 * litres <= wanted["alkalinity"] * (1.0 + 1e-9)
    assert 900.0 * litres <= wanted["calcium"] * (1.0 + 1e-9)


def test_a_kind_that_needs_nothing_gets_nothing():
    supplies = [pump("soda", alkalinity=1000.0), pump("chloride", calcium=20000.0)]
    litres = combination({"alkalinity": -5.0, "calcium": 200.0}, supplies)
    assert litres == pytest.approx({"soda": 0.0, "chloride": 0.01})


def test_what_runs_is_kept_when_two_solutions_do_the_same():
    supplies = [pump("bicarb", alkalinity=900.0), pump("soda", now=0.1, alkalinity=1000.0)]
    assert combination({"alkalinity": 100.0}, supplies) == pytest.approx({"bicarb": 0.0, "soda": 0.1})


def test_one_solution_meets_one_need_and_of_two_alike_the_one_that_runs():
    # 10 meq of 5 meq a litre are 2 litres.
    assert combination({"alkalinity": 10.0}, [pump("soda", alkalinity=5.0)]) == {"soda": pytest.approx(2.0)}
    both = [pump("new", alkalinity=5.0), pump("old", now=0.1, alkalinity=5.0)]
    assert combination({"alkalinity": 10.0}, both) == {"new": 0.0, "old": pytest.approx(2.0)}
    assert not any(combination({"alkalinity": 0.0}, both).values())


@pytest.mark.parametrize("share", [0.7, 7.0 / 7.15, 1.3, 2.0])
def test_a_solution_of_another_balance_given_alone_meets_alkalinity(share):
    """Its calcium is `share` times what the coral takes with so much alkalinity."""
    supplies = [pump("all", alkalinity=1000.0, calcium=20000.0 * share)]
    litres = combination({"alkalinity": 100.0, "calcium": 2000.0}, supplies)
    assert litres["all"] == pytest.approx(0.1, rel=0.0025)
