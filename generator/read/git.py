"""What git knows of a journal's files: their text at a revision, and who wrote and changed each, and when.

It reads the repository and never writes to it. No hook, filter, alias, pager or other program that a repository may
name is run.
"""

import os
import shutil
import subprocess
from collections.abc import Iterator
from datetime import UTC, datetime
from functools import cache, lru_cache
from hashlib import sha1, sha256
from pathlib import Path, PurePosixPath

from generator.records.source import Commit, History, Unknown

# Seconds after which reading a history is given up: no journal's history takes so long.
_PATIENCE = 60
_PLAIN = ("--no-pager", "--literal-pathspecs", "-c", "core.fsmonitor=false", "-c", "core.hooksPath=/dev/null")


class CannotAsk(Exception):
    """Git cannot answer; the message says what helps, `why` is the reason."""

    def __init__(self, message: str, why: Unknown = "no-answer") -> None:
        super().__init__(message)
        self.why = why


def ask(folder: Path, *words: str, given: bytes = b"") -> bytes:
    """What a git command prints, run in a folder. Raises `CannotAsk`."""
    git = shutil.which("git")
    if git is None:
        raise CannotAsk("git is not installed (install it, or ask without it)", "no-git")
    around = {name: value for name, value in os.environ.items() if not name.startswith("GIT_")}
    around |= {"GIT_CONFIG_NOSYSTEM": "1", "GIT_OPTIONAL_LOCKS": "0", "GIT_NO_LAZY_FETCH": "1", "LC_ALL": "C"}
    try:
        done = subprocess.run(
            [git, "-C", str(folder), *_PLAIN, *words],
            input=given, capture_output=True, check=False, env=around, timeout=_PATIENCE,
        )  # fmt: skip
    except (OSError, subprocess.TimeoutExpired) as error:
        raise CannotAsk(f"git gave no answer in {folder}: {error}") from None
    if done.returncode:
        raise _refusal(folder, done.stderr.decode("utf-8", "replace").strip())
    return done.stdout


def _refusal(folder: Path, said: str) -> CannotAsk:
    if "dubious ownership" in said:
        top = folder.absolute()
        trust = f"git config --global --add safe.directory {top}"
        return CannotAsk(f"another user owns the repository of {top} (if you trust it: {trust})", "not-trusted")
    if "not a git repository" in said:
        remedy = "begin one with git init, and commit"
        return CannotAsk(f"{folder} is not in a git repository ({remedy})", "no-repository")
    first = said.splitlines()[0].removeprefix("fatal: ") if said else "no reason given"
    return CannotAsk(f"git cannot answer in {folder}: {first}")


def is_shallow(folder: Path) -> bool:
    """Whether the clone lacks older commits. Raises `CannotAsk`."""
    return ask(folder, "rev-parse", "--is-shallow-repository").strip() == b"true"


def commit_of(folder: Path, revision: str) -> tuple[str, datetime]:
    """The commit that a revision names, and when it was made. Raises `CannotAsk`."""
    try:
        found = ask(folder, "rev-parse", "--verify", "--quiet", "--end-of-options", f"{revision}^{{commit}}")
    except CannotAsk as error:
        if not str(error).endswith("no reason given"):
            raise
        older = "; this clone lacks older ones, git fetch --unshallow brings them" if is_shallow(folder) else ""
        raise CannotAsk(
            f"'{revision}' is neither a day nor a revision of this repository (git log lists those{older})"
        ) from None
    commit = found.decode().strip()
    made = ask(folder, "show", "--no-patch", "--no-show-signature", "--format=%ct", commit)
    return commit, datetime.fromtimestamp(int(made), UTC)


def blobs_of(folder: Path, commit: str) -> dict[str, str]:
    """The digest of each file of a folder in a commit, by its path below the folder. Raises `CannotAsk`."""
    prefix = ask(folder, "rev-parse", "--show-prefix").decode("utf-8", "surrogateescape").removesuffix("\n")
    try:
        listed = ask(folder, "ls-tree", "--full-tree", "-r", "-z", f"{commit}:{prefix.rstrip('/')}")
    except CannotAsk:
        raise CannotAsk(f"the folder {folder} is not in that revision (name one in which it is)") from None
    blobs = {}
    for line in filter(None, listed.split(b"\0")):
        about, _, name = line.partition(b"\t")
        mode, kind, blob = about.decode().split()
        path = os.fsdecode(name)
        if kind == "blob" and mode != "120000" and ".." not in PurePosixPath(path).parts:
            blobs[path] = blob
    return blobs


def files_at(folder: Path, commit: str) -> Iterator[tuple[str, bytes]]:
    """Each file of a folder as it is in a commit, by its path below it. Photos come empty. Raises `CannotAsk`."""
    blobs = blobs_of(folder, commit)
    asked = {path: blob for path, blob in blobs.items() if not path.startswith("photos/")}
    answer = ask(folder, "cat-file", "--batch", given="".join(f"{blob}\n" for blob in asked.values()).encode())
    at = 0
    for path in asked:
        begin = answer.index(b"\n", at) + 1
        size = int(answer[at:begin].split()[-1])
        yield path, answer[begin : begin + size]
        at = begin + size + 1
    yield from ((path, b"") for path in blobs if path not in asked)


_HEAD = "commit%x00%H%x00%at%x00%an"
# Settings of git that a keeper may have changed and that would change its output.
_SETTLED = ("--no-show-signature", "--no-diff-merges", "--no-color", "--encoding=UTF-8")


def history_of(folder: Path) -> History:
    """The history of the files in a journal's folder; or why git cannot say."""
    try:
        if not ask(folder, "rev-list", "--max-count=1", "--all"):
            return History(unknown="no-commit")
        head = ask(folder, "rev-parse", "HEAD").decode().strip()
        blobs, commits, cut_off = _committed(folder, head, _oldest_of_a_shallow_clone(folder))
    except CannotAsk as error:
        return History(unknown=error.why)
    uncommitted = {path for path, blob in blobs.items() if not _is_as_committed(folder / path, blob)}
    return History(commits, cut_off, uncommitted)


@lru_cache(maxsize=1)  # `watch` asks at each save
def _committed(
    folder: Path, head: str, ends: frozenset[str]
) -> tuple[dict[str, str], dict[str, tuple[Commit, ...]], set[str]]:
    """The digest of each file in a commit, the commits that changed it, and which began before a shallow clone does."""
    blobs = blobs_of(folder, head)
    # Whole files that moved keep their history; a file that also changed begins anew.
    words = ("-z", "--relative", "--name-status", "--find-renames=100%", f"--format={_HEAD}", *_SETTLED)
    told = ask(folder, "-c", "log.showRoot=true", "log", *words, head, "--", ".").decode("utf-8", "surrogateescape")
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
    return blobs, {path: tuple(each) for path, each in commits.items()}, cut_off


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
        status = os.stat(file)
        return _has_digest(file, blob, (status.st_size, status.st_mtime_ns, status.st_ctime_ns, status.st_ino))
    except OSError:
        return False


@cache
def _has_digest(file: Path, blob: str, _: tuple[int, ...]) -> bool:
    found = file.read_bytes()
    make = sha1 if len(blob) == 40 else sha256
    each = {found, found.replace(b"\r\n", b"\n")}
    return any(make(b"blob %d\0" % len(data) + data, usedforsecurity=False).hexdigest() == blob for data in each)
