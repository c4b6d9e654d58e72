"""The ledger of the last days, as a system's page shows it: by cause, with its evidence."""

from collections.abc import Iterator, Sequence

from generator.reckon.finding import Answer, CannotTell, Finding
from generator.reckon.water.balance import PAID, Balance, balance
from generator.reckon.water.findings import Cause, WaterFindings
from generator.records.system import System
from generator.render.base.blocks import Paragraph, Section, Table, section
from generator.render.base.context import PageContext
from generator.render.base.inline import Inline, joined, small
from generator.render.base.numbers import plain, with_unit
from generator.render.pages.behind import Ground, Parts, behind
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
            figures = tuple(_parts(ctx, each) for each in balances) if cause == "uptake" else ()
            yield Ground(ctx.words(f"ledger.{cause}"), figures, inputs)


def _parts(ctx: PageContext, found: Balance) -> Parts:
    parts = found.taken_up.parts if isinstance(found.taken_up, Finding) else ()
    return Parts(parts, ctx.words.unit(ctx.display.unit(found.kind)), ctx.display.change(found.kind, 1.0))
