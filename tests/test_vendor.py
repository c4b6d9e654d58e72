"""The chart library in git is the one that its script makes."""

import importlib.util
from pathlib import Path

import pytest
import vl_convert

ROOT = Path(__file__).parents[1]


@pytest.mark.long
def test_the_chart_library_is_what_its_script_makes_byte_for_byte() -> None:
    spec = importlib.util.spec_from_file_location("vendor_charts", ROOT / ".ci" / "vendor_charts.py")
    assert spec is not None
    assert spec.loader is not None
    script = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(script)
    kept = script.BUNDLE.read_text(encoding="utf-8")
    if vl_convert.__version__ == script.VERSION:
        assert kept == script.bundle()
    assert kept.startswith("/* vega")
    assert kept.splitlines()[1].startswith('(function () {"use strict";')


@pytest.mark.parametrize("package", ["vega", "vega-lite", "vega-embed", "vega-interpreter", "d3-scale", "semver"])
def test_the_licence_of_each_library_lies_beside_it(package: str) -> None:
    licences = (ROOT / "templates" / "assets" / "vendor" / "LICENSES.txt").read_text(encoding="utf-8")
    assert package in licences.replace("\n", ", ").split(", ")
