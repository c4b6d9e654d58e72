"""Forms of growth, packing and lifting are as their sources have them."""

from pathlib import Path
from typing import Any, get_args

import yaml

from generator.nature.constants import LIFTING, PACKING
from generator.nature.genera import SHAPES, surface_factor
from generator.nature.methods import HowKnown

TABLES: dict[str, dict[Any, Any]] = yaml.load(
    (Path(__file__).parent / "forms.yaml").read_text("utf-8"), yaml.CSafeLoader
)


def published(table: str) -> dict[Any, Any]:
    """A table by its keys; each says where it is from and how it is known."""
    rows = dict(TABLES[table])
    assert rows.pop("source")
    assert rows.pop("known") in (*get_args(HowKnown), "common practice, no source")
    return rows


def test_each_form_has_the_surface_of_its_kind() -> None:
    factors = {form: shape.surface for form, shape in SHAPES.items()}
    ours = {factor: sorted(form for form in factors if factors[form] == factor) for factor in set(factors.values())}
    assert {**ours, surface_factor("Acropora", "branching"): ["Acropora"]} == published("surface")


def test_each_form_has_its_height_and_its_skeleton() -> None:
    for part in ("height", "thickness", "fill"):
        ours = {form: list(value) for form, shape in SHAPES.items() if (value := getattr(shape, part)) is not None}
        assert ours == published(part)


def test_each_thing_is_packed_from_its_hour_on() -> None:
    hours = {each.from_hours for each in PACKING}
    ours = {hour: [each.item for each in PACKING if each.from_hours == hour] for hour in hours}
    assert ours == published("packing, from hours")


def test_lifting_ends_where_its_multipliers_end() -> None:
    assert {grip: list(factors) for grip, factors in LIFTING.grips.items()} == published("grips")
    assert {name: getattr(LIFTING, name) for name in published("lifting")} == published("lifting")
