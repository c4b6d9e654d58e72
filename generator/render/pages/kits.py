"""What kits read against each other, and by how much all levels may be off."""

from collections.abc import Iterator

from generator.reckon.water.findings import WaterFindings
from generator.records.system import System
from generator.render.pages.desk import Desk


def kit_words(desk: Desk, system: System, findings: WaterFindings) -> tuple[str, ...]:
    """One sentence for each kit beside a quantity's first, and for each quantity that has one kit alone."""
    return tuple(_said(desk, system, findings))


def _said(desk: Desk, system: System, findings: WaterFindings) -> Iterator[str]:
    words = desk.words
    for uptake in findings.uptake.values():
        quantity = words(f"quantities.{uptake.kind}")
        for offset in uptake.kits:
            size = desk.say.difference(uptake.kind, offset.size)
            kit, than = (_name(system, id) for id in (offset.kit, offset.than))
            yield words("kits.apart", quantity=quantity, kit=kit, than=than, size=size.value, interval=size.interval)
        if uptake.off_by is not None and not uptake.kits:
            yield words(
                "kits.alone", quantity=quantity, interval=desk.say.difference(uptake.kind, uptake.off_by).interval
            )


def _name(system: System, id: str) -> str:
    kit = system.kits.get(id)
    return kit.name if kit and kit.name else id
