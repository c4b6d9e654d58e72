"""The shape of a method: how a number is made, in words."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Method:
    """One way of reckoning: `id` as findings carry it, a paragraph, its sources and what it takes for granted."""

    id: str
    name: str
    paragraph: str
    sources: tuple[str, ...]
    assumptions: tuple[str, ...]
