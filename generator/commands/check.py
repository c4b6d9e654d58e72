"""`corallite check`: list every mistake in a journal's files, and write nothing."""

import argparse
from datetime import UTC, datetime

from generator.commands.judging import judged
from generator.commands.options import add_as_of, add_content, cache, counted, print_problems


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    add_content(parser)
    add_as_of(parser)
    parser.add_argument("--strict", action="store_true", help="count warnings as errors")


def run(args: argparse.Namespace) -> int:
    """Print every problem; 1 if there is an error, or with --strict a warning."""
    from generator.read.load import load

    loaded = load(args.content, args.as_of or datetime.now(UTC))
    problems = judged(loaded, args.content, cache())
    print_problems(problems)
    if problems and (args.strict or any(problem.severity == "error" for problem in problems)):
        return 1
    if loaded.journal and not problems:
        journal = loaded.journal
        readings = sum(len(log.readings) for log in journal.logs.values())
        things = ((len(journal.systems), "system"), (len(journal.corals), "coral"), (readings, "reading"))
        print(f"no mistakes: {', '.join(counted(number, word) for number, word in things)}")
    return 0
