"""What was done to a system's water, as a chart of one quantity tells it: in the journal's units, clock and words."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import groupby
from typing import Literal, cast

from generator.reckon.water.findings import LedgerLine, WaterFindings
from generator.records.log import SystemLog
from generator.render.base.chart import Known, wall_clock
from generator.render.base.numbers import Say, Shown, decimals, plain, with_unit
from generator.render.base.words import Words
from generator.render.drawings.timeline import Sign
from generator.units.quantity import Estimate


@dataclass(frozen=True, slots=True)
class Telling:
    """One quantity, in one journal's units, clock and words, from one moment until another."""

    kind: str
    say: Say
    since: datetime
    until: datetime

    @property
    def words(self) -> Words:
        """The words of the journal's language."""
        return self.say.words

    def clock(self, moment: datetime) -> int:
        """The wall clock's time, as the axis counts it."""
        return wall_clock(moment, self.say.display.zone)

    def moment(self, at: datetime) -> str:
        """The same in words."""
        return self.say.moment(at).text

    def told(self, clock: int) -> str:
        """A time of the axis in words."""
        return self.moment(datetime.fromtimestamp(clock / 1000, UTC).replace(tzinfo=self.say.display.zone))

    def shows(self, moment: datetime) -> bool:
        """Whether the chart reaches so far."""
        return self.since <= moment <= self.until

    def level(self, at: datetime, found: Estimate) -> Known:
        """What the quantity was, from its estimate in the canonical unit."""
        return self._known(at, self.say.level(self.kind, found), self.say.display.estimate(self.kind, found, True))

    def rate(self, at: datetime, found: Estimate) -> Known:
        """What it changed by in a day, from its estimate in the canonical unit a day."""
        return self._known(at, self.say.per_day(self.kind, found), self.say.display.estimate(self.kind, found, False))

    def _known(self, at: datetime, said: Shown, shown: Estimate) -> Known:
        words = f"{said.value}, {said.interval}"
        return Known(self.clock(at), self.moment(at), shown.value, shown.low, shown.high, words)

    def change(self, canonical: float) -> str:
        """What a deed changed, exact to two digits, with its sign."""
        value = self.say.display.change(self.kind, canonical)
        number = plain(self.words, value, decimals(abs(value) / 10))
        return with_unit(f"+{number}" if value > 0 else number, self.say.unit(self.kind))


LaneName = Literal["dose", "pump", "top-off", "reactor", "water-change", "event"]
LANES: tuple[LaneName, ...] = ("dose", "pump", "top-off", "reactor", "water-change", "event")
SIGN_OF_LANE: dict[str, Sign] = {"water-change": "drop", "event": "flag"}


@dataclass(frozen=True, slots=True)
class Deed:
    """Something done or that happened, over [at, until], in its lane, with its words.

    `of` is what was given, `per_day` what a deed that lasted put in a day, in the unit shown.
    """

    at: int
    until: int
    lane: LaneName
    words: str
    per_day: float = 0.0
    of: str = ""


def deeds(tellings: Sequence[Telling], log: SystemLog, findings: WaterFindings) -> tuple[Deed, ...]:
    """Every deed and event, once, by lane and in order of time within each; with what it did to each quantity."""
    done: dict[tuple[LaneName, int, int, str], list[str]] = defaultdict(list)
    for telling in tellings:
        for deed in doses_given(telling, findings):
            done[deed.lane, deed.at, deed.until, deed.of].append(deed.words)
    first = tellings[0]
    given = (
        Deed(at, until, lane, f"{first.told(at)}: {of} {'; '.join(words)}".replace("  ", " "))
        for (lane, at, until, of), words in sorted(done.items())
    )
    return (*given, *_water_changes(tellings, log, findings), *_events(first, log))


def _water_changes(tellings: Sequence[Telling], log: SystemLog, findings: WaterFindings) -> Iterator[Deed]:
    changed = {(each.source, each.kind): each.change for each in findings.ledger if each.cause == "water-change"}
    first = tellings[0]
    for change in filter(lambda change: first.shows(change.at), log.water_changes):
        parts = [first.say.written(change.volume)]
        parts += [
            _of(each, each.change(moved)) for each in tellings if (moved := changed.get((change.source, each.kind)))
        ]
        said = f"{first.moment(change.at)}: {', '.join(parts)}"
        yield Deed(first.clock(change.at), first.clock(change.at), "water-change", said)


def _of(telling: Telling, change: str) -> str:
    return f"{telling.words(f'quantities.{telling.kind}')} {change}"


def _events(telling: Telling, log: SystemLog) -> Iterator[Deed]:
    for event in filter(lambda event: telling.shows(event.at), log.events):
        said = f"{telling.moment(event.at)}: {telling.words(f'events.{event.what}')}"
        yield Deed(telling.clock(event.at), telling.clock(event.at), "event", said)


def doses_given(telling: Telling, findings: WaterFindings) -> Iterator[Deed]:
    """What doses, pumps, top-off and reactor did to one quantity."""
    lines = [
        line
        for line in findings.ledger
        if line.kind == telling.kind and line.cause in LANES and line.cause != "water-change"
        if telling.since < line.until <= telling.until and line.at <= telling.until
    ]
    # The ledger splits a constant rate into many lines; on the chart it is one.
    lines.sort(key=lambda line: (line.cause, line.solution, line.source, line.at))
    for _, group in groupby(lines, key=_one_deed):
        pieces = list(group)
        begin, end = max(pieces[0].at, telling.since), pieces[-1].until
        whole = sum(_within(piece, telling.since) for piece in pieces)
        days = (end - begin) / timedelta(days=1)
        per_day = whole / days if days else 0.0
        said = telling.change(whole)
        if days:
            said = telling.words("chart.water.standing", change=telling.change(per_day))
        rate, cause = telling.say.display.change(telling.kind, per_day), cast(LaneName, pieces[0].cause)
        yield Deed(telling.clock(begin), telling.clock(end), cause, _of(telling, said), rate, pieces[0].solution)


def supply(lasting: Sequence[Deed]) -> list[tuple[int, float]]:
    """What pumps, top-off and reactor put in a day, all together: each moment it changed, and to what."""
    moments = sorted({moment for deed in lasting for moment in (deed.at, deed.until)})
    return [(moment, sum(deed.per_day for deed in lasting if deed.at <= moment < deed.until)) for moment in moments]


def _one_deed(line: LedgerLine) -> tuple[str, str, str, datetime | None]:
    return line.cause, line.solution, str(line.source), line.at if line.cause == "dose" else None


def _within(line: LedgerLine, since: datetime) -> float:
    """The part of a line's change that falls into the window."""
    if line.at >= since:
        return line.change
    return line.change * ((line.until - since) / (line.until - line.at))
