"""What changed since a day, or in a week: water, uptake, doses, corals, growth, lines at risk, promises."""

from collections.abc import Iterator
from datetime import timedelta

from msgspec.structs import replace

from generator.reckon.analysis.since import (
    Changes,
    Grown,
    LevelChange,
    Promised,
    ReadSince,
    UptakeChange,
    WaterSince,
    is_told,
)
from generator.render.base import links
from generator.render.base.blocks import Block, Drawn, Fold, Paragraph, Section, Table, items, section
from generator.render.base.context import PageContext, page, predicted
from generator.render.base.links import Inline, bold, joined, small
from generator.render.base.numbers import Shown, listed
from generator.render.base.page import Page
from generator.render.base.scale import Row, drawn_ranges
from generator.render.base.why import how
from generator.render.found import changes_for
from generator.render.pages.front import SystemCard, card_of
from generator.render.pages.next_tests import reading_cards
from generator.render.pages.offers import gallery
from generator.render.pages.shares import drawn_uptakes, uptake_row
from generator.units.quantity import Estimate, Quantity

WEEK = timedelta(days=7)


def since_page(ctx: PageContext) -> Page:
    """The page of what changed in the last seven days."""
    found = changes_for(ctx.view, ctx.found, ctx.as_of - WEEK, ctx.as_of)
    return page(
        ctx,
        "since",
        "today",
        Paragraph(_in_short(ctx, found)),
        *_drawn(ctx, found),
        *since_blocks(ctx, found),
        lead=since_lead(ctx, found),
        contents=True,
    )


def _in_short(ctx: PageContext, found: Changes) -> Inline:
    """In which water which quantities have changed, and which corals came or went."""
    words = ctx.words
    told = [
        joined(ctx.to_system(id), listed(ctx, [_moved(ctx, each, kind) for kind in kinds]), by=": ")
        for id, each in _most_changed(found)
        if (kinds := _news(each))
    ]
    told += [
        joined(words(f"since.{key}"), listed(ctx, [coral.name for coral in corals]))
        for key, corals in (("gained", found.gained), ("lost", found.lost))
        if corals
    ]
    return (
        joined(bold(words("since.in_short")), joined(*told, by="; "))
        if told
        else words("since.calm")
        if found.water
        else ""
    )


def _moved(ctx: PageContext, found: WaterSince, kind: str) -> str:
    """A quantity with its readings then and now, where its level is what changed."""
    name = ctx.words(f"quantities_within.{kind}")
    for each in found.levels:
        if each.kind == kind and each.before and _tells(each) and not _same(each):
            then, now = (ctx.say.reading(read.reading, read.value) for read in (each.before, each.after))
            return ctx.words("since.from_to", quantity=name, then=then, now=now)
    return name


def since_lead(ctx: PageContext, found: Changes) -> Inline:
    """Between which moments, and how it is calculated."""
    return joined(ctx.words("since.lead", since=ctx.say.moment(found.since).text), how(ctx, "difference"))


def _drawn(ctx: PageContext, found: Changes) -> Iterator[Block]:
    """The water then and now against its bands, its uptake then and now, and the corals that came, went or grew."""
    words, cards, rows = ctx.words, list[SystemCard](), list[Row]()
    for id, each in _most_changed(found):
        if id in ctx.findings:
            system = ctx.view.systems[id]
            was = {level.kind: level.before.value for level in each.levels if level.before and not _same(level)}
            readings = reading_cards(ctx, system, ctx.findings[id], was)
            if readings:
                cards.append(replace(card_of(ctx, system, ctx.findings[id], ()), readings=readings))
            rows += (row for uptake in each.uptake if uptake.kind == "alkalinity" for row in _then_now(ctx, id, uptake))
    key = words("since.key", since=ctx.say.date(found.since))
    yield section(words("since.drawn"), Drawn("systems", tuple(cards)), lead=key)
    yield drawn_uptakes(ctx, words("since.drawn_uptake"), rows)
    yield gallery(ctx, [*found.gained, *found.lost])
    grown = [(each, each.by.scaled(100.0 / each.before[1], "%")) for each in found.grown if each.by]
    grew = [Row(ctx.ties.coral_names[each.coral], ctx.say.estimate(by, "%"), by, "measured") for each, by in grown]
    yield drawn_ranges(words, words("since.drawn_growth"), "%", grew)


