"""``python -m tests.mutation``: do the tests notice a small mistake in a function that reads, calculates or exchanges?

So many mutants are drawn from all, the same for the same seed. Each is shown to the type checker; then a fresh process
makes the mistake and runs the tests of the quick round that call its function, the cheapest files first, until one
fails. What was tried stays in .cache/mutation/ and is not tried again; what survives is printed. equivalent.txt has
those that change nothing anyone could see, with why.
"""

import argparse
import hashlib
import os
import sys
from pathlib import Path

import pytest

from tests.mutation.mutants import Mutant, mutants_of
from tests.mutation.trial import Trials

ROOT = Path(__file__).parents[2]
ROOMS = ("reckon", "read", "exchange")


def sources() -> list[str]:
    """The files of the rooms."""
    paths = sorted(path for room in ROOMS for path in (ROOT / "generator" / room).rglob("*.py"))
    return [path.relative_to(ROOT).as_posix() for path in paths]


def drawn(seed: int, count: int) -> list[Mutant]:
    """So many of all mutants of the rooms. A change of one function leaves the draw of the others as it is."""
    every = [mutant for file in sources() for mutant in mutants_of(ROOT, file)]
    return sorted(every, key=lambda mutant: hashlib.sha256(f"{seed} {mutant.draw}".encode()).digest())[:count]


def main() -> int:
    """Try mutants and print how many the tests noticed; 1 if fewer than 85 of 100."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    parser.add_argument("--seed", type=int, default=1, help="seed of the draw (default: 1)")
    parser.add_argument("--mutants", type=int, default=150, help="how many to draw (default: 150)")
    parser.add_argument("--after", type=int, default=0, help="leave out so many of them, for another process")
    parser.add_argument("--enough", type=float, default=20.0, help="try tests of so many seconds (default: 20)")
    parser.add_argument("--minutes", type=float, default=120.0, help="begin no mutant after so long (default: 120)")
    parser.add_argument("--nice", type=int, default=15, help="leave the machine to others (default: 15)")
    given = parser.parse_args()
    os.nice(given.nice)
    mutants = drawn(given.seed, given.mutants)[given.after :]
    trials = Trials(ROOT, sources(), mutants, given.enough, given.minutes)
    whole = [str(ROOT / "tests"), "--ignore", str(ROOT / "tests" / "mutation")]
    pytest.main([*whole, "-q", "-n0", "-p", "no:cacheprovider", "-m", "not browser and not long"], plugins=[trials])
    return trials.told()


if __name__ == "__main__":
    sys.exit(main())
