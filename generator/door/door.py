"""The door without a memory: every step is done when it is wired; and modules that are loaded when first used.

Commands that ask one question use it. `steps.Steps` has the same methods and remembers, for what is built often.
"""

import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import fields
from functools import cache, partial
from importlib.machinery import ModuleSpec, PathFinder
from importlib.util import LazyLoader
from types import ModuleType
from typing import TYPE_CHECKING, Any, TypeVar
from zlib import crc32

if TYPE_CHECKING:
    from generator.door.steps import Steps

T = TypeVar("T")
K = TypeVar("K")


def parts_of(record: Any) -> dict[str, Callable[[], Any]]:
    """The fields of a record, each read when it is wanted: for a `view` of it in which some are others."""
    return {part.name: partial(getattr, record, part.name) for part in fields(record)}


def dealt(ids: Iterable[str]) -> dict[str, tuple[str, ...]]:
    """Ids dealt out to parts, about as many as each has members."""
    ids = tuple(ids)
    many = 1 << (len(ids).bit_length() // 2)
    return grouped((str(crc32(id.encode()) % many), id) for id in ids)


def grouped(pairs: Iterable[tuple[K, T]]) -> dict[K, tuple[T, ...]]:
    """The second of each pair, by the first."""
    found: dict[K, list[T]] = {}
    for of, each in pairs:
        found.setdefault(of, []).append(each)
    return {of: tuple(every) for of, every in found.items()}


class Door:
    """Where steps are wired to what they ask: each is a function behind a name, and behind an id if there are many."""

    def given(self, name: str, values: Mapping[str, T], marks: Mapping[str, bytes] | None = None) -> Callable[[str], T]:
        """What comes from outside, by id; None for what is not there.

        `marks` are fingerprints that change when it does, if there are any.
        """
        return values.get  # type: ignore[return-value]

    def all_given(self) -> None:
        """Say that nothing more will be given: what was given before and is not now is gone."""

    def was(self, name: str, id: str) -> bytes | None:
        """The fingerprint of what was given under a name and an id in the build before."""
        return None

    def step(self, name: str, make: Callable[[str], T], keep: bool = True) -> Callable[[str], T]:
        """A step for each id. `keep` its answers between builds unless they are made faster than read back."""
        return cache(make)

    def shared(self, name: str, make: Callable[[str], T]) -> Callable[[str], T]:
        """A part that steps have in common, made once in a build: what it asks for counts as asked by each of them."""
        return cache(make)

    def one(self, name: str, make: Callable[[], T], keep: bool = True) -> Callable[[], T]:
        """A step of which there is only one."""
        return cache(make)

    def each(
        self,
        name: str,
        ids: Callable[[], Iterable[str]],
        make: Callable[[str], T],
        keep: bool = True,
        shared: bool = False,
    ) -> Mapping[str, T]:
        """A mapping whose values are steps, or `shared` parts of steps. Which ids there are is a step too."""
        return {id: make(id) for id in ids()}

    def by_id(self, name: str, make: Callable[[], Mapping[str, T]]) -> Mapping[str, T]:
        """A mapping that is made as a whole; who asks for one of its values does not depend on the others."""
        whole = self.one(f"all {name}", make)
        return self.each(name, whole, lambda id: whole()[id], keep=False)

    def in_parts(
        self, name: str, ids: Callable[[], Iterable[str]], make: Callable[[Sequence[str]], T]
    ) -> Callable[[], list[T]]:
        """What is made of many ids, a part of them at a time: of a long list only the part near a change is made again.

        The ids of a part come in their order; which part an id is in depends on nothing but itself, and on about how
        many there are.
        """
        members = self.by_id(f"{name}: parts", lambda: dealt(ids()))
        made = self.each(f"{name}: part", lambda: members, lambda part: make(members[part]))
        return lambda: list(made.values())

    def on_all_cores(self, work: Callable[[], Iterable[Sequence[tuple[str, str]]]], *each: str) -> None:
        """Do steps that many others will ask for; those of one part of the work have much in common.

        First come those of the names `each`, one by one.
        """

    def view(self, kind: type[T], **reads: Callable[[], Any]) -> T:
        """A record whose fields are read from other steps when they are wanted."""
        return kind(**{part: read() for part, read in reads.items()})


class Each(Mapping[str, T]):
    """A mapping behind the door."""

    def __init__(
        self,
        steps: "Steps",
        name: str,
        known: Callable[[], tuple[str, ...]],
        has: Callable[[str], bool],
        value: Callable[[str], T],
    ) -> None:
        self._steps, self._name, self._known, self._has, self._value = steps, name, known, has, value
        self._there: frozenset[str] | None = None

    def differing(self) -> frozenset[str]:
        """The ids of values that are not known to be the same as in the build before."""
        return self._steps.differing(self._name, self._known())

    def __getitem__(self, id: str) -> T:
        if self._there is None:
            self._there = frozenset(self._steps.peek(f"{self._name}: ids"))
        # It is enough to ask for a value that is there: if it goes, so does the answer.
        if id in self._there or self._has(id):
            return self._value(id)
        raise KeyError(id)

    def __contains__(self, id: object) -> bool:
        return isinstance(id, str) and self._has(id)

    def __iter__(self) -> Iterator[str]:
        self._steps.recall(self._name)
        return iter(self._known())

    def __len__(self) -> int:
        return len(self._known())


class _Lazily:
    """Finds a module as usual, and has it run once one of its names is asked for."""

    @staticmethod
    def find_spec(name: str, path: Sequence[str] | None = None, target: ModuleType | None = None) -> ModuleSpec | None:
        spec = PathFinder.find_spec(name, path, target)
        if spec is not None and spec.loader is not None:
            spec.loader = LazyLoader(spec.loader)
        return spec


@contextmanager
def later() -> Iterator[None]:
    """Modules imported within it are loaded when they are first used; it takes modules, not names from them.

    Nor packages that import modules of their own: these would be loaded twice.
    """
    sys.meta_path.insert(0, _Lazily)
    try:
        yield
    finally:
        sys.meta_path.remove(_Lazily)
