"""What each coral shares of an uptake, what cutting or moving one would do, and what a change was predicted to do."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import partial

from generator.reckon.arrivals.analysis import MOST_TOLD, Demand, Moved, WhatIf
from generator.reckon.arrivals.expected import ExpectedUptake
from generator.reckon.arrivals.shares import CoralShare, Shares
from generator.reckon.finding import Answer, CannotTell
from generator.reckon.water.findings import ReadingPlan
from generator.records.system import System
from generator.render.base import links
from generator.render.base.blocks import Block, Drawn, Figure, Fold, Paragraph, Section, Table, figures, group, section
from generator.render.base.context import PageContext, onward, page_of_system
from generator.render.base.links import Inline, Link, code, joined, small
from generator.render.base.numbers import Moment, Shown, hundredths, times_words
from generator.render.base.page import Page
from generator.render.base.scale import Look, Row, drawn_ranges
from generator.render.base.why import LogInWords, amount_figure, cannot, evidence, figure_of, per_day_figure
from generator.render.pages.behind import behind_shares, behind_what_ifs, whole_label
from generator.units.quantity import Estimate

# Days ahead in the picture of odds.
_DAYS_SHOWN = 14


@dataclass(frozen=True, slots=True)
class OddsDay:
    """The odds that one reading, some days later, shows the change, as a bar from the top, in per cent."""

    day: str
    top: str
    height: str
    odds: str
    planned: bool


def foreseen_figures(ctx: PageContext, found: ExpectedUptake, told: LogInWords) -> Iterator[Figure]:
    """The coral's uptake as predicted the day before, and its share of the whole uptake."""
    words = ctx.words
    yield amount_figure(ctx, words("changes.grams"), found.grams_per_day, told, _factor(ctx, found))
    yield per_day_figure(ctx, words("quantities.alkalinity"), "alkalinity", found.alkalinity, told)
    yield per_day_figure(ctx, words("quantities.calcium"), "calcium", found.calcium, told)
    yield share_figure(ctx, words("changes.share"), found.share, told)


def share_figure(ctx: PageContext, label: str, answer: Answer, told: LogInWords) -> Figure:
    """A share of the uptake in per cent."""
    return figure_of(ctx, label, answer, partial(say_share, ctx), told, "%", 100.0)


def say_share(ctx: PageContext, found: Estimate) -> Shown:
    """A share or a ratio in per cent, with its interval; of a coral that is the only one known, in words."""
    if found.low == found.high == 1.0:
        return Shown(ctx.words("changes.all_of_it"), ctx.words("changes.none_beside"))
    return ctx.say.estimate(found.scaled(100.0, "%"))


def ways_of(ctx: PageContext, found: ExpectedUptake) -> Drawn:
    """The published methods side by side, all combined, and the result times the system's factor."""
    words = ctx.words
    told: list[tuple[str, Estimate, Look]] = [
        (
            words("changes.way", basis=words(f"changes.basis.{way.basis}"), study=words(f"changes.study.{way.study}")),
            way.grams_per_day,
            "way",
        )
        for way in found.published.ways
    ]
    told.append((words("changes.row.published"), found.published.combined.estimate("g/day"), "both"))
    told.append((words("changes.row.here"), found.grams_per_day.estimate, "measured"))
    shown = ctx.say.amounts([amount for _, amount, _ in told])
    rows = [Row(label, said, amount, look) for (label, amount, look), said in zip(told, shown, strict=True)]
    unit = ctx.say.a_day("g")
    return drawn_ranges(words, words("changes.ways_title"), unit, rows)


def readings_lead(ctx: PageContext, plan: ReadingPlan) -> str:
    """Whether a reading can show the change, as planned at the moment of the change."""
    size = Estimate.exact(abs(plan.size), "meq/L/day")
    said = ctx.say.per_day("alkalinity", size).value
    return ctx.words("changes.plan.lead" if plan.readings else "changes.plan.none", size=said)


def odds_picture(ctx: PageContext, plan: ReadingPlan) -> Drawn:
    """The odds of each day that one reading shows the change, as bars."""
    planned = {reading.at for reading in plan.readings}
    soon = [(at, odds) for at, odds in plan.alone if _days(plan, at) <= _DAYS_SHOWN]
    return Drawn("odds", tuple(_odds(ctx, plan, at, odds, at in planned) for at, odds in soon))


def planned_readings(ctx: PageContext, plan: ReadingPlan) -> tuple[tuple[Moment, str, str], ...]:
    """Each reading of the plan: when, why, and its odds."""
    words = ctx.words
    return tuple(
        (
            ctx.say.moment(reading.at),
            words(f"changes.plan.why.{reading.why}"),
            words("changes.plan.odds", n=hundredths(reading.odds)),
        )
        for reading in plan.readings
    )


def _factor(ctx: PageContext, found: ExpectedUptake) -> str:
    said = say_share(ctx, found.factor.ratio.estimate(""))
    return ctx.words(f"changes.factor.{found.factor.known}", **said.blanks())


