"""The trial of mutants: one collection of tests, and a fresh process for each mutant."""

import builtins
import functools
import gc
import hashlib
import json
import os
import shutil
import signal
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable, Hashable, Iterator, Sequence
from importlib import import_module
from pathlib import Path

import pytest

from generator.read import files
from tests import conftest
from tests.mutation.mutants import Mutant, code_of, marked_codes, put_in
from tests.mutation.types import new_mistake

EXPLAINED = Path(__file__).with_name("equivalent.txt")
# A mutant that makes its tests so many times slower, or keeps them so many seconds, is noticed too.
SLOWER, LEAST_SECONDS = 10.0, 60.0
# The tests of the mutant's own room are run first, the cheapest first, until they cost so many seconds together.
ENOUGH = 60.0


class Trials:
    """A plugin of pytest: it tries the mutants with the tests collected, and remembers what became of each."""

    def __init__(self, root: Path, sources: Sequence[str], mutants: Sequence[Mutant], minutes: float) -> None:
        self.root, self.sources, self.mutants = root, sources, mutants
        self.until = time.monotonic() + 60.0 * minutes
        self.folder = root / ".cache" / "mutation"
        self.folder.mkdir(parents=True, exist_ok=True)
        kept = self.folder / "tried.json"
        self.tried: dict[str, str] = json.loads(kept.read_text("utf-8")) if kept.exists() else {}
        self.failed = ""

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Try every mutant that was not tried yet."""
        for file in self.sources:
            import_module(file.removesuffix(".py").replace("/", "."))
        self._items = {item.nodeid: item for item in session.items}
        callers, seconds = self._callers(session.items)
        for mutant in self.mutants:
            if time.monotonic() > self.until:
                break
            if mutant.id not in self.tried:
                self.tried[mutant.id] = self._try(mutant, callers.get(f"{mutant.file}:{mutant.function}", []), seconds)
                (self.folder / "tried.json").write_text(json.dumps(self.tried, indent=1, ensure_ascii=False), "utf-8")
                print(f"{self.tried[mutant.id]:.8s} {mutant.id}", flush=True)
        return True

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Note the test that failed."""
        self.failed = self.failed or (report.nodeid if report.failed else "")

    def _try(self, mutant: Mutant, callers: Sequence[str], seconds: dict[str, float]) -> str:
        """What became of a mutant: killed (by which test), survived, or not called by any test."""
        if mistake := new_mistake(self.root, mutant):
            return f"killed by types: {mistake}"
        room = f"tests/{mutant.file.split('/')[1]}/"
        of_file = defaultdict(list)
        for test in callers:
            of_file[test.split("::")[0]].append(test)
        cost_of = {file: sum(seconds[test] for test in tests) for file, tests in of_file.items()}
        costs = sorted((not file.startswith(room), cost, file) for file, cost in cost_of.items())
        chosen, spent = [], 0.0
        for _, cost, file in costs:
            if not chosen or spent + cost <= ENOUGH:
                chosen += [self._items[test] for test in of_file[file]]
                spent += cost
        if not chosen:
            return "survived: no test calls it"

        def told(say: Callable[[str], None]) -> None:
            if not put_in(code_of(self.root, mutant)):
                raise LookupError(mutant.function)
            _forget()
            self._run(chosen)
            say(self.failed)

        failed = in_a_child(told, chosen[0].config, SLOWER * spent + LEAST_SECONDS)
        if failed is None:
            return "killed by time"
        if failed.startswith("error: "):
            return failed
        return f"killed by {failed}" if failed else "survived"

    def _run(self, items: Sequence[pytest.Item]) -> None:
        for item, after in zip(items, [*items[1:], None], strict=True):
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=after)
            if self.failed:
                return

    def _callers(self, items: Sequence[pytest.Item]) -> tuple[dict[str, list[str]], dict[str, float]]:
        """The tests that call each function, and how long each test takes, from one run without a mistake.

        A test that fails in that run proves nothing: it is named and left out.
        """
        sources = "".join((self.root / file).read_text("utf-8") for file in self.sources)
        sources += "".join(item.nodeid for item in items)
        kept = self.folder / f"callers-{hashlib.sha256(sources.encode()).hexdigest()[:12]}.json"
        if not kept.exists():

            def told(say: Callable[[str], None]) -> None:
                called = Called()
                builtins.__called__ = called.note  # type: ignore[attr-defined]
                put_in(*(code for file in self.sources for code in marked_codes(self.root, file)))
                _forget()
                called.follow()
                items[0].config.pluginmanager.register(called)
                callers, seconds, failed = defaultdict(set), {}, []
                for item, after in zip(items, [*items[1:], None], strict=True):
                    called.begin(item)
                    begun = time.process_time()
                    item.config.hook.pytest_runtest_protocol(item=item, nextitem=after)
                    seconds[item.nodeid] = time.process_time() - begun
                    if self.failed:
                        failed.append(item.nodeid)
                        self.failed = ""
                        continue
                    for function in called.of_test():
                        callers[function].add(item.nodeid)
                say(json.dumps([{f: sorted(tests) for f, tests in callers.items()}, seconds, failed]))

            found = in_a_child(told, items[0].config, 7200.0)
            if found is None or found.startswith("error: ") or not json.loads(found)[0]:
                pytest.exit(f"the tests cannot be run without any mistake: {found}", 1)
            kept.write_text(found, "utf-8")
        callers, seconds, failed = json.loads(kept.read_text("utf-8"))
        for test in failed:
            print(f"left out, since it fails without any mistake: {test}")
            self._items.pop(test, None)
        return callers, seconds

    def told(self) -> int:
        """Print what survived and how many were killed; 1 if fewer than 85 of 100 of those that change anything."""
        explained = {line.split(" | ")[0] for line in EXPLAINED.read_text("utf-8").splitlines() if " | " in line}
        tried = [mutant for mutant in self.mutants if mutant.id in self.tried]
        killed = sum(self.tried[mutant.id].startswith("killed") for mutant in tried)
        survived = [mutant for mutant in tried if not self.tried[mutant.id].startswith("killed")]
        same = [mutant for mutant in survived if mutant.said in explained]
        for mutant in survived:
            print(f"{mutant.id}: {'changes nothing' if mutant in same else self.tried[mutant.id]}")
        print(f"{killed} of {len(tried)} killed; of {len(survived)} that survived {len(same)} change nothing")
        return int(killed < 0.85 * len(tried) or not tried)


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
        modules = [module for name, module in sys.modules.items() if name.startswith(("tests", "generator"))]
        known: dict[int, Callable[..., object]] = {}
        for module in modules:
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


