"""The only place that rounds, adds units to values, and puts days and moments in words; sentences that hold these."""

import math
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime
from functools import partial
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from markupsafe import escape
from msgspec import Struct

from generator.reckon.finding import CannotTell
from generator.records.log import Reading
from generator.records.settings import Settings
from generator.records.system import System
from generator.render.base.words import Words
from generator.units.kinds import WATER_KINDS
from generator.units.quantity import Canonical, Cm, Estimate, InUnit, Kg, Quantity, Share, change_in, level_in, unit_for

if TYPE_CHECKING:
    from generator.reckon.arrivals.analysis import Moved, WhatIf
    from generator.reckon.trade.carrying import Lift
    from generator.reckon.trade.journey import Journey
    from generator.reckon.water.findings import Forecast
    from generator.render.base.context import PageContext


NBSP = "\u00a0"
# Decimals of a length in each unit, measured by hand or with a ruler.
_HAND = {"mm": 0, "cm": 0, "in": 1, "m": 2}
_RULER = {"mm": 0, "cm": 1, "in": 1, "m": 3}
_MINUS = "\u2212"
_NUMBER = re.compile(r"-?\d+(\.\d+)?")


class Display(Struct, frozen=True):
    """How the journal wants numbers and dates shown: unit by kind of quantity, time zone, date order.

    Days are counted from `day_none`, where nobody knows yet which day that will be.
    """

    zone: ZoneInfo
    units: dict[str, str]
    date_order: str = "year-month-day"
    day_none: date | None = None

    def unit(self, kind: str) -> str:
        """The unit a kind of quantity is shown in: the canonical one where no straight line leads to the journal's."""
        return unit_for(kind, self.units.get(kind, ""))

    def level(self, kind: str, canonical: Canonical) -> InUnit:
        """A value in the canonical unit, in the unit shown."""
        return level_in(kind, canonical, self.unit(kind))

    def change(self, kind: str, canonical: Canonical) -> InUnit:
        """A difference or a rate in the canonical unit, in the unit shown (no offset)."""
        return change_in(kind, canonical, self.unit(kind))

    def estimate(self, kind: str, found: Estimate, of_level: bool) -> Estimate:
        """An estimate in the canonical unit, in the unit shown: of a level, or of a change."""
        shown = self.level if of_level else self.change
        low, high = sorted((shown(kind, found.low), shown(kind, found.high)))
        return Estimate(shown(kind, found.value), low, high, self.unit(kind), found.level)


def display_of(settings: Settings, systems: Mapping[str, System], read_in: Iterable[Mapping[str, str]]) -> Display:
    """How numbers are shown: in the units of journal.yaml, else as read in the logs (`read_in`) or written in bands."""
    bands = [levels for system in systems.values() for levels in (system.low, system.high)]
    written = {kind: value.unit for levels in bands for kind in WATER_KINDS if (value := levels.of(kind))}
    for units in read_in:
        written |= units
    return Display(settings.time_zone, {**written, **settings.units}, settings.date_order)


class Shown(Struct, frozen=True):
    """A number to show: the value with its unit, and its interval in words ("" for a value from the files)."""

    value: str
    interval: str = ""

    def blanks(self, value: str = "value") -> dict[str, str]:
        """The value and its interval for the blanks of a sentence; the value's blank may have another name."""
        return {value: self.value, "interval": self.interval}

    def __html__(self) -> str:
        """The value strong, its interval beside it."""
        beside = f" <small>{escape(self.interval)}</small>" if self.interval else ""
        return f"<b>{escape(self.value)}</b>{beside}"


class Moment(Struct, frozen=True):
    """A day or a moment in the journal's own time, and the same for machines."""

    text: str
    iso: str

    def __html__(self) -> str:
        """A time that machines read too."""
        return f'<time datetime="{self.iso}">{escape(self.text)}</time>'


