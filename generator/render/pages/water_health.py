"""Water health on a system's page: saturation, salts compared with the sea, nutrients, the swing of temperature."""

from generator.reckon.finding import Answer, CannotTell, Finding
from generator.reckon.water.health_findings import Nutrients, SaltBalance, WaterHealth
from generator.render.base.blocks import Block, Drawn, Figure, Paragraph, figures
from generator.render.base.context import Desk
from generator.render.base.numbers import Shown, plain, say_estimate
from generator.render.base.ranges import Ranges, Row, ranges
from generator.render.base.why import Evidence, cannot, why


def water_health(desk: Desk, found: WaterHealth, told: Evidence) -> tuple[Block, ...]:
    """What several readings show together: figures, and the salts as a picture."""
    words = desk.words
    saturation = words("water_health.saturation"), found.saturation, told, "Ω", "water_health.saturation_note"
    salts = _salts(desk, found.salts)
    return (
        figures(
            _figure(desk, *saturation),
            _ratio(desk, found.nutrients, told),
            _swing(desk, "day", found.temperature.day, told),
            _swing(desk, "week", found.temperature.week, told),
        ),
        Drawn("ranges", salts),
        Paragraph(_salts_note(desk, found.salts) if salts else "", "note"),
    )


def _figure(desk: Desk, label: str, answer: Answer, told: Evidence, unit: str, note: str) -> Figure:
    if isinstance(answer, CannotTell):
        return Figure(label, None, None, cannot(desk.words, answer), desk.words(note))
    said = say_estimate(desk.words, answer.estimate, unit)
    return Figure(label, said, why(desk, answer, told, unit, 1.0), None, desk.words(note))


def _ratio(desk: Desk, found: Nutrients, told: Evidence) -> Figure:
    """Nitrogen for each phosphorus; only a lower or upper limit if one was below what the kit can show."""
    label, unit = desk.words("water_health.ratio"), desk.words("water_health.mol_per_mol")
    bound = found.at_least if found.at_least is not None else found.at_most
    if isinstance(found.ratio, CannotTell) and bound is not None:
        key = "water_health.at_least" if found.at_least is not None else "water_health.at_most"
        shown = Shown(desk.words(key, value=plain(desk.words, bound, 0), unit=unit))
        return Figure(label, shown, None, None, desk.words(f"cannot.{found.ratio.why}"))
    return _figure(desk, label, found.ratio, told, unit, "water_health.ratio_note")


def _swing(desk: Desk, span: str, answer: Answer, told: Evidence) -> Figure:
    label = desk.words(f"water_health.swing.{span}")
    if isinstance(answer, CannotTell):
        return Figure(label, None, None, cannot(desk.words, answer))
    said = desk.say.difference("temperature", answer.estimate)
    unit = desk.words.unit(desk.display.unit("temperature"))
    return Figure(label, said, why(desk, answer, told, unit, desk.display.change("temperature", 1.0)), None)


def _salts(desk: Desk, found: SaltBalance) -> Ranges | None:
    """Each salt as a ratio to the sea's, at a salinity of 35; a mark shows the sea."""
    rows = []
    for salt in found.salts:
        if isinstance(salt.ratio, Finding) and isinstance(salt.normalised, Finding):
            at_35 = desk.say.level(salt.kind, salt.normalised.estimate)
            name = desk.words(f"quantities.{salt.kind}")
            rows.append(Row(name, at_35, salt.ratio.estimate.scaled(100.0, "%"), "measured"))
    if not rows:
        return None
    return ranges(
        desk.words, desk.words("water_health.salts"), desk.words("water_health.of_the_sea"), rows, reference=100.0
    )


def _salts_note(desk: Desk, found: SaltBalance) -> str:
    if found.together and isinstance(found.salinity_error, Finding):
        error = desk.say.difference("salinity", found.salinity_error.estimate)
        return desk.words("water_health.together", value=error.value, interval=error.interval)
    return desk.words("water_health.salts_note")
