"""Every line: its family tree, where its corals are, which lines one loss would end; and the survival of arrivals."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from html import escape
from math import isqrt

from markupsafe import Markup

from generator.door.door import grouped
from generator.reckon.finding import Finding
from generator.reckon.lineage.lines import (
    HORIZONS,
    LEAST_ARRIVALS,
    LEAST_AT_RISK,
    AtRisk,
    Family,
    FamilyMember,
    GroupSurvival,
    Holder,
)
from generator.render.base import links
from generator.render.base.blocks import Paragraph, Picture, Section, Table, facts, figures, folded, items, row, section
from generator.render.base.context import PageContext, as_file, page, section_crumb
from generator.render.base.links import Inline, Link, Span, bold, joined, small
from generator.render.base.page import Page
from generator.render.base.scale import MS_PER_DAY, day_clock
from generator.render.base.why import figure, how
from generator.render.drawings.statistics import FATES, Bar, Fate, Tree, draw_survival, draw_trees
from generator.render.pages.alert_words import no_holder_words
from generator.render.pages.offers import state_of


def survival_page(ctx: PageContext) -> Page:
    """The page about survival of arrivals."""
    words, found = ctx.words, ctx.found.survival
    enough = [group for group in found if group.arrivals >= LEAST_ARRIVALS]
    few = [f"{group_name(ctx, group)}: {_count(ctx, group)}" for group in found if group not in enough]
    return page(
        ctx,
        "survival",
        "corals",
        *(_group(ctx, group) for group in enough),
        None if enough else Paragraph(words("survival.none")),
        section(words("survival.few"), items(*few)),
        as_file(ctx, "data/survival.csv", "survival"),
        crumbs=(section_crumb(ctx, "corals"),),
        lead=joined(_lived(ctx, found), words("survival.lead", least=LEAST_ARRIVALS), how(ctx, "survival")),
    )


def _group(ctx: PageContext, group: GroupSurvival) -> Section:
    """A group of arrivals that is large enough for a picture."""
    words, id = ctx.words, f"{group.by}-{group.name}"
    name, count = group_name(ctx, group), _count(ctx, group)
    return section(
        joined(name, small(count)),
        Picture(_curve(ctx, group, id, f"{name}: {count}"), words("survival.rows", least=LEAST_AT_RISK))
        if group.told_until >= HORIZONS[0]
        else Paragraph(words("survival.no_picture", n=HORIZONS[0], least=LEAST_AT_RISK), "note"),
        figures(
            *(
                figure(
                    ctx,
                    words("survival.after", n=horizon.days),
                    horizon.survival,
                    note=words("survival.watched", n=horizon.at_risk),
                )
                for horizon in group.horizons
            )
        ),
        id=id,
    )


def _lived(ctx: PageContext, found: Sequence[GroupSurvival]) -> Inline:
    """The answer: how many came and were lost, and the share that lives as long as can be told."""
    group = next((each for each in found if each.by == "all"), None)
    told = [each for each in group.horizons if isinstance(each.survival, Finding)] if group else []
    if group is None or not told:
        return ""
    last = told[-1]
    assert isinstance(last.survival, Finding)
    share = ctx.say.estimate(last.survival.estimate)
    return bold(ctx.words("survival.lived", count=_count(ctx, group), n=last.days, **share.blanks("share")))


def _count(ctx: PageContext, group: GroupSurvival) -> str:
    arrivals = ctx.words("survival.arrivals", n=group.arrivals)
    return ctx.words("survival.count", arrivals=arrivals, lost=ctx.words("survival.lost", n=group.lost))


def group_name(ctx: PageContext, group: GroupSurvival) -> str:
    """A group in words."""
    if group.by == "all":
        return ctx.words("survival.all")
    name = ctx.words(f"arrivals.{group.name}" if group.by == "how-it-came" else f"trips.{group.name}")
    return name[:1].upper() + name[1:]


def _curve(ctx: PageContext, group: GroupSurvival, id: str, title: str) -> Markup:
    words = ctx.words
    last = float(HORIZONS[-1])
    until = group.told_until
    days = [0.0, *(step.time for step in group.curve.steps if step.time < until)]
    # Without a loss the interval widens with every coral that is no longer watched.
    days = sorted({*days, *(time for time in group.curve.times if 0.0 < time < until)})
    steps = []
    for day in days:
        share, _ = group.curve.survival(day)
        low, high = group.curve.interval(day)
        steps.append((day, 100 * share, 100 * low, 100 * high))
    ticks = [(float(day), f"{day}", f"{group.curve.at_risk(day)}") for day in (0, *HORIZONS)]
    return draw_survival(id, title, words("survival.picture", name=group_name(ctx, group)), last, until, steps, ticks)


# So many corals are drawn in one picture, so that it is not cut through on paper.
_ROWS = 20


def lines_page(ctx: PageContext) -> Page:
    """The page of every line of the view, those hardest to replace named first."""
    words = ctx.words
    seen = list(ctx.found.families.values())
    risks = {risk.line: risk for risk in ctx.found.at_risk}
    hang = sum(line.line in risks for line in seen)
    data = (ctx.link(f"data/{name}.csv", words(f"data.tables.{name}.name")) for name in ("lines", "corals"))
    return page(
        ctx,
        "lines",
        "corals",
        section(words("lines.holds.title"), holdings(ctx, seen, risks), id="holds", lead=words("lines.holds.key")),
        row(ctx.link(links.CORALS, words("corals.by_system")), ctx.link(links.SURVIVAL, words("survival.title"))),
        section(
            words("lines.over_time"),
            items(*(_fate(ctx, fate) for fate in FATES), look="fates", label=words("lines.key")),
            *_over_time(ctx, seen),
            id="over-time",
        )
        if seen
        else Paragraph(words("corals.none")),
        section(words("lines.stands_in"), *(_one(ctx, line, risks.get(line.line)) for line in seen), id="each"),
        section(words("site.data"), row(*data)),
        crumbs=(section_crumb(ctx, "corals"),),
        lead=joined(words("lines.lead", n=len(seen)), words("lines.threads", n=hang) if hang else ""),
    )


def _fate(ctx: PageContext, fate: Fate) -> Inline:
    """The shape at the end of a piece's bar, and what it means."""
    sign = '<svg class="fate %s" width="16" height="16" viewBox="-8 -8 16 16" aria-hidden="true"><path d="%s"/></svg>'
    return joined(Markup(sign % (fate, FATES[fate])), ctx.words(f"lines.fates.{fate}"))


