"""The track record: what Corallite predicted in this journal, and what was found."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from math import sqrt
from statistics import NormalDist

from markupsafe import Markup

from generator.reckon.arrivals.story import ArrivalHeld
from generator.reckon.dosing.analysis import StockHeld
from generator.reckon.growth.corals import SizeHeld, TouchHeld
from generator.reckon.water.analysis import ReadingsHeld
from generator.reckon.water.findings import Replayed
from generator.reckon.water.replay import Record
from generator.render.base.blocks import Fold, Paragraph, Picture, Section, Table, folded, section
from generator.render.base.context import PageContext, as_file, page, section_crumb
from generator.render.base.links import Inline, bold, joined
from generator.render.base.numbers import Moment, listed, plain
from generator.render.base.page import Page
from generator.render.base.why import how
from generator.render.drawings.statistics import draw_calibration
from generator.render.pages.room import say_days
from generator.units.kinds import TAKEN_UP

_STATED = (10.0, 30.0, 50.0, 70.0, 90.0)
_NORMAL = NormalDist()


def track_record_page(ctx: PageContext) -> Page:
    """The page of how predictions have held: of readings by system, of arrivals, stocks, lengths and touches."""
    words, found = ctx.words, ctx.found
    read = {id: held for id in ctx.view.systems if (held := found.readings_held.get(id)) and held.records}
    systems = [_system(ctx, id, each) for id, each in read.items()]
    arrivals = tuple(_arrival(ctx, each) for each in found.arrivals_held)
    touches = tuple(_touch(ctx, each) for each in found.touches_held)
    stocks = tuple(_stock(ctx, each) for each in found.stocks_held)
    return page(
        ctx,
        "track_record",
        "systems",
        *systems,
        None if systems else Paragraph(words("track_record.none")),
        _held(ctx, "arrivals", arrivals),
        _held(ctx, "stocks", stocks),
        _held(ctx, "sizes", ctx.shared.sizes_told),
        _held(ctx, "touches", touches),
        crumbs=(section_crumb(ctx, "systems"),),
        lead=joined(*_verdict(ctx, read), words("track_record.lead"), how(ctx, "track-record")),
        contents=True,
    )


def _verdict(ctx: PageContext, read: Mapping[str, ReadingsHeld]) -> Iterator[Inline]:
    """In which waters the ranges of readings held, for what they did not, and how many other predictions came true."""
    words, found = ctx.words, ctx.found
    records = {id: [each for each in of.records if each.days is None] for id, of in read.items()}
    if held := [ctx.view.systems[id].name for id, of in records.items() if not any(each.clear for each in of)]:
        yield bold(words("track_record.held", systems=listed(ctx, held)))
    for side in ("narrow", "wide"):
        off = [
            words("track_record.in", quantity=words(f"quantities_within.{each.kind}"), system=ctx.view.systems[id].name)
            for id, of in records.items()
            for each in of
            if each.clear and _side(each) == side
        ]
        yield bold(words(f"track_record.were_{side}", what=listed(ctx, off))) if off else ""
    others: dict[str, Sequence[ArrivalHeld | StockHeld | SizeHeld | TouchHeld]] = {
        "arrivals": found.arrivals_held,
        "stocks": found.stocks_held,
        "sizes": found.sizes_held,
        "touches": found.touches_held,
    }
    agree = {id: sum(each.agree for each in of) for id, of in others.items()}
    if n := sum(map(len, others.values())):
        yield words("track_record.others", n=n, agree=sum(agree.values()))
        differ = [
            words("track_record.differ_of", what=words(f"track_record.{id}"), n=len(of) - agree[id], of=len(of))
            for id, of in others.items()
            if len(of) > agree[id]
        ]
        yield words("track_record.not_so", what="; ".join(differ)) if differ else ""


def _side(record: Record) -> str:
    return "narrow" if record.factor and record.factor.value > 1.0 else "wide"


def _held(ctx: PageContext, id: str, rows: tuple[tuple[Inline, ...], ...]) -> Section:
    """Predictions of another kind, newest first: what was predicted, what was found, and whether they agree."""
    heads = (f"track_record.{head}" for head in ("of_what", "predicted", "found", "verdict"))
    title = ctx.words(f"track_record.{id}")
    return folded(title, Table(title, ctx.words.each("coral.at", *heads), rows[::-1], "dated tall"), id=id)


def record_sentence(ctx: PageContext, id: str) -> str:
    """In one sentence how the predictions of a system's readings held lately; "" where there were none."""
    held = ctx.found.readings_held.get(id)
    if not held or not (last := held.last):
        return ""
    inside = sum(each.inside for each in last)
    return ctx.words("track_record.sentence", of=len(last), inside=inside, right=round(0.9 * len(last)))


def applied(ctx: PageContext, id: str) -> str:
    """How many times as wide as calculated a system's ranges are, quantity by quantity; "" where they are not."""
    ranges, words = ctx.view.systems[id].likely_ranges, ctx.words
    if ranges is None or ranges.since > ctx.today:
        return ""
    day = ctx.say.on(ranges.since)
    return " ".join(
        words(
            "track_record.applied",
            quantity=words(f"quantities.{kind}"),
            day=day,
            times=plain(words, ranges.of(kind), 2),
        )
        for kind in TAKEN_UP
        if ranges.of(kind) != 1.0
    )


