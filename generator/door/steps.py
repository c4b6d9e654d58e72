"""Steps that remember what they asked for: a step is done again only if one of those answers has changed.

While a step runs, all that it asks for is noted, and its answer gets a fingerprint. The next build begins with what
comes from outside and has changed: each step that asked for it is done again. If such a step gives another answer than
before, the steps that asked for it are done again too. If it gives the same answer, the change stops there. (Build
systems with traces and early cut-off: Mokhov, Mitchell & Peyton Jones, "Build systems à la carte", 2018; from memory.)

The height of a step is more than that of all it asked for. Steps are done again in order of height, so that whatever a
step asks for is up to date. If it asks for something new that is higher, that is brought up to date at that moment.
"""

import math
import pickle
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import partial
from heapq import heappop, heappush
from itertools import product, repeat
from typing import Any, TypeVar, cast

from generator.door import remembering
from generator.door.door import Door, Each, grouped
from generator.door.remembering import BrokenMemory, Done, Key, Known, Memory, News, Same, fingerprint_of, pickled

T = TypeVar("T")
# The fingerprint of a value from outside that is not there.
_ABSENT = b""
# With fewer steps to do again, a copy of the process costs as much as it saves.
MANY = 1000


class Steps(Door):
    """A door that remembers.

    A value from outside may be given late, but before any step that rests on it is asked for. `all_given` ends this.
    """

    def __init__(self, memory: Memory) -> None:
        self._memory, self._before = memory, memory.given()
        self._makes: dict[str, tuple[Callable[[str], Any], bool]] = {}
        # By the name of a step, the name of those that only read an item of its answer, and what these read by id.
        self._items: dict[str, tuple[str, Callable[[Any], Callable[[str], Any]]]] = {}
        self._given: dict[Key, bytes] = {}
        self._keys: dict[Key, Key] = {}
        self._answers: dict[Key, Any] = {}
        self._shared: list[dict[str, Any]] = []
        self._running: list[dict[Key, None]] = []
        self._done: dict[Key, Done] = {}
        # Of each step that is up to date: whether its answer is another than in the build before, and its height.
        self._differs: dict[Key, bool] = {}
        self._heights: dict[Key, int] = {}
        # Steps to be done again, in the queue lowest first; those whose function is not known yet; those that failed.
        self._stale: set[Key] = set()
        self._queue: list[tuple[int, Key]] = []
        self._unwired: dict[str, list[tuple[int, Key]]] = {}
        self._failed: set[Key] = set()
        self._all_given = False
        # Called after each step that is done again before anybody asks. It may have what is waited for made `soon`.
        self.between: Callable[[], object] = bool

    def given(self, name: str, values: Mapping[str, T], marks: Mapping[str, bytes] | None = None) -> Callable[[str], T]:
        """Values from outside (files, options, the moment) by id, as `Door` says."""
        for id, value in values.items():
            self._answers[name, id] = value
            self._give((name, id), fingerprint_of(value) if marks is None else marks[id])
        for key in [key for key in self._before if key[0] == name and key[1] not in values]:
            self._give(key, _ABSENT)

        def given(id: str) -> T:
            if (name, id) not in self._given:
                # Noted as well, since it may be there next time.
                self._give((name, id), _ABSENT)
            return cast(T, ask(id))

        ask = self._asking(name)
        return given

    def all_given(self) -> None:
        """Say that nothing more will be given. What the build before was given and this one was not is gone."""
        self._all_given = True
        for key in self._before.keys() - self._given.keys():
            self._give(key, _ABSENT)
        for name in [*self._unwired]:
            self._wired(name)

    def _wired(self, name: str) -> None:
        for at in self._unwired.pop(name, ()):
            heappush(self._queue, at)

    def _give(self, key: Key, print: bytes) -> None:
        self._given[key], self._heights[key] = print, 0
        self._answers.setdefault(key, None)
        self._settled(key, self._before.get(key, _ABSENT) != print)

    def was(self, name: str, id: str) -> bytes | None:
        """The fingerprint that a value from outside had in the build before; None if there was none."""
        return self._before.get((name, id))

    def step(self, name: str, make: Callable[[str], T], keep: bool = True) -> Callable[[str], T]:
        """A step for each id. Its answers are kept between builds, unless making one is faster than reading it back."""
        assert name not in self._makes, f"two steps are called {name}"
        self._makes[name] = make, keep
        self._wired(name)
        return self._asking(name)

    def shared(self, _: str, make: Callable[[str], T]) -> Callable[[str], T]:
        """Work that several steps need, done once in a build. What it asks for counts as asked by each of them."""
        made: dict[str, tuple[T, dict[Key, None]]] = {}
        self._shared.append(made)

        def ask(id: str) -> T:
            if id not in made:
                value, asked = self._made(make, id)
                made[id] = value, dict.fromkeys(asked)
            value, those = made[id]
            if self._running:
                self._running[-1].update(those)
            return value

        return ask

    def each(
        self,
        name: str,
        ids: Callable[[], Iterable[str]],
        make: Callable[[str], T],
        keep: bool = True,
        shared: bool = False,
    ) -> Mapping[str, T]:
        """A mapping: each value is a step, or work that is `shared` by steps. Which ids it has is a step too."""
        known = self.one(f"{name}: ids", lambda: tuple(ids()))
        there = self.shared(f"{name}: all", lambda _: frozenset(known()))
        value = self.shared(name, make) if shared else self.step(name, make, keep)
        self._items[f"{name}: ids"] = f"{name}: is there", lambda ids: frozenset(ids).__contains__
        return Each(self, name, known, self.step(f"{name}: is there", lambda id: id in there(""), keep=False), value)

    def by_id(self, name: str, make: Callable[[], Mapping[str, T]]) -> Mapping[str, T]:
        """A mapping that is made in one step. Of those that asked for its values, only other ones are made again."""
        self._items[f"all {name}"] = name, lambda whole: lambda id: whole.get(id, KeyError)
        return super().by_id(name, make)

    def differing(self, name: str, ids: Iterable[str]) -> frozenset[str]:
        """Those of the ids for which the answer of a step may be another one than in the build before."""
        self._settle(math.inf)
        known = self._memory.ids(name)
        return frozenset(id for id in ids if id not in known or self._differs.get((name, id)))

    def on_all_cores(self, work: Callable[[], Iterable[Sequence[Key]]], *each: str, again: bool = False) -> None:
        """Do steps on all cores, as `Door` says; `again`, once all steps are wired."""
        if not self._before:
            self._share_out([((name, id),) for name in each for id in self.peek(f"{name}: ids")] + list(work()))
        elif again and len(self._queue) >= MANY and remembering.cores() > 1:
            of = {key: tuple(part) for part in self.soon(lambda _: [*work()], "") for key in part}
            levels = grouped((height, of[key]) for height, key in self._queue if key in self._stale and key in of)
            # Height by height, so that what they rest on is done before, and not on each core.
            for height in sorted(height for height, parts in levels.items() if len(parts) >= MANY):
                self._settle(height - 1)
                self._share_out([*dict.fromkeys(levels[height])])

    def _share_out(self, parts: Sequence[Sequence[Key]]) -> None:
        # Work that earlier steps had in common is seldom needed again, and its results take the most memory.
        for common in self._shared:
            common.clear()
        asked, given, before = {key for part in parts for key in part}, {*self._given}, {*self._done}

        def do(part: Sequence[Key]) -> None:
            for name, id in part:
                if not self._before or (name, id) in self._stale:
                    self._try(lambda key: self.soon(self._asking(key[0]), key[1]), (name, id))
            for id, made in product({id for _, id in part}, self._shared):
                made.pop(id, None)

        def handed() -> tuple[dict[Key, Done], dict[Key, Any], dict[Key, bytes]]:
            done = {key: each for key, each in self._done.items() if key not in before}
            unkept = {key: self._answers[key] for key in done.keys() & asked if done[key].kept is None}
            return done, unkept, {key: print for key, print in self._given.items() if key not in given}

        for made in remembering.share_out(parts, do, handed, self._memory.in_copy):
            self._take_over(*made)

    def _take_over(self, done: dict[Key, Done], answers: dict[Key, Any], given: dict[Key, bytes]) -> None:
        """Take over the steps that a copy of this process did."""
        for key in given.keys() - self._given.keys():
            self._give(key, given[key])
        new = done.keys() - self._done.keys()
        self._done |= {key: done[key] for key in new}
        self._answers |= {key: answers[key] for key in new & answers.keys()}
        for key in new:
            self._noted(key, done[key], self._memory.known(key))

    def view(self, kind: type[T], **reads: Callable[[], Any]) -> T:
        """A dataclass whose fields are read when they are wanted (no struct can wait); `replace` makes a plain one."""
        parts: dict[str, Any] = {part: property(partial(lambda ask, _: ask(), ask)) for part, ask in reads.items()}
        parts |= {"__slots__": (), "__new__": lambda _, **values: kind(**values)}
        return cast(T, object.__new__(type(kind.__name__, (kind,), parts)))

    def soon(self, make: Callable[[str], T], id: str) -> T:
        """Make what somebody waits for. Of all that must be done again, only what it rests on is done before."""
        return self._made(make, id)[0]

    def peek(self, name: str) -> Any:
        """The answer of a step that takes no id, without noting that it was asked for."""
        return self._answer((name, ""))

    def news(self) -> News:
        """What this build did, once all that must be done again is done, whether somebody asked for it or not."""
        assert self._all_given, "more may come that changes what was done"
        self._settle(math.inf)
        return News(dict(self._given), dict(self._done), self._failed - self._done.keys())

    def _asking(self, name: str) -> Callable[[str], Any]:
        """The function that asks for a step by its id. Most answers are there already, so it is short."""
        running, answers = self._running, self._answers

        def ask(id: str) -> Any:
            key = name, id
            if running:
                running[-1][key] = None
            return answers[key] if key in answers else self._answer(key)

        return ask

    def _answer(self, key: Key) -> Any:
        if key not in self._answers:
            self._bring_up_to_date(key)
            if key not in self._answers:
                done = self._done.get(key)
                kept = (pickle.loads(done.kept),) if done and done.kept else self._memory.answer(key)
                # What is not kept is made again: the same answer, since all that it asks is the same.
                answer = kept[0] if kept else self._remade(key)[0]
                self._answers[key] = self._same(answer) if isinstance(answer, Same) else answer
        return self._answers[key]

    def _bring_up_to_date(self, key: Key) -> None:
        """Do a step again if it must be done."""
        if key in self._differs and key not in self._failed:
            return
        known = self._memory.known(key)
        if known and not self._running:
            self._settle(known.height)
        if known is None or key in self._stale or key in self._failed:
            self._do(key, known)
        elif key not in self._differs:
            # A step no higher than the lowest to be done again rests on none of these. Of a higher one, we look at
            # all that it asked for.
            lowest = self._queue[0][0] if self._queue else math.inf
            if known.height > lowest and any(self._is_another(asked) for asked in self._memory.asked(key)):
                self._do(key, known)
            else:
                self._heights[key] = known.height
                self._settled(key, False)

    def _is_another(self, key: Key) -> bool:
        """Whether the answer to something asked for in the build before would be another now."""
        if key[0] in self._makes:
            self._try(self._bring_up_to_date, key)
        return self._differs.get(key, True)

    def _settle(self, height: float) -> None:
        """Do again, up to a height, all steps that must be done again."""
        while self._queue and self._queue[0][0] <= height:
            at, key = heappop(self._queue)
            if key not in self._stale:
                continue
            if key[0] in self._makes or self._all_given:
                self._try(lambda key: self._do(key, self._memory.known(key)), key)
            else:
                self._unwired.setdefault(key[0], []).append((at, key))
            self.between()

    def _try(self, work: Callable[[Key], None], key: Key) -> None:
        """Work on a step. If it fails, its answer counts as another one, and who still asks for it gets the error."""
        try:
            work(key)
        except BrokenMemory:
            raise
        except Exception:
            self._failed.add(key)
            self._stale.discard(key)
            self._settled(key, True)

    def _do(self, key: Key, known: Known | None) -> None:
        answer, asked = self._remade(key)
        # A step never gets lower, so that those that asked for it stay above it.
        height = max(1 + max(map(self._heights.get, asked, repeat(0)), default=0), known.height if known else 0)
        same = remembering.handed_on(answer, asked, self._answers)
        print = self._print(same) or fingerprint_of(answer)
        kept = pickled(same or answer) if self._makes[key[0]][1] else None
        self._answers[key] = answer
        self._done[key] = done = Done(asked, print, height, kept)
        self._noted(key, done, known)

    def _noted(self, key: Key, done: Done, known: Known | None) -> None:
        self._heights[key] = done.height
        self._stale.discard(key)
        self._failed.discard(key)
        self._settled(key, known is None or known.fingerprint != done.fingerprint)

    def _print(self, same: Same | None) -> bytes | None:
        """The fingerprint of the step whose whole answer this is. A value from outside may have got a new one since."""
        if same is None or same.at is not None or same.key in self._given:
            return None
        known = self._done.get(same.key) or self._memory.known(same.key)
        return known and known.fingerprint

    def _same(self, kept: Same) -> Any:
        return self._answer(kept.key) if kept.at is None else self._answer(kept.key)[kept.at]

    def _settled(self, key: Key, differs: bool) -> None:
        """Note whether an answer is another than before. If so, the steps that asked for it must be done again."""
        self._differs[key] = differs
        if differs:
            is_same = self._same_items(key)
            for height, asker in self._memory.askers(key):
                if asker in self._done or asker in self._stale or is_same(asker):
                    continue
                if asker in self._differs:  # an answer was given too early
                    raise self._memory.broken()
                self._stale.add(asker)
                heappush(self._queue, (height, asker))

    def _same_items(self, key: Key) -> Callable[[Key], bool]:
        """Whether a step only reads an item of an answer, and reads what it read in the build before."""
        reader, read = self._items.get(key[0], ("", None))
        before = remembering.answer_before(self._memory, key) if read and key in self._answers else None
        if read is None or before is None:
            return lambda _: False
        was, now = read(before[0]), read(self._answers[key])
        return lambda asker: asker[0] == reader and fingerprint_of(was(asker[1])) == fingerprint_of(now(asker[1]))

    def _remade(self, key: Key) -> tuple[Any, tuple[Key, ...]]:
        return self._made(self._makes[key[0]][0], key[1])

    def _made(self, make: Callable[[str], T], id: str) -> tuple[T, tuple[Key, ...]]:
        asked: dict[Key, None] = {}
        self._running.append(asked)
        try:
            made = make(id)
        except Exception:
            # A step that catches this and goes on without the answer rests on what was asked for here.
            if len(self._running) > 1:
                self._running[-2].update(asked)
            raise
        finally:
            self._running.pop()
        # Equal keys become one object, which takes less memory.
        return made, tuple(map(self._keys.setdefault, asked, asked))