def decimals(half_width: float) -> int:
    """How many decimals an estimate deserves; negative: round to tens and up.

    Two significant digits of the half-width of its interval if they start with 1 or 2, otherwise one. More
    digits would claim more than the estimate knows.
    """
    if half_width <= 0 or not math.isfinite(half_width):
        return 2
    exponent = math.floor(math.log10(half_width))
    # A little under 3, so that 0.3, which a computer holds as a little less, counts as 3.
    digits = 2 if half_width / 10**exponent < 2.995 else 1
    return digits - 1 - exponent


def plain(words: Words, value: float, digits: int) -> str:
    """A rounded number without its unit, with the language's signs, never a negative zero."""
    return in_signs(words, f"{value:z.{digits}f}" if digits >= 0 else f"{round(value, digits):z.0f}")


def in_words(words: Words, told: str) -> str:
    """A word unchanged, or a number with the language's signs."""
    return in_signs(words, told) if _NUMBER.fullmatch(told) else told


def in_signs(words: Words, number: str) -> str:
    """A number as a program writes it, with a true minus sign and the language's decimal sign."""
    return number.replace("-", _MINUS).replace(".", words.decimal)


def with_unit(number: str, unit: str) -> str:
    """A number and its unit, joined by a no-break space."""
    return f"{number}{NBSP}{unit}"


def hundredths(chance: Share) -> str:
    """Odds in a hundred, at least 1 and at most 99."""
    return str(min(99, max(1, round(100.0 * chance))))


