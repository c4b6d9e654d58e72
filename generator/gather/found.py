"""What reading a spreadsheet gives: facts, doubts by row, and questions; and what it is read with."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from generator.gather.cells import DateOrder
from generator.shorthand.finish import Change, Known


@dataclass(frozen=True, slots=True)
class Question:
    """What the file leaves open: the key of its answer, the question, how an answer looks, and what it can be."""

    key: str
    text: str
    example: str
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Doubt:
    """A row, or a part of it, that was not taken, and why."""

    where: str
    why: str

    def __str__(self) -> str:
        return f"{self.where}: {self.why}"


@dataclass(frozen=True, slots=True)
class Fact:
    """One fact for a system's log; `timed` if its row has an hour."""

    system: str
    change: Change
    where: str
    timed: bool = True


@dataclass(slots=True)
class Gathered:
    """What a file was understood to say. `columns` are (sheet, heading, meaning)."""

    columns: list[tuple[str, str, str]] = field(default_factory=list)
    facts: list[Fact] = field(default_factory=list)
    doubts: list[Doubt] = field(default_factory=list)
    questions: dict[str, Question] = field(default_factory=dict)

    def ask(self, key: str, text: str, example: str, *choices: str) -> None:
        """Ask a question once."""
        self.questions.setdefault(key, Question(key, text, example, choices))


@dataclass(slots=True)
class Reader:
    """What all tables of a file are read with: what the journal knows, and what the keeper answered."""

    known: Known
    answers: Mapping[str, str]
    found: Gathered
    order: DateOrder | None = None
    decimal: str = ""

    @property
    def told(self) -> dict[str, str]:
        """What the keeper said that headings and labels mean, by their text."""
        return {key.removeprefix("is:"): value for key, value in self.answers.items() if key.startswith("is:")}
