"""Which functions of the program a test calls."""

import functools
import sys
from collections import defaultdict
from collections.abc import Callable, Hashable, Iterator
from types import ModuleType

import pytest

from generator.read import files
from tests import conftest


class Called:
    """Which functions a test calls, or had called for it: by a fixture of many tests, or for an answer that is kept."""

    def __init__(self) -> None:
        self._now: list[set[str]] = [set()]
        self._kept: dict[Hashable, set[str]] = defaultdict(set)

    def note(self, function: str) -> None:
        """A function is called."""
        self._now[-1].add(function)

    def begin(self, item: pytest.Item) -> None:
        """A test begins."""
        self._now, self._fixtures = [set()], item._fixtureinfo.name2fixturedefs  # type: ignore[attr-defined]

    def of_test(self) -> set[str]:
        """What the test that ends here called."""
        return self._now[0].union(*(self._kept[each[-1]] for each in self._fixtures.values()))

    def follow(self) -> None:
        """Note with each kept answer what was called for it."""
        known: dict[int, Callable[..., object]] = {}
        for module in ours():
            for name, value in list(vars(module).items()):
                if isinstance(value, functools._lru_cache_wrapper):
                    key = _of_arguments
                elif value is conftest.made_once:
                    key = _of_name
                elif value is files._whole:
                    key = _of_answer
                else:
                    continue
                setattr(module, name, known.setdefault(id(value), self._following(value, key)))

    def _following(self, function: Callable[..., object], key: Callable[..., Hashable]) -> Callable[..., object]:
        @functools.wraps(function)
        def follow(*given: Hashable, **named: Hashable) -> object:
            self._now.append(set())
            answer = None
            try:
                answer = function(*given, **named)
                return answer
            finally:
                called = self._now.pop()
                kept = self._kept[id(function), key(answer, *given, **named)]
                kept |= called
                self._now[-1] |= kept

        return follow

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef: pytest.FixtureDef[object]) -> Iterator[None]:
        """Note what was called for a fixture."""
        self._now.append(set())
        try:
            return (yield)
        finally:
            called = self._now.pop()
            self._now[-1] |= called
            if fixturedef.scope != "function":
                self._kept[fixturedef] |= called


def ours() -> list[ModuleType]:
    """Every module of the program and its tests that is loaded."""
    return [module for name, module in sys.modules.items() if name.startswith(("tests", "generator"))]


def _of_arguments(_: object, *given: Hashable, **named: Hashable) -> Hashable:
    return given, *sorted(named.items())


def _of_name(_: object, __: object, name: str, ___: object) -> Hashable:
    return name


def _of_answer(answer: object, *_: object) -> Hashable:
    return id(answer)
