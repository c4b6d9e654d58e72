"""Which files of a folder belong to a journal, and what is wrong with the others; a file's bytes, and its text."""

import errno
import os
import re
import stat
import unicodedata
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

from msgspec import Struct, field

from generator.read.messages import did_you_mean
from generator.records.fields import is_id
from generator.records.source import Problem, Source
from generator.units.quantity import Seconds

MAX_BYTES = 4_000_000
_CAREFUL = getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)


def read_bytes(path: Path | str, at_most: int = MAX_BYTES) -> bytes:
    """The bytes of a plain file, one more than `at_most` if it has more.

    Raises `OSError` for what is not a plain file: it may be replaced by a link, a pipe or a device at any moment.
    """
    descriptor = os.open(path, os.O_RDONLY | _CAREFUL)
    status = os.fstat(descriptor)
    if not stat.S_ISREG(status.st_mode):
        os.close(descriptor)
        raise OSError(errno.EINVAL, "it is not a plain file", str(path))
    with open(descriptor, "rb") as file:
        return file.read(min(at_most, status.st_size) + 1)


def read_text(folder: Path, file: str) -> tuple[str | None, list[Problem]]:
    """The text of a journal's file with plain line ends; a byte-order mark and CRLF are accepted."""
    try:
        raw = read_bytes(os.path.join(folder, file))
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


class HeadAndBody(NamedTuple):
    """The text of header and body. Each `..._line` is the line of the file on which it starts, from 1."""

    head: str
    head_line: int
    body: str
    body_line: int


def post_parts(text: str, file: str) -> tuple[HeadAndBody | None, list[Problem]]:
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
        if not _FENCE.fullmatch(line):
            continue
        if not "".join(lines[1:number]).strip():
            return None, [
                Problem(Source(file), "front-matter", "the post's header is empty", "add 'title: …' and 'at: …'")
            ]
        return HeadAndBody("\n".join(lines[1:number]) + "\n", 2, "\n".join(lines[number + 1 :]), number + 2), []
    return None, [Problem(Source(file), "front-matter", "the header has no end", "write '---' on the line after it")]


# Folder of records -> the endings its files may have.
FOLDERS: dict[str, tuple[str, ...]] = {
    "systems": (".yaml",),
    "corals": (".yaml", ".md"),
    "trades": (".yaml",),
    "plans": (".yaml",),
    "partners": (".yaml",),
    "entries": (".md",),
}
_TREES = ("photos", "received")
_KNOWN = ("journal.yaml", "logs", *FOLDERS, *_TREES)
_DATED = ("trades", "entries")
_KEY_NAMES = re.compile(r"id_(rsa|dsa|ecdsa|ed25519)(_sk)?|.*\.(pem|p12|pfx|ppk)|.*(?<!\.pub)\.key", re.IGNORECASE)
_KEY_HEAD = re.compile(rb"-----BEGIN [A-Z ]*PRIVATE KEY-----|PuTTY-User-Key-File")
_WINDOWS_DEVICES = re.compile(r"(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?", re.IGNORECASE)
_UNSAFE = re.compile(r'[<>:"|?*\\\x00-\x1f\x7f-\x9f\ud800-\udfff]|[. ]$')
_TOO_DEEP = 12
# The marker of a folder that `build` made: a site in the journal's folder is not part of the journal.
SITE = ".corallite-site"


class Found(Struct):
    """A journal's files, relative to its folder and in order, by kind; and what is wrong with the rest.

    `marks` has for each file what the disk notes of it: it changes when the file does.
    """

    settings: str | None = None
    records: dict[str, list[str]] = field(default_factory=lambda: {folder: [] for folder in FOLDERS})
    logs: dict[str, list[str]] = field(default_factory=dict)
    photos: list[str] = field(default_factory=list)
    received: list[str] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    marks: dict[str, bytes] = field(default_factory=dict)

    def say(self, file: str, kind: str, wrong: str, remedy: str) -> None:
        """Note an error about a file as a whole."""
        self.problems.append(Problem(Source(printable(file), 1, 0), kind, wrong, remedy))

    def warn(self, file: str, kind: str, wrong: str, remedy: str) -> None:
        """Note a doubt about a file as a whole."""
        self.problems.append(Problem(Source(printable(file), 1, 0), kind, wrong, remedy, severity="warning"))


