"""Files of a journal that commands write: all of them or none, and no existing file is lost."""

import os
from collections.abc import Mapping
from pathlib import Path


def write_new(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write files by their paths below a folder, never over an existing one.

    Raises `FileExistsError` or another `OSError`; then nothing was written.
    """
    root = folder.resolve()
    made: list[Path] = []
    beside: list[tuple[Path, Path]] = []
    try:
        for name, content in files.items():
            path = root / name
            if not path.parent.resolve().is_relative_to(root):
                raise OSError(None, "the path leads out of the journal", name)
            path.parent.mkdir(parents=True, exist_ok=True)
            draft = path.with_name(f".{path.name}.new")
            beside.append((draft, path))
            _write_through(draft, content)
        for draft, path in beside:
            os.link(draft, path)  # unlike a rename, a link never replaces
            made.append(path)
    except OSError:
        for path in made:
            path.unlink(missing_ok=True)
        raise
    finally:
        for draft, _ in beside:
            draft.unlink(missing_ok=True)


def replace_text(path: Path, text: str) -> None:
    """Replace a file's text in one step: a reader sees the old text or the new one, never a part.

    Raises `OSError`; then the file is unchanged.
    """
    draft = path.with_name(f".{path.name}.new")
    try:
        _write_through(draft, text.encode("utf-8"))
        os.replace(draft, path)
    finally:
        draft.unlink(missing_ok=True)


def _write_through(path: Path, content: bytes) -> None:
    with path.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
