"""What the site is and how to use it: the guides, the data files, how numbers are calculated, an unknown address."""

from collections.abc import Iterable, Iterator

from generator.door.door import grouped
from generator.nature.constants import ALL, Constant
from generator.nature.genera import SAFE_GAPS
from generator.nature.methods import BY_ROOM, CHAPTERS, chapter, method
from generator.nature.rates import RATES, Rate
from generator.records.source import Source
from generator.render.base import links
from generator.render.base.blocks import (
    Block,
    Fold,
    Items,
    Paragraph,
    Section,
    Table,
    facts,
    folded,
    group,
    row,
    section,
)
from generator.render.base.context import PageContext, page
from generator.render.base.links import Inline, Link, Span, code, joined
from generator.render.base.numbers import NBSP, in_signs
from generator.render.base.page import Page
from generator.render.base.words import template_files
from generator.render.pages.search import words_in
from generator.render.tables.contents import TABLES, meaning
from generator.render.tables.files import JOURNAL, JOURNAL_KEYS, PACKAGE, SQLITE, Column, DataTable


def guides_page(ctx: PageContext) -> Page:
    """One section for each task, with its command lines."""
    name = f"{ctx.words.language}.md"
    text = (template_files() / "guides" / name).read_text(encoding="utf-8")
    parts = [part.partition("\n") for part in text.removeprefix("## ").split("\n## ")]
    blocks: list[Block] = [row(*(Link(title, f"#{number}") for number, (title, _, _) in enumerate(parts, 1)))]
    for number, (title, _, body) in enumerate(parts, 1):
        blocks.append(section(title, group("prose", ctx.prose(body, Source(name)).html), id=str(number)))
    return page(ctx, "guides", "today", *blocks, text=text, contents=True)


Fact = tuple[Inline, Inline]
_IN_PYTHON = 'from generator.tables import tables; tables("content")["readings"]'


def data_page(ctx: PageContext) -> Page:
    """The page that explains the downloads."""
    words = ctx.words
    keys: list[Fact] = [(code(key), meaning(words, "journal", key)) for key in JOURNAL_KEYS]
    return page(
        ctx,
        "data",
        "data",
        row(ctx.link(SQLITE, words("data.sqlite")), ctx.link(PACKAGE, words("data.package"))),
        facts((words("data.python"), code(_IN_PYTHON))),
        *(_table(ctx, table.name, _files(ctx, table), _columns(ctx, table)) for table in TABLES),
        _table(ctx, "journal", [ctx.link(JOURNAL, JOURNAL)], keys),
        lead=words("data.lead"),
        contents=True,
    )


def _table(ctx: PageContext, name: str, files: list[Link], columns: list[Fact]) -> Section:
    """One kind of download: what it holds, where it is, and its columns."""
    told = f"data.tables.{name}"
    meanings = Fold(ctx.words("data.columns"), (facts(*columns),))
    return section(ctx.words(f"{told}.name"), Paragraph(ctx.words(f"{told}.text")), row(*files), meanings, id=name)


def _files(ctx: PageContext, table: DataTable) -> list[Link]:
    if not table.by_system:
        return [ctx.link(table.address, table.address)]
    return [ctx.link(table.address.format(system=id), system.name) for id, system in ctx.view.systems.items()]


def _columns(ctx: PageContext, table: DataTable) -> list[Fact]:
    means = {each: meaning(ctx.words, table.name, each.name) for each in table.columns}
    return [(code(each.name), f"{text} ({_kind(ctx, each)})") for each, text in means.items()]


def _kind(ctx: PageContext, column: Column) -> str:
    """The type of a column's cells, and their unit."""
    words = ctx.words
    unit = words.unit(column.unit) if column.unit else column.unit_in and words("data.unit_in", column=column.unit_in)
    return ", ".join(filter(None, (words(f"data.types.{column.type}"), unit)))


