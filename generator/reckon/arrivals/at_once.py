"""Events that happened together."""

from collections.abc import Iterable, Iterator
from itertools import groupby
from math import hypot
from typing import TYPE_CHECKING

from generator.units.quantity import Estimate

if TYPE_CHECKING:
    from datetime import datetime

    from generator.reckon.arrivals.informed import Informed


def at_once(events: "Iterable[Informed]") -> "Iterator[tuple[tuple[Informed, ...], Estimate]]":
    """The events of one kind at one moment, the largest first, with what they are predicted to do together.

    Of the uptake of alkalinity, meq/L/day; what nothing was predicted of is left out.
    """
    steps = {id(each): each.step for each in events if each.step is not None}
    told = sorted((each for each in events if id(each) in steps), key=_time_and_kind)
    for _, same in groupby(told, key=_time_and_kind):
        together = tuple(sorted(same, key=lambda each: -abs(steps[id(each)].value)))
        each_step = [steps[id(each)] for each in together]
        value = sum(step.value for step in each_step)
        below, above = (hypot(*(getattr(step, end) - step.value for step in each_step)) for end in ("low", "high"))
        yield together, Estimate(value, value - below, value + above, each_step[0].unit)


def _time_and_kind(told: "Informed") -> "tuple[datetime, str]":
    return told.event.at, told.event.what