def _over_time(ctx: PageContext, seen: Sequence[Family]) -> Iterator[Picture]:
    """The family trees of all lines on one axis of time, as far as the view shows them, a sheet's worth at a time."""
    begun = min(piece.since for line in seen for piece in line.pieces.values())
    sheets: list[list[Family]] = []
    for line in seen:
        if not sheets or sum(len(each.pieces) for each in (*sheets[-1], line)) > _ROWS:
            sheets.append([])
        sheets[-1].append(line)
    return (Picture(line_trees(ctx, lines, begun), look="drawing") for lines in sheets)


def line_trees(ctx: PageContext, lines: Sequence[Family], begun: date) -> Markup:
    """The family trees of some lines from the day when the first of all lines came."""
    words, today = ctx.words, day_clock(ctx.today)
    bars: list[Bar] = []
    for line in lines:
        rows = list(_order(line.pieces))
        place = {piece.coral: row for row, piece in enumerate(rows, len(bars))}
        bars += (_bar(ctx, piece, place, first=piece is rows[0]) for piece in rows)
    # A line that came today still has a stretch of time to be drawn on.
    start = min(day_clock(begun), today - 90 * MS_PER_DAY)
    counts = Counter(bar.fate for bar in bars)
    said = ", ".join(f"{counts[fate]} {words(f'lines.fates.{fate}')}" for fate in FATES if counts[fate])
    names = [ctx.to_line(line.line).text for line in (lines[0], lines[-1])]
    title = f"{words('lines.over_time')}: {' – '.join(dict.fromkeys(names))}"
    return draw_trees(Tree(f"trees-{lines[0].line}", title, start, today, tuple(bars), f"{said}."), words)


def _one(ctx: PageContext, family: Family, risk: AtRisk | None) -> Section:
    """One line: how many live, where, who holds one, and which loss would end it."""
    words = ctx.words
    pieces, living = family.pieces, family.living
    stand = items(
        *(joined(ctx.to_coral(each.coral), state_of(ctx, ctx.view.lives[each.coral]), by=": ") for each in living),
        *(
            joined(ctx.to_coral(each.coral), _whereabouts(ctx, each), by=": ")
            for each in pieces.values()
            if each.fate == "given"
        ),
        look="plain",
    )
    species = ", ".join(sorted({ctx.view.lives[id].species for id in pieces}))
    holders = items(*(_holder(ctx, holder) for holder in ctx.found.holders.get(family.line, ())), look="plain")
    thread = Span(words(f"lines.risk.{risk.by}"), look="thread") if risk else ""
    return folded(
        joined(Link(ctx.to_line(family.line).text), small(words("lines.living", n=len(living))), thread),
        Paragraph(Span(species, "i")),
        facts((words("lines.stands"), stand), (words("lines.held_by"), holders or no_holder_words(ctx, family.line))),
        id=family.line,
    )


