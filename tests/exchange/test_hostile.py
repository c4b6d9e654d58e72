"""What comes in is hostile until proven otherwise: a clear refusal, and nothing written."""

import json
import tracemalloc
from functools import cache
from pathlib import Path
from tempfile import mkdtemp

import pytest
from hypothesis import given
from hypothesis import strategies as st

from generator.__main__ import main
from generator.exchange.document import Refused
from generator.exchange.reading import MAX_BYTES, read_document
from tests.exchange.hostile import Hostile, hostile
from tests.exchange.journals import NOW, Keeper, ines_and_marta


@cache
def cases() -> tuple[Hostile, ...]:
    ines, _ = ines_and_marta(Path(mkdtemp()))
    sound = json.loads(ines.hand_over("tide-lantern", NOW, "--frags", "1").read_bytes())
    return tuple(hostile(sound))


@cache
def marta() -> Keeper:
    return ines_and_marta(Path(mkdtemp()))[1]


def test_there_are_many_of_them():
    assert len({case.name for case in cases()}) == len(cases()) >= 60
    assert len({case.raw for case in cases()}) == len(cases())


@pytest.mark.parametrize("case", cases(), ids=lambda case: case.name)
def test_a_hostile_record_is_refused_and_nothing_written(
    case: Hostile, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    with pytest.raises(Refused) as refusal:
        read_document(case.raw)
    assert refusal.value.kind == case.kind, str(refusal.value)
    file = tmp_path / "record.json"
    file.write_bytes(case.raw)
    before = marta().tree()
    assert main(["take-in", str(file), "--content", str(marta().folder)]) == 1
    said = capsys.readouterr().err
    assert said.startswith("refused: ")
    assert len(said) < 400
    assert said.strip().isprintable()
    assert marta().tree() == before


@given(st.binary(max_size=200) | st.text(max_size=200).map(lambda text: text.encode("utf-8", "replace")))
def test_no_bytes_whatever_bring_more_than_a_refusal(raw: bytes):
    with pytest.raises(Refused):
        read_document(raw)


_VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
    max_leaves=20,
)


@given(_VALUES)
def test_no_json_whatever_brings_more_than_a_refusal(value: object):
    with pytest.raises(Refused):
        read_document(json.dumps(value).encode())


@pytest.mark.long
def test_no_hostile_record_takes_a_hundred_megabytes():
    tracemalloc.start()
    try:
        for case in cases():
            tracemalloc.reset_peak()
            with pytest.raises(Refused):
                read_document(case.raw[: MAX_BYTES + 1])
            assert tracemalloc.get_traced_memory()[1] < 90e6, case.name
    finally:
        tracemalloc.stop()
