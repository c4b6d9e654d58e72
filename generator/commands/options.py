"""What several commands have in common: their options, and how they print problems."""

import argparse
from collections.abc import Sequence
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from generator.records.problem import Problem


def add_content(parser: argparse.ArgumentParser) -> None:
    """`--content DIR`: the journal's folder."""
    parser.add_argument(
        "--content", type=Path, default=Path("content"), metavar="DIR", help="the journal (default: content)"
    )


def add_as_of(parser: argparse.ArgumentParser) -> None:
    """`--as-of DATE`: the day to take for today."""
    parser.add_argument("--as-of", type=day, metavar="DATE", help="take this day, such as 2026-03-02, for today")


def day(text: str) -> date:
    """A date on the command line."""
    try:
        return datetime.strptime(text, "%Y-%m-%d").date()
    except ValueError:
        raise argparse.ArgumentTypeError(f"'{text}' is not a date (write for example 2026-03-02)") from None


def print_problems(problems: Sequence["Problem"]) -> None:
    """Every problem, errors first, one a line; then how many there are."""
    warnings = [problem for problem in problems if problem.severity == "warning"]
    errors = [problem for problem in problems if problem.severity == "error"]
    for problem in (*errors, *warnings):
        print(problem)
    if problems:
        print(f"{counted(len(errors), 'error')}, {counted(len(warnings), 'warning')}")


def counted(number: int, word: str) -> str:
    """A number of things: `1 error`, `no warnings`."""
    return f"{number or 'no'} {word}{'' if number == 1 else 's'}"
