"""``python -m tests.benchmark``: what a build costs, stage by stage, in seconds of CPU.

Numbers to read, never a test: absolute times belong to the machine they were taken on.
"""

import argparse
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import TypeVar

from tests.benchmark.live import save_to_reload
from tests.conftest import AS_OF, ROOT
from tests.simulator.journal import simulate, write

T = TypeVar("T")


def main() -> None:
    """The whole command on the demo and on a simulated journal, then each stage of both."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmark", description=__doc__)
    parser.add_argument("--days", type=int, default=1080)
    parser.add_argument("--systems", type=int, default=4)
    parser.add_argument("--corals", type=int, default=120)
    parser.add_argument("--entries", type=int, default=100)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        simulated = Path(folder) / "simulated"
        write(
            simulate(1, systems=given.systems, days=given.days, corals=given.corals, entries=given.entries), simulated
        )
        _say("corallite --help", _cpu_of(["--help"]))
        for name, content in (("demo", ROOT / "content"), ("simulated", simulated)):
            words = ["build", "--content", str(content), "--site", str(Path(folder) / f"{name}-site")]
            as_of = ["--as-of", AS_OF if name == "demo" else _last_day(content)]
            _say(f"{name}: first build", _cpu_of([*words, *as_of]))
            _say(f"{name}: second build", _cpu_of([*words, *as_of]))
            _say(f"{name}: save to reload", save_to_reload(content, as_of[1]), "s")
            _stages(name, content, date.fromisoformat(as_of[1]), Path(folder) / f"{name}-stages")


def _last_day(content: Path) -> str:
    from generator.read.load import load

    journal = load(content, date(2100, 1, 1)).journal
    assert journal is not None
    return max(reading.at for log in journal.logs.values() for reading in log.readings).date().isoformat()


def _cpu_of(words: list[str]) -> float:
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, "-m", "generator", *words], cwd=ROOT, check=True, capture_output=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def _stages(name: str, content: Path, day: date, site_folder: Path) -> None:
    def timed(stage: str, work: Callable[[], T]) -> T:
        started = time.process_time()
        result = work()
        _say(f"{name}: {stage}", time.process_time() - started)
        return result

    from generator.commands import build
    from generator.commands.papers import papers
    from generator.publish.photos import small_copies
    from generator.publish.stage import publish
    from generator.read.load import load
    from generator.records.past import as_it_stood, moment
    from generator.render.audience import view

    loaded = timed("read and check", lambda: load(content, day))
    assert loaded.journal is not None
    as_of = moment(day, loaded.journal.settings.time_zone)
    journal = as_it_stood(loaded.journal, as_of)
    seen = view(journal, "public")
    shown = timed("records of origin", lambda: papers(journal, seen, content, day))
    album = timed("photos", lambda: small_copies(content, seen.photos(), site_folder / "cache"))
    found = timed("reckon", lambda: build.reckoned(journal, as_of))
    site = timed("page models and charts", lambda: build.site_of(journal, seen, found, as_of, album, shown))
    files = timed("draw pages", lambda: build.drawn(site, album))
    timed("check links and write", lambda: publish(files, site_folder / "site"))
    _say(f"{name}: pages", len(site.pages), "")
    _say(f"{name}: bytes of HTML", sum(len(f) for n, f in files.items() if n.endswith(".html")) / 1e6, "MB")


def _say(what: str, number: float, unit: str = "s CPU") -> None:
    print(f"{what:40} {number:8.2f} {unit}".rstrip())


if __name__ == "__main__":
    main()
