"""The shape of a method: how a number is made, in words."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Method:
    """One method: the `id` in its findings, a paragraph, its sources and its assumptions."""

    id: str
    name: str
    paragraph: str
    sources: tuple[str, ...]
    assumptions: tuple[str, ...]
