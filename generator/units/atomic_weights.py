"""Molar masses from standard atomic weights.

Source: IUPAC abridged and conventional standard atomic weights 2021 (Prohaska et al. 2022,
Pure Appl. Chem. 94:573-600).
"""

import re
from functools import cache

# g/mol; abridged (or, where IUPAC gives a range, conventional) values.
ATOMIC_WEIGHTS: dict[str, float] = {
    "H": 1.008,
    "B": 10.81,
    "C": 12.011,
    "N": 14.007,
    "O": 15.999,
    "F": 18.998,
    "Na": 22.990,
    "Mg": 24.305,
    "Si": 28.085,
    "P": 30.974,
    "S": 32.06,
    "Cl": 35.45,
    "K": 39.098,
    "Ca": 40.078,
    "Br": 79.904,
    "Sr": 87.62,
    "I": 126.90,
}

_TOKEN = re.compile(r"([A-Z][a-z]?)(\d*)|\(|\)(\d*)")
_PART = re.compile(r"(\d*)(.+)")


class UnknownFormula(ValueError):
    """A formula that is not made of known elements, counts and brackets."""


@cache
def molar_mass(formula: str) -> float:
    """Molar mass of a compound, g/mol; hydrates are written with a dot: ``CaCl2.2H2O``.

    Raises `UnknownFormula` when the text is not a formula of elements in `ATOMIC_WEIGHTS`.
    """
    total = 0.0
    for part in formula.replace("·", ".").split("."):
        match = _PART.fullmatch(part)
        if match is None:
            raise UnknownFormula(formula)
        total += int(match.group(1) or 1) * _mass_of_part(match.group(2), formula)
    return total


def _mass_of_part(text: str, formula: str) -> float:
    stack = [0.0]
    position = 0
    for match in _TOKEN.finditer(text):
        if match.start() != position:
            raise UnknownFormula(formula)
        position = match.end()
        if match.group() == "(":
            stack.append(0.0)
        elif match.group().startswith(")"):
            if len(stack) < 2:
                raise UnknownFormula(formula)
            inner = stack.pop()
            stack[-1] += inner * int(match.group(3) or 1)
        else:
            element = match.group(1)
            if element not in ATOMIC_WEIGHTS:
                raise UnknownFormula(formula)
            stack[-1] += ATOMIC_WEIGHTS[element] * int(match.group(2) or 1)
    if position != len(text) or len(stack) != 1:
        raise UnknownFormula(formula)
    return stack[0]
