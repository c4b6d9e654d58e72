"""The frame of every page of a system: it says which of its numbers are only predicted, with no test since."""

from dataclasses import replace
from typing import Unpack

from generator.render.blocks import Block
from generator.render.page import Head, Page
from generator.render.pages.desk import Desk, frame, section_crumb


def predicted(desk: Desk, system: str) -> tuple[str, ...]:
    """A sentence for every change since the last test of alkalinity that the numbers only predict."""
    told = []
    for each in desk.found.predicted.get(system, ()):
        coral = desk.view.corals.get(each.event.coral or "")
        if each.step is None or coral is None:
            continue
        size = each.step if each.step.value >= 0.0 else each.step.scaled(-1.0, each.step.unit)
        said = desk.say.per_day("alkalinity", size)
        at = desk.say.moment(each.event.at).text
        words = {"name": coral.name, "at": at, "step": said.value, "interval": said.interval}
        told.append(desk.words(f"predicted.{each.event.what}", **words))
    return tuple(told)


def page_of_system(
    desk: Desk, system: str, kind: str, title: str, description: str, *blocks: Block, **head: Unpack[Head]
) -> Page:
    """A page below a system's own."""
    crumbs = section_crumb(desk, "systems"), desk.to_system(system)
    framed = replace(frame(desk, title, description, "systems", *crumbs), predicted=predicted(desk, system))
    return Page(desk.url, kind, framed, blocks, **head)
