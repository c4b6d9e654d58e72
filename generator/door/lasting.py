"""The memory of a process that builds again and again: what it has read once is at hand in the next build."""

from array import array
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from generator.door.memory import Remembered
from generator.door.remembering import Key, Known, News


class Lasting(Remembered):
    """A memory that may be opened again after it was closed.

    What it has at hand is right as long as nobody else writes the file: each time something is learnt, the file gets
    another mark. If the mark is not ours, all is read anew.
    """

    def __init__(self, file: Path, program: str) -> None:
        """Open what `program` left in a file, as `Remembered` does."""
        self._at_hand = -1
        self._knowns: dict[Key, Known] = {}
        self._keys: dict[int, Key] = {}
        self._asked: dict[Key, array[int]] = {}
        self._answers: dict[Key, tuple[Any]] = {}
        self._lifted: dict[int, int] = {}
        self._left: dict[str, bytes] | None = None
        super().__init__(file, program)

    def open(self) -> None:
        """Open the file again. Raises what a new memory raises."""
        self._open()

    def _open(self) -> None:
        last = getattr(self, "_last", 0)
        super()._open()
        if self._mark == self._at_hand:
            self._last = last  # a step that is gone keeps its number
            return
        self._at_hand, self._left = self._mark, None
        self.__dict__.pop("_given", None)
        for kept in (self._numbers, self._knowns, self._keys, self._asked, self._answers):
            kept.clear()
        with self._sound():
            for n, name, id, height, print, asked in self._file.execute(
                "SELECT n, name, id, height, fingerprint, asked FROM step"
            ):
                self._noted(n, (name, id), Known(height, print), array("I", asked or b""))

    def _noted(self, n: int, key: Key, known: Known, asked: "array[int]") -> None:
        self._numbers[key], self._keys[n], self._knowns[key], self._asked[key] = n, key, known, asked

    def known(self, key: Key) -> Known | None:
        """What is known of a step; None if it was not done."""
        return self._knowns.get(key)

    def asked(self, key: Key) -> Iterator[Key]:
        """What a step asked for, in order."""
        return (self._keys[n] for n in self._asked.get(key, ()))

    def answer(self, key: Key) -> tuple[Any] | None:
        """The answer of a step; None if it was not kept."""
        if key not in self._answers and (found := super().answer(key)):
            self._answers[key] = found
        return self._answers.get(key)

    def recall(self, name: str) -> None:
        """Nothing to get ready: most of it is at hand."""

    def written(self) -> dict[str, bytes]:
        """What the disk noted of each file that the build before wrote, by its address."""
        if self._left is None:
            self._left = super().written()
        return self._left

    def learn(self, news: News, written: Mapping[str, bytes] | None = None, last: bytes | None = None) -> None:
        """Keep what a build did, as `Remembered` does, and have it at hand."""
        self._at_hand = -1
        self._lifted.clear()
        super().learn(news, written, last)
        for key in news.gone:
            for kept in (self._knowns, self._asked, self._answers):
                kept.pop(key, None)
        for key, done in news.done.items():
            self._answers.pop(key, None)
            asked = array("I", map(self._number, done.asked))
            self._noted(self._number(key), key, Known(done.height, done.fingerprint), asked)
        for key in news.given:
            self._keys[self._number(key)] = key
        for n, height in self._lifted.items():
            self._knowns[self._keys[n]] = self._knowns[self._keys[n]]._replace(height=height)
        self.__dict__["_given"] = dict(news.given)
        self._left, self._at_hand = dict(written or {}), self._mark

    def _lift(self, n: int, height: int) -> None:
        super()._lift(n, height)
        self._lifted[n] = height
