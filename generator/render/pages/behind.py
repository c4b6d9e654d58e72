"""What stands behind a page: the evidence of each row, a line to add to the files, and when a record was written."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from math import hypot

from generator.reckon.arrivals.analysis import Demand, Moved, WhatIf
from generator.reckon.arrivals.expected import alkalinity_of
from generator.reckon.arrivals.shares import CoralShare, Shares
from generator.reckon.attention import Alert
from generator.reckon.attention.alert import Named
from generator.reckon.attention.water import DOSED_FOR
from generator.reckon.finding import Finding, UncertaintyPart, scaled_parts
from generator.records.log import ALERTS_ABOUT, AlertKind
from generator.records.source import Commit, Source
from generator.render.base.blocks import Fold, Paragraph, Table
from generator.render.base.context import PageContext
from generator.render.base.links import Inline, code, joined
from generator.render.base.page import Page
from generator.render.base.why import by_file, to_method, with_effect
from generator.render.pages.doses import belongs_to_card, has_dosing, poured_today, set_today, written_rate
from generator.render.pages.next_tests import day_due
from generator.units.quantity import Estimate, Quantity

_UNDER: dict[AlertKind, str] = {"owed": "owed", "state-check": "checks", "line-at-risk": "cuttings"}
_SIZE = "  - {{at: {day}, length: … cm, width: … cm, height: … cm}}"


def ready_line(ctx: PageContext, alert: Alert) -> tuple[str, str]:
    """Where to add it (a file, and the list in it), and the line; "" where the line of another matter has it."""
    if ALERTS_ABOUT[alert.kind] == "quantity" or alert.kind in ("light-step-up", "predicted"):
        said, given = _logged(ctx, alert), _given(ctx, alert)
        test = ctx.findings[alert.system].next_tests.get(alert.quantity) if said.startswith("readings") else None
        day = day_due(ctx, test.at) if test else ctx.today
        return in_log(alert.system, [(ctx.today, given), (day, said)] if given else [(day, said)]) if said else ("", "")
    if alert.kind == "too-close":
        coral = ctx.view.corals[alert.subject[0]]
        there = f"system: {alert.system}, place: {coral.placements[-1].place}"
        placed = f"  - {{since: {ctx.today}, {there}, x: … cm, y: … cm}}"
        return ctx.words("alerts.under", key="placements", file=coral.source.file), placed
    now = ctx.as_of.astimezone(ctx.display.zone)
    file, key = _file(alert), _UNDER.get(alert.kind, "" if alert.kind == "planned" else "sizes")
    where = ctx.words("alerts.under", key=key, file=file) if key else file
    return where, _recorded(alert, now)


def in_log(system: str, entries: Sequence[tuple[date, str]]) -> tuple[str, str]:
    """The file of a log, and entries for it: those of the first one's month, for a file takes no other."""
    month = f"{entries[0][0]:%Y-%m}"
    lines = (f"- at: {day} …\n  {said}" for day, said in entries if f"{day:%Y-%m}" == month)
    return f"logs/{system}/{month}.yaml", "\n".join(lines)


def _given(ctx: PageContext, alert: Alert) -> str:
    """What a card says to dose and to set today, as a log has it."""
    if alert.kind not in ("leaving-band", "out-of-band") or alert.unsure or not has_dosing(ctx, alert.system):
        return ""
    if alert.quantity not in DOSED_FOR:
        return ""
    system, quantity = alert.system, alert.quantity
    poured = [each for each in poured_today(ctx, system) if belongs_to_card(ctx, system, each.solution, quantity)]
    doses = ", ".join(f"{each.solution}: {1000.0 * each.litres:.0f} mL" for each in poured)
    rates = [(dose, written_rate(dose.rate.estimate)) for dose, _ in set_today(ctx, system, quantity)]
    pumps = ", ".join(f"{dose.supply}: {rate}" for dose, rate in rates if dose.how == "pump")
    lines = [f"{key}: {{{said}}}" for key, said in (("doses", doses), ("pumps", pumps)) if said]
    lines += (f"top_off: {{rate: {rate}, solution: {dose.supply}}}" for dose, rate in rates if dose.how == "top-off")
    return "\n  ".join(lines)


