"""What stands behind a page: the evidence of each row, and when a record was written."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import hypot

from generator.door.door import grouped
from generator.reckon.arrivals.analysis import Demand, Moved, WhatIf
from generator.reckon.arrivals.expected import alkalinity_of
from generator.reckon.arrivals.shares import CoralShare, Shares
from generator.reckon.finding import Finding, UncertaintyPart, scaled_parts
from generator.records.source import Commit, Source
from generator.render.base.blocks import Fold, Paragraph, Table
from generator.render.base.context import PageContext
from generator.render.base.links import Inline, code, joined
from generator.render.base.page import Page
from generator.render.base.why import by_file, to_method, with_effect
from generator.units.quantity import Estimate

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
    """A cell for each cause, with its part of each figure side by side ("" for none), and the lines by file."""
    told = [source for source in ground.inputs if ctx.view.tells(source)]
    files = (joined(code(each.file), each.lines) for each in by_file(ctx.words, told))
    say, figures = ctx.say, [(_by_cause(each), each.unit) for each in ground.figures]
    cells = (
        ", ".join(say.deviation(parts[cause], unit) for parts, unit in figures if parts.get(cause, 0.0) > 0.0)
        for cause in causes
    )
    return ground.name, *cells, joined(*files, by="; ")


def _by_cause(figure: Parts) -> dict[str, float]:
    """The standard uncertainty of a figure that comes from each cause, in the unit shown."""
    parts = grouped((part.cause, part.standard) for part in with_effect(figure.parts))
    return {cause: hypot(*each) * figure.factor for cause, each in parts.items()}


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