def printable(text: str) -> str:
    """Text that can be printed in one line on any terminal: odd characters as escapes."""
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in text)


def discover(folder: Path, was: Callable[[str, str], bytes | None] = lambda *_: None) -> Found:
    """The files of the journal in a folder. Follows no links.

    Reads the start of each file, to find private keys, but of those that are as they `was` ("file", path) before.
    """
    found = Found()
    if not os.path.isdir(folder):
        found.say(
            "journal.yaml",
            "no-journal",
            f"there is no folder '{printable(str(folder))}'",
            "give the journal's folder with --content",
        )
        return found
    if not os.path.lexists(folder / "journal.yaml"):
        found.say(
            "journal.yaml", "no-journal", "the file is missing", "make it, or give the journal's folder with --content"
        )
        return found
    for file in _files(folder, "", found, was):
        sort_in(file, found)
    return found


def _files(folder: Path, inside: str, found: Found, was: Callable[[str, str], bytes | None]) -> Iterator[str]:
    """Every plain file below a folder, with `/` between parts; links and odd names are reported."""
    try:
        items = sorted(os.scandir(folder / inside), key=lambda item: item.name)
    except OSError as error:
        found.say(inside, "unreadable", f"the folder cannot be opened: {error.strerror}", "check its permissions")
        return
    folded: dict[str, str] = {}
    for item in items:
        name = f"{inside}/{item.name}" if inside else item.name
        hidden = any(part.startswith(".") for part in name.split("/"))
        try:
            if item.is_symlink():
                if not item.name.startswith("."):
                    wrong = "this is a symbolic link; Corallite does not follow links"
                    found.say(name, "link", wrong, "put the file itself here")
            elif item.is_dir(follow_symlinks=False):
                if item.name.endswith((".yaml", ".md")):
                    found.say(name, "folder", "this is a folder, but should be a file", "put the file itself here")
                elif item.name != ".git" and name.count("/") < _TOO_DEEP and not os.path.lexists(folder / name / SITE):
                    yield from _files(folder, name, found, was)
            elif not stat.S_ISREG((status := item.stat(follow_symlinks=False)).st_mode):
                found.say(name, "link", "this is not a plain file", "remove it from the journal")
            elif was("file", name) != (mark := _mark(status)) and _holds_a_key(folder / name):
                remedy = "move it out of the journal; if anyone else has this folder, make a new key"
                found.say(name, "private-key", "this is a private key", remedy)
            elif not hidden and _sound_name(name, folded, found):
                found.marks[name] = mark
                yield name
        except OSError as error:
            # What has vanished since the folder was listed does not belong to the journal.
            if not hidden and not isinstance(error, FileNotFoundError):
                _unreadable(name, error, folded, found)


def _mark(status: os.stat_result) -> bytes:
    return repr((status.st_size, status.st_mtime_ns, status.st_ctime_ns, status.st_ino)).encode()


def written_at(mark: bytes) -> Seconds:
    """When a file was written, by its mark, in seconds. One that is written after its mark was taken gets another."""
    return int(mark.split(b",")[1]) / 1e9


def _holds_a_key(path: Path) -> bool:
    if _KEY_NAMES.fullmatch(path.name):
        return True
    return _KEY_HEAD.match(read_bytes(path, 120).lstrip(b"\xef\xbb\xbf\r\n\t ")) is not None


def _unreadable(name: str, error: OSError, folded: dict[str, str], found: Found) -> None:
    if name.startswith("photos/"):  # only a photo that is shown is opened, and reported then
        if _sound_name(name, folded, found):
            found.photos.append(name)
    else:
        found.say(name, "unreadable", f"the file cannot be read: {error.strerror}", "check its permissions")


