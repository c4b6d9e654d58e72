"""Where a record was written."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, order=True)
class Source:
    """A place in the keeper's files: path relative to the journal's folder, line and column from 1.

    Column 0 stands for the file as a whole.
    """

    file: str
    line: int = 1
    column: int = 1

    def __str__(self) -> str:
        return f"{self.file}:{self.line}"
