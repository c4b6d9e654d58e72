"""Why this number: a figure with its interval, its method, the parts of its uncertainty and its log lines.

What stands behind a table is the same for each of its rows.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import partial
from math import hypot

from msgspec import Struct
from msgspec.structs import replace

from generator.door.door import grouped
from generator.reckon.finding import Answer, CannotTell, Finding, UncertaintyPart
from generator.records.log import Dose, Effluent, Event, MeasuredRate, PumpRate, Reading, TopOff, WaterChange
from generator.records.source import Source
from generator.render.base import links
from generator.render.base.blocks import (
    Block,
    CauseSize,
    Figure,
    Figures,
    FileLines,
    Fold,
    Group,
    Line,
    Paragraph,
    Section,
    Table,
    Why,
)
from generator.render.base.context import PageContext
from generator.render.base.links import Cannot, Inline, Link, code, joined
from generator.render.base.numbers import Say, Shown, in_words
from generator.render.base.words import Words
from generator.units.quantity import Estimate

LogRecord = Reading | Dose | PumpRate | MeasuredRate | WaterChange | TopOff | Effluent | Event

# A reader who doubts a number looks at the newest lines first; the rest are named by file and line.
_LINES_IN_WORDS = 8
# A cause with less than this share of the largest is not listed: it is nothing, or the rounding of a computer.
_NO_EFFECT = 0.001


class LogInWords(Struct, frozen=True):
    """One system's log by line, and how to put its lines in words."""

    by_source: Mapping[Source, LogRecord]
    say: Say

    def lines(self, sources: Sequence[Source]) -> tuple[tuple[Line, ...], tuple[FileLines, ...]]:
        """The newest lines in words, and the older ones by file and number."""
        ordered = sorted(set(sources), key=self._when, reverse=True)
        newest = tuple(Line(str(source), self._said(source)) for source in ordered[:_LINES_IN_WORDS])
        return newest, by_file(self.say.words, ordered[_LINES_IN_WORDS:])

    def _when(self, source: Source) -> tuple[float, Source]:
        record = self.by_source.get(source)
        return record.at.timestamp() if record else 0.0, source

    def _said(self, source: Source) -> str:
        record = self.by_source.get(source)
        if record is None:
            return ""
        at = self.say.moment(record.at).text
        return self.say.words("recorded.line", at=at, said=_said(record, self.say))


def by_file(words: Words, sources: Sequence[Source]) -> tuple[FileLines, ...]:
    """Lines by file and number, the files in the order of the lines' own."""
    found: dict[str, set[int]] = {}
    for source in sources:
        found.setdefault(source.file, set()).add(source.line)
    told = {file: ", ".join(map(str, sorted(lines))) for file, lines in found.items()}
    return tuple(FileLines(file, words("why.older", n=len(found[file]), lines=lines)) for file, lines in told.items())


def evidence(ctx: PageContext, system: str) -> LogInWords:
    """The lines of a system's log that can be evidence for a number."""
    log = ctx.view.log_of(system)
    lists: tuple[tuple[LogRecord, ...], ...] = (
        log.readings,
        log.doses,
        log.pumps,
        log.measured_rates,
        log.water_changes,
        log.top_offs,
        log.effluents,
        log.events,
    )
    return LogInWords({record.source: record for records in lists for record in records}, ctx.say)


def _said(record: LogRecord, say: Say) -> str:
    """What one line of a log says, without its moment."""
    words = say.words
    match record:
        case Reading():
            return f"{words(f'quantities.{record.kind}')} {say.written(record.value)}"
        case Dose():
            return words("recorded.dose", amount=say.written(record.amount), of=record.solution)
        case PumpRate():
            return words("recorded.pump", rate=say.written(record.rate), of=record.solution)
        case MeasuredRate():
            return words("recorded.measured_rate", rate=say.written(record.rate), of=record.solution)
        case WaterChange():
            mix = record.mix or words("recorded.unknown_mix")
            return words("recorded.water_change", volume=say.written(record.volume), mix=mix)
        case TopOff():
            of = record.solution or words("recorded.plain_water")
            return words("recorded.top_off", rate=say.written(record.rate), of=of)
        case Effluent():
            flow, alkalinity = say.written(record.flow), say.written(record.alkalinity)
            return words("recorded.reactor", flow=flow, alkalinity=alkalinity)
        case Event():
            return words(f"events.{record.what}")


def why(ctx: PageContext, found: Finding, told: LogInWords, unit: str, factor: float) -> Why:
    """The evidence for a finding; `factor` converts its own unit to `unit`, in which the parts are shown."""
    return _why(ctx, found.method, found.inputs, told, _parts(ctx, found.parts, unit, factor))


def why_of(
    ctx: PageContext,
    method: str,
    inputs: Sequence[Source],
    parts: Sequence[UncertaintyPart] = (),
    unit: str = "",
    factor: float = 1.0,
) -> Why:
    """The evidence for numbers in a sentence or a table: the lines that this audience may read."""
    told = [source for source in inputs if ctx.view.tells(source)]
    return _why(ctx, method, told, LogInWords({}, ctx.say), _parts(ctx, parts, unit, factor))


def to_method(ctx: PageContext, id: str) -> Link:
    """A link to a method."""
    from generator.nature.methods import method  # a large table

    return ctx.link(f"{links.METHODS}#{id}", method(id, ctx.words.language).name)


