"""`corallite check`: list every mistake in a journal's files, and write nothing."""

import argparse
from datetime import UTC, datetime

from generator.commands.judging import judged
from generator.commands.options import add_as_of, add_content, cache
from generator.commands.reporting import counted, print_problems, sarif
from generator.commands.terminal import doing

EXAMPLES = """\
  corallite check                             every mistake and every doubt
  corallite check --strict --quiet            nothing if all is well, exit code 1 if not
  corallite check --json                      for editors and forges"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    add_content(parser)
    add_as_of(parser)
    parser.add_argument("--strict", action="store_true", help="count warnings as errors")
    parser.add_argument("--json", action="store_true", help="print SARIF 2.1.0, which editors and forges can show")


def run(args: argparse.Namespace) -> int:
    """Print every problem; 1 if there is an error, or with --strict a warning."""
    from generator.read.load import load

    with doing(args, "reading the journal"):
        loaded = load(args.content, args.as_of or datetime.now(UTC))
        problems = judged(loaded, args.content, cache())
    if args.json:
        print(sarif(problems, args.content))
    else:
        print_problems(problems, args.content)
    if problems and (args.strict or any(problem.severity == "error" for problem in problems)):
        return 1
    if loaded.journal and not problems and not args.json and not args.quiet:
        journal = loaded.journal
        readings = sum(len(log.readings) for log in journal.logs.values())
        things = ((len(journal.systems), "system"), (len(journal.corals), "coral"), (readings, "reading"))
        print(f"no mistakes: {', '.join(counted(number, word) for number, word in things)}")
    return 0
