"""A fault that validation found, and the answer to it."""

from dataclasses import dataclass
from typing import Any

from generator.read.shape import Shape

# The problem's kind, what is wrong, what to write instead.
Answer = tuple[str, str, str]


@dataclass(frozen=True, slots=True)
class Fault:
    """What validation found: its kind, the field's name, the value in the file, and the expected one.

    `shape` is that of the field, `around` that of its record, if they are known.
    """

    kind: str
    name: str
    value: Any
    wrong: str
    remedy: str
    shape: Shape | None
    around: Shape | None

    @property
    def text(self) -> str:
        """What was written, if it is text."""
        return self.value.strip() if isinstance(self.value, str) else ""
