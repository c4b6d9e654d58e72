"""A system's water beyond its uptake: the ledger of the last days, and what several readings show together."""

from collections.abc import Iterator, Sequence
from functools import partial

from generator.reckon.finding import Answer, CannotTell, Finding
from generator.reckon.water.findings import Cause, WaterFindings
from generator.reckon.water.health import Nutrients, WaterHealth
from generator.reckon.water.replay import PAID, Balance, balance
from generator.reckon.water.seawater import SaltBalance
from generator.records.system import System
from generator.render.base.blocks import Block, Drawn, Figure, Paragraph, Section, Table, figures, section
from generator.render.base.context import PageContext
from generator.render.base.links import Inline, joined, small
from generator.render.base.numbers import Shown, plain, with_unit
from generator.render.base.scale import Row, drawn_ranges
from generator.render.base.why import Ground, LogInWords, Parts, behind, figure_of
from generator.units.kinds import WATER_KINDS

LEDGER_DAYS = 30


def ledger(ctx: PageContext, system: System, findings: WaterFindings) -> Section | None:
    """What came in and went out over the last days, by cause, and the change; None if no quantity has a ledger."""
    words = ctx.words
    kept = {line.kind for line in findings.ledger}
    kinds = [kind for kind in WATER_KINDS if kind in kept]
    balances = [balance(findings, system.water, kind, LEDGER_DAYS) for kind in kinds]
    if not any(each.paid or isinstance(each.taken_up, Finding) for each in balances):
        return None
    taken = words("ledger.uptake"), *(_told(ctx, each.kind, each.taken_up) for each in balances)
    change = words("ledger.change"), *(_told(ctx, each.kind, each.change) for each in balances)
    title, cause = words("system.ledger", n=LEDGER_DAYS), words("system.cause")
    heads = (cause, *(words(f"quantities.{kind}") for kind in kinds))
    return section(
        title,
        Table(title, heads, (*_paid_rows(ctx, balances), taken, change), "figures"),
        Paragraph(words("ledger.last_read", days=", ".join(_last_read(ctx, findings, kinds))), "note"),
        behind(ctx, cause, "ledger", _grounds(ctx, balances)),
        id="ledger",
        lead=words("system.ledger_lead"),
    )


def _paid_rows(ctx: PageContext, balances: Sequence[Balance]) -> Iterator[tuple[Inline, ...]]:
    for cause in PAID:
        if any(cause in each.paid for each in balances):
            paid = ((each.kind, each.paid.get(cause)) for each in balances)
            cells = ("–" if total is None else _change(ctx, kind, total) for kind, total in paid)
            yield ctx.words(f"ledger.{cause}"), *cells


def _told(ctx: PageContext, kind: str, answer: Answer) -> Inline:
    if isinstance(answer, CannotTell):
        return ctx.words("cannot.label")
    interval = ctx.say.difference(kind, answer.estimate).interval
    return joined(_change(ctx, kind, answer.estimate.value), small(interval))


def _change(ctx: PageContext, kind: str, canonical: float) -> str:
    """A change with its sign. All changes of a quantity have the same number of digits, so that they add up."""
    unit, change = ctx.display.unit(kind), ctx.display.change(kind, canonical)
    digits = 0 if unit.startswith("mg") else 2
    sign = "+" if round(change, digits) > 0.0 else ""
    return with_unit(f"{sign}{plain(ctx.words, change, digits)}", ctx.words.unit(unit))


def _last_read(ctx: PageContext, findings: WaterFindings, kinds: Sequence[str]) -> Iterator[str]:
    for kind in kinds:
        if last := findings.uptake[kind].last_reading:
            day = ctx.say.date(last)
            yield ctx.words("ledger.read_on", quantity=ctx.words(f"quantities.{kind}"), day=day)


def _grounds(ctx: PageContext, balances: Sequence[Balance]) -> Iterator[Ground]:
    """The log lines of each cause; for uptake, also the parts of its uncertainty."""
    causes: tuple[Cause, ...] = (*PAID, "uptake")
    for cause in causes:
        inputs = tuple(dict.fromkeys(source for each in balances for source in each.inputs[cause]))
        if inputs:
            figures = tuple(_balance_parts(ctx, each) for each in balances) if cause == "uptake" else ()
            yield Ground(ctx.words(f"ledger.{cause}"), figures, inputs)


def _balance_parts(ctx: PageContext, found: Balance) -> Parts:
    parts = found.taken_up.parts if isinstance(found.taken_up, Finding) else ()
    return Parts(parts, ctx.say.unit(found.kind), ctx.display.change(found.kind, 1.0))


def health_blocks(ctx: PageContext, found: WaterHealth, told: LogInWords) -> tuple[Block, ...]:
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
        salts,
        Paragraph(_salts_note(ctx, found.salts) if salts else "", "note"),
    )


def _figure(ctx: PageContext, label: str, answer: Answer, told: LogInWords, unit: str, note: str) -> Figure:
    return figure_of(ctx, label, answer, lambda found: ctx.say.estimate(found, unit), told, unit, note=ctx.words(note))


def _ratio(ctx: PageContext, found: Nutrients, told: LogInWords) -> Figure:
    """Nitrogen for each phosphorus; only a lower or upper limit if one was below what the kit can show."""
    label, unit = ctx.words("water_health.ratio"), ctx.words("water_health.mol_per_mol")
    bound = found.at_least if found.at_least is not None else found.at_most
    if isinstance(found.ratio, CannotTell) and bound is not None:
        key = "water_health.at_least" if found.at_least is not None else "water_health.at_most"
        shown = Shown(ctx.words(key, value=plain(ctx.words, bound, 0), unit=unit))
        return Figure(label, shown, None, None, ctx.words(f"cannot.{found.ratio.why}"))
    return _figure(ctx, label, found.ratio, told, unit, "water_health.ratio_note")


def _swing(ctx: PageContext, span: str, answer: Answer, told: LogInWords) -> Figure:
    label, say = ctx.words(f"water_health.swing.{span}"), partial(ctx.say.difference, "temperature")
    return figure_of(ctx, label, answer, say, told, ctx.say.unit("temperature"), ctx.display.change("temperature", 1.0))


def _salts(ctx: PageContext, found: SaltBalance) -> Drawn:
    """Each salt as a ratio to the sea's, at a salinity of 35; a mark shows the sea."""
    rows = []
    for salt in found.salts:
        if isinstance(salt.ratio, Finding) and isinstance(salt.normalised, Finding):
            at_35 = ctx.say.level(salt.kind, salt.normalised.estimate)
            name = ctx.words(f"quantities.{salt.kind}")
            rows.append(Row(name, at_35, salt.ratio.estimate.scaled(100.0, "%"), "measured"))
    title, unit = ctx.words.each("water_health.salts", "water_health.of_the_sea")
    return drawn_ranges(ctx.words, title, unit, rows, reference=100.0)


def _salts_note(ctx: PageContext, found: SaltBalance) -> str:
    if found.together and isinstance(found.salinity_error, Finding):
        error = ctx.say.difference("salinity", found.salinity_error.estimate)
        return ctx.words("water_health.together", **error.blanks())
    return ctx.words("water_health.salts_note")
