"""The water volume estimated from doses, if it disagrees with the recorded one."""

from generator.reckon.dosing.survey import DosingFindings
from generator.reckon.finding import CannotTell
from generator.render.blocks import Figure
from generator.render.numbers import say_estimate
from generator.render.pages.desk import Desk
from generator.render.pages.why import Evidence, why


def volume_figure(desk: Desk, found: DosingFindings | None, told: Evidence) -> Figure | None:
    """The volume by dose and the recorded one; None if they agree, or if no dose can show it."""
    if found is None or isinstance(found.volume, CannotTell) or not found.volume.disagrees:
        return None
    unit, by_dose = desk.words.unit("L"), found.volume
    declared = say_estimate(desk.words, by_dose.declared, unit)
    return Figure(
        desk.words("dosing.volume"),
        say_estimate(desk.words, by_dose.volume.estimate, unit),
        why(desk, by_dose.volume, told, unit, 1.0),
        None,
        desk.words("dosing.volume_note", n=by_dose.doses, declared=declared.value, interval=declared.interval),
    )
