"""The preview picture of a shared link: the page's photo, or its water over the last months.

This module gives plain numbers; publishing draws the picture.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import PurePosixPath

from generator.reckon.water.findings import WaterFindings
from generator.records.coral import Coral
from generator.records.journal import Entry
from generator.records.system import System
from generator.render.base import links
from generator.render.base.context import PageContext

_SHOWN = timedelta(days=90)
# The first of these that has an estimate over time is shown.
_KINDS = ("alkalinity", "calcium", "magnesium")
_MARGIN = 0.12


@dataclass(frozen=True, slots=True)
class Card:
    """Words, and places in parts of the drawing's width and height, counted from its lower left corner."""

    site: str
    title: str
    value: str
    band: tuple[float, float] | None
    line: tuple[tuple[float, float], ...]
    dots: tuple[tuple[float, float], ...]


def water_card(ctx: PageContext, system: System, found: WaterFindings) -> Card | None:
    """The card of a system; None where nothing was read lately."""
    kind = next((kind for kind in _KINDS if kind in found.latest and kind in found.uptake), None)
    if kind is None:
        return None
    start = found.as_of - _SHOWN
    track = [(point.at, point.level.value) for point in found.uptake[kind].track if point.at >= start]
    dots = [(each.at, value) for each, value in found.readings if each.kind == kind and each.at >= start]
    if not dots:
        return None
    latest = found.latest[kind]
    levels = [value for _, value in (*track, *dots)] + [end for end in (latest.low, latest.high) if end is not None]
    lowest, highest = min(levels), max(levels)
    span = (highest - lowest or 1.0) / (1 - 2 * _MARGIN)

    def up(value: float) -> float:
        return round(_MARGIN + (value - lowest) / span, 4)

    def placed(points: Sequence[tuple[datetime, float]]) -> tuple[tuple[float, float], ...]:
        return tuple((round((at - start) / _SHOWN, 4), up(value)) for at, value in points)

    quantity = ctx.words(f"quantities.{kind}")
    return Card(
        ctx.view.settings.title,
        system.name,
        f"{quantity} {ctx.say.reading(latest.reading, latest.value)}",
        None if latest.low is None or latest.high is None else (up(latest.low), up(latest.high)),
        placed(track),
        placed(dots),
    )


def water_cards(ctx: PageContext) -> dict[str, Card]:
    """The card of every system that has one, by its address; none if the site has no public address."""
    cards = {
        f"cards/{id}.png": water_card(ctx, system, ctx.findings[id])
        for id, system in ctx.view.systems.items()
        if ctx.published and id in ctx.findings
    }
    return {address: card for address, card in cards.items() if card}


def shared_as(ctx: PageContext, cards: Mapping[str, Card]) -> dict[str, str]:
    """From a page to the full address of its preview picture."""
    if not ctx.published:
        return {}
    found = {links.page_of("system", PurePosixPath(card).stem): card for card in cards}
    if cards:
        found[links.HOME] = next(iter(cards))
    for coral in ctx.view.corals.values():
        place = coral.placement_on(ctx.today)
        if picture := _photo(ctx, coral) or _water(cards, (place.system,) if place else ()):
            found[links.page_of("coral", coral.id)] = picture
    for entry in ctx.ties.headings.values():
        corals = [ctx.view.corals[id] for id in entry.corals if id in ctx.view.corals]
        records: tuple[Coral | Entry, ...] = (entry, *corals)
        photos = (_photo(ctx, each) for each in records)
        if picture := next(filter(None, photos), "") or _water(cards, (*entry.systems, *ctx.view.systems)):
            found[links.page_of("entry", entry.id)] = picture
    return {page: ctx.absolute(address) for page, address in found.items()}


def _photo(ctx: PageContext, record: Coral | Entry) -> str:
    """The address of a record's first photo; "" if it has none."""
    shown = [photo for photo in record.photos if links.photo_path(photo.file) in ctx.pictures]
    return ctx.pictures[links.photo_path(shown[0].file)].largest.address if shown else ""


def _water(cards: Mapping[str, Card], systems: Iterable[str]) -> str:
    """The address of the first card that one of the systems has; "" if none has."""
    return next((address for id in systems if (address := f"cards/{id}.png") in cards), "")
