"""considered.yaml: colonies the keeper might take in, with their size and the light and flow they want."""

from datetime import date

from pydantic.dataclasses import dataclass

from generator.records.coral import Audience, Form
from generator.records.fields import STRICT, Day, Light, Mass, Side, Text
from generator.records.source import Source
from generator.records.system import Flow


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class ConsideredColony:
    """A colony in considered.yaml. It is in no system yet and has no coral file.

    `light` and `light_to` are the lowest and highest light it wants. `mass` is drained, in air. It is
    considered from `since` until the day it is `decided`.
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
        """Whether the keeper is considering it on a day."""
        return self.since <= day and (self.decided is None or self.decided > day)