class Say(Struct, frozen=True):
    """Numbers, days and moments as a journal's pages say them: in its units, its order of dates, its language."""

    display: Display
    words: Words

    def unit(self, kind: str) -> str:
        """The unit that a kind of quantity is shown in."""
        return self.words.unit(self.display.unit(kind))

    def a_day(self, unit: str) -> str:
        """A unit or an amount a day."""
        return self.words("numbers.per_day", unit=self.words.unit(unit))

    def number(self, value: InUnit, digits: int, unit: str) -> str:
        """A rounded number with its unit."""
        return with_unit(plain(self.words, value, digits), self.words.unit(unit))

    def estimate(self, found: Estimate, unit: str = "", digits: int | None = None) -> Shown:
        """An estimate as it is: value, unit (its own unless given in words), and its interval in words.

        Its decimals follow from its interval, unless it stands below others that have so many `digits`.
        """
        words, unit = self.words, unit or self.words.unit(found.unit)
        digits = decimals((found.high - found.low) / 2) if digits is None else digits
        low, high = plain(words, found.low, digits), plain(words, found.high, digits)
        between = words("numbers.between", low=low, high=with_unit(high, unit))
        return Shown(with_unit(plain(words, found.value, digits), unit), between)

    def level(self, kind: str, found: Estimate) -> Shown:
        """The value of a quantity, from an estimate in the canonical unit."""
        return self.estimate(self.display.estimate(kind, found, of_level=True))

    def difference(self, kind: str, found: Estimate) -> Shown:
        """A difference between two values, from an estimate in the canonical unit."""
        return self.estimate(self.display.estimate(kind, found, of_level=False))

    def per_day(self, kind: str, found: Estimate) -> Shown:
        """A rate of change per day, from an estimate in the canonical unit a day."""
        shown = self.display.estimate(kind, found, of_level=False)
        # Two digits of a rate, however sure it is: so those of one page are alike.
        least = max(2, 1 - math.floor(math.log10(abs(shown.value)))) if shown.value else 2
        digits = min(decimals((shown.high - shown.low) / 2), least)
        return self.estimate(shown, self.a_day(shown.unit), digits)

    def amount(self, found: Estimate) -> Shown:
        """An amount a day in the whole system, in the unit the estimate carries (``g/day``)."""
        return self.estimate(found, self.a_day(found.unit.removesuffix("/day")))

    def amounts(self, column: Sequence[Estimate]) -> list[Shown]:
        """Amounts a day below each other, with the same decimals: one digit of half the narrowest interval."""
        halves = [(each.high - each.low) / 2 for each in column if each.high > each.low]
        digits = max((-math.floor(math.log10(half)) for half in halves), default=2)
        return [self.estimate(each, self.a_day(each.unit.removesuffix("/day")), digits) for each in column]

    def deviation(self, standard: InUnit, unit: str) -> str:
        """A standard uncertainty on either side of a number, in two significant digits; the unit is in words."""
        digits = 1 - math.floor(math.log10(standard)) if standard > 0 else 0
        return with_unit(f"±{plain(self.words, standard, digits)}", unit)

    def canonical(self, kind: str, canonical: Canonical, like: Quantity | None = None) -> str:
        """A value in the canonical unit, as exact as `like` was written if that was in the unit shown."""
        unit, value = self.display.unit(kind), self.display.level(kind, canonical)
        # Otherwise three significant digits, and of a gravity its four decimals: what usual kits and scales resolve.
        usual = 4 if unit.startswith("sg ") else 2 if value == 0 else max(0, 2 - math.floor(math.log10(abs(value))))
        return self.number(value, like.digits if like is not None and like.unit == unit else usual, unit)

    def reading(self, reading: Reading, canonical: Canonical) -> str:
        """A reading in the unit shown, with as many digits as were written."""
        text = self.canonical(reading.kind, canonical, reading.value)
        return self.words("numbers.below", value=text) if reading.value.below else text

    def written(self, written: Quantity) -> str:
        """A quantity with the digits and the unit in which the keeper wrote it; a length in the unit of all lengths."""
        if written.kind == "length" and written.unit != self.display.unit("length"):
            return self.length(written.canonical(), fine=True)
        amount = self.number(written.value, written.digits, written.unit.removesuffix("/day"))
        return self.a_day(amount) if written.unit.endswith("/day") else amount

    def length(self, *cm: float, fine: bool = False) -> str:
        """A length, or length and width with one unit, from cm: rounded for a hand, or for a ruler if `fine`."""
        digits = (_RULER if fine else _HAND)[self.display.unit("length")]
        sides = (plain(self.words, self.display.level("length", each), digits) for each in cm)
        return with_unit(f"{NBSP}×{NBSP}".join(sides), self.unit("length"))

    def day(self, on: date) -> Moment:
        """A day in the journal's date order, or how many days after the one that days are counted from."""
        if self.display.day_none is not None:
            days = (on - self.display.day_none).days
            return Moment(self.words("numbers.day_n", n=days) if days else self.words("numbers.day_none"), f"P{days}D")
        order = self.display.date_order
        if order == "year-month-day":
            return Moment(on.isoformat(), on.isoformat())
        month = self.words(f"months.{on.month}")
        text = self.words("numbers.day_of_year", day=on.day, month=month, year=on.year)
        return Moment(f"{month}{NBSP}{on.day}, {on.year}" if order == "month-day-year" else text, on.isoformat())

    def on(self, day: date) -> str:
        """A day as text."""
        return self.day(day).text

    def date(self, at: datetime) -> str:
        """The keeper's day of a moment as text."""
        return self.on(at.astimezone(self.display.zone).date())

    def moment(self, at: datetime) -> Moment:
        """A moment on the keeper's own clock."""
        local = at.astimezone(self.display.zone)
        if self.display.day_none is not None:
            return self.day(local.date())
        return Moment(f"{self.on(local.date())}, {local:%H:%M}", local.isoformat(timespec="minutes"))

    def age(self, then: datetime, now: datetime) -> str:
        """How many of the keeper's days ago: 'today', 'yesterday', '3 days ago'."""
        days = (now.astimezone(self.display.zone).date() - then.astimezone(self.display.zone).date()).days
        return self.words("age.today") if days <= 0 else self.words("age.days", n=days)


def forecast_words(say: Say, forecast: "Forecast") -> tuple[str, str]:
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


def what_if_words(say: Say, found: "WhatIf", systems: Mapping[str, str]) -> Iterator[str]:
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


def times_words(say: Say, moved: "Moved") -> str:
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
