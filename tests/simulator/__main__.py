"""``python -m tests.simulator OUT --seed N …``: write a simulated journal, for benchmarks."""

import argparse
from pathlib import Path

from tests.simulator.journal import simulate, write


def main() -> None:
    """Read the sizes, write the journal, say what was written."""
    parser = argparse.ArgumentParser(prog="python -m tests.simulator", description=__doc__)
    parser.add_argument("out", type=Path)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--systems", type=int, default=3)
    parser.add_argument("--days", type=int, default=540)
    parser.add_argument("--corals", type=int, default=45)
    parser.add_argument("--entries", type=int, default=25)
    parser.add_argument("--readings", type=int, help="about how many single readings in all")
    given = parser.parse_args()
    simulated = simulate(
        given.seed,
        systems=given.systems,
        days=given.days,
        corals=given.corals,
        entries=given.entries,
        readings=given.readings,
    )
    write(simulated, given.out)
    print(f"{len(simulated.files)} files in {given.out}")


if __name__ == "__main__":
    main()
