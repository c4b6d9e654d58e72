"""Corals and trades that need the keeper: growth, room, lines at risk; promises, checks, plans and newcomers."""

from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, date, datetime, time, timedelta

from generator.reckon.analysis.journal import Findings
from generator.reckon.arrivals.informed import Informed
from generator.reckon.arrivals.observed import events_at_once
from generator.reckon.attention.alert import SOON_WEIGHT, Alert, Named
from generator.reckon.growth.corals import CoralFindings
from generator.reckon.growth.room import RoomFindings
from generator.reckon.growth.spots import WEEK, LightMove
from generator.reckon.lineage.lines import AtRisk
from generator.reckon.water.findings import WaterFindings
from generator.records.coral import Coral, Health
from generator.records.journal import Journal
from generator.records.trade import Planned
from generator.units.quantity import Estimate, Quantity

# Room that runs out later than this can wait.
OUTGROWN_SOON = timedelta(days=90)
# A coral noted as ill is watched so long, unless it is noted as well before. Our choice.
AILING_FOR = timedelta(days=90)
# Lines are listed from the hardest to replace; each weighs a little less than the one before.
_RANK = 0.01


def of_coral(coral: Coral, found: CoralFindings, today: date) -> Iterator[Alert]:
    """The alerts of a coral; they belong to the system that it is in."""
    standing, fall = coral.placement_on(today), found.growth.decline
    system = standing.system if standing else ""
    if fall is not None and coral.lives_on(today):
        yield Alert(
            kind="growth-fell",
            system=system,
            subject=(coral.id,),
            mark=fall.of,
            size=fall.fell_by,
            facts={"since": fall.began, "earliest": fall.earliest, "latest": fall.latest},
            inputs=fall.inputs,
            magnitude=fall.fell_by.value,
            began=_midnight(fall.began),
        )
    if ailing := _ailing(found, today):
        worst = max(ailing, key=lambda each: (each.what == "tissue-loss", each.at))
        yield Alert(
            kind="ailing",
            system=system,
            subject=(coral.id,),
            mark=worst.what,
            facts={"side": worst.what, "since": worst.at},
            inputs=(worst.source,),
            began=_midnight(worst.at),
        )
    if isinstance(found.move, LightMove):
        yield from _light(coral.id, system, found.move, today)


def _ailing(found: CoralFindings, today: date) -> list[Health]:
    """What a coral suffers from that its keeper still has to look after."""
    return [each for each in found.health.ailing if each.until is None and each.at > today - AILING_FOR]


def of_lines(found: Findings, today: date) -> Iterator[Alert]:
    """The lines that one loss would end, each in the system of its corals."""
    for rank, risk in enumerate(found.at_risk):
        yield Alert(
            kind="line-at-risk",
            system=risk.system or "",
            subject=(risk.line,),
            mark=risk.by,
            facts={"side": "bleached" if _bleached(risk, found, today) else risk.by, "pieces": len(risk.pieces)},
            inputs=risk.inputs,
            weight=-rank * _RANK,
        )


def _bleached(risk: AtRisk, found: Findings, today: date) -> bool:
    """Whether the only coral of a line is bleached: a cut would cost it what it needs to live."""
    ailing = _ailing(found.corals[risk.pieces[0]], today)
    return risk.by == "piece" and any(each.what == "bleaching" for each in ailing)


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


def of_room(room: RoomFindings, today: date) -> Iterator[Alert]:
    """The corals of a system that touch, come too close or outgrow their places."""
    for meeting in room.meetings:
        # Corals of one line may touch.
        if not meeting.safe.cm:
            continue
        touch = meeting.touch
        soon = touch.likely is not None and touch.likely <= today + OUTGROWN_SOON
        if soon or meeting.surely == "surely":
            yield Alert(
                kind="neighbours-touch" if soon else "too-close",
                system=room.system,
                subject=(meeting.one, meeting.other),
                mark="touch" if soon else "gap",
                size=meeting.gap.estimate,
                facts={
                    "likely": touch.likely,
                    "earliest": touch.earliest,
                    "latest": touch.latest,
                    "safe": Quantity(meeting.safe.cm, "cm", "length"),
                },
                inputs=meeting.gap.inputs,
                magnitude=0.0 if soon else meeting.short,
                weight=_RANK * meeting.short / meeting.safe.cm,
            )
    for leaving in room.leaving:
        if leaving.position_known and (likely := leaving.leaves.likely) and likely <= today + OUTGROWN_SOON:
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