def _logged(ctx: PageContext, alert: Alert) -> str:
    amount, solution, par = (alert.facts.get(name) for name in ("amount", "solution", "par"))
    if isinstance(amount, Quantity):
        today = [each.litres for each in poured_today(ctx, alert.system) if each.solution == solution]
        written = f"{1000.0 * sum(today):.0f} mL" if today else f"{amount.value:g} {amount.unit}"
        return f"doses: {{{solution}: {written}}}"
    if alert.kind == "pump-gives-less":
        return f"measured_rate: {{{solution}: … mL/day}}"
    if isinstance(par, Quantity):
        return f"event: {{what: light, coral: {alert.subject[0]}, text: {par.value:.0f} {par.unit}}}"
    # All of a water that was tested too long ago is one line, under the first of it.
    old = [each.quantity for each in ctx.alerts_in(alert.system) if each.kind == "no-reading"]
    kinds = old if alert.kind == "no-reading" else [alert.quantity or "alkalinity"]
    if alert.quantity not in ("", kinds[0]):
        return ""
    return f"readings: {{{', '.join(f'{kind}: … {ctx.display.unit(kind)}' for kind in kinds)}}}"


def _file(alert: Alert) -> str:
    trade = alert.facts.get("trade")
    if isinstance(trade, Named):
        return f"trades/{trade.id}.yaml"
    return f"plans/{alert.subject[0]}.yaml" if alert.kind == "planned" else alert.inputs[0].file


def _recorded(alert: Alert, now: datetime) -> str:
    day = f"{now:%Y-%m-%d}"
    match alert.kind:
        case "owed":
            return f"settled: {day}"
        case "planned":
            return f"arrived: {now:%Y-%m-%d %H:%M}"
        case "state-check":
            return f"  - {{coral: {alert.subject[0]}, days: {alert.facts['days']}, condition: …}}"
        case "line-at-risk":
            return f"  - {{at: {day}, frags: 1}}"
    return _SIZE.format(day=day)


# The kinds of page that show one record.
_RECORDS = ("coral", "system", "entry", "trade", "sheet")


def with_history(ctx: PageContext, page: Page, file: str) -> Page:
    """A page with its record's history below, if this audience may see it; `file` is the record's."""
    if ctx.view.history is None or page.kind not in _RECORDS:
        return page
    return replace(page, blocks=(*page.blocks, Paragraph(_told(ctx, file), "note written")))


def _told(ctx: PageContext, file: str) -> str:
    words, history = ctx.words, ctx.view.history
    assert history is not None
    if history.unknown:
        return words("history.cannot", why=words(f"history.unknown.{history.unknown}"))
    files = [path for path in history.commits if _belongs(path, file)]
    made: list[Commit] = [each for path in files for each in history.commits[path] if each.at <= ctx.as_of]
    made.sort(key=lambda commit: commit.at)
    cut_off = any(path in history.cut_off for path in files)
    changed = any(path in history.uncommitted for path in files)
    if not files:
        return words("history.new")
    if not made and not cut_off:
        return ""
    names = ", ".join(dict.fromkeys(each.by for each in made if each.by))
    days = [ctx.say.date(each.at) for each in made]
    said = [
        words("history.cut_off") if cut_off else words("history.written", day=days[0]),
        words("history.changed", day=days[-1]) if days[-1:] != ([] if cut_off else days[:1]) else "",
        words("history.by", names=names) if names else "",
        words("history.uncommitted") if changed else "",
    ]
    return f"{', '.join(filter(None, said))}."


def _belongs(path: str, file: str) -> bool:
    """Whether a file is a record's own: its file, its story, or one of its system's logs."""
    stem = file.rpartition(".")[0]
    logs = f"logs/{stem.removeprefix('systems/')}/" if stem.startswith("systems/") else "\0"
    return path in (file, f"{stem}.md") or path.startswith(logs)


@dataclass(frozen=True, slots=True)
class Parts:
    """The parts of one figure's uncertainty, and the unit and factor by which they are shown."""

    parts: Sequence[UncertaintyPart]
    unit: str
    factor: float = 1.0


@dataclass(frozen=True, slots=True)
class Ground:
    """The evidence for one row of a table: its name, the parts of each of its figures, and its lines."""

    name: str
    figures: tuple[Parts, ...]
    inputs: tuple[Source, ...]


def behind(ctx: PageContext, row: str, method: str, grounds: Iterable[Ground], tall: bool = True) -> Fold:
    """The evidence for a table: its method, the parts of each figure, and the lines that this audience may read.

    `row` heads the names. Where the rows are not `tall` on a telephone they are short, for there are many.
    """
    words, every = ctx.words, tuple(grounds)
    causes = tuple(
        dict.fromkeys(part.cause for row in every for figure in row.figures for part in with_effect(figure.parts))
    )
    heads = (row, *(words(f"causes.{cause}") for cause in causes), words("system.source"))
    rows = tuple(_row(ctx, ground, causes) for ground in every)
    title = words("why.titles")
    parts = f"{words('why.parts')} ({words('why.parts_note')}):" if causes else ""
    table = Table(title, heads, rows, "grounds tall" if tall else "grounds")
    return Fold(title, (Paragraph(joined(f"{words('why.method')}:", to_method(ctx, method))), Paragraph(parts), table))


