"""What each coral shares of an uptake, what cutting or moving one would do, and what a change was predicted to do."""

from collections.abc import Iterator, Sequence
from functools import partial

from generator.reckon.arrivals.analysis import MOST_TOLD, Demand, Moved, WhatIf
from generator.reckon.arrivals.expected import ExpectedUptake, alkalinity_of
from generator.reckon.arrivals.shares import CoralShare, Shares
from generator.reckon.finding import Answer, CannotTell, Finding, UncertaintyPart, scaled_parts
from generator.records.system import System
from generator.render.base import links
from generator.render.base.blocks import Block, Drawn, Figure, Fold, Paragraph, Section, Table, figures, group, section
from generator.render.base.context import PageContext, onward, page_of_system
from generator.render.base.links import Inline, Link, code, joined, small
from generator.render.base.numbers import Shown, times_words
from generator.render.base.page import Page
from generator.render.base.scale import Look, Row, drawn_ranges
from generator.render.base.why import (
    Ground,
    LogInWords,
    Parts,
    amount_figure,
    behind,
    cannot,
    evidence,
    figure_of,
    per_day_figure,
)
from generator.units.quantity import Estimate


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


def _factor(ctx: PageContext, found: ExpectedUptake) -> str:
    said = say_share(ctx, found.factor.ratio.estimate(""))
    return ctx.words(f"changes.factor.{found.factor.known}", **said.blanks())


# So many corals, those that take the most, are in the pictures of shares, of what would be here, and there.
_MOST_STRIPS, _MOST_HERE, _MOST_THERE = 12, 4, 3


def shares_page(ctx: PageContext, system: System, found: Shares | CannotTell) -> Page:
    """The shares of one system's corals, as far as this audience may see them, and what would change them."""
    words = ctx.words
    told = evidence(ctx, system.id)
    measured = ctx.findings[system.id].calcification.grams_per_day
    whole = figures(amount_figure(ctx, whole_label(ctx, system.id), measured, told), look="small spaced")
    shared = ctx.shared.shares_listed[system.id] if isinstance(found, Shares) else (cannot(words, found),)
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


def shares_listed(ctx: PageContext, system: str) -> tuple[Block, ...]:
    """Each coral's part of the uptake, and its evidence: what is read in another system changes nothing of it."""
    words, found = ctx.words, ctx.found.shares.get(system)
    if not isinstance(found, Shares) or not found.corals:
        return ()
    seen = list(found.corals.values())
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


def whole_label(ctx: PageContext, system: str) -> str:
    """What the whole of a system's uptake is: measured, or measured with what is predicted of the last events."""
    return ctx.words("shares.whole_predicted" if ctx.found.predicted.get(system) else "shares.whole")


def behind_shares(ctx: PageContext, found: Shares, seen: Sequence[CoralShare]) -> Fold:
    """For each coral, the parts of its share and of its grams a day, and the lines with its size."""
    grams = ctx.say.a_day("g")
    whole = Ground(whole_label(ctx, found.system), (Parts(found.whole.parts, grams),), found.whole.inputs)
    coral = ctx.words("shares.coral")
    return behind(ctx, coral, "shares", (whole, *(_share(ctx, found.whole, each, grams) for each in seen)), tall=False)


def _share(ctx: PageContext, whole: Finding, each: CoralShare, grams: str) -> Ground:
    of_share, of_whole = scaled_parts(each.parts, whole.estimate.value), scaled_parts(whole.parts, each.share.value)
    figures = Parts(each.parts, "%", 100.0), Parts((*of_whole, *of_share), grams)
    return Ground(ctx.to_coral(each.coral).text, figures, each.inputs)


def behind_what_ifs(ctx: PageContext, found: Shares, ifs: Sequence[WhatIf], others: Sequence[str]) -> Fold:
    """The uptake now, then after each change of each coral, with its own parts and the lines of that coral."""
    now = [_measured_now(ctx, system) for system in (found.system, *others)]
    grounds = (*(each for each in now if each), *_of_what_ifs(ctx, ifs, others))
    return behind(ctx, ctx.words("why.of_what"), "shares", grounds, tall=False)


def _measured_now(ctx: PageContext, system: str) -> Ground | None:
    """The evidence for the measured uptake, on which all the others depend too."""
    measured = ctx.findings[system].calcification.grams_per_day
    if not isinstance(measured, Finding):
        return None
    one = alkalinity_of(Estimate.exact(1.0, "g/day"), ctx.view.systems[system].water).value
    name = ctx.words("shares.as_it_is", system=ctx.view.systems[system].name)
    return Ground(name, (_of_uptake(ctx, measured.parts, one),), measured.inputs)


def _of_what_ifs(ctx: PageContext, ifs: Sequence[WhatIf], others: Sequence[str]) -> Iterator[Ground]:
    for each in ifs:
        coral = ctx.to_coral(each.coral).text
        moved = dict(each.moved)
        deeds = [(ctx.words("shares.cut"), each.cut), (ctx.words("shares.gone"), each.gone)]
        for id in others:
            found = moved[id]
            there = found.arriving if isinstance(found, Moved) else found
            deeds.append((f"{ctx.words('shares.moved')} {ctx.view.systems[id].name}", there))
        for deed, demand in deeds:
            if isinstance(demand, Demand):
                yield Ground(f"{coral}: {deed}", (_of_uptake(ctx, demand.parts),), demand.inputs)


def _of_uptake(ctx: PageContext, parts: Sequence[UncertaintyPart], factor: float = 1.0) -> Parts:
    unit = ctx.say.a_day(ctx.display.unit("alkalinity"))
    return Parts(parts, unit, factor * ctx.display.change("alkalinity", 1.0))
