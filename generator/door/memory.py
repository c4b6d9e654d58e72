"""The memory between builds: one SQLite file for each journal, audience and site.

It may be deleted at any time. What is damaged, or was left by another version of the program, is forgotten.
"""

import errno
import pickle
import secrets
import sqlite3
from array import array
from collections import Counter, defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from functools import cached_property, partial
from pathlib import Path
from typing import Any

from generator.door.remembering import BrokenMemory, Key, Known, News, only_ours, sealed_answer, unsealed_answer

_TABLES = """
CREATE TABLE IF NOT EXISTS made_by (program TEXT);
CREATE TABLE IF NOT EXISTS step (
    n INTEGER PRIMARY KEY, name TEXT, id TEXT, height INTEGER, given BLOB, fingerprint BLOB, asked BLOB, answer BLOB,
    UNIQUE (name, id)
);
CREATE INDEX IF NOT EXISTS outside ON step (name, id, given) WHERE given IS NOT NULL;
CREATE TABLE IF NOT EXISTS used (asked INTEGER PRIMARY KEY, by BLOB);
CREATE TABLE IF NOT EXISTS last (build BLOB);
CREATE TABLE IF NOT EXISTS written (address TEXT PRIMARY KEY, mark BLOB);
"""
# So many rows are asked for at once.
_AT_ONCE = 500
# With what is known of a step, a short answer is read too: it is mostly asked for next.
_KNOWN = """
SELECT n, name, id, height, fingerprint, length(answer) > 4096, CASE WHEN length(answer) <= 4096 THEN answer END
FROM step WHERE name = ?"""
_OF_ONE = f"{_KNOWN} AND id = ?"
_OF_KEY = "FROM step WHERE name = ? AND id = ?"
# Who asks for so many steps of a name, one after the other, mostly asks for all of them.
_ONE_BY_ONE = 200


class MemoryInUse(Exception):
    """Another build has this memory open."""