def _sound_name(name: str, folded: dict[str, str], found: Found) -> bool:
    last = name.rpartition("/")[2]
    if _UNSAFE.search(last) or _WINDOWS_DEVICES.fullmatch(last):
        found.say(
            name, "file-name", "the file's name cannot be used on every computer", "use letters, digits and hyphens"
        )
        return False
    other = folded.setdefault(unicodedata.normalize("NFC", last).casefold(), last)
    if other != last:
        found.say(
            name,
            "file-name",
            f"the name is the same as '{printable(other)}' on some computers",
            "rename one of the two",
        )
    return True


def sort_in(file: str, found: Found) -> None:
    """Put a file where it belongs by its name, or say what is wrong with that."""
    top, _, rest = file.partition("/")
    stem, dot, ending = rest.rpartition("/")[2].rpartition(".")
    if file == "journal.yaml":
        found.settings = file
    elif top == "logs" and rest:
        _sort_log(file, rest, found)
    elif top in _TREES and rest:
        (found.photos if top == "photos" else found.received).append(file)
    elif not rest and top in _KNOWN:
        found.say(file, "folder", "this is a file, but should be a folder", f"make a folder {top} for its files")
    elif top not in FOLDERS:
        hint = did_you_mean(top, _KNOWN, "Corallite does not read it; remove it")
        found.warn(file, "stranger", "this file does not belong in a journal", hint)
    elif "/" in rest:
        found.warn(file, "stranger", f"Corallite does not read folders in {top}/", f"move the file to {top}/")
    elif dot + ending not in FOLDERS[top]:
        _wrong_ending(file, f"{top}/{stem}", dot + ending, FOLDERS[top], found)
    elif not is_id(stem):
        found.say(file, "file-name", f"'{stem}' is not an id", f"rename the file to {_as_id(stem)}.{ending}")
    elif top in _DATED and not re.match(r"\d{4}-\d{2}-\d{2}-.", stem):
        found.say(
            file,
            "file-name",
            "the file name does not start with its date",
            f"rename it, for example to 2026-03-02-{stem}.{ending}",
        )
    else:
        found.records[top].append(file)


def _sort_log(file: str, rest: str, found: Found) -> None:
    system, _, name = rest.partition("/")
    if not name or "/" in name:
        found.say(
            file, "file-name", "a log belongs in its system's folder", "move it to logs/<system>/<year>-<month>.yaml"
        )
        return
    stem, dot, ending = name.rpartition(".")
    if dot + ending != ".yaml":
        _wrong_ending(file, f"logs/{system}/{stem}", dot + ending, (".yaml",), found)
    elif not re.fullmatch(r"[0-9]{4}-(0[1-9]|1[0-2])", stem):
        month = re.fullmatch(r"([0-9]{4})[-_. ]?(0?[1-9]|1[0-2])", stem)
        remedy = (
            f"rename it to {month[1]}-{int(month[2]):02d}.yaml"
            if month
            else "name it after its month, for example 2026-03.yaml"
        )
        found.say(file, "file-name", f"'{stem}' is not a month", remedy)
    else:
        found.logs.setdefault(system, []).append(file)


def _wrong_ending(file: str, stem: str, ending: str, allowed: tuple[str, ...], found: Found) -> None:
    # Data in a file that is never read would be lost silently, so this is an error.
    if ending.lower() in (".yml", ".yaml", ".md", ".markdown", ".txt", ".json", ".csv"):
        found.say(
            file, "file-name", f"Corallite does not read '{ending}' files here", f"rename it to {stem}{allowed[0]}"
        )
    else:
        found.warn(file, "stranger", "this file does not belong in a journal", "Corallite does not read it; remove it")


def _as_id(text: str) -> str:
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode("ascii").lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:64].strip("-") or "a-name"
