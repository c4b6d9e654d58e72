"""The mass to lift, compared with a published guideline."""

from dataclasses import dataclass
from typing import Literal

from generator.nature.constants import LIFTING_LOAD, TEAM_SHARE
from generator.units.quantity import Estimate

METHOD = "lifting"

Grip = Literal["good", "fair", "poor"]
# Coupling multipliers for a lift that begins below 75 cm, and from there up.
# Source: Waters et al. 1993, as in NIOSH 94-110, table 7 (from memory).
_GRIP: dict[Grip, tuple[float, float]] = {"good": (1.0, 1.0), "fair": (0.95, 1.0), "poor": (0.90, 0.90)}
# Beyond these the limit is zero: reach, height of the hands, rise (cm), turn (degrees).
# Source: Waters et al. 1993, as in NIOSH 94-110, tables 1 to 4 (from memory).
_FARTHEST, _HIGHEST, _LONGEST, _MOST_TURNED = 63.0, 175.0, 175.0, 135.0
# With hands lower than this, a container is held farther from the body.
_LOW_HANDS = 25.0
# Height of the hands on a container on the floor, and the lift to a table or a car, cm; our assumptions.
_HANDS_AT, _RISE = 20.0, 55.0

Judgement = Literal["one-person", "two-people", "not-filled"]


@dataclass(frozen=True, slots=True)
class Lift:
    """A lift from the floor to a table: `limit` (kg) for one person, `of_two` (kg) for two together, what to do.

    `caution` is the id of the words always shown with it. `not-filled`: carry it empty, and fill and drain
    it in place.
    """

    mass: Estimate
    limit: float
    of_two: float
    judgement: Judgement
    caution: str = "lifting"
    method: str = METHOD


def reach_over(container_width: float, hands: float) -> float:
    """Distance from ankles to hands (cm), for a container of this width (cm) held at this height (cm).

    Source: H = 20 + W/2, with hands below 25 cm 25 + W/2; Waters et al. 1993, as in NIOSH 94-110 (from memory).
    """
    return (25.0 if hands < _LOW_HANDS else 20.0) + container_width / 2.0


def recommended_limit(
    reach: float, from_height: float, rise: float, turn: float = 0.0, grip: Grip = "fair", load: float | None = None
) -> float:
    """Mass (kg) that nearly all healthy workers can lift occasionally, by the revised NIOSH lifting equation.

    `reach` is the distance from ankles to hands, `from_height` the height of the hands at the start, `rise`
    how far up (all cm); `turn` is the turn of the body in degrees. For lifts five minutes apart or more. The limit
    is 0 for a reach over 63 cm, hands above 175 cm, a rise over 175 cm or a turn over 135 degrees.
    Raises `ValueError` for negative numbers and NaN.
    Source: RWL = LC HM VM DM AM FM CM, HM = 25/H, VM = 1 - 0.003 |V - 75|, DM = 0.82 + 4.5/D,
    AM = 1 - 0.0032 A, FM = 1; Waters et al. 1993 (from memory).
    """
    if not all(each >= 0.0 for each in (reach, from_height, rise, turn)):
        raise ValueError("a reach, a height, a rise and a turn are numbers of 0 or more")
    if reach > _FARTHEST or from_height > _HIGHEST or rise > _LONGEST or turn > _MOST_TURNED:
        return 0.0
    horizontal = 25.0 / max(reach, 25.0)
    vertical = 1.0 - 0.003 * abs(from_height - 75.0)
    distance = 0.82 + 4.5 / max(rise, 25.0)
    asymmetry = 1.0 - 0.0032 * turn
    coupling = _GRIP[grip][from_height >= 75.0]
    return (load or LIFTING_LOAD.value) * horizontal * vertical * distance * asymmetry * coupling


def lift(mass: Estimate, container_width: float) -> Lift:
    """Lifting a full container (kg, and its width in cm) from the floor to a car or a table.

    Our assumptions: the hands hold it at its sides, 20 cm up, and lift it by 55 cm. The upper end of the mass
    counts, to protect the back. Two people together may lift less than twice as much as one; see `TEAM_SHARE`.
    """
    reach = reach_over(container_width, _HANDS_AT)
    limit = recommended_limit(reach, from_height=_HANDS_AT, rise=_RISE)
    of_two = 2.0 * TEAM_SHARE.value * limit
    judgement: Judgement = "one-person"
    if mass.high > limit:
        judgement = "two-people" if mass.high <= of_two else "not-filled"
    return Lift(mass, limit, of_two, judgement)