def _then_now(ctx: PageContext, system: str, change: UptakeChange) -> Iterator[Row]:
    """Uptake then, where it can be told, and now."""
    name = ctx.view.systems[system].name
    for then, found in ((True, change.before), (False, change.after)):
        if found:
            label = ctx.words(f"since.{'of_then' if then else 'of_now'}", system=name)
            yield uptake_row(ctx, label, found, "predicted" if then else "measured")


def since_blocks(ctx: PageContext, found: Changes, calm: bool = True) -> tuple[Block, ...]:
    """All changes, each group under its heading; or, if `calm`, that there are none."""
    words = ctx.words
    blocks: list[Block] = [
        *(_water(ctx, id, each) for id, each in _most_changed(found) if id in ctx.findings),
        section(words("since.corals"), items(*_corals(ctx, found))),
        section(words("since.growth"), items(*(_grown(ctx, each) for each in found.grown))),
        section(words("since.lines"), items(*_lines(ctx, found))),
        *(
            section(words(f"since.{what}"), items(*(_promise(ctx, each) for each in promised)))
            for what, promised in (("made", found.made), ("kept", found.kept), ("overdue", found.overdue))
        ),
    ]
    if any(blocks):
        return tuple(blocks)
    return (Paragraph(words("since.nothing")),) if calm else ()


def _water(ctx: PageContext, id: str, found: WaterSince) -> Section:
    words = ctx.words
    heads = words.each("system.quantity", "since.then", "since.now", "since.change")
    perhaps = {
        each.id for each in reading_cards(ctx, ctx.view.systems[id], ctx.findings[id]) if each.standing == "edge"
    }
    taken = [each for each in found.uptake if _takes_up(each)]
    read = [each for each in found.levels if not _same(each)]
    title = words("since.water", system=ctx.view.systems[id].name)
    changed, same = (
        Table(
            title,
            heads,
            (
                *(_uptake(ctx, each) for each in taken if _tells(each) is tells),
                *(_level(ctx, each, each.kind in perhaps) for each in read if _tells(each) is tells),
            ),
            "tall",
        )
        for tells in (True, False)
    )
    names = [words(f"quantities_within.{each.kind}") for each in taken if not _tells(each)]
    names = [words("since.uptake_of", quantity=name) for name in names]
    names += [words(f"quantities_within.{each.kind}") for each in read if not _tells(each)]
    return section(
        ctx.to_system(id),
        changed,
        items(*_doses(ctx, found)),
        Paragraph(joined(bold(words("since.same")), f"{listed(ctx, names)}.") if names else ""),
        Fold(words("chart.numbers"), (same,), "why in-text"),
        *(Paragraph(each, "note") for each in predicted(ctx, id)),
    )


def _most_changed(found: Changes) -> list[tuple[str, WaterSince]]:
    """The waters, those where most has changed first."""
    return sorted(found.water.items(), key=lambda each: -len(_news(each[1])))


def _news(found: WaterSince) -> list[str]:
    """The quantities of a water with something to look at."""
    told = [each.kind for each in found.levels if not _same(each) and _tells(each)]
    return list(dict.fromkeys(told + [each.kind for each in found.uptake if _takes_up(each) and _tells(each)]))


def _takes_up(change: UptakeChange) -> bool:
    """Whether the readings tell uptake from none, then or now. Of alkalinity it is always said."""
    ends = [each.low for each in (change.before, change.after) if each]
    return change.kind == "alkalinity" or max(ends) > 0.0


def _same(change: LevelChange) -> bool:
    return change.before is not None and change.before.reading == change.after.reading


def _tells(change: LevelChange | UptakeChange) -> bool:
    """Whether there is something to look at: a change, a doubt, or another side of the band."""
    if change.by is None or is_told(change.by):
        return True
    return isinstance(change, LevelChange) and (change.after.doubtful or _side(change) != "")


def _side(change: LevelChange) -> str:
    """The side of its band that a quantity is on now and was not then; "" if it is where it was."""
    stood, side = change.before.standing if change.before else "no-band", change.after.standing
    return side if change.before and side not in (stood, "no-band") else ""


