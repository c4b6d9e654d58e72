"""Files of a journal that commands write: all of them or none, and nothing of anyone else's is lost.

Drafts have names that nobody can guess, and are made only where nothing is: no link that someone put in their
way is followed. One command at a time writes into a journal: whoever reads a file to write it holds its lock.
"""

import errno
import hashlib
import os
import secrets
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from glob import escape
from pathlib import Path

from generator.commands.terminal import Stop
from generator.read.discover import read_bytes

# So long a command waits for others that write into the same journal, seconds.
PATIENCE = 120.0
_AGAIN = 0.02


@contextmanager
def locked(folder: Path, patience: float = PATIENCE) -> Iterator[None]:
    """Keep other commands from writing into a journal. The lock ends with the process, however that ends.

    Raises `OSError` if another command holds it for longer than `patience` (seconds), or there is no such folder.
    """
    lock = _lock_file(folder)
    try:
        end = time.monotonic() + patience
        while not _taken(lock):
            if time.monotonic() > end:
                raise OSError(errno.EBUSY, "another command is writing into this journal (try again)", str(folder))
            time.sleep(_AGAIN)
        yield
    finally:
        os.close(lock)


def _lock_file(folder: Path) -> int:
    """What is locked: the folder itself, so that no file is left in it; where that cannot be, a temporary file."""
    if sys.platform != "win32":
        return os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    name = hashlib.sha256(str(folder.resolve(strict=True)).encode()).hexdigest()[:32]
    return os.open(Path(tempfile.gettempdir()) / f"corallite-{name}.lock", os.O_RDWR | os.O_CREAT)


def _taken(lock: int) -> bool:
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(lock, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except (BlockingIOError, PermissionError):
        return False
    return True


def write_new(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write files by their paths below a folder, never over an existing one.

    Raises `FileExistsError` or another `OSError`; then nothing was written.
    """
    root = folder.resolve()
    made: list[Path] = []
    folders: list[Path] = []
    drafts: list[tuple[Path, Path]] = []
    try:
        for name, content in files.items():
            path = root / name
            if not path.parent.resolve().is_relative_to(root):
                raise OSError(errno.EXDEV, "the path leads out of the journal", name)
            folders += [each for each in (path.parent, *path.parent.parents) if not each.exists()]
            path.parent.mkdir(parents=True, exist_ok=True)
            drafts.append((_draft(path, content), path))
        for draft, path in drafts:
            os.link(draft, path)  # unlike a rename, a link never replaces
            made.append(path)
    except OSError:
        for path in made:
            path.unlink(missing_ok=True)
        for draft, _ in drafts:
            _drop(draft)
        for each in sorted(folders, key=lambda each: -len(each.parts)):  # the innermost first
            with suppress(OSError):
                each.rmdir()
        raise
    finally:
        for draft, _ in drafts:
            _drop(draft)


def write_over(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write files by their paths below a folder, each in one step, in place of those with the same names.

    Raises `OSError`, also where a file to replace is a link; files before it are then written.
    """
    for name, content in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        _put(path, content)


def replace_text(path: Path, before: str, after: str) -> None:
    """Replace a file's text in one step: a reader sees the old text or the new one, never a part.

    Raises `OSError`, also where the text is no longer `before`: someone else edited it. Then the file is unchanged.
    """
    _put(path, after.encode("utf-8"), before.encode("utf-8"))


def write_texts(folder: Path, edits: Mapping[str, tuple[str, str]], more: Mapping[str, bytes] | None = None) -> None:
    """Write texts by their paths below a folder, each in place of the one before it, and `more` files that are new.

    New files first: nothing that is written refers to a file that is not there yet. Raises `OSError`.
    """
    made = [file for file in edits if not (folder / file).exists()]
    write_new(folder, {file: edits[file][1].encode("utf-8") for file in made} | dict(more or {}))
    for file, (before, text) in edits.items():
        if file not in made:
            replace_text(folder / file, before, text)


def text_of(path: Path) -> str:
    """The text of a file with its own line ends; nothing where there is none. Raises `Stop`."""
    try:
        return path.read_bytes().decode("utf-8") if path.is_file() else ""
    except UnicodeDecodeError:
        raise Stop(f"{path} cannot be extended (save it as UTF-8 first)") from None


def _put(path: Path, content: bytes, before: bytes | None = None) -> None:
    """Put a file in its place in one step, if what is there now is still `before`, where that is given."""
    if path.is_symlink():
        raise OSError(errno.ELOOP, "it is a link (give the file's own place)", str(path))
    draft = _draft(path, content)
    try:
        if before is not None and read_bytes(path, len(before)) != before:
            raise OSError(errno.EBUSY, "it was edited meanwhile (do it again)", str(path))
        os.replace(draft, path)
    finally:
        _drop(draft)


def _draft(path: Path, content: bytes) -> Path:
    """A new file beside a path, with its content on the disk. What killed commands left there long ago goes."""
    for left in path.parent.glob(f".{escape(path.name)}.*.new"):
        with suppress(OSError):
            if time.time() - left.lstat().st_mtime > PATIENCE:
                left.unlink()
    draft = path.with_name(f".{path.name}.{secrets.token_hex(8)}.new")
    try:
        made = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_NOFOLLOW", 0), 0o666)
    except OSError as error:  # of a draft, which nobody knows of
        raise OSError(error.errno, error.strerror, str(path)) from error
    try:
        with os.fdopen(made, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:  # which does not say of which file, if the disk is full
        _drop(draft)
        raise OSError(error.errno, error.strerror, str(path)) from error
    return draft


def _drop(draft: Path) -> None:
    """Remove a draft if it is still there. A draft that is left behind does not belong to a journal."""
    with suppress(OSError):
        draft.unlink(missing_ok=True)
