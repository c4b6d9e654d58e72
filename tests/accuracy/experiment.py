"""What an experiment is, and the table that several seeds of one make."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from statistics import fmean

from msgspec import Struct


class Row(Struct, frozen=True):
    """One number that an experiment found, and the least and the most that it may be (None: it is only told)."""

    name: str
    value: float
    least: float | None = None
    most: float | None = None

    @property
    def holds(self) -> bool:
        """Whether the value lies where it must; one that is not a number never does."""
        return (self.least is None or self.value >= self.least) and (self.most is None or self.value <= self.most)


# From a seed, and how many systems (or corals, or cells) it may draw for each row, to what it found.
Experiment = Callable[[int, int], Iterable[Row]]


def pooled(runs: Sequence[Iterable[Row]]) -> Iterator[tuple[Row, float, float]]:
    """The rows of one experiment's runs, each with its mean over them, and the lowest and the highest."""
    by_name: dict[str, list[Row]] = {}
    for run in runs:
        for row in run:
            by_name.setdefault(row.name, []).append(row)
    for name, rows in by_name.items():
        values = [row.value for row in rows]
        yield Row(name, fmean(values), rows[0].least, rows[0].most), min(values), max(values)


def table(name: str, found: Iterable[tuple[Row, float, float]]) -> Iterator[str]:
    """The lines of an experiment's table; one that does not hold is marked."""
    yield name
    for row, low, high in found:
        spread = f"{low:.3g} to {high:.3g}" if low != high else ""
        mark = "" if row.holds else "  MISSED"
        yield f"  {row.name:<72} {row.value:>8.3g}  {spread:<16} {_required(row):<14}{mark}".rstrip()


def _required(row: Row) -> str:
    if row.least is not None and row.most is not None:
        return f"{row.least:g} to {row.most:g}"
    if row.least is not None:
        return f"≥ {row.least:g}"
    return f"≤ {row.most:g}" if row.most is not None else ""
