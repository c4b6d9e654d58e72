"""A file's bytes, the same as text, and the two parts of a post, or why they cannot be read."""

import errno
import os
import re
import stat
from pathlib import Path
from typing import NamedTuple

from generator.records.source import Problem, Source

MAX_BYTES = 4_000_000
_CAREFUL = getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)


def read_bytes(path: Path, at_most: int = MAX_BYTES) -> bytes:
    """The bytes of a plain file, one more than `at_most` if it has more.

    Raises `OSError` for what is not a plain file: it may be replaced by a link, a pipe or a device at any moment.
    """
    with open(os.open(path, os.O_RDONLY | _CAREFUL), "rb") as file:
        if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
            raise OSError(errno.EINVAL, "it is not a plain file", str(path))
        return file.read(at_most + 1)


def read_text(folder: Path, file: str) -> tuple[str | None, list[Problem]]:
    """The text of a journal's file with plain line ends; a byte-order mark and CRLF are accepted."""
    try:
        raw = read_bytes(folder / file)
    except OSError as error:
        return None, [
            _problem(file, 1, "unreadable", f"the file cannot be read: {error.strerror}", "check its permissions")
        ]
    if len(raw) > MAX_BYTES:
        wrong = f"the file has more than {MAX_BYTES / 1e6:.0f} MB, too much for a journal's file"
        return None, [_problem(file, 1, "too-large", wrong, "split it")]
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        return None, [_problem(file, 1, "encoding", "the file is saved as UTF-16", "save it as UTF-8")]
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        return None, [_not_utf8(file, raw, error.start)]
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    return _without_conflicts(text, file) if "<<<<<<<" in text or ">>>>>>>" in text else (text, [])


_MERGE_MARK = re.compile(r"(<{7}|\|{7}|={7}|>{7})( .*)?")


def _without_conflicts(text: str, file: str) -> tuple[str, list[Problem]]:
    """The text with the first of each two versions that a merge left, on the same lines; a problem for each place."""
    kept: list[str] = []
    problems = []
    side = ""
    for number, line in enumerate(text.split("\n"), start=1):
        marked = _MERGE_MARK.fullmatch(line)
        mark = marked[1][0] if marked else ""
        if mark in ("<", ">") and not (mark == ">" and side):
            remedy = "keep one, and delete the lines <<<<<<<, ======= and >>>>>>>"
            problems.append(_problem(file, number, "merge", "a merge left two versions here", remedy, 1))
        of_merge = mark in ("<", ">") or (mark != "" and side != "")
        kept.append("" if of_merge or side in ("|", "=") else line)
        side = "" if mark == ">" else mark if of_merge else side
    return "\n".join(kept), problems


def _not_utf8(file: str, raw: bytes, start: int) -> Problem:
    line = raw.count(b"\n", 0, start) + 1
    byte = raw[start : start + 1]
    likely = byte.decode("cp1252", "replace")
    looks = f", it looks like '{likely}' in an old encoding" if likely.isprintable() and likely != "\ufffd" else ""
    return _problem(file, line, "encoding", f"the byte 0x{byte.hex()} is not UTF-8{looks}", "save the file as UTF-8")


def _problem(file: str, line: int, kind: str, wrong: str, remedy: str, column: int = 0) -> Problem:
    return Problem(Source(file, line, column), kind, wrong, remedy)


_FENCE = re.compile(r"---[ \t]*")


class Parts(NamedTuple):
    """The text of header and body. Each `..._line` is the line of the file on which it starts, from 1."""

    head: str
    head_line: int
    body: str
    body_line: int


def post_parts(text: str, file: str) -> tuple[Parts | None, list[Problem]]:
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