class Remembered:
    """A memory in a file, locked while open. Raises `MemoryInUse`, `BrokenMemory`, `OSError` if others can write it."""

    def __init__(self, file: Path, program: str) -> None:
        """Open what `program`, this version of ours, left in a file; what another version left is forgotten."""
        self._path, self._program = file, program
        self._numbers: dict[Key, int] = {}
        self._singly: Counter[str] = Counter()
        self._knowns: dict[Key, Known] = {}
        self._ready: dict[Key, bytes | None] = {}
        self._original: sqlite3.Connection | None = None
        self._open()

    def _open(self) -> None:
        file = self._path
        file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        if not only_ours(file):
            raise PermissionError(errno.EPERM, "others can write into the cache", str(file.parent))
        try:
            self._file = sqlite3.connect(file, timeout=0.0, isolation_level=None)
        except sqlite3.Error as error:
            raise OSError(errno.EIO, str(error), str(file)) from error
        with self._sound():
            begin = ("PRAGMA journal_mode = WAL", "PRAGMA synchronous = NORMAL", "BEGIN IMMEDIATE")
            for each in (*begin, *_TABLES.split(";")):
                self._file.execute(each)
            if self._file.execute("SELECT program FROM made_by").fetchall() != [(self._program,)]:
                for table in ("made_by", "step", "used", "written", "last"):
                    self._file.execute(f"DELETE FROM {table}")
                self._file.execute("INSERT INTO made_by VALUES (?)", (self._program,))
            self._last: int = self._file.execute("SELECT max(n) FROM step").fetchone()[0] or 0
            self._there = self._last > 0
            self._mark: int = self._file.execute("PRAGMA user_version").fetchone()[0]

    @contextmanager
    def _sound(self) -> Iterator[None]:
        try:
            yield
        except sqlite3.Error as error:
            if getattr(error, "sqlite_errorname", "").startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
                self.close()
                raise MemoryInUse from error
            raise self.broken() from error

    @cached_property
    def _given(self) -> dict[Key, bytes]:
        with self._sound():
            given = self._file.execute("SELECT name, id, given FROM step WHERE given IS NOT NULL")
            return {(name, id): print for name, id, print in given}

    def given(self) -> Mapping[Key, bytes]:
        """All that came from outside, by fingerprint."""
        return self._given

    def known(self, key: Key) -> Known | None:
        """What is known of a step; None if it was not done."""
        if key not in self._knowns and self._there:
            self._singly[key[0]] += 1
            all_of_name = self._singly[key[0]] == _ONE_BY_ONE
            with self._sound():
                found = self._file.execute(_KNOWN, key[:1]) if all_of_name else self._file.execute(_OF_ONE, key)
                for n, name, id, height, print, is_long, answer in found:
                    self._numbers[name, id], self._knowns[name, id] = n, Known(height, print)
                    if not is_long:
                        self._ready[name, id] = answer
        return self._knowns.get(key)

    def asked(self, key: Key) -> Iterator[Key]:
        """What a step asked for, in order: a later question may rest on the answer to an earlier one."""
        found = self._one(f"SELECT asked {_OF_KEY}", *key)
        for n in self._numbers_in(found[0] if found else b""):
            if asked := self._one("SELECT name, id FROM step WHERE n = ?", n):
                yield asked

    def askers(self, key: Key) -> list[tuple[int, Key]]:
        """The steps that asked for something, each with its height."""
        if not self._there or (found := self._one(f"SELECT n {_OF_KEY}", *key)) is None:
            return []
        with self._sound():
            return [(height, (name, id)) for _, height, name, id in self._rows(self._by(*found))]

    def _by(self, n: int) -> "array[int]":
        """The numbers of the steps that asked for one."""
        found = self._one("SELECT by FROM used WHERE asked = ?", n)
        return self._numbers_in(found and found[0])

    def _rows(self, numbers: Sequence[int]) -> Iterator[tuple[int, int, str, str]]:
        for at in range(0, len(numbers), _AT_ONCE):
            those = ",".join(map(str, numbers[at : at + _AT_ONCE]))
            yield from self._file.execute(f"SELECT n, height, name, id FROM step WHERE n IN ({those})")

    def answer(self, key: Key) -> tuple[Any] | None:
        """The answer of a step; None if it was not kept."""
        found = (self._ready[key],) if key in self._ready else self._one(f"SELECT answer {_OF_KEY}", *key)
        kept = self._unsealed(found[0]) if found else None
        try:
            return None if kept is None else (pickle.loads(kept),)
        except Exception as error:
            raise self.broken() from error

    def _numbers_in(self, asked: bytes | None) -> "array[int]":
        try:
            return array("I", asked or b"")
        except (TypeError, ValueError) as error:
            raise self.broken() from error

    def _unsealed(self, kept: bytes | None) -> bytes | None:
        if (answer := kept and unsealed_answer(kept)) is None and kept is not None:
            raise self.broken()
        return answer

    def ids(self, name: str) -> Collection[str]:
        """The ids of all steps of a name."""
        with self._sound():
            return {id for (id,) in self._file.execute("SELECT id FROM step WHERE name = ?", (name,))}

    def written(self) -> dict[str, bytes]:
        """What the disk noted of each file that the build before wrote, by its address."""
        with self._sound():
            return dict(self._file.execute("SELECT address, mark FROM written").fetchall())

    def last(self) -> bytes | None:
        """What was kept of the build before as a whole."""
        return self._unsealed((self._one("SELECT build FROM last") or [None])[0])

    def learn(self, news: News, written: Mapping[str, bytes] | None = None, last: bytes | None = None) -> None:
        """Keep what a build did, what it wrote, and its whole, all of it or nothing, and close the file."""
        with self._sound():
            self._mark = secrets.randbits(30) + 1
            self._file.execute(f"PRAGMA user_version = {self._mark}")
            self._learn(news)
            if written is not None:
                was, gone = self.written(), "DELETE FROM written WHERE address = ?"
                self._file.executemany(gone, zip(was.keys() - written.keys(), strict=True))
                self._file.executemany("INSERT OR REPLACE INTO written VALUES (?, ?)", written.items() - was.items())
            self._file.execute("DELETE FROM last")
            if last is not None:
                self._file.execute("INSERT INTO last VALUES (?)", (sealed_answer(last),))
            self._file.execute("COMMIT")
        self.close()

    def broken(self) -> BrokenMemory:
        """Forget everything, since an answer cannot be read. A copy of a process leaves that to the process itself."""
        self.close()
        for end in () if self._original else ("", "-wal", "-shm"):
            with suppress(OSError):
                self._path.with_name(self._path.name + end).unlink()
        return BrokenMemory()

    def in_copy(self) -> None:
        """Go on in a copy of the process, only reading: SQLite wants the file opened anew, and the other left alone."""
        self._original, self._file = self._file, sqlite3.connect(f"{self._path.resolve().as_uri()}?mode=ro", uri=True)

    def close(self) -> None:
        """Close the file. Nothing is written but by `learn`."""
        self._file.close()

    def _one(self, query: str, *values: object) -> Any:
        try:
            return self._file.execute(query, values).fetchone() if self._there else None
        except sqlite3.Error as error:
            raise self.broken() from error

    def _learn(self, news: News) -> None:
        given = [(key, print) for key, print in news.given.items() if self._given.get(key) != print]
        # By the number of what is asked for: the steps that ask for it now but did not before, or no longer do.
        turned: defaultdict[int, array[int]] = defaultdict(partial(array, "I"))
        risen, at = [], self._numbers

        def rows() -> Iterator[tuple[object, ...]]:
            for key, print in given:
                yield (self._number(key), *key, 0, print, print, None, None)
            for key, done in news.done.items():
                n, asked = self._number(key), array("I", [at.get(each) or self._number(each) for each in done.asked])
                if (known := self.known(key)) and known.height < done.height:
                    risen.append((n, done.height))
                for each in self._asked_before(key).symmetric_difference(asked) if self._there else asked:
                    turned[each].append(n)
                sealed = None if done.kept is None else sealed_answer(done.kept)
                yield n, *key, done.height, None, done.fingerprint, asked.tobytes(), sealed

        self._file.executemany("INSERT OR REPLACE INTO step VALUES (?, ?, ?, ?, ?, ?, ?, ?)", rows())
        for key in news.gone if self._there else ():
            for each in self._asked_before(key):
                turned[each].append(self._number(key))
            self._file.execute(f"DELETE {_OF_KEY}", key)
        for each, by in turned.items() if self._there else ():
            turned[each] = array("I", {*self._by(each)}.symmetric_difference(by))
        self._file.executemany("INSERT OR REPLACE INTO used VALUES (?, ?)", sorted(turned.items()))
        self._lift_above(risen)
        missing = [(self._number(key),) for key, print in given if not print]
        self._file.executemany("DELETE FROM used WHERE asked = ? AND by = x''", missing)
        self._file.executemany("DELETE FROM step WHERE n = ? AND n NOT IN (SELECT asked FROM used)", missing)

    def _lift_above(self, risen: list[tuple[int, int]]) -> None:
        """Where steps got higher, lift those that asked for them, so that each is above all it asked for."""
        while risen:
            n, height = risen.pop()
            for asker, low, *_ in list(self._rows(self._by(n))):
                if low <= height:
                    self._lift(asker, height + 1)
                    risen.append((asker, height + 1))

    def _lift(self, n: int, height: int) -> None:
        self._file.execute("UPDATE step SET height = ? WHERE n = ?", (height, n))

    def _asked_before(self, key: Key) -> frozenset[int]:
        """The numbers of what a step asked for in the build before."""
        found = self._one(f"SELECT asked {_OF_KEY}", *key) if self._there else None
        return frozenset(self._numbers_in(found and found[0]))

    def _number(self, key: Key) -> int:
        """The number of a step. It never changes: what other steps asked for is written down by such numbers."""
        if key not in self._numbers:
            found = self._file.execute(f"SELECT n {_OF_KEY}", key).fetchone() if self._there else None
            if found is None:
                self._last += 1
            self._numbers[key] = found[0] if found else self._last
        return self._numbers[key]


class Lasting(Remembered):
    """A memory that may be closed and opened again, and meanwhile keeps at hand what it has read.

    That is right as long as nobody else writes the file. Each build that learns something gives the file a new mark: if
    it is not the one that was given here, all is read anew.
    """

    def __init__(self, file: Path, program: str) -> None:
        """Open what `program` left in a file, as `Remembered` does."""
        self._at_hand = -1
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
            every = self._file.execute("SELECT n, name, id, height, fingerprint, asked FROM step")
            for n, name, id, height, print, asked in every:
                self._noted(n, (name, id), Known(height, print), self._numbers_in(asked))

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
        self._left, self._at_hand = None if written is None else dict(written), self._mark

    def _lift(self, n: int, height: int) -> None:
        super()._lift(n, height)
        self._lifted[n] = height
