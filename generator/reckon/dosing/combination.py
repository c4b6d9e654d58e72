"""How the supplies share the work: limewater first, then the reactor, the rest by as few solutions as do it."""

from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from generator.reckon.dosing.supplies import BY_SOLUTION, Supply

Array = NDArray[np.float64]

# Two sets of solutions are as good as each other when what they leave differs by less than this share of the need.
AS_GOOD = 0.01
# The kinds that limewater and a reactor give in the proportions of calcification, and must not overshoot.
BALANCED = ("alkalinity", "calcium")


def combination(needs: Mapping[str, float], supplies: Sequence[Supply]) -> dict[str, float]:
    """Litres a day of each supply that meet `needs` (meq or mg a day, by kind) as nearly as can be, none negative.

    Limewater as far as evaporation allows and no kind is overshot, then the reactor likewise. What is
    left falls to the solutions by pump or hand: of all sets that come nearest (least squares, each kind as a
    share of its need) the smallest, then the one that is mostly running, then the first listed.
    """
    litres = {supply.id: 0.0 for supply in supplies}
    left = {kind: max(need, 0.0) for kind, need in needs.items()}
    for supply in supplies:
        if supply.how not in BY_SOLUTION:
            litres[supply.id] = _as_far_as_it_goes(left, supply)
            left = {kind: need - litres[supply.id] * supply.gives.get(kind, 0.0) for kind, need in left.items()}
    return litres | _by_solutions(left, needs, [s for s in supplies if s.how in BY_SOLUTION])


def given(litres: Mapping[str, float], supplies: Sequence[Supply], kind: str) -> float:
    """What so many litres a day give of a kind, meq or mg a day."""
    return sum(litres[supply.id] * supply.gives.get(kind, 0.0) for supply in supplies)


def _as_far_as_it_goes(left: Mapping[str, float], supply: Supply) -> float:
    limits = [left[kind] / supply.gives[kind] for kind in BALANCED if kind in left and supply.gives.get(kind)]
    return max(min(supply.most, *limits), 0.0) if limits else 0.0


def _by_solutions(left: Mapping[str, float], needs: Mapping[str, float], pumps: Sequence[Supply]) -> dict[str, float]:
    kinds = [kind for kind, need in needs.items() if need > 0.0]
    useful = [supply for supply in pumps if any(supply.gives.get(kind) for kind in kinds)]
    if not kinds or not useful:
        return {}
    scale = np.array([needs[kind] for kind in kinds])
    wanted = np.array([max(left[kind], 0.0) for kind in kinds]) / scale
    gives = np.array([[supply.gives.get(kind, 0.0) for supply in useful] for kind in kinds]) / scale[:, None]
    fits = list(_fits(gives, wanted))
    nearest = min(misfit for _, _, misfit in fits)
    chosen, amounts, _ = min(
        (fit for fit in fits if fit[2] <= nearest + AS_GOOD),
        key=lambda fit: (len(fit[0]), sum(not useful[i].now for i in fit[0]), fit[0]),
    )
    return {useful[i].id: float(amount) for i, amount in zip(chosen, amounts, strict=True)}


def _fits(gives: Array, wanted: Array) -> Iterator[tuple[tuple[int, ...], Array, float]]:
    """Every set of solutions whose least-squares amounts are all non-negative, with what it misses.

    The non-negative least-squares answer is among them. Source: Lawson & Hanson 1974, Solving Least
    Squares Problems, ch. 23 (from memory).
    """
    yield (), np.zeros(0), float(np.linalg.norm(wanted))
    for size in range(1, min(gives.shape) + 1):
        for chosen in combinations(range(gives.shape[1]), size):
            columns = gives[:, chosen]
            amounts, _, rank, _ = np.linalg.lstsq(columns, wanted, rcond=None)
            if rank == size and (amounts >= 0.0).all():
                yield chosen, np.asarray(amounts, dtype=np.float64), float(np.linalg.norm(columns @ amounts - wanted))
