"""The ledger of the last days, as a system's page shows it: by cause, with its evidence."""

from collections.abc import Iterator, Sequence

from generator.reckon.finding import Answer, CannotTell, Finding
from generator.reckon.water.balance import PAID, Balance, balance
from generator.reckon.water.findings import Cause, WaterFindings
from generator.records.system import System
from generator.render.base.blocks import Paragraph, Section, Table, section
from generator.render.base.context import Desk
from generator.render.base.inline import Inline, joined, small
from generator.render.base.numbers import plain, with_unit
from generator.render.pages.behind import Ground, Parts, behind
from generator.units.kinds import WATER_KINDS

LEDGER_DAYS = 30


def ledger(desk: Desk, system: System, findings: WaterFindings) -> Section | None:
    """What came in and went out over the last days, by cause, and the change; None if no quantity has a ledger."""
    words = desk.words
    kept = {line.kind for line in findings.ledger}
    kinds = [kind for kind in WATER_KINDS if kind in kept]
    balances = [balance(findings, system.water, kind, LEDGER_DAYS) for kind in kinds]
    if not any(each.paid or isinstance(each.taken_up, Finding) for each in balances):
        return None
    taken = words("ledger.uptake"), *(_told(desk, each.kind, each.taken_up) for each in balances)
    change = words("ledger.change"), *(_told(desk, each.kind, each.change) for each in balances)
    title, cause = words("system.ledger", n=LEDGER_DAYS), words("system.cause")
    heads = (cause, *(words(f"quantities.{kind}") for kind in kinds))
    return section(
        title,
        Table(title, heads, (*_paid_rows(desk, balances), taken, change), "figures"),
        Paragraph(words("ledger.last_read", days=", ".join(_last_read(desk, findings, kinds))), "note"),
        behind(desk, cause, "ledger", _grounds(desk, balances)),
        id="ledger",
        lead=words("system.ledger_lead"),
    )


def _paid_rows(desk: Desk, balances: Sequence[Balance]) -> Iterator[tuple[Inline, ...]]:
    for cause in PAID:
        if any(cause in each.paid for each in balances):
            paid = ((each.kind, each.paid.get(cause)) for each in balances)
            cells = ("–" if total is None else _change(desk, kind, total) for kind, total in paid)
            yield desk.words(f"ledger.{cause}"), *cells


def _told(desk: Desk, kind: str, answer: Answer) -> Inline:
    if isinstance(answer, CannotTell):
        return desk.words("cannot.label")
    interval = desk.say.difference(kind, answer.estimate).interval
    return joined(_change(desk, kind, answer.estimate.value), small(interval))


def _change(desk: Desk, kind: str, canonical: float) -> str:
    """A change with its sign. All changes of a quantity have the same number of digits, so that they add up."""
    unit, change = desk.display.unit(kind), desk.display.change(kind, canonical)
    digits = 0 if unit.startswith("mg") else 2
    sign = "+" if round(change, digits) > 0.0 else ""
    return with_unit(f"{sign}{plain(desk.words, change, digits)}", desk.words.unit(unit))


def _last_read(desk: Desk, findings: WaterFindings, kinds: Sequence[str]) -> Iterator[str]:
    for kind in kinds:
        if last := findings.uptake[kind].last_reading:
            day = desk.say.date(last)
            yield desk.words("ledger.read_on", quantity=desk.words(f"quantities.{kind}"), day=day)


def _grounds(desk: Desk, balances: Sequence[Balance]) -> Iterator[Ground]:
    """The log lines of each cause; for uptake, also the parts of its uncertainty."""
    causes: tuple[Cause, ...] = (*PAID, "uptake")
    for cause in causes:
        inputs = tuple(dict.fromkeys(source for each in balances for source in each.inputs[cause]))
        if inputs:
            figures = tuple(_parts(desk, each) for each in balances) if cause == "uptake" else ()
            yield Ground(desk.words(f"ledger.{cause}"), figures, inputs)


def _parts(desk: Desk, found: Balance) -> Parts:
    parts = found.taken_up.parts if isinstance(found.taken_up, Finding) else ()
    return Parts(parts, desk.words.unit(desk.display.unit(found.kind)), desk.display.change(found.kind, 1.0))
