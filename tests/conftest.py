"""What every room's tests may use."""

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.archive import write_archive


@pytest.fixture
def journal(tmp_path: Path) -> Callable[[str], Path]:
    """Writes a journal from one text (see tests/archive.py) and gives its folder."""
    folder = tmp_path / "content"

    def write(text: str) -> Path:
        folder.mkdir(exist_ok=True)
        return write_archive(text, folder)

    return write
