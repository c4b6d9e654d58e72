"""What goes to a terminal: text only. A name or a text from elsewhere may hold signs that would steer it."""

import json
import re
from collections.abc import Iterator
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
