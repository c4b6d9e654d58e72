"""Numbered frags stand in the order in which a keeper counts them."""

from generator.records.coral import as_counted


def test_the_second_frag_stands_before_the_fourteenth() -> None:
    names = ["Ash Weir 14", "Ash Weir 2", "ash weir 3", "Ash Weir", "10 Bells", "9 Bells", "Éclat 1", "Ash Weir 2b"]
    assert sorted(names, key=as_counted) == [
        "9 Bells", "10 Bells", "Ash Weir", "Ash Weir 2", "Ash Weir 2b", "ash weir 3", "Ash Weir 14", "Éclat 1"
    ]  # fmt: skip
