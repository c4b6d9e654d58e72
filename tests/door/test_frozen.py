"""A frozen record is what the library would make of it, whatever its fields are."""

import copy
import dataclasses
from collections.abc import Callable
from typing import Any

import pytest

from generator.door.frozen import dataclass


def kinds(make: Callable[..., Any]) -> tuple[type, type]:
    """A record and one that has its fields and more, both made by a `dataclass`."""

    @make(frozen=True, slots=True)
    class Tank:
        name: str
        litres: float = 100.0
        corals: list[str] = dataclasses.field(default_factory=list, compare=False)
        note: str = dataclasses.field(default="", repr=False, kw_only=True)

    @make(frozen=True, slots=True)
    class Reef(Tank):
        sides: int = dataclasses.field(default=4, init=False)
        lit: bool = True

        def __post_init__(self) -> None:
            if self.litres < 0.0:
                raise ValueError(self.litres)

    return Tank, Reef


OURS, THEIRS = kinds(dataclass), kinds(dataclasses.dataclass)
GIVEN: list[tuple[tuple[Any, ...], dict[str, Any]]] = [
    (("a",), {}),
    (("a", 2.0), {"note": "new"}),
    (("a", 2.0, ["x"]), {}),
    ((), {"name": "b", "corals": ["y"]}),
    ((), {}),
    (("a",), {"depth": 1}),
    (("a", 1.0, [], "note as the fourth"), {}),
    (("a", -1.0), {}),
]


def tried(work: Callable[[], Any]) -> Any:
    try:
        return work()
    except (TypeError, ValueError) as error:
        return type(error)


@pytest.mark.parametrize("of", [0, 1])
def test_a_record_is_as_the_library_makes_it(of: int) -> None:
    ours, theirs = ([tried(lambda: kind[of](*a, **k)) for a, k in GIVEN] for kind in (OURS, THEIRS))  # noqa: B023
    assert [*map(repr, ours)] == [*map(repr, theirs)]
    assert [[a == b for b in ours] for a in ours] == [[a == b for b in theirs] for a in theirs]
    for one in ours[:4]:
        assert hash(one) == hash(dataclasses.replace(one))
        assert one == copy.deepcopy(one)
        assert one != "a"


def test_a_record_cannot_be_changed() -> None:
    tank = OURS[0]("a")
    for change in (lambda: setattr(tank, "name", "b"), lambda: delattr(tank, "name"), lambda: setattr(tank, "x", 1)):
        with pytest.raises(dataclasses.FrozenInstanceError, match="cannot change"):
            change()
    with pytest.raises(AttributeError):
        object.__setattr__(tank, "x", 1)
