"""Genera, their forms and former names, and safe distances are as their sources have them."""

from collections import defaultdict
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import yaml

from generator.nature.genera import GENERA, SAFE_GAPS, cautions

TABLES: dict[str, dict[Any, Any]] = yaml.load(
    (Path(__file__).parent / "genera.yaml").read_text("utf-8"), yaml.CSafeLoader
)


def published(table: str) -> dict[Any, set[str]]:
    """A table by its keys; each says where it is from and how it is known."""
    rows = dict(TABLES[table])
    assert rows.pop("source")
    assert rows.pop("known") in ("from memory", "common practice, no source")
    return {key: set(names) for key, names in rows.items()}


def turned(pairs: Iterable[tuple[Any, str]]) -> dict[Any, set[str]]:
    found: dict[Any, set[str]] = defaultdict(set)
    for key, name in pairs:
        found[key].add(name)
    return dict(found)


STINGING = published("cautions of genera")["stinging-cells"]


def test_each_genus_is_in_its_group() -> None:
    assert turned((genus.group, name) for name, genus in GENERA.items()) == published("genera")


def test_each_genus_has_its_former_names_and_its_forms() -> None:
    assert turned((name, old) for name, genus in GENERA.items() for old in genus.formerly) == published("former names")
    assert turned((form, name) for name, genus in GENERA.items() for form in genus.forms) == published("forms")


def test_each_group_has_its_appendix_and_its_mineral() -> None:
    minerals = turned((genus.skeleton, genus.group) for genus in GENERA.values())
    listed = {genus.group for genus in GENERA.values() if genus.appendix == "II"}
    assert {**minerals, "appendix II": listed} == published("groups")


def test_each_genus_has_its_safe_distance_and_is_a_genus() -> None:
    assert turned((cm, genus) for genus, cm in SAFE_GAPS.genera.items()) == published("safe distances, cm")
    groups = {**SAFE_GAPS.groups, "unknown": SAFE_GAPS.unknown}
    assert turned((cm, group) for group, cm in groups.items()) == published("safe distances of groups, cm")
    assert SAFE_GAPS.source == "common practice, no source"
    assert set(SAFE_GAPS.genera) <= set(GENERA)


def test_whoever_cuts_is_cautioned_by_group_and_by_genus() -> None:
    of_groups = {genus.group: set(genus.cautions) for genus in GENERA.values() if genus.name not in STINGING}
    of_groups["hydrocoral"] = set(GENERA["Millepora"].cautions)
    of_groups["unknown"] = set(cautions("Nemo piscis"))
    assert turned((each, group) for group in of_groups for each in of_groups[group]) == published("cautions of groups")
    assert {name for name, genus in GENERA.items() if "stinging-cells" in genus.cautions} == STINGING
