"""Start: `python -m generator COMMAND …`, which is also the console script `corallite`."""

import gc
import os
import sys
from collections.abc import Sequence
from contextlib import suppress
from difflib import get_close_matches
from typing import NoReturn

from generator.commands import COMMANDS
from generator.commands.options import next_steps, no_journal, parser_of
from generator.commands.terminal import Stop, text_only

# What a shell makes of a program that Ctrl-C ended: 128 and the number of SIGINT.
STOPPED = 130


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code. Wrong arguments raise `SystemExit` 2, as argparse does."""
    words = sys.argv[1:] if argv is None else list(argv)
    if argv is None:
        # A command makes many records and little garbage; to look for it takes a quarter of the time.
        gc.disable()
    # A file name or a keeper's text may have letters that this terminal cannot show.
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    with text_only(sys.stdout, sys.stderr):
        code = _run(words)
    if argv is None:
        _leave(code)
    return code


def _leave(code: int) -> NoReturn:
    """End the process at once: to take apart all that it holds, object by object, takes a fifth of a small build."""
    with suppress(OSError, ValueError):  # the reader of what was said may be gone
        for stream in (sys.stdout, sys.stderr):
            stream.flush()
    os._exit(code)


def _run(words: Sequence[str]) -> int:
    try:
        code = _done(words)
        sys.stdout.flush()
    except Stop as stop:
        for line in stop.args:
            print(line, file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print(file=sys.stderr)
        return STOPPED
    except BrokenPipeError:  # the reader closed the pipe; the interpreter must not flush again
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    except OSError as error:  # of a path that no system can have, or a disk that fails
        print(f"{error.filename or 'the disk'}: {error.strerror} (check the path and the disk)", file=sys.stderr)
        return 1
    return code


def _done(words: Sequence[str]) -> int:
    """Do what a command line asks; without any words, say what to do next. Raises what `_run` tells in a line."""
    if not words:
        print(*next_steps(), sep="\n")
        return 0
    parser = parser_of(words)
    if (typed := words[0]) not in COMMANDS and not typed.startswith("-"):
        close = get_close_matches(typed, COMMANDS, n=1)
        remedy = f"did you mean {close[0]}?" if close else "corallite --help lists them"
        parser.exit(2, f"there is no command '{typed}' ({remedy})\n")
    if empty := [word for word in words if word.startswith("--") and word.endswith("=--")]:
        parser.error(f"'{empty[0]}' has no value")  # of '--' argparse leaves none before Python 3.13
    args = parser.parse_args(words)
    if wrong := no_journal(args, words[0]):
        raise Stop(wrong)
    return int(args.run(args))


if __name__ == "__main__":
    sys.exit(main())