def how(ctx: PageContext, id: str) -> Link:
    """A link to a method that says where it leads."""
    return ctx.link(f"{links.METHODS}#{id}", ctx.words("why.method"))


def with_effect(parts: Sequence[UncertaintyPart]) -> tuple[UncertaintyPart, ...]:
    """The parts of an uncertainty that have an effect: not the scatter of readings that all agree, for instance."""
    least = _NO_EFFECT * max((part.standard for part in parts), default=0.0)
    return tuple(part for part in parts if part.standard > least)


def _parts(ctx: PageContext, parts: Sequence[UncertaintyPart], unit: str, factor: float) -> tuple[CauseSize, ...]:
    return tuple(
        CauseSize(ctx.words(f"causes.{part.cause}"), ctx.say.deviation(part.standard * factor, unit))
        for part in with_effect(parts)
    )


def _why(
    ctx: PageContext, method: str, inputs: Sequence[Source], told: LogInWords, parts: tuple[CauseSize, ...]
) -> Why:
    newest, older = told.lines(inputs)
    # Two facts on one line count as one line.
    count = ctx.words("why.lines", n=len({(source.file, source.line) for source in inputs}))
    return Why(to_method(ctx, method), parts, count, newest, older)


def told_once(words: Words, blocks: tuple[Block, ...]) -> tuple[Block, ...]:
    """The same blocks; lines that are evidence for several numbers are listed with the first that has a name."""
    said: dict[object, Link] = {}

    def once(block: Block) -> Block:
        match block:
            case Section() | Fold() | Group():
                return replace(block, blocks=tuple(map(once, block.blocks)))
            case Figures():
                return replace(block, figures=tuple(map(figure_once, block.figures)))
        return block

    def figure_once(figure: Figure) -> Figure:
        why = figure.why
        if why is None or not why.newest:
            return figure
        lines = why.newest, why.older
        if lines in said:
            return replace(figure, why=replace(why, newest=(), older=(), same=said[lines]))
        if figure.id:
            said[lines] = Link(words("why.same", of=figure.label), f"#why-{figure.id}")
        return figure

    return tuple(map(once, blocks))


def cannot(words: Words, answer: CannotTell) -> Cannot:
    """A 'cannot tell' in words."""
    blanks = {name: in_words(words, told) for name, told in answer.numbers}
    return Cannot(
        words(f"cannot.{answer.why}", **blanks),
        words(f"remedies.{answer.what_would_tell}", **blanks),
        words("cannot.label"),
    )


def figure_of(
    ctx: PageContext,
    label: str,
    answer: Answer,
    say: Callable[[Estimate], Shown],
    told: LogInWords,
    unit: str,
    factor: float = 1.0,
    note: str = "",
) -> Figure:
    """A figure as `say` puts it, or why there is none; the parts of its uncertainty times `factor` are in `unit`."""
    if isinstance(answer, CannotTell):
        return Figure(label, None, None, cannot(ctx.words, answer), note)
    return Figure(label, say(answer.estimate), why(ctx, answer, told, unit, factor), None, note)


def per_day_figure(ctx: PageContext, label: str, kind: str, answer: Answer, told: LogInWords, note: str = "") -> Figure:
    """A figure of a change per day in the quantity's shown unit."""
    unit, factor = ctx.say.a_day(ctx.display.unit(kind)), ctx.display.change(kind, 1.0)
    return figure_of(ctx, label, answer, partial(ctx.say.per_day, kind), told, unit, factor, note)


def amount_figure(ctx: PageContext, label: str, answer: Answer, told: LogInWords, note: str = "") -> Figure:
    """A figure of grams a day in the whole system."""
    return figure_of(ctx, label, answer, ctx.say.amount, told, ctx.say.a_day("g"), note=note)


def figure(ctx: PageContext, label: str, answer: Answer, kind: str = "", note: str = "") -> Figure:
    """A number with the lines that this audience may read; `kind` (length or mass) brings it to the journal's unit."""
    if isinstance(answer, CannotTell):
        return Figure(label, None, None, cannot(ctx.words, answer), note)
    told = replace(answer, inputs=tuple(source for source in answer.inputs if ctx.view.tells(source)))
    shown, unit, factor = _shown(ctx, answer.estimate, kind)
    return Figure(label, shown, why(ctx, told, LogInWords({}, ctx.say), unit, factor), None, note)


def _shown(ctx: PageContext, found: Estimate, kind: str) -> tuple[Shown, str, float]:
    """A number in the journal's unit, its unit in words, and the factor that takes a spread there."""
    words = ctx.words
    base, _, per = found.unit.partition("/")
    if found.low == found.high:
        # Measured at the coral itself, without a recorded error.
        return Shown(ctx.say.number(found.value, 1, found.unit)), words.unit(found.unit), 1.0
    if not kind:
        return ctx.say.estimate(found), words.unit(found.unit), 1.0
    factor = ctx.display.change(kind, 1.0)
    unit = words.unit(f"{ctx.display.unit(kind)}/{per}" if per else ctx.display.unit(kind))
    return ctx.say.estimate(found.scaled(factor, base), unit), unit, factor


class Parts(Struct, frozen=True):
    """The parts of one figure's uncertainty, and the unit and factor by which they are shown."""

    parts: Sequence[UncertaintyPart]
    unit: str
    factor: float = 1.0


class Ground(Struct, frozen=True):
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
