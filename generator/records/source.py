"""Where a record was written, what git knows of its file, and what is wrong in it: a value, never an exception."""

from collections.abc import Collection, Mapping
from datetime import datetime
from typing import Literal

from msgspec import Struct, field

# Why git cannot say.
Unknown = Literal["no-git", "no-repository", "not-trusted", "no-commit", "no-answer"]


class Commit(Struct, frozen=True):
    """A commit that changed a file: when its author made it, and the author's name ("" where that is not shown)."""

    at: datetime
    by: str


class History(Struct, frozen=True):
    """Each file's commits by its path below the journal, the newest first.

    `cut_off` are files that are older than the oldest commit of a shallow clone, `uncommitted` those whose text on
    disk is not the last commit's. `unknown` says why there is nothing at all ("" if there is).
    """

    commits: Mapping[str, tuple[Commit, ...]] = field(default_factory=dict)
    cut_off: Collection[str] = frozenset()
    uncommitted: Collection[str] = frozenset()
    unknown: Unknown | Literal[""] = ""


class Source(Struct, frozen=True, order=True):
    """A place in the keeper's files: path relative to the journal's folder, line and column from 1.

    Column 0 stands for the file as a whole.
    """

    file: str
    line: int = 1
    column: int = 1

    def __str__(self) -> str:
        return f"{self.file}:{self.line}"


class Problem(Struct, frozen=True):
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
