"""What is planned and what has just come: the days that are left, and what is predicted until a reading tells."""

from collections.abc import Iterator

from generator.reckon.arrivals.informed import Informed
from generator.reckon.attention.alert import STAKES, Alert, step_of
from generator.reckon.survey import Findings

# What is taken up of these goes by what is predicted until alkalinity is read again.
PREDICTED = ("alkalinity", "calcium")
# The nearer the day, the more it weighs: so many days are left at most, and so much comes on top. Choices of ours.
_NEARER = ((0, 4.0), (3, 3.0), (7, 2.0), (30, 0.5))


def of_plans(found: Findings) -> Iterator[Alert]:
    """Every plan that is agreed, from the day it is until it has arrived."""
    for each in found.plans:
        plan, days = each.plan, each.days
        if days is None or plan.date is None:
            continue
        yield Alert(
            id=f"planned//{plan.id}/{plan.date.day}",
            kind="planned",
            system="",
            quantity="",
            stake=STAKES["planned"] + next((more for most, more in _NEARER if days <= most), 0.0),
            size=None,
            numbers=(("days", f"{days}"), ("plan", plan.id)),
            inputs=(plan.source,),
            subject=(plan.id,),
        )


def of_predicted(found: Findings) -> Iterator[Alert]:
    """Every coral that came, went or was cut since alkalinity was last read, with what is predicted of it."""
    for system, events in found.predicted.items():
        for each in events:
            if each.large and each.step is not None:
                yield _predicted(system, each, found)


def _predicted(system: str, told: Informed, found: Findings) -> Alert:
    event, step = told.event, told.step
    assert step is not None
    plans = [plan for plan in found.water[system].plans if plan.coral == event.coral and plan.readings]
    tells = min((plan.readings[0].at for plan in plans), default=None)
    return Alert(
        id=f"predicted/{system}/{event.coral}/{event.what}-{event.day}{step_of(abs(step.value))}",
        kind="predicted",
        system=system,
        quantity="",
        stake=STAKES["predicted"],
        size=step if step.value >= 0.0 else step.scaled(-1.0, step.unit),
        numbers=(("at", event.at.isoformat()), ("side", event.what), ("tells", tells.isoformat() if tells else "")),
        inputs=(event.source,),
        magnitude=abs(step.value),
        subject=(str(event.coral),),
    )
