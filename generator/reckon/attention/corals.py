"""Corals that need the keeper: slower growth, no more room, a light step-up, lines that one loss would end."""

from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta

from generator.reckon.analysis.findings import Findings
from generator.reckon.attention.alert import Alert, Named
from generator.reckon.growth.light import WEEK, LightMove
from generator.reckon.growth.room import RoomFindings
from generator.records.journal import Journal
from generator.units.quantity import Quantity

# Room that runs out later than this can wait.
SOON = timedelta(days=90)
# Lines are listed from the hardest to replace; each weighs a little less than the one before.
_RANK = 0.01


def of_corals(journal: Journal, found: Findings) -> Iterator[Alert]:
    """The alerts of all corals and lines; an alert belongs to the system of its corals."""
    today = found.as_of.astimezone(journal.settings.time_zone).date()
    for id, of_coral in found.corals.items():
        standing = journal.corals[id].placement_on(today)
        system = standing.system if standing else ""
        if journal.corals[id].lives_on(today):
            yield from _decline(id, system, found)
        if isinstance(of_coral.move, LightMove):
            yield from _light(id, system, of_coral.move, today)
    for room in found.rooms.values():
        yield from _room(room, today)
    for rank, risk in enumerate(found.at_risk):
        yield Alert(
            kind="line-at-risk",
            system=risk.system or "",
            subject=(risk.line,),
            mark=risk.by,
            facts={"side": risk.by, "pieces": len(risk.pieces)},
            inputs=risk.inputs,
            weight=-rank * _RANK,
        )


def _decline(id: str, system: str, found: Findings) -> Iterator[Alert]:
    if (fall := found.corals[id].growth.decline) is not None:
        yield Alert(
            kind="growth-fell",
            system=system,
            subject=(id,),
            mark=fall.of,
            size=fall.fell_by,
            facts={"since": fall.began, "earliest": fall.earliest, "latest": fall.latest},
            inputs=fall.inputs,
            magnitude=fall.fell_by.value,
            began=_midnight(fall.began),
        )


def _light(id: str, system: str, move: LightMove, today: date) -> Iterator[Alert]:
    """A step-up that is under way: from the day of the move until a week after its last step."""
    if not move.steps or today >= move.steps[-1].since + WEEK:
        return
    now = max((number for number, step in enumerate(move.steps) if step.since <= today), default=0)
    yield Alert(
        kind="light-step-up",
        system=system,
        subject=(id,),
        mark=move.at.isoformat(),
        facts={
            "step": now + 1,
            "steps": len(move.steps),
            "par": Quantity(move.steps[now].par, "PAR", "light"),
            "latest": move.steps[-1].since,
        },
        inputs=move.inputs,
        began=_midnight(move.at),
    )


def _room(room: RoomFindings, today: date) -> Iterator[Alert]:
    for meeting in room.meetings:
        # Corals of one line may touch.
        if meeting.safe.cm and (likely := meeting.touch.likely) and likely <= today + SOON:
            yield Alert(
                kind="neighbours-touch",
                system=room.system,
                subject=(meeting.one, meeting.other),
                mark="touch",
                size=meeting.gap.estimate,
                facts={"likely": likely, "earliest": meeting.touch.earliest, "latest": meeting.touch.latest},
                inputs=meeting.gap.inputs,
            )
    for leaving in room.leaving:
        if leaving.position_known and (likely := leaving.leaves.likely) and likely <= today + SOON:
            yield Alert(
                kind="outgrows-place",
                system=room.system,
                subject=(leaving.coral,),
                mark=leaving.side,
                size=leaving.room.estimate,
                facts={
                    "place": leaving.place,
                    "edge": Named("edge", leaving.side),
                    "likely": likely,
                    "earliest": leaving.leaves.earliest,
                    "latest": leaving.leaves.latest,
                },
                inputs=leaving.room.inputs,
            )


def _midnight(day: date) -> datetime:
    return datetime.combine(day, time(), UTC)
