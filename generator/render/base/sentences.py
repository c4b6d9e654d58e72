"""Names in a sentence; when a level leaves its band, and what if a coral is cut, taken out or moved, in sentences."""

from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING

from generator.reckon.arrivals.analysis import Moved, WhatIf
from generator.reckon.finding import CannotTell
from generator.reckon.water.findings import Forecast
from generator.render.base.numbers import Say

if TYPE_CHECKING:
    from generator.render.base.context import PageContext


def forecast_words(say: Say, forecast: Forecast) -> tuple[str, str]:
    """The likely day, and the days between which it leaves ("" if it stays, or only may leave)."""
    words = say.words
    if forecast.leaves is None or forecast.earliest is None:
        return words("forecast.stays", days=f"{forecast.horizon_days:.0f}"), ""
    side, earliest = words(f"forecast.{forecast.leaves}"), say.date(forecast.earliest)
    if forecast.likely is None:
        return words("forecast.perhaps", side=side, earliest=earliest), ""
    likely, latest = say.date(forecast.likely), say.date(forecast.latest) if forecast.latest else ""
    leaves = words("forecast.leaves", side=side, likely=likely)
    if earliest == latest:
        return leaves, words("forecast.that_day")
    if not latest:
        return leaves, words("forecast.or_later") if earliest == likely else words("forecast.from", earliest=earliest)
    return leaves, words("forecast.between", earliest=earliest, latest=latest)


def what_if_words(say: Say, found: WhatIf, systems: Mapping[str, str]) -> Iterator[str]:
    """Uptake now, then a sentence for each change. `systems` has the names of the systems to show, by id."""
    words, said = say.words, partial(say.per_day, "alkalinity")
    if isinstance(found.cut, CannotTell) or isinstance(found.gone, CannotTell):
        return
    now, cut, gone = map(said, (found.cut.alkalinity_before, found.cut.alkalinity_after, found.gone.alkalinity_after))
    yield words("shares.now_predicted" if found.predicted else "shares.now", **now.blanks())
    percent = f"{100.0 * found.part:.0f}"
    yield words("shares.if_cut", percent=percent, **cut.blanks())
    yield words("shares.if_gone", **gone.blanks())
    for id, moved in found.moved:
        if id in systems and not isinstance(moved, CannotTell):
            before, after = said(moved.arriving.alkalinity_before), said(moved.arriving.alkalinity_after)
            was = words("shares.from", **before.blanks())
            yield words("shares.if_moved", system=systems[id], **after.blanks(), was=was)
            yield times_words(say, moved)


def times_words(say: Say, moved: Moved) -> str:
    """What a coral takes in grams a day where it stands and in another water, and by which factor they differ."""
    words, here, there = say.words, say.amount(moved.here).value, say.amount(moved.there).value
    times = say.estimate(moved.times.scaled(100.0, "%"))
    said = [words("shares.times", here=here, there=there, **times.blanks("times"))]
    for name, of_place in (("light", moved.place.light), ("flow", moved.place.flow)):
        if of_place is None:
            said.append(words(f"shares.no_{name}"))
        elif of_place.spread > 0.0 or of_place.median != 1.0:
            factor = say.estimate(of_place.estimate("times").scaled(100.0, "%"))
            said.append(words(f"shares.of_{name}", **factor.blanks("factor")))
    return " ".join(said)


# So many colonies are named where there are more.
_NAMED = 3


def listed(ctx: "PageContext", names: Sequence[str]) -> str:
    """Names in a sentence: a, b and c."""
    if len(names) < 2:
        return "".join(names)
    return ctx.words("next_tests.and", first=", ".join(names[:-1]), last=names[-1])


def shortened(ctx: "PageContext", names: Sequence[str]) -> str:
    """The first of some names, and how many more there are."""
    if len(names) > _NAMED + 1:
        names = [*names[:_NAMED], ctx.words("planned.more", n=len(names) - _NAMED)]
    return listed(ctx, names)
