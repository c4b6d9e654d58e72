"""The mass to lift, compared with a published guideline."""

from dataclasses import dataclass
from typing import Literal

from generator.reckon.constants_of_travel import LIFTING_LOAD
from generator.units.quantity import Estimate

METHOD = "lifting"

Grip = Literal["good", "fair", "poor"]
# Coupling multipliers for a lift that begins below 75 cm.
# Source: Waters et al. 1993, as in NIOSH 94-110, table 7 (from memory).
_GRIP: dict[Grip, float] = {"good": 1.0, "fair": 0.95, "poor": 0.90}

# Of the lifting index (load over limit): at 1 the guideline is reached, at 3 nearly everyone is at risk.
# Source: Waters et al. 1993 (from memory).
_REACHED, _FAR_BEYOND = 1.0, 3.0

Judgement = Literal["one-person", "two-people", "not-filled"]


@dataclass(frozen=True, slots=True)
class Lift:
    """A lift from the floor to a table: `limit` (kg) for one person, `index` mass over limit, and what to do.

    `caution` is the id of the words always shown with it. `not-filled`: carry it empty, and fill and drain
    it in place.
    """

    mass: Estimate
    limit: float
    index: Estimate
    judgement: Judgement
    caution: str = "lifting"
    method: str = METHOD


def recommended_limit(
    reach: float, from_height: float, rise: float, turn: float = 0.0, grip: Grip = "fair", load: float | None = None
) -> float:
    """Mass (kg) that nearly all healthy workers can lift occasionally, by the revised NIOSH lifting equation.

    `reach` is the distance from ankles to hands, `from_height` the height of the hands at the start, `rise`
    how far up (all cm); `turn` is the turn of the body in degrees. For lifts five minutes apart or more.
    Source: RWL = LC HM VM DM AM FM CM, HM = 25/H, VM = 1 - 0.003 |V - 75|, DM = 0.82 + 4.5/D,
    AM = 1 - 0.0032 A, FM = 1; Waters et al. 1993 (from memory).
    """
    horizontal = min(1.0, 25.0 / reach)
    vertical = max(0.0, 1.0 - 0.003 * abs(from_height - 75.0))
    distance = min(1.0, 0.82 + 4.5 / max(rise, 25.0))
    asymmetry = max(0.0, 1.0 - 0.0032 * turn)
    return (load or LIFTING_LOAD.value) * horizontal * vertical * distance * asymmetry * _GRIP[grip]


def lift(mass: Estimate, container_width: float) -> Lift:
    """Lifting a full container (kg, and its width in cm) from the floor to a car or a table.

    Our assumptions: the hands hold it at its sides, half its width in front of the body, 20 cm up, and lift
    it by 55 cm. The upper end of the mass counts, to protect the back.
    """
    limit = recommended_limit(reach=max(25.0, 20.0 + container_width / 2.0), from_height=20.0, rise=55.0)
    index = mass.scaled(1.0 / limit, "1")
    judgement: Judgement = "one-person"
    if index.high > _REACHED:
        judgement = "two-people" if index.high <= _FAR_BEYOND else "not-filled"
    return Lift(mass, limit, index, judgement)
