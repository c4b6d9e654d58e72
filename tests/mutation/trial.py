"""The trial of mutants: one collection of tests, and a fresh process for each mutant."""

import builtins
import functools
import hashlib
import json
import os
import shutil
import signal
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable, Sequence
from importlib import import_module
from pathlib import Path

import pytest

from tests.mutation.called import Called, ours
from tests.mutation.mutants import Mutant, code_of, functions_of, marked_codes, put_in
from tests.mutation.types import new_mistake

EXPLAINED = Path(__file__).with_name("equivalent.txt")
# A mutant that makes its tests so many times slower, or keeps them so many seconds, is noticed too.
SLOWER, LEAST_SECONDS = 10.0, 60.0
# What a test calls: how many seconds it takes, and the functions; None if it fails.
Calls = tuple[float, list[str]] | None


class Trials:
    """A plugin of pytest: it tries the mutants with the tests collected, and remembers what became of each."""

    def __init__(
        self, root: Path, sources: Sequence[str], mutants: Sequence[Mutant], enough: float, minutes: float
    ) -> None:
        self.root, self.sources, self.mutants, self.enough = root, sources, mutants, enough
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
        self._functions = functions_of({str(self.root / file) for file in self.sources})
        self._items = {item.nodeid: item for item in session.items}
        self._read_callers()
        for mutant in self.mutants:
            if time.monotonic() > self.until:
                break
            if mutant.id not in self.tried:
                self.tried[mutant.id] = self._try(mutant)
                (self.folder / "tried.json").write_text(json.dumps(self.tried, indent=1, ensure_ascii=False), "utf-8")
                print(f"{self.tried[mutant.id]:.8s} {mutant.id}", flush=True)
        return True

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Note the test that failed."""
        self.failed = self.failed or (report.nodeid if report.failed else "")

    def _try(self, mutant: Mutant) -> str:
        """What became of a mutant: killed (by which test), survived, or not called by any test.

        The tests of its own room are run first, the cheapest first, until they take `enough` seconds together.
        """
        if mistake := new_mistake(self.root, mutant):
            return f"killed by types: {mistake}"
        room = f"tests/{mutant.file.split('/')[1]}/"
        of_file = defaultdict(list)
        for test in self._callers.get(f"{mutant.file}:{mutant.function}", []):
            of_file[test.split("::")[0]].append(test)
        cost_of = {file: sum(self._seconds[test] for test in tests) for file, tests in of_file.items()}
        costs = sorted((not file.startswith(room), cost, file) for file, cost in cost_of.items())
        chosen, spent = [], 0.0
        for _, cost, file in costs:
            if not chosen or spent + cost <= self.enough:
                chosen += [self._items[test] for test in of_file[file]]
                spent += cost
        if not chosen:
            return "survived: no test calls it"

        def told(say: Callable[[str], None]) -> None:
            if not put_in(self._functions, code_of(self.root, mutant)):
                raise LookupError(mutant.function)
            self._forget()
            self._run(chosen)
            say(self.failed)

        failed = in_a_child(told, chosen[0].config, SLOWER * spent + LEAST_SECONDS)
        if failed is None:
            return "killed by time"
        if failed.startswith("error: "):
            return failed
        return f"killed by {failed}" if failed else "survived"

    @staticmethod
    def _forget() -> None:
        """Empty what functions remember: it was calculated without the mistake."""
        for module in ours():
            for each in vars(module).values():
                if isinstance(each, functools._lru_cache_wrapper):
                    each.cache_clear()

    def _run(self, items: Sequence[pytest.Item]) -> None:
        for item, after in zip(items, [*items[1:], None], strict=True):
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=after)
            if self.failed:
                return

    def _read_callers(self) -> None:
        """The tests that call each function, and how long each takes, from a run without any mistake.

        What a file of tests calls is kept as long as its text and its tests are the same. A test that fails in that
        run proves nothing: it is named and left out.
        """
        kept = self.folder / "calls.json"
        known: dict[str, tuple[str, dict[str, Calls]]] = json.loads(kept.read_text("utf-8")) if kept.exists() else {}
        of_file: dict[str, list[pytest.Item]] = defaultdict(list)
        for item in self._items.values():
            of_file[item.nodeid.split("::")[0]].append(item)
        same = {file: "".join(item.nodeid for item in items) for file, items in of_file.items()}
        texts = {file: (self.root / file).read_text("utf-8") + same[file] for file in of_file}
        digests = {file: hashlib.sha256(text.encode()).hexdigest() for file, text in texts.items()}
        known = {file: of for file, of in known.items() if of[0] == digests.get(file)}
        if new := [item for file, items in of_file.items() if file not in known for item in items]:

            def told(say: Callable[[str], None]) -> None:
                put_in(self._functions, *(code for file in self.sources for code in marked_codes(self.root, file)))
                self._forget()
                say(json.dumps(self._calls(new)))

            found = in_a_child(told, new[0].config, 7200.0)
            if found is None or found.startswith("error: "):
                pytest.exit(f"the tests cannot be run without any mistake: {found}", 1)
            for test, calls in json.loads(found).items():
                file = test.split("::")[0]
                known.setdefault(file, (digests[file], {}))[1][test] = calls
            kept.write_text(json.dumps(known), "utf-8")
        self._callers: dict[str, list[str]] = defaultdict(list)
        self._seconds: dict[str, float] = {}
        for test, calls in ((test, calls) for _, tests in known.values() for test, calls in tests.items()):
            if calls is None:
                print(f"left out, since it fails without any mistake: {test}")
                continue
            self._seconds[test], functions = calls
            for function in functions:
                self._callers[function].append(test)

    def _calls(self, items: Sequence[pytest.Item]) -> dict[str, Calls]:
        called, calls = Called(), {}
        builtins.__called__ = called.note  # type: ignore[attr-defined]
        called.follow()
        items[0].config.pluginmanager.register(called)
        for item, after in zip(items, [*items[1:], None], strict=True):
            called.begin(item)
            begun, self.failed = time.process_time(), ""
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=after)
            spent = time.process_time() - begun
            calls[item.nodeid] = None if self.failed else (spent, sorted(called.of_test()))
        return calls

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
