"""considered.yaml: colonies the keeper might take in, as far as they are known, and what they would want."""

from datetime import date

from pydantic.dataclasses import dataclass

from generator.records.coral import Audience, Form
from generator.records.fields import STRICT, Day, Light, Mass, Side, Text
from generator.records.source import Source
from generator.records.system import Flow


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class ConsideredColony:
    """One colony of considered.yaml: in no system yet, and in none of the corals' files.

    `light` and `light_to` are the two ends of what it wants, `mass` is drained, in air. It is considered
    from `since` until it is decided on.
    """

    source: Source
    name: Text
    species: Text
    form: Form
    since: Day
    decided: Day | None = None
    length: Side
    width: Side | None = None
    height: Side | None = None
    mass: Mass | None = None
    light: Light | None = None
    light_to: Light | None = None
    flow: Flow | None = None
    audience: Audience = "own"
    note: Text | None = None

    def open_on(self, day: date) -> bool:
        """Whether the keeper has begun to consider it by a day and not decided yet."""
        return self.since <= day and (self.decided is None or self.decided > day)
