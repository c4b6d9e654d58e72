"""What calls for a person today, and why.

In: a journal and what was found about each system's water at a moment. Out: items, most at stake first.
Must not know words, pages, or how a number was reckoned.
"""

from collections.abc import Mapping
from datetime import datetime

from generator.reckon.attention.dismissal import put_aside
from generator.reckon.attention.health import of_health
from generator.reckon.attention.item import Item as Item
from generator.reckon.attention.water import of_water
from generator.reckon.water.findings import WaterFindings
from generator.records.journal import Journal


def items(journal: Journal, findings: Mapping[str, WaterFindings], as_of: datetime) -> tuple[Item, ...]:
    """What calls for a person in any system, most at stake first; what the log dismisses is left out."""
    found: list[Item] = []
    for id, water in sorted(findings.items()):
        dismissals = [dismissal for dismissal in journal.log_of(id).dismissals if dismissal.at <= as_of]
        of_system = [*of_water(journal.systems[id], water, as_of), *of_health(water)]
        found += [item for item in of_system if not any(put_aside(item, each) for each in dismissals)]
    return tuple(sorted(found, key=lambda item: (-item.stake, item.id)))
