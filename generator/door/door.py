"""How the parts of a build ask each other, without a memory; and modules that are loaded when they are first used.

A step is a plain function under a name. `Door` calls it when its answer is first wanted, and keeps the answer as long
as the process lives. Commands that answer one question use it. `steps.Steps` has
the same methods and also remembers answers from one build to the next.
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
    """A function for each field of a dataclass, which reads it; `view` makes one of them, with some replaced."""
    return {part.name: partial(getattr, record, part.name) for part in fields(record)}


def dealt(ids: Iterable[str]) -> dict[str, tuple[str, ...]]:
    """Ids divided among parts: about as many parts as there are ids in each."""
    ids = tuple(ids)
    many = 1 << (len(ids).bit_length() // 2)
    return grouped((str(crc32(id.encode()) % many), id) for id in ids)


def grouped(pairs: Iterable[tuple[K, T]]) -> dict[K, tuple[T, ...]]:
    """The second items of all pairs, grouped by the first, in the order of the pairs."""
    found: dict[K, list[T]] = {}
    for of, each in pairs:
        found.setdefault(of, []).append(each)
    return {of: tuple(every) for of, every in found.items()}


class Door:
    """Where steps are put under a name, and asked for by it; by an id too, where there are many of one kind."""

    def given(self, name: str, values: Mapping[str, T], marks: Mapping[str, bytes] | None = None) -> Callable[[str], T]:
        """Values from outside (files, options, the moment) by id; asked for an id that has none, it gives None.

        `marks` are fingerprints of the values, where there are some already.
        """
        return values.get  # type: ignore[return-value]

    def all_given(self) -> None:
        """Say that nothing more will be given. What the build before was given and this one was not is gone."""

    def was(self, name: str, id: str) -> bytes | None:
        """The fingerprint that a value from outside had in the build before; None if there was none."""
        return None

    def step(self, name: str, make: Callable[[str], T], keep: bool = True) -> Callable[[str], T]:
        """A step for each id. Its answers are kept between builds, unless making one is faster than reading it back."""
        return cache(make)

    def shared(self, name: str, make: Callable[[str], T]) -> Callable[[str], T]:
        """Work that several steps need, done once in a build. What it asks for counts as asked by each of them."""
        return cache(make)

    def one(self, name: str, make: Callable[[], T], keep: bool = True) -> Callable[[], T]:
        """A step that takes no id."""
        ask = self.step(name, lambda _: make(), keep)
        return lambda: ask("")

    def each(
        self,
        name: str,
        ids: Callable[[], Iterable[str]],
        make: Callable[[str], T],
        keep: bool = True,
        shared: bool = False,
    ) -> Mapping[str, T]:
        """A mapping: each value is a step, or work that is `shared` by steps. Which ids it has is a step too."""
        return Made(ids, make)

    def by_id(self, name: str, make: Callable[[], Mapping[str, T]]) -> Mapping[str, T]:
        """A mapping that is made in one step. A step that asks for one of its values depends on that value alone."""
        whole = self.one(f"all {name}", make)
        return self.each(name, whole, lambda id: whole()[id], keep=False)

    def in_parts(
        self, name: str, ids: Callable[[], Iterable[str]], make: Callable[[Sequence[str]], T]
    ) -> Callable[[], list[T]]:
        """Make something of many ids, one part of them after the other. After a change, only its part is made again.

        The ids of a part keep their order. In which part an id is depends only on the id, and on about how many there
        are in all.
        """
        members = self.by_id(f"{name}: parts", lambda: dealt(ids()))
        made = self.each(f"{name}: part", lambda: members, lambda part: make(members[part]))
        return lambda: list(made.values())

    def on_all_cores(
        self, work: Callable[[], Iterable[Sequence[tuple[str, str]]]], *each: str, again: bool = False
    ) -> None:
        """Do steps on all cores before others ask for them. Here nothing is done: they are done when asked for.

        `work` gives groups of steps, by name and id; the steps of a group have much in common. Before them come all
        steps of the names in `each`. `again`: in a build that remembers, those that must be done again, if very many.
        """

    def view(self, kind: type[T], **reads: Callable[[], Any]) -> T:
        """A record, each field of which is got by a function. `Steps` calls it when the field is read."""
        return kind(**{part: read() for part, read in reads.items()})


class Made(Mapping[str, T]):
    """A mapping whose ids and values are made when they are first asked for, and once; pickled, all of them."""

    def __init__(self, ids: Callable[[], Iterable[str]], make: Callable[[str], T]) -> None:
        self._ids, self._make = cache(lambda: dict.fromkeys(ids())), cache(make)

    def __getitem__(self, id: str) -> T:
        if id in self._ids():
            return self._make(id)
        raise KeyError(id)

    def __contains__(self, id: object) -> bool:
        return id in self._ids()

    def __iter__(self) -> Iterator[str]:
        return iter(self._ids())

    def __len__(self) -> int:
        return len(self._ids())

    def __repr__(self) -> str:
        return repr(dict(self))

    def __reduce__(self) -> tuple[type[dict[str, T]], tuple[dict[str, T]]]:
        return dict, (dict(self),)


class Each(Mapping[str, T]):
    """A mapping whose values are answers of steps: to read one is to ask for it."""

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
        """The ids whose values may be other ones than in the build before."""
        return self._steps.differing(self._name, self._known())

    def __getitem__(self, id: str) -> T:
        if self._there is None:
            self._there = frozenset(self._steps.peek(f"{self._name}: ids"))
        # Whether it is there need not be noted beside its value: an id that goes away changes the answer too.
        if id in self._there or self._has(id):
            return self._value(id)
        raise KeyError(id)

    def __contains__(self, id: object) -> bool:
        return isinstance(id, str) and self._has(id)

    def __iter__(self) -> Iterator[str]:
        return iter(self._known())

    def __len__(self) -> int:
        return len(self._known())


class _Lazily:
    """Finds modules as usual, but runs each of them only when one of its names is first used."""

    @staticmethod
    def find_spec(name: str, path: Sequence[str] | None = None, target: ModuleType | None = None) -> ModuleSpec | None:
        spec = PathFinder.find_spec(name, path, target)
        if spec is not None and spec.loader is not None:
            spec.loader = LazyLoader(spec.loader)
        return spec


@contextmanager
def later() -> Iterator[None]:
    """Modules that are imported within it are loaded when they are first used.

    Import whole modules, not names from them. A package that imports modules of its own must not be among them: these
    would be loaded twice.
    """
    sys.meta_path.insert(0, _Lazily)
    try:
        yield
    finally:
        sys.meta_path.remove(_Lazily)
