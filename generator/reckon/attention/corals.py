"""Corals that need the keeper: slower growth, no more room, a light step-up, lines that one loss would end."""

from collections.abc import Iterator, Mapping
from datetime import UTC, date, datetime, time, timedelta

from generator.reckon.attention.alert import STAKES, Alert, step_of
from generator.reckon.growth.light import WEEK, LightMove
from generator.reckon.growth.room import RoomFindings
from generator.reckon.survey import Findings
from generator.records.journal import Journal
from generator.records.log import AlertKind
from generator.records.source import Source
from generator.units.quantity import Estimate

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
        yield _item(
            "line-at-risk",
            risk.system or "",
            (risk.line,),
            risk.by,
            numbers={"side": risk.by, "pieces": f"{len(risk.pieces)}"},
            inputs=risk.inputs,
            below=rank * _RANK,
        )


def _decline(id: str, system: str, found: Findings) -> Iterator[Alert]:
    fall = found.corals[id].growth.decline
    if fall is None:
        return
    yield _item(
        "growth-fell",
        system,
        (id,),
        fall.of,
        size=fall.fell_by,
        numbers={
            "since": fall.began.isoformat(),
            "earliest": fall.earliest.isoformat(),
            "latest": fall.latest.isoformat(),
        },
        inputs=fall.inputs,
        magnitude=fall.fell_by.value,
        began=fall.began,
    )


def _light(id: str, system: str, move: LightMove, today: date) -> Iterator[Alert]:
    """A step-up that is under way: from the day of the move until a week after its last step."""
    if not move.steps or today >= move.steps[-1].since + WEEK:
        return
    now = max((number for number, step in enumerate(move.steps) if step.since <= today), default=0)
    yield _item(
        "light-step-up",
        system,
        (id,),
        move.at.isoformat(),
        numbers={
            "step": f"{now + 1}",
            "steps": f"{len(move.steps)}",
            "par": f"{move.steps[now].par:.0f}",
            "latest": move.steps[-1].since.isoformat(),
        },
        inputs=move.inputs,
        began=move.at,
    )


def _room(room: RoomFindings, today: date) -> Iterator[Alert]:
    for meeting in room.meetings:
        if (likely := meeting.touch.likely) and likely <= today + SOON:
            yield _item(
                "neighbours-touch",
                room.system,
                (meeting.one, meeting.other),
                "touch",
                size=meeting.gap.estimate,
                numbers=_days(likely, meeting.touch.earliest, meeting.touch.latest),
                inputs=meeting.gap.inputs,
            )
    for leaving in room.leaving:
        if leaving.position_known and (likely := leaving.leaves.likely) and likely <= today + SOON:
            yield _item(
                "outgrows-place",
                room.system,
                (leaving.coral,),
                leaving.side,
                size=leaving.room.estimate,
                numbers={
                    "place": leaving.place,
                    "edge": leaving.side,
                    **_days(likely, leaving.leaves.earliest, leaving.leaves.latest),
                },
                inputs=leaving.room.inputs,
            )


def _days(likely: date, earliest: date | None, latest: date | None) -> dict[str, str]:
    return {
        "likely": likely.isoformat(),
        "earliest": earliest.isoformat() if earliest else "",
        "latest": latest.isoformat() if latest else "",
    }


def _item(
    kind: AlertKind,
    system: str,
    subject: tuple[str, ...],
    mark: str,
    *,
    numbers: Mapping[str, str],
    inputs: tuple[Source, ...],
    size: Estimate | None = None,
    magnitude: float = 0.0,
    began: date | None = None,
    below: float = 0.0,
) -> Alert:
    return Alert(
        id=f"{kind}/{system}/{'+'.join(subject)}/{mark}{step_of(magnitude)}",
        kind=kind,
        system=system,
        quantity="",
        stake=STAKES[kind] - below,
        size=size,
        numbers=tuple(sorted(numbers.items())),
        inputs=inputs,
        magnitude=magnitude,
        began=datetime.combine(began, time(), UTC) if began else None,
        subject=subject,
    )
