"""All findings about a coral, collected for its page."""

from collections.abc import Iterator
from dataclasses import dataclass

from generator.reckon.arrivals.shares import Shares
from generator.reckon.growth.light import LightMove
from generator.records.coral import Coral
from generator.render.blocks import Figure, Why
from generator.render.charts.chart import Chart
from generator.render.charts.growth import growth_charts
from generator.render.inline import Link
from generator.render.pages.behind import Behind
from generator.render.pages.behind_shares import behind_what_ifs
from generator.render.pages.coral_growth import (
    Cutting,
    LightStepRow,
    ahead_figures,
    cutting,
    decline_words,
    growth_figures,
    health_words,
    light_figure,
    light_steps,
    share_figure,
)
from generator.render.pages.coral_room import Elsewhere, elsewhere, room_behind, room_lines
from generator.render.pages.desk import Desk
from generator.render.pages.plan import plan_link
from generator.render.pages.why import why_of
from generator.render.what_if_words import what_if_words


@dataclass(frozen=True, slots=True)
class CoralShown:
    """What was found about a coral: how it grew and will grow, its light, room, demand, health and cutting."""

    growth: tuple[Figure, ...]
    growth_ahead: tuple[Figure, ...]
    decline: str
    decline_why: Why | None
    charts: tuple[Chart, ...]
    light: Figure | None
    light_move: str
    light_why: Why | None
    light_steps: tuple[LightStepRow, ...]
    room: tuple[str, ...]
    room_behind: Behind | None
    plan: Link | None
    elsewhere: tuple[Elsewhere, ...]
    share: Figure | None
    what_if: tuple[str, ...]
    what_if_behind: Behind | None
    health: tuple[str, ...]
    cutting: Cutting | None


def coral_shown(desk: Desk, coral: Coral) -> CoralShown | None:
    """The findings about a coral, in words; None if there are none."""
    found = desk.found.corals.get(coral.id)
    if found is None:
        return None
    move, steps = light_steps(desk, found)
    place = coral.placement_on(desk.today)
    has_plan = place is not None and desk.view.systems[place.system].places and place.system in desk.found.rooms
    return CoralShown(
        growth=tuple(growth_figures(desk, found)),
        growth_ahead=tuple(ahead_figures(desk, found)),
        decline=decline_words(desk, found),
        decline_why=why_of(desk, "growth-decline", fall.inputs) if (fall := found.growth.decline) else None,
        charts=growth_charts(coral.name, found, desk.display, desk.words),
        light=light_figure(desk, found),
        light_move=move,
        light_why=why_of(desk, "light-steps", found.move.inputs) if isinstance(found.move, LightMove) else None,
        light_steps=steps,
        room=tuple(room_lines(desk, coral, found)),
        room_behind=room_behind(desk, coral, found),
        plan=plan_link(desk, place.system) if place and has_plan else None,
        elsewhere=elsewhere(desk, coral),
        share=share_figure(desk, coral),
        what_if=tuple(_what_if(desk, coral, place.system)) if place else (),
        what_if_behind=_what_if_behind(desk, coral, place.system) if place else None,
        health=health_words(desk, found),
        cutting=cutting(desk, found),
    )


def _what_if(desk: Desk, coral: Coral, system: str) -> Iterator[str]:
    names = {id: each.name for id, each in desk.view.systems.items()}
    for found in desk.found.what_if.get(system, ()):
        if found.coral == coral.id:
            yield from what_if_words(desk.display, desk.words, found, names)


def _what_if_behind(desk: Desk, coral: Coral, system: str) -> Behind | None:
    shares = desk.found.shares.get(system)
    ifs = [each for each in desk.found.what_if.get(system, ()) if each.coral == coral.id]
    if not ifs or not isinstance(shares, Shares):
        return None
    return behind_what_ifs(desk, shares, ifs, [id for id, _ in ifs[0].moved if id in desk.view.systems])
