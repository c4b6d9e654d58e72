"""Steps that remember what they asked: each is done again only if one of its answers is another than last time.

While a step runs, all that it asks of this door is noted as its trace; its answer gets a fingerprint. In the next build
a step is left alone if everything in its trace still has the same fingerprint. A step that is done again with the same
answer as before stops the change there. (Verifying traces with early cutoff: Mokhov, Mitchell & Peyton Jones, "Build
systems à la carte", 2018; from memory.)

Nobody lists what depends on what. `each` and `view` give the mappings and records that the rest of the
program reads anyway; to read from them is to ask.
"""

import io
import pickle
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from hashlib import blake2b
from typing import Any, Protocol, TypeVar, cast

from generator.door.door import Door

T = TypeVar("T")
# The fingerprint of what could be given and is not there.
_ABSENT = b""
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


class BrokenMemory(Exception):
    """What is known of the build before cannot be read, and is gone."""


class Memory(Protocol):
    """What is known of the build before."""

    def given(self) -> Mapping[Key, bytes]:
        """All that came from outside, by fingerprint."""

    def reached_by(self, changed: Iterable[Key]) -> set[Key]:
        """These, every step that asked for one of them, every step that asked for one of those, and so on."""

    def trace(self, key: Key) -> Trace | None:
        """The trace of a step, at least all of it that `reached_by` gave; None if the step was not done."""

    def answer(self, key: Key) -> bytes | None:
        """The pickled answer of a step; None if it was not kept."""

    def ids(self, name: str) -> Collection[str]:
        """The ids of all steps of a name."""

    def recall(self, name: str) -> None:
        """Be ready for the answers of all steps of a name."""

    def broken(self) -> BrokenMemory:
        """Forget everything, since an answer cannot be read."""


