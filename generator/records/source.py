"""Where a record was written; and what is wrong in the keeper's files: a value in a list, never an exception."""

from dataclasses import dataclass
from typing import Literal


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


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong (or doubtful): where, what, and what to write instead.

    `kind` is a stable short name; every kind has an example among the tests. `also_at` points to the
    second place a problem is about ("first given at …").
    """

    source: Source
    kind: str
    wrong: str
    remedy: str
    also_at: Source | None = None
    severity: Literal["error", "warning"] = "error"

    def __str__(self) -> str:
        doubt = "warning: " if self.severity == "warning" else ""
        also = f"; see {self.also_at}" if self.also_at else ""
        return f"{self.source}: {doubt}{self.wrong}{also} ({self.remedy})"


def in_order(problems: list[Problem]) -> list[Problem]:
    """The problems by file and line, each once."""
    return sorted(dict.fromkeys(problems), key=lambda p: (p.source, p.kind, p.wrong))