def not_found_page(ctx: PageContext) -> Page:
    """The page for an unknown address. Hosts serve it at any depth, so its links start at the site's root if known."""
    home = ctx.link(links.HOME, ctx.words("not_found.home"))
    return page(ctx, "not_found", "", Paragraph(home, "onward"))


_NUMBER = ("value", "uncertainty", "source", "known")


def methods_page(ctx: PageContext) -> Page:
    """The methods of each room by name, and the words, numbers of nature, rates and safe distances; each unfolds."""
    words = ctx.words
    names = {room: words(f"methods.rooms.{room}") for room in (*BY_ROOM, "all")}
    return page(
        ctx,
        "methods",
        "methods",
        row(*(Link(name, f"#of-{room}") for room, name in names.items())),
        *(section(names[room], *_methods(ctx, ids), id=f"of-{room}") for room, ids in BY_ROOM.items()),
        section(
            names["all"],
            glossary(ctx),
            _numbers(ctx, "constants", "constants", ("name", *_NUMBER), (_constant(ctx, each) for each in ALL)),
            _numbers(ctx, "rates", "rates", ("group", "basis", "rate", *_NUMBER[1:]), (_rate(ctx, r) for r in RATES)),
            _numbers(ctx, "checked", "checked", ("quantity", "values", "nearness", "source", "known"), _checked(ctx)),
            _numbers(ctx, "gaps", "safe-distances", ("group", "gap", "source"), _gaps(ctx)),
            id="of-all",
        ),
        lead=words("methods.lead"),
    )


def _methods(ctx: PageContext, ids: Iterable[str]) -> Iterator[Section]:
    for told in sorted((method(id, ctx.words.language) for id in ids), key=lambda each: words_in(each.name)):
        blocks = (
            Paragraph(told.paragraph),
            section(ctx.words("methods.assumptions"), Items(told.assumptions)),
            section(ctx.words("methods.sources"), Items(tuple(_english(source) for source in told.sources))),
        )
        yield Section(told.name, blocks, told.id, look="prose", folded=True)


def _numbers(ctx: PageContext, name: str, id: str, heads: Iterable[str], rows: Iterable[tuple[Inline, ...]]) -> Section:
    title = ctx.words(f"methods.{name}")
    lead = ctx.words(f"methods.{name}_lead") if ctx.words.has(f"methods.{name}_lead") else ""
    keys = (f"methods.{head}" for head in heads)
    return folded(title, Table(title, ctx.words.each(*keys), tuple(rows), "tall"), id=id, lead=lead)


def _english(source: str) -> Span:
    """Sources are in English whatever the page's language."""
    return Span(source, lang="en")


def _constant(ctx: PageContext, constant: Constant) -> tuple[Inline, ...]:
    words = ctx.words
    unit = f"{NBSP}{words.unit(constant.unit)}" if constant.unit not in ("", "1") else ""
    uncertainty = ""
    if constant.standard is not None:
        uncertainty = f"±{in_signs(words, f'{constant.standard:.3g}')}{unit}"
    elif constant.low is not None and constant.high is not None:
        low, high = (in_signs(words, f"{end:.4g}") for end in (constant.low, constant.high))
        uncertainty = words("methods.range", low=low, high=f"{high}{unit}")
    value = Span(f"{in_signs(words, f'{constant.value:.7g}')}{unit}", look="held")
    return constant.name[words.language], value, uncertainty, _english(constant.source), _known(ctx, constant.known)


def _rate(ctx: PageContext, rate: Rate) -> tuple[Inline, ...]:
    """A published rate of calcification of a kind of coral, and what it is counted by."""
    words = ctx.words
    group = " ".join((rate.genus, ", ".join(words(f"forms.{form}") for form in rate.forms))).strip()
    unit = f"{NBSP}{words.unit(rate.unit)}"
    low, high = (in_signs(words, f"{end:.3g}") for end in (rate.low, rate.high))
    return (
        group or words("methods.any"),
        words("changes.way", basis=words(f"changes.basis.{rate.basis}"), study=words(f"changes.study.{rate.study}")),
        f"{in_signs(words, f'{rate.value:.3g}')}{unit}",
        words("methods.share_within", n=f"{100 * rate.level:.0f}", low=low, high=f"{high}{unit}"),
        _english(rate.source),
        _known(ctx, rate.known),
    )


