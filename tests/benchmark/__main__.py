"""``python -m tests.benchmark``: what a build costs beside the plainest generator there can be, in the same run.

Numbers to read, never a test: seconds belong to the machine and the hour, ratios to the yardstick much less.
"""

import argparse
import json
import os
import platform
import resource
import subprocess
import sys
import tempfile
from collections.abc import Mapping
from datetime import date
from pathlib import Path

from tests.benchmark.live import save_to_reload
from tests.benchmark.processes import Cost, cost_of, median_of
from tests.benchmark.scenarios import SCENARIOS, Bench
from tests.conftest import AS_OF, ROOT
from tests.simulator.journal import simulate, write

NUMBERS = Path(__file__).with_name("numbers.json")
# Corals, entries, readings, systems and days of the simulated journals.
SIZES = {
    "small": (25, 100, 400, 2, 180),
    "half": (125, 500, 1900, 4, 456),
    "quarter": (250, 1000, 3750, 4, 912),
    "decade": (1000, 4000, 15000, 4, 3650),
}
FLOORS = {"start Python": "start", "stat and hash the files": "hash", "write the pages": "write", "yardstick": "plain"}
# Seconds on the clock that we mean to stay below.
TARGETS = {
    "decade": dict(zip(SCENARIOS, (11.0, 0.35, 0.6, 1.2, 1.2, None, 0.5), strict=True)),
    "demo": dict(zip(SCENARIOS, (3.0, 0.25, 0.35, 0.35, 0.35, None, None), strict=True)),
}
# From a save to the reloaded page.
LIVE = {"demo": 0.4, "decade": 0.8}
Numbers = dict[str, dict[str, list[float]]]


def main() -> None:
    """Measure the journals asked for; print a table; keep the numbers, or compare with those kept."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmark", description=__doc__)
    parser.add_argument("--journals", nargs="+", default=["demo", "quarter"], choices=["demo", *SIZES])
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--made", type=Path, default=Path(tempfile.gettempdir()) / "corallite-benchmark")
    parser.add_argument("--stages", action="store_true", help="also where a build's CPU goes")
    parser.add_argument("--live", action="store_true", help="only from a save to the reloaded page, with watch")
    parser.add_argument("--save", nargs="?", type=Path, const=NUMBERS, metavar="FILE", help="keep the numbers")
    parser.add_argument("--against", nargs="?", type=Path, const=NUMBERS, metavar="FILE", help="compare with kept ones")
    given = parser.parse_args()
    before: Numbers = json.loads(given.against.read_text("utf-8"))["journals"] if given.against else {}
    measured: Numbers = {}
    print(
        f"{date.today()}, {os.cpu_count()} cores, Python {platform.python_version()}, load {os.getloadavg()[0]:.1f}\n"
    )
    for name in given.journals:
        content = journal(name, given.made)
        if given.live:
            target = f" (target {LIVE[name]} s)" if name in LIVE else ""
            print(f"{name}, watch: from a save to the reloaded page, to Today, and to the whole site{target}")
            for what, page, today, whole in save_to_reload(content, AS_OF):
                print(
                    f"  {what}: {page:.2f} s, {'as before' if today is None else f'{today:.2f} s'}, {whole:.2f} s",
                    flush=True,
                )
            continue
        with tempfile.TemporaryDirectory() as folder:
            measured[name] = costs(content, Path(folder), given.rounds)
            print("\n".join(table(name, measured[name], before.get(name, {}))), "\n", flush=True)
            if given.stages:
                words = [sys.executable, "-m", "tests.benchmark.stages", str(content), f"{folder}/staged"]
                print(subprocess.run(words, cwd=ROOT, check=True, capture_output=True, text=True).stdout)
    print("\n".join(growth(measured)))
    if given.save:
        kept: Numbers = json.loads(given.save.read_text("utf-8"))["journals"] if given.save.exists() else {}
        told = {"date": f"{date.today()}", "cores": os.cpu_count(), "load": os.getloadavg()[0]}
        told["journals"] = {**kept, **measured}
        given.save.write_text(json.dumps(told, indent=1) + "\n", "utf-8")


def journal(name: str, made: Path) -> Path:
    """The folder of a journal; a simulated one is made once."""
    if name == "demo":
        return ROOT / "content"
    folder = made / f"{name}-{'-'.join(map(str, SIZES[name]))}"
    if not (folder / "journal.yaml").exists():
        corals, entries, readings, systems, days = SIZES[name]
        write(simulate(1, systems=systems, days=days, corals=corals, entries=entries, readings=readings), folder)
    return folder


def costs(content: Path, folder: Path, rounds: int) -> dict[str, list[float]]:
    """The cost of each scenario and of each floor, medians of some rounds of fresh processes."""
    bench = Bench(content, folder)
    floors = {what: [sys.executable, "-m", "tests.benchmark.floors", word] for what, word in FLOORS.items()}
    every: dict[str, list[Cost]] = {what: [] for what in (*SCENARIOS, *floors)}
    # Round by round, since the machine is another from minute to minute.
    for turn in range(rounds):
        for what, work in SCENARIOS.items():
            every[what].append(work(bench))
        for what, words in floors.items():
            source = bench.site if words[-1] == "write" else content
            every[what].append(cost_of([*words, str(source), str(folder / f"{words[-1]}-{turn}")], ROOT))
    return {what: [round(part, 3) for part in median_of(each)] for what, each in every.items()}


def table(name: str, costs: Mapping[str, list[float]], before: dict[str, list[float]]) -> list[str]:
    """The costs as a table in Markdown. Less memory than this process has is not seen: a new one starts with it."""
    least = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    yardstick = costs["yardstick"][0]
    then = " then, × |" if before else ""
    lines = [
        f"| {name} | s | s of CPU | MB | × yardstick | target, s |{then}",
        f"|---|--:|--:|--:|--:|--:|{'--:|' if then else ''}",
    ]
    for what, (wall, cpu, memory) in costs.items():
        target = TARGETS.get(name, {}).get(what)
        last = f" {wall / before[what][0]:.2f} |" if what in before else " |" if before else ""
        peak = f"{memory:.0f}" if memory > least else ""
        lines.append(f"| {what} | {wall:.2f} | {cpu:.2f} | {peak} | {wall / yardstick:.2f} | {target or ''} |{last}")
    return lines


def growth(measured: Numbers) -> list[str]:
    """How many times longer each scenario takes in twice the journal, from two sizes of one shape."""
    lines = []
    for small, large, doublings in (("half", "quarter", 1), ("quarter", "decade", 2)):
        if small in measured and large in measured:
            for what in SCENARIOS:
                times = (measured[large][what][1] / measured[small][what][1]) ** (1 / doublings)
                lines.append(f"twice the journal, {what}: × {times:.2f} of CPU ({small} to {large})")
    return lines


if __name__ == "__main__":
    main()