def _holder(ctx: PageContext, holder: Holder) -> Inline:
    """A partner who has a coral of the line, or gave us ours, and could give one back."""
    day = ctx.say.on(holder.since)
    return joined(Link(ctx.partner(holder.partner)), ctx.words(f"lines.holders.{holder.how}", day=day), by=", ")


def _order(pieces: Mapping[str, FamilyMember]) -> Iterator[FamilyMember]:
    """Each coral below its parent, the latest cut next to it, so that no lines cross."""
    cut = grouped((piece.parent if piece.parent in pieces else None, piece) for piece in pieces.values())
    # The last of a pile comes first: roots from the oldest on, cuttings from the latest.
    stack = sorted(cut.get(None, ()), key=lambda piece: (piece.since, piece.coral), reverse=True)
    while stack:
        piece = stack.pop()
        yield piece
        stack += sorted(cut.get(piece.coral, ()), key=lambda piece: (piece.since, piece.coral))


def _bar(ctx: PageContext, piece: FamilyMember, place: dict[str, int], *, first: bool) -> Bar:
    words, coral = ctx.words, ctx.view.lives[piece.coral]
    ended = min(piece.until or ctx.today, ctx.today)
    given = tuple(
        (
            day_clock(gift.at),
            words(
                "lines.pieces_to",
                pieces=words("coral.pieces", n=gift.pieces),
                who=ctx.partner(gift.partner),
                day=ctx.say.on(gift.at),
            ),
        )
        for gift in piece.given
    )
    link = ctx.to_coral(coral.id)
    return Bar(
        link.text,
        link.href,
        _whereabouts(ctx, piece),
        day_clock(piece.since),
        day_clock(ended),
        piece.fate,
        place.get(piece.parent or ""),
        given,
        first,
    )


def _whereabouts(ctx: PageContext, piece: FamilyMember) -> str:
    coral = ctx.view.lives[piece.coral]
    said = state_of(ctx, coral)
    if piece.fate == "given" and coral.end and coral.end.partner:
        return ctx.words("lines.given_to", said=said, who=ctx.partner(coral.end.partner))
    return said


_APART = 10


def holdings(ctx: PageContext, seen: Sequence[Family], risks: Mapping[str, AtRisk]) -> Table:
    """A row for each line, those that one loss would end first; a column for each place that holds a piece."""
    words = ctx.words
    here = [id for id in ctx.view.systems if any(_living(line, id) for line in seen)]
    away = {line.line: {holder.partner: holder.how for holder in ctx.found.holders.get(line.line, ())} for line in seen}
    # Partners whom this audience may not know by name stand in one column.
    named = sorted({ctx.partner(partner) for line in away.values() for partner in line})
    ranked = sorted(seen, key=lambda line: list(risks).index(line.line) if line.line in risks else len(risks))
    rows: list[tuple[Inline, ...]] = []
    for line in ranked:
        risk = risks.get(line.line)
        held = [_dots(n, "own", words("lines.holds.own", n=n)) for n in (_living(line, id) for id in here)]
        by_name = {ctx.partner(partner): how for partner, how in away[line.line].items()}
        back = [_dots(1, by, words(f"lines.holds.{by}")) if (by := by_name.get(name)) else "" for name in named]
        alone = words("lines.nowhere") if ctx.found.holders.get(line.line) == () else ""
        thread = Span(joined(words(f"lines.hangs.{risk.by}"), alone, by=", "), look="thread") if risk else ""
        rows.append((joined(ctx.to_line(line.line), thread), *held, *back))
    places = [Link(ctx.view.systems[id].name) for id in here] + [Link(name) for name in named]
    heads: tuple[Inline, ...] = (words("coral.line"), *places)
    looks = tuple("hangs" if line.line in risks else "" for line in ranked)
    return Table(words("lines.holds.title"), heads, tuple(rows), "holds", looks)


def _living(line: Family, system: str) -> int:
    return sum(piece.system == system for piece in line.living)


def _dots(n: int, look: str, said: str) -> Inline:
    """As many marks as there are pieces, for eyes, and the words for ears."""
    if not n:
        return ""
    # As near a square as there are pieces, so that a column is narrow enough for a telephone.
    across = isqrt(n - 1) + 1
    width, high = across * _APART, -(-n // across) * _APART
    marks = "".join(f'<circle cx="{i % across * _APART + 5}" cy="{i // across * _APART + 5}" r="4"/>' for i in range(n))
    svg = (
        f'<svg class="held-{look}" width="{width}" height="{high}" role="img" aria-label="{escape(said)}">{marks}</svg>'
    )
    return Markup(svg)