def _days(plan: ReadingPlan, at: datetime) -> int:
    return round((at - plan.since).total_seconds() / 86400.0)


def _odds(ctx: PageContext, plan: ReadingPlan, at: datetime, odds: float, planned: bool) -> OddsDay:
    said = ctx.words("changes.plan.odds_of_day", day=ctx.say.date(at), n=hundredths(odds))
    return OddsDay(str(_days(plan, at)), f"{100.0 * (1.0 - odds):.1f}%", f"{100.0 * odds:.1f}%", said, planned)


# So many corals, those that take the most, are in the pictures of shares, of what would be here, and there.
_MOST_STRIPS, _MOST_HERE, _MOST_THERE = 12, 4, 3


def shares_page(ctx: PageContext, system: System, found: Shares | CannotTell) -> Page:
    """The shares of one system's corals, as far as this audience may see them, and what would change them."""
    words = ctx.words
    told = evidence(ctx, system.id)
    measured = ctx.findings[system.id].calcification.grams_per_day
    whole = figures(amount_figure(ctx, whole_label(ctx, system.id), measured, told), look="small spaced")
    shared = _shares(ctx, found) if isinstance(found, Shares) else (cannot(words, found),)
    answered = _to_what_ifs(ctx, ctx.found.what_if.get(system.id, ())) if isinstance(found, Shares) else ""
    return page_of_system(
        ctx,
        system.id,
        "shares",
        words("shares.title", system=system.name),
        words("shares.description", system=system.name),
        Paragraph(answered, "onward"),
        section(words("shares.heading"), *shared, whole, id="shares"),
        _what_ifs(ctx, found) if isinstance(found, Shares) else None,
        lead=joined(_first(ctx, found) if isinstance(found, Shares) else "", words("shares.lead")),
    )


def _first(ctx: PageContext, found: Shares) -> str:
    """Which coral takes the most."""
    if not found.corals:
        return ""
    most = max(found.corals.values(), key=lambda each: each.share.value)
    said, coral = say_share(ctx, most.share), ctx.ties.coral_names[most.coral]
    return ctx.words("shares.first", coral=coral, **said.blanks())


def _shares(ctx: PageContext, found: Shares) -> tuple[Block, ...]:
    """Each coral's part of the uptake, and its evidence."""
    words = ctx.words
    seen = list(found.corals.values())
    if not seen:
        return ()
    # The shares of all corals add up to 1.
    unseen = 1.0 - sum(each.share.value for each in seen)
    hidden = words("shares.hidden", share=f"{100.0 * unseen:.0f}") if unseen > 1e-9 else ""
    method = ctx.link(f"{links.METHODS}#shares", words("shares.method"))
    rows = tuple(
        (
            joined(ctx.to_coral(each.coral), small(words("shares.assumed")) if each.assumed else ""),
            say_share(ctx, each.share),
            ctx.say.amount(each.grams_per_day),
            _per_day(ctx, each.alkalinity),
        )
        for each in seen
    )
    heads = words.each("shares.coral", "shares.share", "shares.grams", "quantities.alkalinity")
    return (
        _picture(ctx, seen),
        Paragraph(joined(words("shares.adds_up"), hidden, method), "note"),
        Fold(words("chart.numbers"), (Table(words("shares.heading"), heads, rows, "stacked tall"),)),
        behind_shares(ctx, found, seen),
    )


def _to_what_ifs(ctx: PageContext, ifs: Sequence[WhatIf]) -> Inline:
    """What a cut of the first coral would change, and the way to all others."""
    for each in ifs:
        if isinstance(cut := each.cut, Demand):
            then = _per_day(ctx, cut.alkalinity_after)
            return Link(
                ctx.words(
                    "shares.if_one_cut",
                    coral=ctx.ties.coral_names[each.coral],
                    value=then.value,
                    interval=then.interval,
                ),
                "#what-if",
            )
    return ""


def _what_ifs(ctx: PageContext, found: Shares) -> Section | None:
    """Alkalinity uptake with a third of a coral cut, without the coral, and in each other system with it."""
    words = ctx.words
    ifs = ctx.found.what_if.get(found.system, ())
    if not ifs:
        return None
    others = [id for id, _ in ifs[0].moved]
    moved: Iterator[Inline] = (joined(words("shares.moved"), ctx.to_system(id)) for id in others)
    most = words("shares.most", n=MOST_TOLD) if len(found.corals) > MOST_TOLD else ""
    title, heads = words("shares.what_if"), (*words.each("shares.coral", "shares.cut", "shares.gone"), *moved)
    return section(
        title,
        _here(ctx, found.system, ifs),
        group("side-by-side", *(_there(ctx, id, ifs) for id in others)),
        Fold(
            words("chart.numbers"),
            (Table(title, heads, tuple(_what_if(ctx, each, others) for each in ifs), "stacked tall many"),),
        ),
        behind_what_ifs(ctx, found, ifs, others),
        Paragraph(joined(words("shares.another"), code(f"corallite what-if {ifs[0].coral} --cut 40%")), "note onward")
        if ctx.view.writes
        else None,
        onward(ctx, links.PLANNED, "shares.coming") if ctx.view.plans else None,
        id="what-if",
        lead=joined(words("shares.what_if_lead"), _now(ctx, ifs), _by_both(ctx, found.system), most),
    )


