"""What git knows of when each file of a journal was written and changed, and who did it."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

# Why git cannot say.
Unknown = Literal["no-git", "no-repository", "not-trusted", "no-commit", "no-answer"]


@dataclass(frozen=True, slots=True)
class Commit:
    """A commit that changed a file: when its author made it, and the author's name ("" where that is not shown)."""

    at: datetime
    by: str


@dataclass(frozen=True, slots=True)
class History:
    """Each file's commits by its path below the journal, the newest first.

    `cut_off` are files that are older than the oldest commit of a shallow clone, `uncommitted` those whose text on
    disk is not the last commit's. `unknown` says why there is nothing at all ("" if there is).
    """

    commits: Mapping[str, tuple[Commit, ...]] = field(default_factory=dict)
    cut_off: Collection[str] = frozenset()
    uncommitted: Collection[str] = frozenset()
    unknown: Unknown | Literal[""] = ""
