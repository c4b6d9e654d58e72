"""``python -m tests.accuracy``: how near the answers are to known truth, and how often their intervals hold it.

Every number about accuracy in the documents comes from here; the seeds are free to choose.
"""

import argparse
import sys

from tests.accuracy.experiment import pooled, table
from tests.accuracy.experiments import EXPERIMENTS


def main(words: list[str] | None = None) -> int:
    """Run the experiments asked for and print their tables; 1 where a requirement is missed."""
    parser = argparse.ArgumentParser(prog="python -m tests.accuracy", description=__doc__)
    parser.add_argument("--seeds", type=int, nargs="+", default=[1], help="seeds of the random draws (default: 1)")
    parser.add_argument("--systems", type=int, default=200, help="systems or corals drawn for each row (default: 200)")
    parser.add_argument("--only", nargs="+", choices=sorted(EXPERIMENTS), help="run only these experiments")
    given = parser.parse_args(words)
    missed = 0
    for name, experiment in EXPERIMENTS.items():
        if given.only and name not in given.only:
            continue
        found = list(pooled([experiment(seed, given.systems) for seed in given.seeds]))
        missed += sum(not row.holds for row, _, _ in found)
        print("\n".join(table(name, found)), flush=True)
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
