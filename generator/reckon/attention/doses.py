"""What a keeper pours by hand at a steady rhythm, and this time did not."""

from collections.abc import Iterator
from datetime import timedelta

from generator.reckon.attention.alert import Alert, alert
from generator.reckon.water.findings import WaterFindings
from generator.reckon.water.solutions import per_litre
from generator.records.system import System

# What a solution is poured for, the first of which it gives any.
FOR = ("alkalinity", "calcium", "magnesium")


def of_doses(system: System, water: WaterFindings) -> Iterator[Alert]:
    """A dose by hand that is late beyond its habit, with the line of the last."""
    for habit in water.habits:
        given = [kind for kind in FOR if per_litre(system.solutions[habit.solution], kind) > 0.0]
        if given and habit.is_missed(water.as_of):
            due = habit.last + timedelta(days=habit.days)
            yield alert(
                "missed-dose",
                water,
                given[0],
                f"{habit.solution}-{habit.last:%Y-%m-%d}",
                None,
                (habit.line,),
                solution=habit.solution,
                amount=f"{1000.0 * habit.litres:.0f}",
                since=due.isoformat(),
                at=habit.last.isoformat(),
            )
