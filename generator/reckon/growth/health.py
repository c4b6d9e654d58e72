"""A coral's health: quarantine, tissue it lost, and changes of its colour."""

from dataclasses import dataclass
from datetime import date
from typing import Literal

from generator.records.coral import Coral, Health
from generator.records.source import Source

# A change of colour by so many scores is more than eyes differ: Siebeck, Marshall, Klüter & Hoegh-Guldberg
# 2006, Coral Reefs 25:453-460 (from memory).
SURE_CHANGE = 2

_ILL = ("tissue-loss", "bleaching")
_WELL = ("recovery", "well")


@dataclass(frozen=True, slots=True)
class Colour:
    """The last score on the Coral Health Chart, the one before, and whether the coral paled or darkened for sure.

    Scores of different hues (the letter) are compared by brightness (the figure), as the chart does.
    """

    at: date
    score: str
    before: str | None
    change: Literal["paled", "darkened", "none", "unknown"]
    inputs: tuple[Source, ...]


@dataclass(frozen=True, slots=True)
class State:
    """A coral's health on a day: quarantine and treatment that hold, harm not yet recovered from, its colour."""

    coral: str
    quarantine: Health | None
    treatments: tuple[Health, ...]
    ailing: tuple[Health, ...]
    colour: Colour | None


def state_of(coral: Coral, as_of: date) -> State:
    """A coral's state on a day, by its own file up to then.

    Quarantine and treatment without an end hold until the coral is noted as well or recovered, and
    nothing holds of a coral that is no longer here.
    """
    known = sorted((health for health in coral.health if health.at <= as_of), key=lambda health: health.at)
    well = max((health.at for health in known if health.what in _WELL), default=None)
    here = known if coral.lives_on(as_of) else []
    quarantines = [health for health in here if health.what == "quarantine" and _holds(health, well, as_of)]
    return State(
        coral.id,
        quarantines[-1] if quarantines else None,
        tuple(health for health in here if health.what == "treatment" and _holds(health, well, as_of)),
        tuple(health for health in here if health.what in _ILL and (well is None or well < health.at)),
        _colour(known),
    )


def _holds(health: Health, well: date | None, as_of: date) -> bool:
    if health.until is not None:
        return health.at <= as_of <= health.until
    return well is None or well < health.at


def _colour(known: list[Health]) -> Colour | None:
    scored = [(health.at, health.colour, health.source) for health in known if health.colour is not None]
    if not scored:
        return None
    at, score, source = scored[-1]
    if len(scored) == 1:
        return Colour(at, score, None, "unknown", (source,))
    _, before, earlier = scored[-2]
    darker = int(score[1]) - int(before[1])
    change: Literal["paled", "darkened", "none"] = "none"
    if abs(darker) >= SURE_CHANGE:
        change = "darkened" if darker > 0 else "paled"
    return Colour(at, score, before, change, (earlier, source))
