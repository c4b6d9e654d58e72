"""The command line's own words: every command with its options, its examples and its help."""

import argparse
import importlib
from collections.abc import Container

from generator import __version__
from generator.commands import COMMANDS

_EXIT_CODES = """exit codes: 0 done, 1 something is wrong in the files or the question fails, 2 wrong arguments,
3 something needs you (today --exit-code), 130 stopped by Ctrl-C"""


def parser_of(words: Container[str]) -> argparse.ArgumentParser:
    """The parser of a command line. Only the commands among the words get their options, so that help is instant."""
    made = argparse.ArgumentParser(
        prog="corallite",
        description="Make a website from a reef keeper's plain files. Messages are in English.",
        epilog=_EXIT_CODES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    made.add_argument("--version", action="version", version=f"corallite {__version__}")
    commands = made.add_subparsers(title="commands", metavar="COMMAND", required=True)
    for name, line in COMMANDS.items():
        command = commands.add_parser(name, help=line, description=f"{line[0].upper()}{line[1:]}.")
        if name in words:
            module = importlib.import_module(f"generator.commands.{name.replace('-', '_')}")
            module.arguments(command)
            command.add_argument("--quiet", action="store_true", help="print only what you ask for, and what is wrong")
            command.formatter_class = argparse.RawDescriptionHelpFormatter
            command.epilog = f"examples:\n{module.EXAMPLES}"
            command.set_defaults(run=module.run)
    return made
