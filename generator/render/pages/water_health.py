"""Water health on a system's page: saturation, salts compared with the sea, nutrients, the swing of temperature."""

from generator.reckon.finding import Answer, CannotTell, Finding
from generator.reckon.water.health_findings import Nutrients, SaltBalance, WaterHealth
from generator.render.base.blocks import Block, Drawn, Figure, Paragraph, figures
from generator.render.base.context import PageContext
from generator.render.base.numbers import Shown, plain, say_estimate
from generator.render.base.ranges import Ranges, Row, ranges
from generator.render.base.why import Evidence, cannot, why


def water_health(ctx: PageContext, found: WaterHealth, told: Evidence) -> tuple[Block, ...]:
    """What several readings show together: figures, and the salts as a picture."""
    words = ctx.words
    saturation = words("water_health.saturation"), found.saturation, told, "Ω", "water_health.saturation_note"
    salts = _salts(ctx, found.salts)
    return (
        figures(
            _figure(ctx, *saturation),
            _ratio(ctx, found.nutrients, told),
            _swing(ctx, "day", found.temperature.day, told),
            _swing(ctx, "week", found.temperature.week, told),
        ),
        Drawn("ranges", salts),
        Paragraph(_salts_note(ctx, found.salts) if salts else "", "note"),
    )


def _figure(ctx: PageContext, label: str, answer: Answer, told: Evidence, unit: str, note: str) -> Figure:
    if isinstance(answer, CannotTell):
        return Figure(label, None, None, cannot(ctx.words, answer), ctx.words(note))
    said = say_estimate(ctx.words, answer.estimate, unit)
    return Figure(label, said, why(ctx, answer, told, unit, 1.0), None, ctx.words(note))


def _ratio(ctx: PageContext, found: Nutrients, told: Evidence) -> Figure:
    """Nitrogen for each phosphorus; only a lower or upper limit if one was below what the kit can show."""
    label, unit = ctx.words("water_health.ratio"), ctx.words("water_health.mol_per_mol")
    bound = found.at_least if found.at_least is not None else found.at_most
    if isinstance(found.ratio, CannotTell) and bound is not None:
        key = "water_health.at_least" if found.at_least is not None else "water_health.at_most"
        shown = Shown(ctx.words(key, value=plain(ctx.words, bound, 0), unit=unit))
        return Figure(label, shown, None, None, ctx.words(f"cannot.{found.ratio.why}"))
    return _figure(ctx, label, found.ratio, told, unit, "water_health.ratio_note")


def _swing(ctx: PageContext, span: str, answer: Answer, told: Evidence) -> Figure:
    label = ctx.words(f"water_health.swing.{span}")
    if isinstance(answer, CannotTell):
        return Figure(label, None, None, cannot(ctx.words, answer))
    said = ctx.say.difference("temperature", answer.estimate)
    unit = ctx.words.unit(ctx.display.unit("temperature"))
    return Figure(label, said, why(ctx, answer, told, unit, ctx.display.change("temperature", 1.0)), None)


def _salts(ctx: PageContext, found: SaltBalance) -> Ranges | None:
    """Each salt as a ratio to the sea's, at a salinity of 35; a mark shows the sea."""
    rows = []
    for salt in found.salts:
        if isinstance(salt.ratio, Finding) and isinstance(salt.normalised, Finding):
            at_35 = ctx.say.level(salt.kind, salt.normalised.estimate)
            name = ctx.words(f"quantities.{salt.kind}")
            rows.append(Row(name, at_35, salt.ratio.estimate.scaled(100.0, "%"), "measured"))
    if not rows:
        return None
    return ranges(
        ctx.words, ctx.words("water_health.salts"), ctx.words("water_health.of_the_sea"), rows, reference=100.0
    )


def _salts_note(ctx: PageContext, found: SaltBalance) -> str:
    if found.together and isinstance(found.salinity_error, Finding):
        error = ctx.say.difference("salinity", found.salinity_error.estimate)
        return ctx.words("water_health.together", value=error.value, interval=error.interval)
    return ctx.words("water_health.salts_note")
