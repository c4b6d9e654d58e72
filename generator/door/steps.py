"""Steps that remember what they asked: each is done again only if one of its answers is another than last time.

A step is a plain function behind a name and an id. While it runs, all that it asks of this door is noted as its trace;
its answer gets a fingerprint. In the next build a step is left alone if everything in its trace still has the same
fingerprint, and a step that is done again with the same answer as before stops the change there (verifying traces with
early cutoff: Mokhov, Mitchell & Peyton Jones, "Build systems à la carte", 2018; from memory).

Nobody lists what depends on what. `each` and `record` give the mappings and records that the rest of the program reads
anyway; to read from them is to ask.
"""

import io
import pickle
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from hashlib import blake2b
from typing import Any, Protocol, TypeVar, cast

T = TypeVar("T")
# A step's name and the id of what it is about; the id is empty where there is only one.
Key = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Trace:
    """What a step asked for, in order, and the fingerprint of its answer."""

    asked: tuple[Key, ...]
    fingerprint: bytes


@dataclass(slots=True)
class News:
    """What a build adds to a memory.

    `given` is all that came from outside, by fingerprint, `done` the steps that were done, with their answers pickled
    if they are worth keeping, `gone` the steps that are not known any more.
    """

    given: dict[Key, bytes] = field(default_factory=dict)
    done: dict[Key, tuple[Trace, bytes | None]] = field(default_factory=dict)
    gone: set[Key] = field(default_factory=set)


class Memory(Protocol):
    """What is known of the build before."""

    def given(self) -> Mapping[Key, bytes]:
        """All that came from outside, by fingerprint."""

    def reached_by(self, changed: Iterable[Key]) -> set[Key]:
        """These, every step that asked for one of them, every step that asked for one of those, and so on."""

    def trace(self, key: Key) -> Trace | None:
        """The trace of a step; None if it was not done."""

    def answer(self, key: Key) -> bytes | None:
        """The pickled answer of a step; None if it was not kept."""


class Door:
    """The one place that steps ask. All that comes from outside is given before the first step is asked.

    Without a memory every step is done once, and nothing is noted.
    """

    def __init__(self, memory: Memory | None = None) -> None:
        self._memory = memory
        self._before = memory.given() if memory else {}
        self._makes: dict[str, tuple[Callable[[str], Any], bool]] = {}
        self._given: dict[Key, bytes] = {}
        self._answers: dict[Key, Any] = {}
        self._running: list[dict[Key, None]] = []
        self._done: dict[Key, tuple[Trace, bytes | None]] = {}
        # Whether a step's answer is another than in the build before, once that is sure.
        self._differs: dict[Key, bool] = {}
        self._doubtful: set[Key] | None = None

    def give(self, name: str, fingerprint: Callable[[str], bytes | None], ids: Iterable[str] = ("",)) -> None:
        """Let something from outside be asked for; its answer is its fingerprint, which changes when it does."""
        for id in ids:
            answer = fingerprint(id)
            if answer is not None:
                self._given[name, id] = self._answers[name, id] = answer

    def was(self, name: str, id: str) -> bytes | None:
        """The fingerprint under which something was given to the build before."""
        return self._before.get((name, id))

    def ask(self, name: str, id: str = "") -> Any:
        """What was given from outside, or the answer of a step by its name."""
        key = name, id
        if self._running:
            self._running[-1][key] = None
        return self._answer(key)

    def step(self, name: str, make: Callable[[str], T], keep: bool = True) -> Callable[[str], T]:
        """A step for each id. `keep` its answers between builds unless they are made faster than read back."""
        assert name not in self._makes, f"two steps are called {name}"
        self._makes[name] = make, keep
        return lambda id: cast(T, self.ask(name, id))

    def one(self, name: str, make: Callable[[], T], keep: bool = True) -> Callable[[], T]:
        """A step of which there is only one."""
        ask = self.step(name, lambda _: make(), keep)
        return lambda: ask("")

    def each(
        self, name: str, ids: Callable[[], Iterable[str]], make: Callable[[str], T], keep: bool = True
    ) -> Mapping[str, T]:
        """A mapping whose values are steps. Which ids there are is a step too, and so is whether one is missing."""
        known = self.one(f"{name}: ids", lambda: tuple(ids()))
        self.step(f"{name}: is there", lambda id: id in frozenset(known()), keep=False)
        return _Each(self, name, self.step(name, make, keep))

    def record(self, kind: type[T], name: str, **makes: Callable[[], Any]) -> T:
        """A record whose fields are steps."""
        return view_of(kind, **{part: self.one(f"{name}.{part}", make) for part, make in makes.items()})

    def news(self) -> News:
        """What this build did. What it left in doubt is gone: nobody asked for it."""
        gone = {key for key in self._doubtful or () if key not in self._differs and key not in self._given}
        return News(dict(self._given), dict(self._done), gone)

    def _answer(self, key: Key) -> Any:
        if key not in self._answers:
            self._bring_up_to_date(key)
            if key not in self._answers:
                kept = self._memory.answer(key) if self._memory else None
                # What is not kept is made again: the same answer, since all that it asks is the same.
                self._answers[key] = self._made(key)[0] if kept is None else pickle.loads(kept)
        return self._answers[key]

    def _bring_up_to_date(self, key: Key) -> bool:
        """Do a step again if it must be done. Returns whether its answer is another than in the build before."""
        if key not in self._differs:
            if self._memory is None:
                self._answers[key] = self._made(key)[0]
                return True
            # What is not in doubt is as it was. This looks at the doubts first: traces only tell of those.
            sure = key not in self._in_doubt
            known = self._memory.trace(key)
            if key in self._given:
                differs = self._before.get(key) != self._given[key]
            elif known is not None and (sure or not any(self._is_another(asked) for asked in known.asked)):
                differs = False
            else:
                answer, asked = self._made(key)
                fingerprint = fingerprint_of(answer)
                kept = pickle.dumps(answer, pickle.HIGHEST_PROTOCOL) if self._makes[key[0]][1] else None
                self._answers[key] = answer
                self._done[key] = Trace(asked, fingerprint), kept
                differs = known is None or known.fingerprint != fingerprint
            self._differs[key] = differs
        return self._differs[key]

    def _is_another(self, asked: Key) -> bool:
        """Whether the answer to something asked for in the build before would be another now."""
        if asked not in self._in_doubt:
            return False
        try:
            return self._bring_up_to_date(asked)
        except Exception:  # noqa: BLE001 - what cannot be asked for any more is another answer, whatever the reason
            return True

    @property
    def _in_doubt(self) -> set[Key]:
        if self._doubtful is None:
            now, before = self._given, self._before
            changed = {key for key in now.keys() | before.keys() if now.get(key) != before.get(key)}
            self._doubtful = self._memory.reached_by(changed) if self._memory else set()
        return self._doubtful

    def _made(self, key: Key) -> tuple[Any, tuple[Key, ...]]:
        name, id = key
        asked: dict[Key, None] = {}
        self._running.append(asked)
        try:
            return self._makes[name][0](id), tuple(asked)
        finally:
            self._running.pop()

    def _peek(self, name: str) -> Any:
        """An answer of which nobody takes note."""
        return self._answer((name, ""))


