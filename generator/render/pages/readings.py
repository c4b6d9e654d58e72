"""The latest readings of a system against their bands."""

from dataclasses import dataclass

from generator.reckon.water.canonical import canonical_value, kit_error
from generator.reckon.water.findings import Latest, WaterFindings
from generator.records.system import Levels, System
from generator.render.base import links
from generator.render.base.context import PageContext
from generator.render.base.inline import Link
from generator.render.base.numbers import Moment
from generator.render.base.scale import Gauge, gauge
from generator.render.charts.water_rows import WINDOW
from generator.units.kinds import WATER_KINDS
from generator.units.quantity import coverage_factor


@dataclass(frozen=True, slots=True)
class ReadingCard:
    """The last reading of a quantity: value, band, in words whether it is in band, age, and its log line."""

    id: str
    quantity: Link
    value: str
    standing: str
    standing_words: str
    band: str
    low: str
    high: str
    gauge: Gauge | None
    gauge_words: str
    at: Moment
    age: str
    doubtful: str
    source: str


def reading_cards(ctx: PageContext, system: System, findings: WaterFindings) -> tuple[ReadingCard, ...]:
    """A card for every quantity that was ever tested, in the order of the table of quantities."""
    return tuple(_card(ctx, system, findings, findings.latest[kind]) for kind in WATER_KINDS if kind in findings.latest)


def _card(ctx: PageContext, system: System, findings: WaterFindings, latest: Latest) -> ReadingCard:
    words, kind = ctx.words, latest.reading.kind
    name = words(f"quantities.{kind}")
    value = ctx.say.reading(latest.reading, latest.value)
    low, high = band_end(ctx, system.low, kind), band_end(ctx, system.high, kind)
    error = kit_error(system, latest.reading, findings.learned_error(kind))
    of_old = latest.standing != "no-band" and not charted(findings, kind)
    standing = "old" if of_old else "edge" if _unsure(latest, error) else latest.standing
    said = words(f"standing.{'perhaps.' if standing == 'edge' else 'was.' if of_old else ''}{latest.standing}")
    band = band_words(ctx, low, high)
    return ReadingCard(
        id=kind,
        quantity=ctx.link(
            f"{links.page_of('system', system.id)}#{'charts' if charted(findings, kind) else 'now'}", name
        ),
        value=value,
        standing=standing,
        standing_words=said,
        band=band,
        low=low,
        high=high,
        gauge=gauge(latest, error),
        gauge_words=words("system.gauge", quantity=name, value=value, standing=said, band=band),
        at=ctx.say.moment(latest.reading.at),
        age=ctx.say.age(latest.reading.at, ctx.as_of),
        doubtful=words("standing.doubtful") if latest.doubtful else "",
        source=str(latest.reading.source),
    )


def _unsure(latest: Latest, error: float | None) -> bool:
    """Whether a reading is out of its band by no more than its kit may err (90 %)."""
    end = {"low": latest.low, "high": latest.high}.get(latest.standing)
    return end is not None and abs(latest.value - end) <= (error or 0.0) * coverage_factor()


def band_end(ctx: PageContext, levels: Levels, kind: str) -> str:
    """One end of a quantity's band, as exact as it was written; "" if there is none."""
    end = levels.of(kind)
    return "" if end is None else ctx.say.canonical(kind, canonical_value(end), end)


def charted(findings: WaterFindings, kind: str) -> bool:
    """Whether a quantity was tested recently enough for a chart."""
    return kind in findings.latest and findings.latest[kind].reading.at >= findings.as_of - WINDOW


def band_words(ctx: PageContext, low: str, high: str) -> str:
    """A band by its ends; "" for an end that there is not."""
    if low and high:
        return ctx.words("band.between", low=low, high=high)
    if low:
        return ctx.words("band.above", low=low)
    return ctx.words("band.below", high=high) if high else ctx.words("band.none")