def _by_both(ctx: PageContext, system: str) -> str:
    """Why the whole differs a little from the uptake by alkalinity alone."""
    alone = ctx.findings[system].uptake["alkalinity"].per_day
    if isinstance(alone, CannotTell):
        return ""
    shown = ctx.say.per_day("alkalinity", alone.estimate)
    return ctx.words("shares.by_both", **shown.blanks())


def _picture(ctx: PageContext, seen: Sequence[CoralShare]) -> Drawn:
    rows = [
        Row(
            ctx.to_coral(each.coral),
            say_share(ctx, each.share),
            each.share.scaled(100.0, "%"),
            "way" if each.assumed else "measured",
        )
        for each in seen[:_MOST_STRIPS]
    ]
    return drawn_ranges(ctx.words, ctx.words("shares.picture"), "%", rows)


def _here(ctx: PageContext, system: str, ifs: Sequence[WhatIf]) -> Drawn:
    """The uptake now, and with a third of a coral cut and without it, on one scale."""
    words = ctx.words
    rows: list[Row] = []
    for each in ifs[:_MOST_HERE]:
        for key, demand in (("cut", each.cut), ("gone", each.gone)):
            if isinstance(demand, Demand):
                rows = rows or [uptake_row(ctx, words("shares.as_now"), demand.alkalinity_before, "measured")]
                label = joined(ctx.to_coral(each.coral), words(f"shares.{key}"), by=": ")
                rows.append(uptake_row(ctx, label, demand.alkalinity_after, "predicted"))
    return drawn_uptakes(ctx, words("shares.here", system=ctx.view.systems[system].name), rows)


def _there(ctx: PageContext, system: str, ifs: Sequence[WhatIf]) -> Drawn:
    """The uptake of another system now, and with each of these corals there, on one scale."""
    words = ctx.words
    rows: list[Row] = []
    for each in ifs[:_MOST_THERE]:
        if isinstance(moved := dict(each.moved)[system], Moved):
            rows = rows or [uptake_row(ctx, words("shares.as_now"), moved.arriving.alkalinity_before, "measured")]
            label = joined(words("shares.with_one"), ctx.to_coral(each.coral))
            rows.append(uptake_row(ctx, label, moved.arriving.alkalinity_after, "predicted"))
    return drawn_uptakes(ctx, words("shares.there", system=ctx.view.systems[system].name), rows)


def drawn_uptakes(ctx: PageContext, title: str, rows: Sequence[Row]) -> Drawn:
    """Rows of `uptake_row` as a picture, if there are any."""
    return drawn_ranges(ctx.words, title, ctx.say.a_day(ctx.say.unit("alkalinity")), rows)


def uptake_row(ctx: PageContext, label: Inline, found: Estimate, look: Look) -> Row:
    """An alkalinity uptake (meq/L/day) as a row of a picture, in the unit shown."""
    return Row(label, _per_day(ctx, found), ctx.display.estimate("alkalinity", found, of_level=False), look)


def _now(ctx: PageContext, ifs: Sequence[WhatIf]) -> str:
    """The uptake now, with which all the others are compared."""
    before = next((each.cut.alkalinity_before for each in ifs if isinstance(each.cut, Demand)), None)
    if before is None:
        return ""
    said = _per_day(ctx, before)
    key = "shares.now_predicted" if ifs[0].predicted else "shares.now"
    return ctx.words(key, **said.blanks())


def _what_if(ctx: PageContext, each: WhatIf, others: Sequence[str]) -> tuple[Inline, ...]:
    moved = dict(each.moved)
    cut, gone = (
        _per_day(ctx, demand.alkalinity_after) if isinstance(demand, Demand) else "–"
        for demand in (each.cut, each.gone)
    )
    return ctx.to_coral(each.coral), cut, gone, *(_moved(ctx, moved[id]) for id in others)


def _moved(ctx: PageContext, moved: Moved | CannotTell) -> Inline:
    """What a coral's move does to the uptake of its new system, and how much it takes there against here."""
    if isinstance(moved, CannotTell):
        return "–"
    now = _per_day(ctx, moved.arriving.alkalinity_before)
    before = ctx.words("shares.from", **now.blanks())
    said = small(f"{before}. {times_words(ctx.say, moved)}")
    return joined(_per_day(ctx, moved.arriving.alkalinity_after), said)


def _per_day(ctx: PageContext, found: Estimate) -> Shown:
    return ctx.say.per_day("alkalinity", found)
