"""The track record: what Corallite predicted in this journal, and what was found."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import NormalDist

from markupsafe import Markup

from generator.reckon.track_record import ArrivalHeld, StockHeld
from generator.reckon.water.findings import Replayed
from generator.reckon.water.replay import LATELY, Record, nearest, track_records
from generator.render import links
from generator.render.drawings.calibration import Calibration, draw
from generator.render.numbers import Moment, plain, say_day, say_difference
from generator.render.pages.desk import Desk, Frame, Link, frame, section_crumb

_STATED = (10.0, 30.0, 50.0, 70.0, 90.0)
_NORMAL = NormalDist()


@dataclass(frozen=True, slots=True)
class RecordRow:
    """How predictions of one quantity held, so many days ahead."""

    quantity: str
    ahead: str
    held: str
    expected: str
    widths: str


@dataclass(frozen=True, slots=True)
class SystemRecord:
    """One system's record: a sentence, a picture, and a row a quantity and horizon."""

    id: str
    system: Link
    sentence: str
    correction: str
    picture: Markup
    rows: tuple[RecordRow, ...]
    data: Link


@dataclass(frozen=True, slots=True)
class HeldRow:
    """One prediction of another kind: what, what was predicted, what was found, and whether they agree."""

    at: Moment
    what: Link
    predicted: str
    found: str
    agree: str


@dataclass(frozen=True, slots=True)
class TrackRecordPage:
    """The record of all systems, arrivals and stocks."""

    frame: Frame
    systems: tuple[SystemRecord, ...]
    arrivals: tuple[HeldRow, ...]
    stocks: tuple[HeldRow, ...]
    method: Link


def track_record_page(desk: Desk) -> TrackRecordPage:
    """The page of how predictions have held."""
    words = desk.words
    title, description = words("track_record.title"), words("track_record.description")
    return TrackRecordPage(
        frame(desk, title, description, "systems", section_crumb(desk, "systems")),
        tuple(
            _system(desk, id, desk.findings[id].replayed)
            for id in desk.view.systems
            if id in desk.findings and desk.findings[id].replayed
        ),
        tuple(_arrival(desk, each) for each in desk.found.arrivals_held if each.coral in desk.view.corals),
        tuple(_stock(desk, each) for each in desk.found.stocks_held if each.system in desk.view.systems),
        desk.link(f"{links.METHODS}#track-record", words("why.method")),
    )


def record_sentence(desk: Desk, replayed: Sequence[Replayed]) -> str:
    """In one sentence how the predictions of a system's readings held lately; "" where there were none."""
    last = nearest(replayed)[-LATELY:]
    if not last:
        return ""
    inside = sum(each.inside for each in last)
    return desk.words("track_record.sentence", of=len(last), inside=inside, right=round(0.9 * len(last)))


def _system(desk: Desk, id: str, replayed: Sequence[Replayed]) -> SystemRecord:
    words = desk.words
    found = track_records(replayed)
    name = desk.view.systems[id].name
    clear = next((record for record in found if record.days is None and record.clear), None)
    side = "" if clear is None or clear.factor is None else "narrow" if clear.factor.value > 1.0 else "wide"
    return SystemRecord(
        id,
        desk.to_system(id),
        record_sentence(desk, replayed),
        words(f"track_record.too_{side}", quantity=_quantity(desk, clear), factor=_factor(desk, clear))
        if clear and side
        else "",
        Markup(draw(_picture(desk, id, name, nearest(replayed)[-LATELY:]))),
        tuple(_row(desk, record) for record in found),
        desk.link(f"data/systems/{id}/predictions.csv", words("data.tables.predictions.name")),
    )


def _row(desk: Desk, record: Record) -> RecordRow:
    words = desk.words
    return RecordRow(
        _quantity(desk, record),
        words("track_record.all_horizons") if record.days is None else words("track_record.days", n=int(record.days)),
        words("track_record.of", inside=record.inside, of=record.of),
        plain(words, 0.9 * record.of, 0),
        _factor(desk, record) if record.factor else words("track_record.too_few"),
    )


def _quantity(desk: Desk, record: Record) -> str:
    return desk.words(f"quantities.{record.kind}")


def _factor(desk: Desk, record: Record) -> str:
    words, factor = desk.words, record.factor
    if factor is None:
        return words("track_record.too_few")
    value, low, high = (plain(words, each, 2) for each in (factor.value, factor.low, factor.high))
    return words("track_record.factor", value=value, low=low, high=high)


def _picture(desk: Desk, id: str, name: str, last: Sequence[Replayed]) -> Calibration:
    """For each stated chance the share of readings inside a range of that chance, and what luck alone gives."""
    words, n = desk.words, len(last)
    points, luck = [], []
    for stated in _STATED:
        half = _NORMAL.inv_cdf(0.5 + stated / 200.0)
        points.append((stated, 100.0 * sum(abs(each.score) <= half for each in last) / n))
        # Nine in ten shares found lie so near to the stated one, where the ranges are right (binomial, normal form).
        near = 164.5 * sqrt(stated / 100.0 * (1.0 - stated / 100.0) / n)
        luck.append((stated, max(stated - near, 0.0), min(stated + near, 100.0)))
    found = round(points[-1][1])
    title = words("track_record.picture_title", system=name)
    return Calibration(
        f"calibration-{id}",
        title,
        words("track_record.picture", system=name, found=found),
        words("track_record.stated"),
        points,
        [(0.0, 0.0, 0.0), *luck, (100.0, 100.0, 100.0)],
    )


def _arrival(desk: Desk, held: ArrivalHeld) -> HeldRow:
    words = desk.words
    predicted, found = (
        say_difference(desk.display, words, "alkalinity", each) for each in (held.predicted, held.found)
    )
    return HeldRow(
        say_day(desk.display, words, held.day),
        desk.to_coral(held.coral),
        f"{words(f'track_record.what.{held.what}')}: {predicted.value}, {predicted.interval}",
        f"{found.value}, {found.interval}",
        words("track_record.agree" if held.agree else "track_record.differ"),
    )


def _stock(desk: Desk, held: StockHeld) -> HeldRow:
    words, display = desk.words, desk.display

    def day(at: object) -> str:
        return say_day(display, words, at.astimezone(display.zone).date()).text  # type: ignore[attr-defined]

    return HeldRow(
        say_day(display, words, held.filled.astimezone(display.zone).date()),
        Link(f"{held.solution}, {desk.view.systems[held.system].name}"),
        words("track_record.empty", earliest=day(held.earliest), latest=day(held.latest)),
        words("track_record.refilled", day=day(held.refilled)),
        words("track_record.lasted" if held.agree else "track_record.differ"),
    )
