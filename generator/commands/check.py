"""`corallite check`: list every mistake in a journal's files, and write nothing."""

import argparse
from typing import TYPE_CHECKING

from generator.commands import remembering
from generator.commands.judging import judged
from generator.commands.options import add_as_of, add_content, cache
from generator.commands.reporting import counted, print_problems, sarif
from generator.commands.terminal import doing

if TYPE_CHECKING:
    from generator.door.door import Door
    from generator.records.journal import Journal
    from generator.records.source import Problem

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

    def counted_and_judged(door: "Door") -> tuple[list[tuple[int, str]], "list[Problem]"]:
        loaded = load(args.content, args.as_of or remembering.clock(), door=door)
        problems = judged(loaded, args.content, cache(), door)
        return [] if problems or loaded.journal is None else _things(loaded.journal), problems

    with doing(args, "reading the journal"):
        file = remembering.file_of("check", args.content.resolve())
        things, problems = remembering.with_memory(file, counted_and_judged)
    if args.json:
        print(sarif(problems, args.content))
    else:
        print_problems(problems, args.content)
    if problems and (args.strict or any(problem.severity == "error" for problem in problems)):
        return 1
    if things and not args.json and not args.quiet:
        print(f"no mistakes: {', '.join(counted(number, word) for number, word in things)}")
    return 0


def _things(journal: "Journal") -> list[tuple[int, str]]:
    readings = sum(len(log.readings) for log in journal.logs.values())
    return [(len(journal.systems), "system"), (len(journal.corals), "coral"), (readings, "reading")]
