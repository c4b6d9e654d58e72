"""What a command is doing, for someone who waits at a terminal: one line, which goes before anything else is said.

It is on stderr, so that what a command prints can be taken by a file or another program.
"""

import argparse
import os
import sys
import time
from collections.abc import Collection, Iterator
from contextlib import contextmanager
from typing import TypeVar

from generator.commands.terminal import shown, steered

T = TypeVar("T")
# A count is shown this often, seconds.
_EACH = 0.1


@contextmanager
def doing(args: argparse.Namespace, what: str) -> Iterator[None]:
    """Say what is done until the block ends: `with doing(args, "reading the journal"):`."""
    width = _shown(args, f"{what} …")
    try:
        yield
    finally:
        _clear(width)


def each(args: argparse.Namespace, what: str, things: Collection[T]) -> Iterator[T]:
    """The things one after the other; while they are taken, say at which of how many one is."""
    width, at = 0, 0.0
    try:
        for number, thing in enumerate(things, 1):
            if time.monotonic() - at >= _EACH:
                width = max(width, _shown(args, f"{what} {number} of {len(things)}", width))
                at = time.monotonic()
            yield thing
    finally:
        _clear(width)


def say(args: argparse.Namespace, *lines: str) -> None:
    """Print what was done, unless nobody wants to know; what would be done is what `--try` asks for."""
    if not args.quiet or getattr(args, "only_try", False):
        for line in lines:
            print(line)


def _shown(args: argparse.Namespace, line: str, over: int = 0) -> int:
    """Write a line over one of a length; how long it is, 0 if nobody is to see it."""
    if getattr(args, "quiet", False) or not sys.stderr.isatty() or os.environ.get("TERM") == "dumb":
        return 0
    _write(f"\r{shown(line):<{over}}")
    return len(line)


def _clear(length: int) -> None:
    if length:
        _write(f"\r{'':<{length}}\r")


def _write(text: str) -> None:
    stream = steered(sys.stderr)
    stream.write(text)
    stream.flush()
