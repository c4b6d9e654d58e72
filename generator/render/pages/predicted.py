"""What a page says as long as what it tells of a system rests on a prediction: no reading has followed yet."""

from typing import TYPE_CHECKING

from generator.render.numbers import say_moment, say_per_day

if TYPE_CHECKING:
    from generator.render.pages.desk import Desk


def predicted(desk: "Desk", system: str) -> tuple[str, ...]:
    """A sentence for every change since the last reading of alkalinity that the numbers take for predicted."""
    told = []
    for each in desk.found.predicted.get(system, ()):
        coral = desk.view.corals.get(each.event.coral or "")
        if each.step is None or coral is None:
            continue
        size = each.step if each.step.value >= 0.0 else each.step.scaled(-1.0, each.step.unit)
        said = say_per_day(desk.display, desk.words, "alkalinity", size)
        at = say_moment(desk.display, desk.words, each.event.at).text
        words = {"name": coral.name, "at": at, "step": said.value, "interval": said.interval}
        told.append(desk.words(f"predicted.{each.event.what}", **words))
    return tuple(told)