# Our own promise is listed this many days before it is due; a partner's once it is overdue.
SOON = 30
# Overdue promises weigh more than those due soon.
_OVERDUE = 1.0
# Until alkalinity is read again, what is taken up of these is what is predicted.
PREDICTED = ("alkalinity", "calcium")
# The nearer the day, the more a plan weighs: so many days are left at most, and so much is added. Our choice.
_NEARER = ((0, SOON_WEIGHT + 1.0), (3, SOON_WEIGHT), (7, 2.0), (30, 0.5))


def of_trades(journal: Journal, found: Findings) -> Iterator[Alert]:
    """The alerts of all trades. A promise belongs to no system, a check to the system of its coral."""
    today = found.as_of.astimezone(journal.settings.time_zone).date()
    for account in found.trade.accounts.values():
        for debt in account.owed:
            if debt.days_left is not None and (debt.overdue or (debt.by == "us" and debt.days_left <= SOON)):
                yield Alert(
                    kind="owed",
                    subject=(debt.trade,),
                    mark=f"{debt.due}",
                    facts={
                        "days": debt.days_left,
                        "due": debt.due,
                        "partner": Named("partner", account.partner),
                        "side": debt.by,
                        "trade": Named("trade", debt.trade),
                        "what": debt.what,
                    },
                    inputs=(debt.source,),
                    weight=_OVERDUE if debt.overdue else 0.0,
                )
    for check in found.trade.checks:
        standing = journal.corals[check.coral].placement_on(today)
        yield Alert(
            kind="state-check",
            system=standing.system if standing else "",
            subject=(check.coral,),
            mark=f"{check.days}",
            facts={
                "came": journal.trades[check.trade].at,
                "due": check.due,
                "days": check.days,
                "trade": Named("trade", check.trade),
            },
            inputs=(check.source,),
        )


def of_plans(plans: Iterable[Planned], today: date) -> Iterator[Alert]:
    """Every plan that is agreed, from the day it is until it has arrived."""
    for plan in plans:
        if plan.date is not None:
            days = (plan.date.day - today).days
            yield Alert(
                kind="planned",
                subject=(plan.id,),
                mark=f"{plan.date.day}",
                facts={"days": days, "plan": plan.id, "side": plan.ways[0] if len(plan.ways) == 1 else "mixed"},
                inputs=(plan.source,),
                weight=next((more for most, more in _NEARER if days <= most), 0.0),
            )


def of_predicted(water: WaterFindings, events: Iterable[Informed]) -> Iterator[Alert]:
    """What came, went or was cut at one time since alkalinity was last read, with what is predicted of all of it."""
    for together, step in events_at_once(events):
        if any(each.large for each in together):
            yield _predicted(water, together, step)


def _predicted(water: WaterFindings, told: Sequence[Informed], step: Estimate) -> Alert:
    event, corals = told[0].event, tuple(str(each.event.coral) for each in told)
    asked = water.next_tests.get("alkalinity")
    tells = any(plan.coral in corals and plan.readings for plan in water.plans)
    return Alert(
        kind="predicted",
        system=water.system,
        subject=corals,
        mark=f"{event.what}-{event.day}",
        size=step.size,
        facts={
            "at": event.at if event.timed else event.day,
            "side": event.what if len(corals) == 1 else f"several.{event.what}",
            "tells": asked.at if tells and asked else None,
        },
        inputs=(event.source,),
        magnitude=abs(step.value),
    )
