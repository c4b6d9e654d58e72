"""A year: the water by week, the skeleton grown, frags and their hands, arrivals, losses, and a photograph a month."""

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from statistics import median

from generator.reckon.water.canonical import canonical_value
from generator.reckon.water.findings import WaterFindings
from generator.reckon.water.skeleton import laid_down
from generator.records.coral import Coral
from generator.records.system import System
from generator.render.base import links
from generator.render.base.blocks import Block, PhotoLink, Photos, Picture, Section, facts, row, section
from generator.render.base.context import PageContext
from generator.render.base.inline import Inline, Link, joined
from generator.render.base.why import to_method
from generator.render.drawings.statistics import Band, Water, draw_weeks
from generator.units.kinds import WATER_KINDS

_LOST = ("died", "lost")


def year_of(ctx: PageContext, year: int) -> tuple[Block, ...]:
    """What the year brought, as far as this audience may see it."""
    words, corals = ctx.words, ctx.view.corals.values()
    ends = [coral for coral in corals if coral.end and coral.end.at.year == year]
    came = [coral for coral in corals if coral.arrival.at.year == year and coral.arrival.how != "cutting"]
    return (
        _water(ctx, year),
        section(words("year.photos"), Photos(tuple(_photos(ctx, year))), id="photos"),
        section(
            words("year.grown"),
            facts(
                *_grown(ctx, year),
                (words("year.frags"), _frags(ctx, year)),
                (words("year.came"), row(*(ctx.to_coral(coral.id) for coral in came))),
                (words("year.lost"), row(*(ctx.to_coral(each.id) for each in ends if _how(each) in _LOST))),
                (words("year.went"), row(*(ctx.to_coral(each.id) for each in ends if _how(each) not in _LOST))),
            ),
            id="grown",
            method=to_method(ctx, "calcification"),
        ),
    )


def _how(coral: Coral) -> str:
    return coral.end.how if coral.end else ""


def _grown(ctx: PageContext, year: int) -> Iterator[tuple[Inline, Inline]]:
    """Skeleton laid down in each water, and the way to the evidence of its uptake."""
    since, until = (datetime(each, 1, 1, tzinfo=ctx.display.zone) for each in (year, year + 1))
    for id, system in ctx.view.systems.items():
        uptake = ctx.findings[id].uptake.get("alkalinity") if id in ctx.findings else None
        if uptake and (grams := laid_down(uptake.track, system.water.volume.canonical(), since, until)):
            shown = ctx.say.estimate(grams, ctx.words.unit("g"))
            first = max(since, uptake.track[0].at)
            note = ctx.words("year.since", day=ctx.say.date(first)) if first > since + timedelta(days=14) else ""
            evidence = ctx.link(f"{links.page_of('system', id)}#why-uptake-alkalinity", ctx.words("why.title"))
            yield Link(system.name), joined(shown, note, evidence)


def _frags(ctx: PageContext, year: int) -> str:
    """Frags cut, and to how many hands pieces went."""
    cut = sum(each.frags for coral in ctx.view.corals.values() for each in coral.cuttings if each.at.year == year)
    hands = {trade.partner for trade in ctx.view.trades.values() if trade.at.year == year and trade.gave}
    said = ctx.words("year.cut", n=cut) if cut else ""
    return ", ".join(filter(None, (said, ctx.words("year.hands", n=len(hands)) if hands else "")))


def _water(ctx: PageContext, year: int) -> Section | None:
    """Every week's readings against the band of today."""
    words = ctx.words
    waters = [
        Water(system.name, bands)
        for id, system in ctx.view.systems.items()
        if id in ctx.findings and (bands := list(_bands(ctx, system, ctx.findings[id], year)))
    ]
    if not waters:
        return None
    weeks = [standing for water in waters for band in water.bands for _, standing, _ in band.weeks]
    said = words("year.said", within=weeks.count("within"), all=len(weeks))
    months = [
        ((date(year, month, 1) - date(year, 1, 1)).days / 366, words(f"months.{month}")) for month in range(1, 13, 2)
    ]
    drawn = draw_weeks(f"weeks-{year}", words("year.picture", year=year), said, waters, months)
    return section(words("year.water"), Picture(drawn, words("year.key"), "drawing"), id="water", lead=said)


def _bands(ctx: PageContext, system: System, found: WaterFindings, year: int) -> Iterator[Band]:
    for kind in WATER_KINDS:
        ends = [canonical_value(end) if (end := side.of(kind)) else None for side in (system.low, system.high)]
        if ends == [None, None]:
            continue
        weeks: dict[int, list[float]] = {}
        for reading, value in found.readings:
            day = reading.at.astimezone(ctx.display.zone).date()
            if reading.kind == kind and day.year == year:
                weeks.setdefault((day - date(year, 1, 1)).days // 7, []).append(value)
        if weeks:
            name = ctx.words(f"quantities.{kind}")
            yield Band(name, [_week(ctx, kind, week, median(values), *ends) for week, values in sorted(weeks.items())])


def _week(
    ctx: PageContext, kind: str, week: int, value: float, low: float | None, high: float | None
) -> tuple[int, str, str]:
    side = "low" if low is not None and value < low else "high" if high is not None and value > high else "within"
    return week, side, f"{ctx.say.canonical(kind, value)}, {ctx.words(f'standing.{side}')}"


def _photos(ctx: PageContext, year: int) -> Iterator[PhotoLink]:
    """The last photograph of each month, of a coral or of what was written."""
    dated = [(photo, coral.name) for coral in ctx.view.corals.values() for photo in coral.photos]
    dated += [(photo, entry.title) for entry in ctx.ties.headings.values() for photo in entry.photos]
    seen: set[str] = set()
    for month in range(1, 13):
        taken = [
            (photo.at, photo, of)
            for photo, of in dated
            if photo.at and (photo.at.year, photo.at.month) == (year, month)
        ]
        for _, photo, of in sorted(taken, key=lambda each: each[0], reverse=True):
            if photo.file not in seen and (shown := ctx.photo(photo, of)):
                seen.add(photo.file)
                yield shown
                break
