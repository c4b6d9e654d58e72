"""What a colony that is yet to come will add to the doses."""

from dataclasses import replace
from datetime import datetime

from generator.reckon.dosing.needs import CALCIUM_PER_GRAM, Need, levels_to_hold
from generator.reckon.dosing.phases import Phase, phase
from generator.reckon.dosing.supplies import supplies
from generator.reckon.finding import Finding
from generator.reckon.water.stoichiometry import GRAMS_PER_MEQ
from generator.records.log import SystemLog
from generator.records.system import System


def added_doses(system: System, log: SystemLog, grams_per_day: Finding, as_of: datetime) -> Phase:
    """Litres a day of each supply, beside what runs now, that meet so many more g CaCO3/day.

    What evaporation and the reactor still allow goes first. This is what to expect, with an interval as
    wide as the expectation's; it becomes a plan when readings have told what the newcomer takes.
    """
    free = [
        replace(supply, most=max(supply.most - supply.now, 0.0), now=0.0)
        for supply in supplies(system, log, levels_to_hold(system), as_of)
    ]
    more, method, inputs = grams_per_day.estimate, grams_per_day.method, grams_per_day.inputs
    needs = (
        Need("alkalinity", more.scaled(1.0 / GRAMS_PER_MEQ, "meq/day"), method, inputs),
        Need("calcium", more.scaled(CALCIUM_PER_GRAM, "mg/day"), method, inputs),
    )
    return phase(needs, {}, free, None)