def _of_arguments(_: object, *given: Hashable, **named: Hashable) -> Hashable:
    return given, *sorted(named.items())


def _of_name(_: object, __: object, name: str, ___: object) -> Hashable:
    return name


def _of_answer(answer: object, *_: object) -> Hashable:
    return id(answer)


def in_a_child(work: Callable[[Callable[[str], None]], None], config: pytest.Config, seconds: float) -> str | None:
    """What a forked process says, in a temporary folder and a group of its own; None if it takes longer than that."""
    folder = Path(tempfile.mkdtemp(prefix="mutation-"))
    answer = folder / "answer"
    child = os.fork()
    if not child:
        os.setsid()
        config.pluginmanager.unregister(name="terminalreporter")
        nothing = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(nothing, stream)
        config._tmp_path_factory._basetemp = folder  # type: ignore[attr-defined]
        try:
            work(lambda said: answer.write_text(said, "utf-8") and None)
        except BaseException as error:
            answer.write_text(f"error: {error!r}", "utf-8")
        finally:
            os._exit(0)
    until = time.monotonic() + seconds
    while not os.waitpid(child, os.WNOHANG)[0]:
        if time.monotonic() > until:
            os.killpg(child, signal.SIGKILL)
            os.waitpid(child, 0)
            break
        time.sleep(0.05)
    said = answer.read_text("utf-8") if answer.exists() else None
    shutil.rmtree(folder, ignore_errors=True)
    return said


def _forget() -> None:
    """Empty what functions remember: it was calculated without the mistake."""
    for each in gc.get_objects():
        if isinstance(each, functools._lru_cache_wrapper):
            each.cache_clear()
