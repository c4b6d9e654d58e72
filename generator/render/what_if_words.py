"""Uptake after a coral is cut, taken out or moved, in sentences."""

from collections.abc import Iterator, Mapping

from generator.reckon.arrivals.what_if import Demand, WhatIf
from generator.reckon.finding import CannotTell
from generator.render.numbers import Display, Shown, say_per_day
from generator.render.words import Words
from generator.units.quantity import Estimate


def what_if_words(display: Display, words: Words, found: WhatIf, systems: Mapping[str, str]) -> Iterator[str]:
    """Uptake now, then a sentence for each change. `systems` has the names of the systems to show, by id."""

    def said(estimate: Estimate) -> Shown:
        return say_per_day(display, words, "alkalinity", estimate)

    if isinstance(found.cut, CannotTell) or isinstance(found.gone, CannotTell):
        return
    now, cut, gone = (said(each) for each in (found.cut.alkalinity_before, *map(_after, (found.cut, found.gone))))
    yield words("shares.now", value=now.value, interval=now.interval)
    percent = f"{100.0 * found.part:.0f}"
    yield words("shares.if_cut", percent=percent, value=cut.value, interval=cut.interval)
    yield words("shares.if_gone", value=gone.value, interval=gone.interval)
    for id, pair in found.moved:
        if id in systems and not isinstance(pair, CannotTell):
            before, after = said(pair[1].alkalinity_before), said(pair[1].alkalinity_after)
            was = words("shares.from", value=before.value, interval=before.interval)
            yield words("shares.if_moved", system=systems[id], value=after.value, interval=after.interval, was=was)


def _after(demand: Demand) -> Estimate:
    return demand.alkalinity_after
