"""What goes to a terminal: text only, and what a command is doing, for someone who waits.

A name or a text from elsewhere may hold signs that would steer a terminal. What is being done is one line on stderr,
which goes before anything else is said, so that what a command prints can be taken by a file or another program.
"""

import argparse
import json
import os
import re
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from typing import Any, TextIO, cast

# Control characters but tab and line feed, separators of lines, and those that turn the direction of text
# (Unicode 16, chapters 23.1 and 23.2, from memory). The terminal acts on them, or shows a text as another.
_STEERING = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2028\u2029\u2066-\u2069]")


@contextmanager
def text_only(out: TextIO, err: TextIO) -> Iterator[None]:
    """Within it, all that is printed is text; `steered` streams are for a command's own colours."""
    with redirect_stdout(cast(TextIO, _TextOnly(out))), redirect_stderr(cast(TextIO, _TextOnly(err))):
        yield


def shown(text: str) -> str:
    """Text with escapes, as JSON writes them, in place of signs that steer a terminal."""
    return _STEERING.sub(lambda sign: json.dumps(sign[0])[1:-1], text)


def steered(stream: TextIO) -> TextIO:
    """The stream behind one that takes text only."""
    return stream.behind if isinstance(stream, _TextOnly) else stream


class _TextOnly:
    def __init__(self, behind: TextIO) -> None:
        self.behind = behind

    def write(self, text: str) -> int:
        return self.behind.write(shown(text))

    def __getattr__(self, name: str) -> Any:
        return getattr(self.behind, name)


@contextmanager
def doing(args: argparse.Namespace, what: str) -> Iterator[Callable[[str], None]]:
    """Say what is done until the block ends: `with doing(args, "reading the journal"):`.

    Gives what says a part of it in between, and "" when that part is done.
    """
    width = 0

    def tell(part: str) -> None:
        nonlocal width
        width = max(width, _shown_over(args, f"{part or what} …", width))

    tell("")
    try:
        yield tell
    finally:
        _clear(width)


def print_done(args: argparse.Namespace, *lines: str) -> None:
    """Print what was done, unless nobody wants to know; what would be done is what `--try` asks for."""
    if not args.quiet or getattr(args, "only_try", False):
        for line in lines:
            print(line)


def _shown_over(args: argparse.Namespace, line: str, over: int = 0) -> int:
    """Write a line over one of a length; how long it is, 0 if nobody is to see it."""
    if getattr(args, "quiet", False) or not sys.stderr.isatty() or os.environ.get("TERM") == "dumb":
        return 0
    _write_over(f"\r{shown(line):<{over}}")
    return len(line)


def _clear(length: int) -> None:
    if length:
        _write_over(f"\r{'':<{length}}\r")


def _write_over(text: str) -> None:
    stream = steered(sys.stderr)
    stream.write(text)
    stream.flush()