def lengths(ctx: PageContext, parts: Sequence[UncertaintyPart]) -> Parts:
    """Parts in cm as the journal shows lengths."""
    return Parts(parts, ctx.say.unit("length"), ctx.display.change("length", 1.0))


def _row(ctx: PageContext, ground: Ground, causes: tuple[str, ...]) -> tuple[Inline, ...]:
    """A cell for each cause, with its part of each figure ("" for none), and the lines by file."""
    told = [source for source in ground.inputs if ctx.view.tells(source)]
    files = (joined(code(each.file), each.lines) for each in by_file(ctx.words, told))
    return ground.name, *(_cell(ctx, ground, cause) for cause in causes), joined(*files, by="; ")


def _cell(ctx: PageContext, ground: Ground, cause: str) -> str:
    """A cause's part of each figure of a row, side by side."""
    of_figures = (
        (hypot(*(part.standard for part in with_effect(each.parts) if part.cause == cause)) * each.factor, each.unit)
        for each in ground.figures
    )
    return ", ".join(ctx.say.deviation(standard, unit) for standard, unit in of_figures if standard > 0.0)


def whole_label(ctx: PageContext, system: str) -> str:
    """What the whole of a system's uptake is: measured, or measured with what is predicted of the last events."""
    return ctx.words("shares.whole_predicted" if ctx.found.predicted.get(system) else "shares.whole")


def behind_shares(ctx: PageContext, found: Shares, seen: Sequence[CoralShare]) -> Fold:
    """For each coral, the parts of its share and of its grams a day, and the lines with its size."""
    grams = ctx.say.a_day("g")
    whole = Ground(whole_label(ctx, found.system), (Parts(found.whole.parts, grams),), found.whole.inputs)
    coral = ctx.words("shares.coral")
    return behind(ctx, coral, "shares", (whole, *(_share(ctx, found.whole, each, grams) for each in seen)), tall=False)


def _share(ctx: PageContext, whole: Finding, each: CoralShare, grams: str) -> Ground:
    of_share, of_whole = scaled_parts(each.parts, whole.estimate.value), scaled_parts(whole.parts, each.share.value)
    figures = Parts(each.parts, "%", 100.0), Parts((*of_whole, *of_share), grams)
    return Ground(ctx.to_coral(each.coral).text, figures, each.inputs)


def behind_what_ifs(ctx: PageContext, found: Shares, ifs: Sequence[WhatIf], others: Sequence[str]) -> Fold:
    """The uptake now, then after each change of each coral, with its own parts and the lines of that coral."""
    now = [_now(ctx, system) for system in (found.system, *others)]
    grounds = (*(each for each in now if each), *_grounds(ctx, ifs, others))
    return behind(ctx, ctx.words("why.of_what"), "shares", grounds, tall=False)


def _now(ctx: PageContext, system: str) -> Ground | None:
    """The evidence for the measured uptake, on which all the others depend too."""
    measured = ctx.findings[system].calcification.grams_per_day
    if not isinstance(measured, Finding):
        return None
    one = alkalinity_of(Estimate.exact(1.0, "g/day"), ctx.view.systems[system].water).value
    name = ctx.words("shares.as_it_is", system=ctx.view.systems[system].name)
    return Ground(name, (_per_day(ctx, measured.parts, one),), measured.inputs)


def _grounds(ctx: PageContext, ifs: Sequence[WhatIf], others: Sequence[str]) -> Iterator[Ground]:
    for each in ifs:
        coral = ctx.to_coral(each.coral).text
        moved = dict(each.moved)
        deeds = [(ctx.words("shares.cut"), each.cut), (ctx.words("shares.gone"), each.gone)]
        for id in others:
            found = moved[id]
            there = found.arriving if isinstance(found, Moved) else found
            deeds.append((f"{ctx.words('shares.moved')} {ctx.view.systems[id].name}", there))
        for deed, demand in deeds:
            if isinstance(demand, Demand):
                yield Ground(f"{coral}: {deed}", (_per_day(ctx, demand.parts),), demand.inputs)


def _per_day(ctx: PageContext, parts: Sequence[UncertaintyPart], factor: float = 1.0) -> Parts:
    unit = ctx.say.a_day(ctx.display.unit("alkalinity"))
    return Parts(parts, unit, factor * ctx.display.change("alkalinity", 1.0))
