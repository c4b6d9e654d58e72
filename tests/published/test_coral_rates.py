"""Every number of the tables of rates is the published one, and no row stands there that was not published."""

from collections.abc import Iterator
from math import exp, log, sqrt
from pathlib import Path
from typing import Any, get_args

import pytest
import yaml

from generator.nature.methods import HowKnown
from generator.nature.rates import DENSITIES, EXTENSIONS, RATES, Rate
from tests.conftest import ROOT

TABLES = yaml.load((Path(__file__).parent / "coral_rates.yaml").read_text("utf-8"), yaml.CSafeLoader)
# The standard normal's upper quartile.
QUARTILE = 0.6744897501960817

Numbers = tuple[float, ...]


def published(*names: str) -> list[tuple[str, str, *Numbers]]:
    """The rows of the tables of some names."""
    return [tuple(row) for table in TABLES if table["table"] in names for row in table["rows"]]


def held(basis: str, study: str) -> Iterator[tuple[str, str, Rate]]:
    """The house's rows of a basis and study, each with its genus and the first of its forms."""
    for rate in RATES:
        if (rate.basis, rate.study) == (basis, study):
            yield rate.genus, rate.forms[0] if rate.forms else "", rate


def same(rows: Any, others: Any) -> None:
    ours, theirs = sorted(rows), sorted(others)
    assert [row[:2] for row in ours] == [row[:2] for row in theirs]
    for mine, published_row in zip(ours, theirs, strict=True):
        assert mine[2:] == pytest.approx(published_row[2:], rel=1e-9), mine[:2]


def around(value: float, spread: float) -> Numbers:
    """The quartiles of a log-normal about a value."""
    return value / exp(spread * QUARTILE), value * exp(spread * QUARTILE)


def test_every_table_says_where_it_is_from_and_how_it_is_known():
    assert {table["table"] for table in TABLES} == {f"{r.basis}, {r.study}" for r in RATES} | {"extension", "density"}
    for table in TABLES:
        assert table["source"]
        assert table["unit"]
        assert table["known"] in get_args(HowKnown)
        assert all(len(row) == 2 + len(table["columns"]) for row in table["rows"])


def test_rates_over_the_area_from_above():
    # Where no quartiles were read they lie as far off as those of Acropora, the spread of whose logarithm is 0.30.
    rows = published("planar-area, census")
    spreads = [log(high / low) / 2.0 / QUARTILE for *_, low, high in rows if low is not None]
    assert sum(spreads) / len(spreads) == pytest.approx(0.30, abs=0.01)
    theirs = [(g, f, v, *((low, high) if low is not None else around(v, 0.30))) for g, f, v, low, high in rows]
    same([(g, f, r.value, r.low, r.high) for g, f, r in held("planar-area", "census")], theirs)


def test_rates_over_the_outline_by_extension_and_density():
    # Relative errors of a product add in squares; of a logarithm they are as good as absolute. Source: GUM, 5.1.6.
    theirs = []
    for genus, form, extension, its_error, density, error, coefficient, edge in published("extension-density, census"):
        off = exp(sqrt((its_error / extension) ** 2 + (error / density) ** 2))
        theirs.append((genus, form, coefficient, coefficient / off, coefficient * off, edge))
    same([(g, f, r.value, r.low, r.high, r.edge) for g, f, r in held("extension-density", "census")], theirs)


def test_extension_and_density_are_the_published_ones_where_their_error_is_nought_too():
    rows = yaml.load((ROOT / "generator" / "nature" / "calcification.yaml").read_text("utf-8"), yaml.CSafeLoader)
    ours = [
        (row["genus"], row["forms"][0], *row["extension"], *row["density"], row["coefficient"], row.get("edge", 0.0))
        for row in rows["extension_density"]["rows"]
    ]
    same(ours, published("extension-density, census"))


def test_rates_over_the_surface_by_incubation():
    # As unsure as the published 95 % interval of the mean of all species: -6.7186 to -5.4858.
    off = exp((6.7186 - 5.4858) / 2.0)
    theirs = [(g, f, exp(a), exp(a) / off, exp(a) * off, b) for g, f, a, b in published("surface-area, incubation")]
    same([(g, f, r.value, r.low, r.high, r.exponent) for g, f, r in held("surface-area", "incubation")], theirs)


def test_rates_over_the_surface_by_weighing_under_water():
    ours = list(held("surface-area", "field-weighing"))
    same([(g, f, r.low, r.value, r.high) for g, f, r in ours], published("surface-area, field-weighing"))
    # Fragments of 20 to 150 cm², and the exponent of all species (Carlot et al. 2022).
    assert {(rate.at_size, rate.exponent) for _, _, rate in ours} == {(60.0, 0.8813)}


def test_rates_over_the_mass():
    # As unsure as colonies of one species differ: 0.315 in the logarithm (Carlot et al. 2022, sigma).
    tanks = [(g, f, v, *around(v, 0.315)) for g, f, v in published("mass, tank-weighing")]
    field = [(g, f, v / s, *around(v / s, 0.315)) for g, f, v, s in published("mass, field-weighing")]
    for study, theirs in (("tank-weighing", tanks), ("field-weighing", field)):
        same([(g, f, r.value, r.low, r.high) for g, f, r in held("mass", study)], theirs)
    # The mass of such fragments: from memory.
    assert {rate.at_size for rate in RATES if rate.basis == "mass"} == {20.0}


def test_each_rate_holds_as_many_of_the_cases_as_its_study_says():
    # Quartiles hold half of them; the intervals of the other two 95 in 100.
    wide = {"extension-density", "incubation"}
    assert all(rate.level == (0.95 if wide & {rate.basis, rate.study} else 0.5) for rate in RATES)
    assert {rate.source for rate in RATES if rate.study == "incubation"} != {""}


def test_extension_by_genus_and_form():
    same(
        [(each.genus, each.form or "", each.low, each.typical, each.high) for each in EXTENSIONS],
        published("extension"),
    )


def test_density_by_genus_and_form():
    ours = [(each.genus, each.form or "", each.low, each.typical, each.high) for each in DENSITIES]
    same(ours, published("density"))


def test_the_forms_alone_span_what_the_genera_of_that_form_span():
    # The genera and forms that grow so; what is wider or narrower by a choice of ours is not asked.
    by = {(each.genus, each.form or ""): each for each in EXTENSIONS}
    assert by["", "tabling"].low == by["Acropora", "tabling"].low
    assert by["", "tabling"].high == by["Acropora", "tabling"].high
    assert by["", "branching"].low == by["Stylophora", ""].low
    assert by["", "branching"].high == by["Acropora", ""].high
    assert by["", "massive"].low == by["Porites", "massive"].low
    assert by["", "massive"].high == by["Porites", "massive"].high
    assert by["", "plating"].high == by["Montipora", "plating"].high
