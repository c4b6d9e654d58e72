"""What is planned: everything that is to come, go or move, the soonest first."""

from dataclasses import dataclass

from generator.reckon.planned.survey import PlanFindings
from generator.records.planned import Planned
from generator.render import links
from generator.render.inline import Link
from generator.render.numbers import Moment, say_day, say_moment
from generator.render.page import Frame
from generator.render.pages.desk import Desk, frame, section_crumb


@dataclass(frozen=True, slots=True)
class PlanRow:
    """One plan: its sheet, how far it has come, when, and with whom."""

    id: str
    link: Link
    stage: str
    when: Moment | None
    left: str
    partner: str


@dataclass(frozen=True, slots=True)
class PlannedPage:
    """All plans."""

    frame: Frame
    rows: tuple[PlanRow, ...]


def planned_page(desk: Desk) -> PlannedPage:
    """The index of all that is planned."""
    words = desk.words
    shown = [found for found in desk.found.plans if found.plan.id in desk.view.plans]
    return PlannedPage(
        frame(desk, words("planned.title"), words("planned.description"), "corals", section_crumb(desk, "corals")),
        tuple(_row(desk, found) for found in shown),
    )


def _row(desk: Desk, found: PlanFindings) -> PlanRow:
    plan = found.plan
    return PlanRow(
        plan.id,
        to_sheet(desk, plan),
        desk.words(f"planned.stage.{plan.stage}"),
        when_of(desk, plan),
        left_words(desk, found.days),
        desk.partner(plan.partner) if plan.partner else "",
    )


def to_sheet(desk: Desk, plan: Planned) -> Link:
    """The way to the sheet of a plan."""
    return desk.link(links.page_of("plan", plan.id), title_of(desk, plan))


def title_of(desk: Desk, plan: Planned) -> str:
    """What a plan is about: the colonies by name, and which way they go."""
    corals = desk.view.corals
    names = [new.name for new in plan.coming]
    way = "coming" if names else "going" if plan.going else "moving"
    if not names:
        named = [given.coral for given in plan.going] or [move.coral for move in plan.moving if move.coral]
        names = [corals[id].name if id in corals else id for id in named]
        names += [desk.view.systems[move.all_of].name for move in plan.moving if move.all_of and not plan.going]
    return desk.words(f"planned.title_of.{way}", names=", ".join(names))


def when_of(desk: Desk, plan: Planned) -> Moment | None:
    """The day or the hour agreed; None while it is only perhaps."""
    if plan.date is None:
        return None
    if plan.date.at is None:
        return say_day(desk.display, desk.words, plan.date.day)
    return say_moment(desk.display, desk.words, plan.date.at)


def left_words(desk: Desk, days: int | None) -> str:
    """How many days are left, or how many have gone by."""
    if days is None:
        return ""
    if days < 0:
        return desk.words("planned.gone_by", n=-days)
    return desk.words("planned.today") if days == 0 else desk.words("planned.left", n=days)
