"""A folder of files as one text: `--- path` begins a file; marks in brackets say how its bytes are made.

    --- logs/reef/2026-03.yaml [crlf bom]
    - at: 2026-03-02 08:10

Marks: `crlf`, `bom`, `escapes` (\\t, \\x00 … are taken for what they name), `latin-1`, `utf-16`,
`gone` (no such file, where another text made it), `link` (a symbolic link to the path in the text),
`folder` (an empty folder).
"""

import re
from pathlib import Path

_HEAD = re.compile(r"--- (\S.*?)(?: \[([a-z0-9 -]+)\])?$")


def sections(text: str) -> dict[str, tuple[str, frozenset[str]]]:
    """Every file's text and marks, by path."""
    found: dict[str, tuple[list[str], frozenset[str]]] = {}
    lines: list[str] = []
    for line in text.splitlines():
        head = _HEAD.fullmatch(line)
        if head:
            lines = []
            found[head[1]] = lines, frozenset((head[2] or "").split())
        else:
            lines.append(line)
    return {path: ("".join(f"{line}\n" for line in lines), marks) for path, (lines, marks) in found.items()}


def write_archive(text: str, folder: Path) -> Path:
    """Write the files of an archive below a folder, over what is there."""
    for name, (body, marks) in sections(text).items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        if marks & {"gone", "folder", "link"}:
            path.unlink(missing_ok=True)
        if "gone" in marks:
            continue
        if "link" in marks:
            path.symlink_to(body.strip())
        elif "folder" in marks:
            path.mkdir()
        else:
            path.write_bytes(_bytes(body, marks))
    return folder


def _bytes(body: str, marks: frozenset[str]) -> bytes:
    if "escapes" in marks:
        body = re.sub(r"\\(t|x[0-9a-f]{2}|u[0-9a-f]{4})", lambda m: m[0].encode().decode("unicode_escape"), body)
    if "crlf" in marks:
        body = body.replace("\n", "\r\n")
    encoding = next((mark for mark in ("latin-1", "utf-16") if mark in marks), "utf-8")
    return body.encode("utf-8-sig" if "bom" in marks else encoding)