def _system(ctx: PageContext, id: str, held: ReadingsHeld) -> Section:
    """One system's record: a sentence, a picture, and a row a quantity and horizon."""
    words, found = ctx.words, held.records
    name = ctx.view.systems[id].name
    clear = next((record for record in found if record.days is None and record.clear), None)
    wrong: Inline = ""
    if clear and clear.factor and applied(ctx, id) == "":
        wrong = words(f"track_record.too_{_side(clear)}", quantity=_quantity(ctx, clear), factor=_factor(ctx, clear))
        line = f"likely_ranges: {{{clear.kind}: {clear.factor.value:.2f}, since: {ctx.today:%Y-%m-%d}}}"
        wrong = joined(wrong, words("track_record.apply", line=line))
    heads = words.each(*(f"track_record.{head}" for head in ("quantity", "ahead", "inside", "right", "widths")))
    title = words("track_record.table", system=name)
    return section(
        ctx.to_system(id),
        Paragraph(joined(record_sentence(ctx, id), applied(ctx, id), wrong)),
        Picture(_picture(ctx, id, name, held.last), words("track_record.picture_note")),
        Fold(title, (Table(title, heads, tuple(_row(ctx, record) for record in found), "tall"),)),
        as_file(ctx, f"data/systems/{id}/predictions.csv", "predictions"),
        id=id,
    )


def _row(ctx: PageContext, record: Record) -> tuple[Inline, ...]:
    """How predictions of one quantity held, so many days ahead."""
    words = ctx.words
    return (
        _quantity(ctx, record),
        words("track_record.all_horizons") if record.days is None else words("track_record.days", n=int(record.days)),
        words("track_record.of", inside=record.inside, of=record.of),
        plain(words, 0.9 * record.of, 0),
        _factor(ctx, record),
    )


def _quantity(ctx: PageContext, record: Record) -> str:
    return ctx.words(f"quantities.{record.kind}")


def _factor(ctx: PageContext, record: Record) -> str:
    words, factor = ctx.words, record.factor
    if factor is None:
        return words("track_record.too_few")
    value, low, high = (plain(words, each, 2) for each in (factor.value, factor.low, factor.high))
    return words("track_record.factor", value=value, low=low, high=high)


def _picture(ctx: PageContext, id: str, name: str, last: Sequence[Replayed]) -> Markup:
    """For each stated chance the share of readings inside a range of that chance, and what luck alone gives."""
    words, n = ctx.words, len(last)
    points, luck = [], []
    for stated in _STATED:
        half = _NORMAL.inv_cdf(0.5 + stated / 200.0)
        points.append((stated, 100.0 * sum(abs(each.score) <= half for each in last) / n))
        # Nine in ten shares found lie so near to the stated one, where the ranges are right (binomial, normal form).
        near = 164.5 * sqrt(stated / 100.0 * (1.0 - stated / 100.0) / n)
        luck.append((stated, max(stated - near, 0.0), min(stated + near, 100.0)))
    found = round(points[-1][1])
    title = words("track_record.picture_title", system=name)
    return draw_calibration(
        f"calibration-{id}",
        title,
        words("track_record.picture", system=name, found=found),
        words("track_record.stated"),
        points,
        [(0.0, 0.0, 0.0), *luck, (100.0, 100.0, 100.0)],
    )


def _arrival(ctx: PageContext, held: ArrivalHeld) -> tuple[Inline, ...]:
    words = ctx.words
    predicted, found = (ctx.say.per_day("alkalinity", each) for each in (held.predicted, held.found))
    unclear = "" if held.found.is_clear else words("since.no_change")
    return (
        ctx.say.day(held.day),
        ctx.to_coral(held.coral),
        f"{words(f'track_record.what.{held.what}')}: {predicted.value}, {predicted.interval}",
        ": ".join(filter(None, (unclear, f"{found.value}, {found.interval}"))),
        words("track_record.agree" if held.agree else "track_record.differ"),
    )


def _stock(ctx: PageContext, held: StockHeld) -> tuple[Inline, ...]:
    words = ctx.words

    def day(at: datetime) -> Moment:
        return ctx.say.day(at.astimezone(ctx.display.zone).date())

    return (
        day(held.filled),
        f"{held.solution}, {ctx.view.systems[held.system].name}",
        words("track_record.empty", earliest=day(held.earliest).text, latest=day(held.latest).text),
        words("track_record.refilled", day=day(held.refilled).text),
        words("track_record.lasted" if held.agree else "track_record.differ"),
    )


def sizes_told(ctx: PageContext) -> tuple[tuple[Inline, ...], ...]:
    """A row for each size that was predicted: a new reading changes none of them."""
    return tuple(_size(ctx, each) for each in ctx.found.sizes_held)


def _size(ctx: PageContext, held: SizeHeld) -> tuple[Inline, ...]:
    words = ctx.words
    predicted, found = (ctx.say.level("length", each) for each in (held.predicted, held.found))
    return (
        ctx.say.day(held.day),
        ctx.to_coral(held.coral),
        f"{predicted.value}, {predicted.interval}",
        f"{found.value}, {found.interval}",
        words("track_record.agree" if held.agree else "track_record.differ"),
    )


def _touch(ctx: PageContext, held: TouchHeld) -> tuple[Inline, ...]:
    words = ctx.words
    likely, interval = say_days(ctx, held.predicted)
    return (
        ctx.say.day(held.day),
        joined(ctx.to_coral(held.coral), ctx.to_coral(held.other), by=", "),
        ", ".join(filter(None, (likely, interval))),
        words("track_record.seen_to_touch", day=ctx.say.on(held.day)),
        words("track_record.agree" if held.agree else "track_record.differ"),
    )
