"""Sentences that pages and commands have in common: forecasts, what if, whether a colony fits and who lifts it."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING

from generator.reckon.arrivals.analysis import Moved, WhatIf
from generator.reckon.finding import CannotTell
from generator.reckon.water.findings import Forecast
from generator.render.base.numbers import Say
from generator.render.base.words import Words
from generator.units.quantity import Cm, Kg

if TYPE_CHECKING:
    from generator.reckon.trade.carrying import Lift
    from generator.reckon.trade.journey import Journey
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
    """What a coral takes where it stands and in another water, g CaCO3/day, and the factor between them."""
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


def fit_words(words: Words, judged: "Journey", length: Callable[[Cm], str]) -> tuple[str, str]:
    """Whether a colony fits its container, and how it lies; `length` says centimetres."""
    fitted = judged.fit
    how = "flat" if fitted.pose.tilt == 0.0 else "tilted"
    lies = words(f"journey.pose.{how}", tilt=f"{fitted.pose.tilt:.0f}°")
    if fitted.pose.turn:
        lies = words("journey.pose.turned", pose=lies, turn=f"{fitted.pose.turn:.0f}°")
    fits = words(f"journey.{'fits' if fitted.fits else 'wanting'}", room=length(abs(fitted.clearance)))
    corners = words("journey.corners") if fitted.fits and fitted.clearance_of_box < 0.0 else ""
    return f"{fits} {corners}".rstrip(), lies


def lift_words(words: Words, found: "Lift", load: Callable[[Kg], str]) -> str:
    """Who lifts it, and the guidelines for one person and for two; `load` says kilograms."""
    sure = found.mass.value > (found.limit if found.judgement == "two-people" else found.of_two)
    perhaps = "" if sure or found.judgement == "one-person" else "perhaps-"
    return words(f"journey.lifts.{perhaps}{found.judgement}", limit=load(found.limit), of_two=load(found.of_two))
