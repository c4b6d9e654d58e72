"""The known name that is closest to a misspelt one."""

from collections.abc import Iterable
from difflib import get_close_matches


def nearest(name: str, known: Iterable[str]) -> str | None:
    """The known name closest to a misspelt one, if any is close."""
    # Long names are compared by their start: the matching is quadratic, and no name is that long.
    folded = {each.casefold().replace("_", "-"): each for each in known}
    close = get_close_matches(name[:80].casefold().replace("_", "-").replace(" ", "-"), folded, n=1, cutoff=0.6)
    return folded[close[0]] if close else None


def did_you_mean(name: str, known: Iterable[str], otherwise: str) -> str:
    """A remedy: the nearest known name, or else what to do instead."""
    close = nearest(name, known)
    return f"did you mean {close}?" if close else otherwise


def listed(names: Iterable[str], at_most: int = 14) -> str:
    """Names with commas between, cut short when there are many."""
    every = list(names)
    return ", ".join(every[:at_most]) + (", …" if len(every) > at_most else "")