def _checked(ctx: PageContext) -> Iterator[tuple[Inline, ...]]:
    """What calculations are compared with: a row for each source of each chapter, and the method that rests on it."""
    for name in CHAPTERS:
        held = chapter(name)
        rows = grouped(((each.source, each.known), each.tolerance / abs(each.expected)) for each in held.checks)
        for (source, known), shares in rows.items():
            # No reader needs to tell a tolerance of a millionth from a smaller one.
            nearness = f"{max(100 * max(shares), 1e-4):.1g}"
            link = Link(held.name[ctx.words.language], f"#{held.method}")
            near = ctx.words("methods.within", n=in_signs(ctx.words, f"{float(nearness):f}".rstrip("0").rstrip(".")))
            yield link, str(len(shares)), near, _english(source), _known(ctx, known)


def _gaps(ctx: PageContext) -> Iterator[tuple[Inline, ...]]:
    """The keeper's own distances, then the usual ones of genera and of other groups."""
    words, settings = ctx.words, ctx.view.settings
    for genus, declared in settings.safe_distances.items():
        yield genus.capitalize(), ctx.say.written(declared), words("methods.gap_declared")
    usual = [(genus, cm) for genus, cm in SAFE_GAPS.genera.items() if genus.casefold() not in settings.safe_distances]
    usual += [(words(f"groups.{group.replace(' ', '-')}"), cm) for group, cm in SAFE_GAPS.groups.items()]
    for kind, cm in (*usual, (words("methods.any"), SAFE_GAPS.unknown)):
        yield kind, ctx.say.length(cm), words("known.common_practice")


def _known(ctx: PageContext, known: str) -> str:
    return ctx.words(f"known.{known.replace(',', '').replace(' ', '_')}")


# From a word's key in the catalogue to its names in the keeper's files, in the downloads' columns or as a command.
TERMS: dict[str, tuple[str, ...]] = {
    "system": ("systems", "system"),
    "place": ("places", "place"),
    "light": ("light", "light_to", "photoperiod"),
    "flow": ("flow",),
    "colony": ("coral", "corals"),
    "frag": ("frags", "cuttings"),
    "line": ("line",),
    "arrival": ("arrival",),
    "plan": ("plans", "arrive", "sheet"),
    "quarantine": ("quarantine", "treatment"),
    "reading": ("readings",),
    "kit": ("kits", "kit", "precision"),
    "band": ("low", "high"),
    "target": ("target",),
    "uptake": ("uptake",),
    "dose": ("doses", "pumps"),
    "two_part": ("solutions",),
    "top_off": ("top_off",),
    "recorded": ("source",),
    "calculated": (),
    "forecast": (),
    "predicted": ("predict", "predicted"),
    "smallest_change": ("smallest_change",),
    "likely": ("low90", "high90"),
    "doubtful": ("flagged",),
    "check": ("checks", "condition"),
    "promise": ("owed",),
    "card": ("dismiss",),
}


def glossary(ctx: PageContext) -> Section:
    """The table of words, in the order a keeper meets them."""
    words = ctx.words
    rows = tuple(
        (
            words(f"glossary.terms.{id}.word"),
            words(f"glossary.terms.{id}.means"),
            joined(*(code(name) for name in names), by=", "),
        )
        for id, names in TERMS.items()
    )
    heads = words.each("glossary.word", "glossary.means", "glossary.names")
    title = words("glossary.title")
    return folded(title, Table(title, heads, rows, "tall"), id="words", lead=words("glossary.lead"))