def _level(ctx: PageContext, change: LevelChange, perhaps: bool) -> tuple[Inline, ...]:
    """A quantity's last readings then and now, by how much it changed, and how it stands in its band.

    `perhaps`: it is out of its band by no more than its kit may err.
    """
    words, kind, was = ctx.words, change.kind, change.before
    band = words(f"since.{'perhaps' if perhaps else 'band'}.{side}") if (side := _side(change)) else ""
    by: Inline = words("since.doubtful") if change.after.doubtful else ""
    if change.by is not None:
        by = _by(ctx, change.by, ctx.say.difference(kind, change.by.size))
    return (
        words(f"quantities.{kind}"),
        _reading(ctx, was) if was else "–",
        _reading(ctx, change.after),
        joined(by, band, by="; ") or "–",
    )


def _reading(ctx: PageContext, read: ReadSince) -> Inline:
    return joined(ctx.say.reading(read.reading, read.value), small(f"({ctx.say.date(read.reading.at)})"))


def _uptake(ctx: PageContext, change: UptakeChange) -> tuple[Inline, ...]:
    kind, before, by = change.kind, change.before, change.by
    return (
        ctx.words("since.of", quantity=ctx.words(f"quantities.{kind}")),
        ctx.say.per_day(kind, before) if before else ctx.words("since.unknown"),
        ctx.say.per_day(kind, change.after),
        _by(ctx, by, ctx.say.per_day(kind, by.size)) if by else "–",
    )


def _by(ctx: PageContext, by: Estimate, size: Shown) -> Inline:
    """By how much something changed; or that the readings cannot tell."""
    if not is_told(by):
        return ctx.words("since.no_change")
    return joined(ctx.words("since.more" if by.value > 0.0 else "since.less"), size)


def _doses(ctx: PageContext, found: WaterSince) -> Iterator[Inline]:
    words = ctx.words
    for pump in found.pumps:
        before = ctx.say.written(pump.before) if pump.before else words("since.no_pump")
        yield words("since.pump", solution=pump.solution, before=before, after=ctx.say.written(pump.after))
    for solution, litres in found.poured.items():
        amount = ctx.say.written(Quantity(1000.0 * litres, "mL", "volume", 0))
        yield words("since.poured", solution=solution, amount=amount)


def _corals(ctx: PageContext, found: Changes) -> Iterator[Inline]:
    words = ctx.words
    for coral in found.gained:
        how = words("coral.came_on", how=words(f"arrivals.{coral.arrival.how}"), day=ctx.say.on(coral.arrival.at))
        yield joined(words("since.gained"), ctx.to_coral(coral.id), f"({how})")
    for coral in found.lost:
        how = words("since.no_file")
        if coral.end:
            how = words("coral.came_on", how=words(f"ends.{coral.end.how}"), day=ctx.say.on(coral.end.at))
        yield joined(words("since.lost"), ctx.to_coral(coral.id), f"({how})")


def _grown(ctx: PageContext, grown: Grown) -> Inline:
    words, (since, _), (day, after), by = ctx.words, grown.before, grown.after, grown.by
    unit = after.unit
    change: Inline = words("since.cut")
    if by is not None:
        change = _by(ctx, by, ctx.say.estimate(by.size, words.unit(unit)))
    said = ctx.say.estimate(after, words.unit(unit))
    what = joined(ctx.to_coral(grown.coral), words(f"since.grown.{grown.what}", day=ctx.say.on(day)), said)
    return joined(what, joined(change, words("since.from", day=ctx.say.on(since))), by="; ")


def _lines(ctx: PageContext, found: Changes) -> Iterator[Inline]:
    words = ctx.words
    for risk in found.at_risk:
        yield joined(ctx.to_line(risk.line), words("since.at_risk"), words(f"lines.risk.{risk.by}"))
    yield from (joined(ctx.to_line(line), words("since.saved")) for line in found.saved)
    yield from (joined(ctx.to_line(line), words("since.ended")) for line in found.ended)


def _promise(ctx: PageContext, promised: Promised) -> Inline:
    """Who owes what, with whom, and by when or since when it is kept."""
    owed, trade = promised.owed, promised.trade
    what = ctx.words(f"trades.owed.{owed.by}", what=owed.what)
    return joined(ctx.link(links.page_of("trade", trade.id), ctx.partner(trade.partner)), what, by=": ")
