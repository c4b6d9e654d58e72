"""The robust slope against Sen's own example, certified data and a general library."""

from pathlib import Path

import numpy as np
import pytest
import scipy.stats
from hypothesis import given, settings
from hypothesis import strategies as st

from generator.nature.methods import Pinned
from generator.reckon.estimate.slopes import robust_slope
from tests.published.table import checks, holds


@pytest.mark.parametrize("check", checks("robust_slope"))
def test_the_robust_slope_agrees_with_the_published_one(check: Pinned):
    found = robust_slope(np.array(check.inputs["x"]), np.array(check.inputs["y"]), check.inputs["level"])
    holds(check, getattr(found, check.what))


def test_the_certified_data_are_those_the_library_ships():
    # Source: NIST StRD, Norris.dat; y stands before x, the data begin at line 61.
    file = Path(scipy.stats.__file__).parent / "tests/data/nist_linregress/Norris.dat"
    if not file.exists():
        pytest.fail("scipy no longer ships NIST's Norris.dat: take the numbers from NIST")
    y, x = np.loadtxt(file, skiprows=60).T
    row = next(param.values[0] for param in checks("robust_slope") if len(param.values[0].inputs["x"]) == 36)
    np.testing.assert_array_equal(x, row.inputs["x"])
    np.testing.assert_array_equal(y, row.inputs["y"])


@settings(max_examples=60)
@given(st.integers(8, 40), st.integers(0, 2**32 - 1), st.sampled_from([0.5, 0.9, 0.95]), st.sampled_from([None, 1, 0]))
def test_any_cloud_of_points_has_the_slope_scipy_finds(n: int, seed: int, level: float, decimals: int | None):
    rng = np.random.default_rng(seed)
    x, y = rng.uniform(0.0, 90.0, n), rng.normal(0.0, 3.0, n)
    if decimals is not None:  # rounded readings tie
        x, y = np.round(x, decimals), np.round(y, decimals)
    theirs = scipy.stats.theilslopes(y, x, level)
    ours = robust_slope(x, y, level)
    assert ours is not None
    np.testing.assert_allclose(
        [ours.slope, ours.low, ours.high], [theirs.slope, theirs.low_slope, theirs.high_slope], rtol=1e-12, atol=1e-15
    )
