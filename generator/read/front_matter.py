"""A Markdown file's header (YAML between two lines `---`) and its text, with the line on which each starts."""

import re
from typing import NamedTuple

from generator.records.problem import Problem
from generator.records.source import Source

_FENCE = re.compile(r"---[ \t]*")


class Parts(NamedTuple):
    """The text of header and body. Each `..._line` is the line of the file on which it starts, from 1."""

    head: str
    head_line: int
    body: str
    body_line: int


def split(text: str, file: str) -> tuple[Parts | None, list[Problem]]:
    """A post's header and body, or what is wrong with the lines `---`."""
    lines = text.split("\n")
    if not text.strip():
        return None, [Problem(Source(file, 1, 0), "empty-file", "the file is empty", "fill it in, or delete it")]
    if not _FENCE.fullmatch(lines[0]):
        wrong, remedy = (
            "the post does not start with its header",
            "start with the lines '---', 'title: …', 'at: …', '---'",
        )
        return None, [Problem(Source(file), "front-matter", wrong, remedy)]
    for number, line in enumerate(lines[1:], start=1):
        if _FENCE.fullmatch(line) and not "".join(lines[1:number]).strip():
            return None, [
                Problem(Source(file), "front-matter", "the post's header is empty", "add 'title: …' and 'at: …'")
            ]
        if _FENCE.fullmatch(line):
            return Parts("\n".join(lines[1:number]) + "\n", 2, "\n".join(lines[number + 1 :]), number + 2), []
    return None, [Problem(Source(file), "front-matter", "the header has no end", "write '---' on the line after it")]