class Steps(Door):
    """The one place that steps ask. All that comes from outside is given before the first step is asked."""

    def __init__(self, memory: Memory) -> None:
        self._memory = memory
        self._before = memory.given()
        self._makes: dict[str, tuple[Callable[[str], Any], bool]] = {}
        self._given: dict[Key, bytes] = {}
        self._answers: dict[Key, Any] = {}
        self._running: list[dict[Key, None]] = []
        self._done: dict[Key, tuple[Trace, bytes | None]] = {}
        # Whether a step's answer is another than in the build before, once that is sure.
        self._differs: dict[Key, bool] = {}
        self._doubtful: set[Key] | None = None

    def given(self, name: str, values: Mapping[str, T], marks: Mapping[str, bytes] | None = None) -> Callable[[str], T]:
        """What comes from outside, by id; None for what is not there.

        `marks` are fingerprints that change when it does, if there are any.
        """
        for id, value in values.items():
            self._given[name, id] = fingerprint_of(value) if marks is None else marks[id]
            self._answers[name, id] = value

        def ask(id: str) -> T:
            # What is not there is noted too: it may come.
            self._given.setdefault((name, id), _ABSENT)
            self._answers.setdefault((name, id), None)
            return cast(T, self._ask((name, id)))

        return ask

    def was(self, name: str, id: str) -> bytes | None:
        """The fingerprint of what was given under a name and an id in the build before."""
        return self._before.get((name, id))

    def step(self, name: str, make: Callable[[str], T], keep: bool = True) -> Callable[[str], T]:
        """A step for each id. `keep` its answers between builds unless they are made faster than read back."""
        assert name not in self._makes, f"two steps are called {name}"
        self._makes[name] = make, keep
        return lambda id: cast(T, self._ask((name, id)))

    def shared(self, _: str, make: Callable[[str], T]) -> Callable[[str], T]:
        """A part that steps have in common, made once in a build: what it asks for counts as asked by each of them."""
        made: dict[str, tuple[T, tuple[Key, ...]]] = {}

        def ask(id: str) -> T:
            if id not in made:
                made[id] = self._made(make, id)
            value, asked = made[id]
            if self._running:
                self._running[-1].update(dict.fromkeys(asked))
            return value

        return ask

    def one(self, name: str, make: Callable[[], T], keep: bool = True) -> Callable[[], T]:
        """A step of which there is only one."""
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
        """A mapping whose values are steps, or `shared` parts of steps. Which ids there are is a step too."""
        known = self.one(f"{name}: ids", lambda: tuple(ids()))
        has = self.step(f"{name}: is there", lambda id: id in frozenset(known()), keep=False)
        value = self.shared(name, make) if shared else self.step(name, make, keep)
        return Each(self, name, known, has, value)

    def differing(self, name: str, ids: Iterable[str]) -> frozenset[str]:
        """The ids of a step's answers that are not known to be the same as in the build before."""
        known, doubtful = self._memory.ids(name), self._in_doubt
        fresh = (id for id in ids if id not in known or (name, id) in doubtful)
        return frozenset(id for id in fresh if self._bring_up_to_date((name, id)))

    def view(self, kind: type[T], **reads: Callable[[], Any]) -> T:
        """A record whose fields are read from other steps when they are wanted.

        `dataclasses.replace` makes a plain record of it.
        """

        def read(ask: Callable[[], Any]) -> Any:
            return property(lambda _: ask())

        parts = {part: read(ask) for part, ask in reads.items()}
        parts |= {"__slots__": (), "__new__": lambda _, **values: kind(**values)}
        return cast(T, object.__new__(type(kind.__name__, (kind,), parts)))

    def peek(self, name: str) -> Any:
        """The answer of the one step of a name, of which nobody takes note."""
        return self._answer((name, ""))

    def recall(self, name: str) -> None:
        """Be ready for the answers of all steps of a name."""
        self._memory.recall(name)

    def news(self) -> News:
        """What this build did. What it left in doubt is gone: nobody asked for it."""
        gone = {key for key in self._in_doubt if key not in self._differs and key not in self._given}
        still_absent = {key: _ABSENT for key, print in self._before.items() if print == _ABSENT}
        return News(still_absent | self._given, dict(self._done), gone)

    def _ask(self, key: Key) -> Any:
        if self._running:
            self._running[-1][key] = None
        return self._answer(key)

    def _answer(self, key: Key) -> Any:
        if key not in self._answers:
            self._bring_up_to_date(key)
            if key not in self._answers:
                kept = self._memory.answer(key)
                # What is not kept is made again: the same answer, since all that it asks is the same.
                self._answers[key] = self._remade(key)[0] if kept is None else self._read(kept)
        return self._answers[key]

    def _read(self, kept: bytes) -> Any:
        try:
            return pickle.loads(kept)
        except Exception as error:
            raise self._memory.broken() from error

    def _bring_up_to_date(self, key: Key) -> bool:
        """Do a step again if it must be done. Returns whether its answer is another than in the build before."""
        if key not in self._differs:
            # What is not in doubt is as it was. The doubts come first: traces only tell of those.
            sure = key not in self._in_doubt
            known = self._memory.trace(key)
            if key in self._given:
                differs = self._before.get(key, _ABSENT) != self._given[key]
            elif known is not None and (sure or not any(self._is_another(asked) for asked in known.asked)):
                differs = False
            else:
                answer, asked = self._remade(key)
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
        except BrokenMemory:
            raise
        except Exception:
            # What cannot be asked for any more is another answer, whatever the reason. Who still asks will see it.
            return True

    @property
    def _in_doubt(self) -> set[Key]:
        if self._doubtful is None:
            now, before = self._given, self._before
            every = now.keys() | before.keys()
            changed = [key for key in every if now.get(key, _ABSENT) != before.get(key, _ABSENT)]
            self._doubtful = self._memory.reached_by(changed) if changed else set()
        return self._doubtful

    def _remade(self, key: Key) -> tuple[Any, tuple[Key, ...]]:
        name, id = key
        return self._made(self._makes[name][0], id)

    def _made(self, make: Callable[[str], T], id: str) -> tuple[T, tuple[Key, ...]]:
        asked: dict[Key, None] = {}
        self._running.append(asked)
        try:
            return make(id), tuple(asked)
        finally:
            self._running.pop()


class Each(Mapping[str, T]):
    """A mapping behind the door."""

    def __init__(
        self,
        steps: Steps,
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


def fingerprint_of(answer: object) -> bytes:
    """A digest of all that an answer holds, whatever parts of it are one and the same object in memory."""
    if not isinstance(answer, bytes):
        written = io.BytesIO()
        pickler = pickle.Pickler(written, pickle.HIGHEST_PROTOCOL)
        pickler.fast = True  # every object in full, none by reference to the same one before
        pickler.dump(answer)
        answer = written.getvalue()
    return blake2b(answer, digest_size=16).digest()
