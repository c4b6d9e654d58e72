"""When each file of a journal was written and changed, and who did it, from one pass over git's log."""

from collections.abc import Iterator
from datetime import UTC, datetime
from hashlib import sha1, sha256
from pathlib import Path

from generator.read.git import CannotAsk, ask, blobs_of
from generator.records.history import Commit, History

_HEAD = "commit%x00%H%x00%at%x00%an"
# What a keeper's own settings would change.
_SETTLED = ("--no-show-signature", "--no-diff-merges", "--no-color", "--encoding=UTF-8")


def history_of(folder: Path) -> History:
    """The history of the files in a journal's folder; or why git cannot say."""
    try:
        if not ask(folder, "rev-list", "--max-count=1", "--all"):
            return History(unknown="no-commit")
        blobs = blobs_of(folder, "HEAD")
        # Whole files that moved keep their history; a file that also changed begins anew.
        words = ("-z", "--relative", "--name-status", "--find-renames=100%", f"--format={_HEAD}", *_SETTLED, "--", ".")
        told = ask(folder, "-c", "log.showRoot=true", "log", *words).decode("utf-8", "surrogateescape")
        ends = _oldest_of_a_shallow_clone(folder)
    except CannotAsk as error:
        return History(unknown=error.why)
    commits: dict[str, list[Commit]] = {path: [] for path in blobs}
    now_named = {path: path for path in blobs}
    cut_off = set()
    for digest, commit, status, path, before in _changes(told):
        named = now_named.get(path)
        if named is None:
            continue
        if digest in ends:
            cut_off.add(named)
            continue
        commits[named].append(commit)
        if status in "AR":
            del now_named[path]
        if before:
            now_named[before] = named
    uncommitted = {path for path, blob in blobs.items() if not _is_as_committed(folder / path, blob)}
    return History({path: tuple(each) for path, each in commits.items()}, cut_off, uncommitted)


def _oldest_of_a_shallow_clone(folder: Path) -> frozenset[str]:
    """The commits whose parents a shallow clone lacks: they seem to write every file."""
    file = folder / ask(folder, "rev-parse", "--git-path", "shallow").decode().strip()
    return frozenset(file.read_text("ascii").split()) if file.is_file() else frozenset()


def _changes(told: str) -> Iterator[tuple[str, Commit, str, str, str]]:
    """The digest of a commit, the commit, what it did (A, M, R …), the file, and its name before if it was renamed."""
    words = iter(told.split("\0"))
    digest, commit = "", Commit(datetime.fromtimestamp(0, UTC), "")
    for word in words:
        status = word.lstrip("\n")[:1]
        if word == "commit":
            digest, at, by = next(words), next(words), next(words)
            commit = Commit(datetime.fromtimestamp(int(at), UTC), by)
        elif status == "R":
            before = next(words)
            yield digest, commit, status, next(words), before
        elif status:
            yield digest, commit, status, next(words), ""


def _is_as_committed(file: Path, blob: str) -> bool:
    """Whether a file's bytes, or its bytes with git's ends of lines, have the digest that git knows."""
    try:
        found = file.read_bytes()
    except OSError:
        return False
    make = sha1 if len(blob) == 40 else sha256
    each = {found, found.replace(b"\r\n", b"\n")}
    return any(make(b"blob %d\0" % len(data) + data, usedforsecurity=False).hexdigest() == blob for data in each)
