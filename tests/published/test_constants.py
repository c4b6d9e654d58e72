"""Every number of nature is the published one, and none is there that was not published."""

from pathlib import Path
from typing import Any, get_args

import pytest
import yaml

from generator.nature.constants import BY_ID, REFERENCE_COMPOSITION, SOLUBILITY, Constant
from generator.nature.methods import HowKnown

TABLE: dict[str, dict[str, Any]] = {
    row.pop("id"): row
    for row in yaml.load((Path(__file__).parent / "constants.yaml").read_text("utf-8"), yaml.CSafeLoader)
}
COLUMNS = {"sea salt": REFERENCE_COMPOSITION, "solubility": SOLUBILITY}
KNOWN = {"published": "read", "derived": "computed", "common practice": "common practice, no source"}


def numbers(constant: Constant) -> dict[str, float]:
    told = {name: getattr(constant, name) for name in ("value", "standard", "low", "high")}
    return {name: number for name, number in told.items() if number is not None}


@pytest.mark.parametrize("id", [id for id in BY_ID if BY_ID[id].known != "derived" or id in TABLE])
def test_a_constant_is_the_published_one(id: str) -> None:
    row = dict(TABLE[id])
    assert BY_ID[id].unit == row.pop("unit")
    assert BY_ID[id].source == row.pop("source")
    known = row.pop("known")
    assert KNOWN.get(BY_ID[id].known, BY_ID[id].known) == known
    assert known in (*get_args(HowKnown), "definition", "common practice, no source", "assumption")
    over = row.pop("over", 1.0)
    value = BY_ID[id].value if row["value"] is None else row["value"] / over
    assert numbers(BY_ID[id]) == pytest.approx({**row, "value": value}, rel=1e-9)


@pytest.mark.parametrize("column", COLUMNS)
def test_a_column_of_constants_is_the_published_one(column: str) -> None:
    published = TABLE[column]
    assert {each.source for each in COLUMNS[column].values()} == {published["source"]}
    assert {each.unit for each in COLUMNS[column].values()} == {published["unit"]}
    ours = {id: [each.value, each.low, each.high] for id, each in COLUMNS[column].items()}
    assert ours == published["rows"]


def test_nothing_is_pinned_that_is_not_there() -> None:
    assert set(TABLE) <= {*BY_ID, *COLUMNS}
