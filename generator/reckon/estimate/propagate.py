"""From the uncertainties of what went in to the uncertainty of what came out."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from generator.reckon.valid_range import OutsideRange


@dataclass(frozen=True, slots=True)
class Measured:
    """A value and its standard uncertainty, in the same unit."""

    value: float
    standard: float = 0.0


def contributions(function: Callable[..., float], inputs: Mapping[str, Measured]) -> dict[str, float]:
    """Standard uncertainty that each input alone gives to ``function(**values)``.

    The inputs are taken to be independent. Sensitivities are central differences over one standard
    uncertainty to each side, which also catches a little of the curvature; where the function does not hold on
    one side, the difference to the other counts.
    Source: JCGM 100:2008 (GUM), 5.1.2 and 5.1.3, note 2.
    """
    values = {name: measured.value for name, measured in inputs.items()}
    found = {}
    for name, measured in inputs.items():
        if measured.standard:
            sides = [_at(function, {**values, name: measured.value + turn * measured.standard}) for turn in (1, -1)]
            held = [side for side in sides if side is not None]
            found[name] = abs(held[0] - held[1]) / 2.0 if len(held) == 2 else abs(held[0] - function(**values))
    return found


def _at(function: Callable[..., float], values: Mapping[str, float]) -> float | None:
    try:
        return function(**values)
    except OutsideRange:
        return None
