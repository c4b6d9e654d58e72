"""Survival of arrivals: the share alive after some days, by how they came and how they travelled."""

from dataclasses import dataclass

from markupsafe import Markup

from generator.reckon.lineage.survival import HORIZONS, LEAST_ARRIVALS, GroupSurvival
from generator.render import links
from generator.render.drawings.survival_curve import SurvivalCurve, draw
from generator.render.pages.coral_growth import figure
from generator.render.pages.desk import Desk, Frame, Link, frame, section_crumb
from generator.render.pages.why import Figure


@dataclass(frozen=True, slots=True)
class SurvivalGroup:
    """One group of arrivals; there is no picture if there are too few."""

    id: str
    name: str
    count: str
    picture: Markup | None
    horizons: tuple[Figure, ...]


@dataclass(frozen=True, slots=True)
class SurvivalPage:
    """Survival of arrivals."""

    frame: Frame
    lead: str
    groups: tuple[SurvivalGroup, ...]
    few: tuple[SurvivalGroup, ...]
    method: Link
    data: Link


def survival_page(desk: Desk) -> SurvivalPage:
    """The page about survival of arrivals."""
    words = desk.words
    groups = [_group(desk, group) for group in desk.found.survival]
    return SurvivalPage(
        frame(desk, words("survival.title"), words("survival.description"), "corals", section_crumb(desk, "corals")),
        words("survival.lead", least=LEAST_ARRIVALS),
        tuple(group for group in groups if group.picture),
        tuple(group for group in groups if not group.picture),
        desk.link(f"{links.METHODS}#survival", words("why.method")),
        desk.link("data/survival.csv", words("data.tables.survival.name")),
    )


def _group(desk: Desk, group: GroupSurvival) -> SurvivalGroup:
    words = desk.words
    name = group_name(desk, group)
    count = words(
        "survival.count",
        arrivals=words("survival.arrivals", n=group.arrivals),
        lost=words("survival.lost", n=group.lost),
    )
    id = f"{group.by}-{group.name}"
    enough = group.arrivals >= LEAST_ARRIVALS
    return SurvivalGroup(
        id,
        name,
        count,
        Markup(draw(_curve(desk, group, id, f"{name}: {count}"))) if enough else None,
        tuple(
            figure(
                desk,
                words("survival.after", n=horizon.days),
                horizon.survival,
                note=words("survival.watched", n=horizon.at_risk),
            )
            for horizon in (group.horizons if enough else ())
        ),
    )


def group_name(desk: Desk, group: GroupSurvival) -> str:
    """A group in words."""
    if group.by == "all":
        return desk.words("survival.all")
    name = desk.words(f"arrivals.{group.name}" if group.by == "how-it-came" else f"trips.{group.name}")
    return name[:1].upper() + name[1:]


def _curve(desk: Desk, group: GroupSurvival, id: str, title: str) -> SurvivalCurve:
    words = desk.words
    last = float(HORIZONS[-1])
    days = [0.0, *(step.time for step in group.curve.steps if step.time < last)]
    # Without a loss the interval widens with every coral that is no longer watched.
    days = sorted({*days, *(time for time in group.curve.times if 0.0 < time < last)})
    steps = []
    for day in days:
        share, _ = group.curve.survival(day)
        low, high = group.curve.interval(day)
        steps.append((day, 100 * share, 100 * low, 100 * high))
    ticks = [(float(day), f"{day}", f"{group.curve.at_risk(day)}") for day in (0, *HORIZONS)]
    return SurvivalCurve(
        id,
        title,
        words("survival.picture", name=group_name(desk, group)),
        last,
        steps,
        ticks,
    )
