"""A file's bytes as text, or why they cannot be read as text."""

from pathlib import Path

from generator.records.problem import Problem
from generator.records.source import Source

MAX_BYTES = 4_000_000


def read_text(folder: Path, file: str) -> tuple[str | None, list[Problem]]:
    """The text of a journal's file with plain line ends; a byte-order mark and CRLF are accepted."""
    try:
        path = folder / file
        size = path.stat().st_size
        raw = path.read_bytes() if size <= MAX_BYTES else b""
    except OSError as error:
        return None, [
            _problem(file, 1, "unreadable", f"the file cannot be read: {error.strerror}", "check its permissions")
        ]
    if size > MAX_BYTES:
        wrong = f"the file has {size / 1e6:.1f} MB, too much for a journal's file"
        return None, [_problem(file, 1, "too-large", wrong, f"split it: {MAX_BYTES / 1e6:.0f} MB at most")]
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        return None, [_problem(file, 1, "encoding", "the file is saved as UTF-16", "save it as UTF-8")]
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        return None, [_not_utf8(file, raw, error.start)]
    return text.replace("\r\n", "\n").replace("\r", "\n"), []


def _not_utf8(file: str, raw: bytes, start: int) -> Problem:
    line = raw.count(b"\n", 0, start) + 1
    byte = raw[start : start + 1]
    likely = byte.decode("cp1252", "replace")
    looks = f", it looks like '{likely}' in an old encoding" if likely.isprintable() and likely != "\ufffd" else ""
    return _problem(file, line, "encoding", f"the byte 0x{byte.hex()} is not UTF-8{looks}", "save the file as UTF-8")


def _problem(file: str, line: int, kind: str, wrong: str, remedy: str) -> Problem:
    return Problem(Source(file, line, 0), kind, wrong, remedy)