class _Each(Mapping[str, T]):
    """A mapping behind the door."""

    def __init__(self, door: Door, name: str, value: Callable[[str], T]) -> None:
        self._door = door
        self._name = name
        self._value = value
        self._ids: frozenset[str] | None = None

    def _has(self, id: str) -> bool:
        if self._ids is None:
            self._ids = frozenset(self._door._peek(f"{self._name}: ids"))
        return id in self._ids

    def __getitem__(self, id: str) -> T:
        # A value that is there is enough to ask for: if it goes, so does its answer.
        if self._has(id) or id in self:
            return self._value(id)
        raise KeyError(id)

    def __contains__(self, id: object) -> bool:
        return isinstance(id, str) and bool(self._door.ask(f"{self._name}: is there", id))

    def get(self, id: str, default: Any = None) -> Any:
        return self._value(id) if id in self else default

    def __iter__(self) -> Iterator[str]:
        return iter(cast(tuple[str, ...], self._door.ask(f"{self._name}: ids")))

    def __len__(self) -> int:
        return len(self._door.ask(f"{self._name}: ids"))


def view_of(kind: type[T], **asks: Callable[[], Any]) -> T:
    """A record of this kind whose fields are asked for when they are read."""
    def read(ask: Callable[[], Any]) -> Any:
        return property(lambda _: ask())

    parts = {part: read(ask) for part, ask in asks.items()}
    return cast(T, object.__new__(type(kind.__name__, (kind,), {"__slots__": (), **parts})))


def fingerprint_of(answer: object) -> bytes:
    """A digest of all that an answer holds, whatever parts of it are one and the same object in memory."""
    if not isinstance(answer, bytes):
        written = io.BytesIO()
        pickler = pickle.Pickler(written, pickle.HIGHEST_PROTOCOL)
        pickler.fast = True  # every object in full, none by reference to the same one before
        pickler.dump(answer)
        answer = written.getvalue()
    return blake2b(answer, digest_size=16).digest()
