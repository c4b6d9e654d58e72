"""How every number is calculated, the numbers of nature in it, and the words of the pages."""

from collections.abc import Iterable, Iterator

from generator.nature.constants import ALL, Constant
from generator.nature.genera import SAFE_GAPS
from generator.nature.methods import CHAPTERS, METHODS, Method, chapter, method
from generator.nature.rates import RATES, Rate
from generator.render.base.blocks import Items, Paragraph, Section, Table, folded, section
from generator.render.base.context import PageContext, page
from generator.render.base.inline import Inline, Link, Span, code, joined
from generator.render.base.numbers import NBSP, in_signs
from generator.render.base.page import Page
from generator.render.pages.search import words_in

_NUMBER = ("value", "uncertainty", "source", "known")


def methods_page(ctx: PageContext) -> Page:
    """The table of words, numbers of nature, rates and safe distances, and the methods by name; each unfolds."""
    words = ctx.words
    methods = (method(id, words.language) for id in METHODS)
    return page(
        ctx,
        "methods",
        "methods",
        glossary(ctx),
        _table(ctx, "constants", "constants", ("name", *_NUMBER), (_constant(ctx, each) for each in ALL)),
        _table(ctx, "rates", "rates", ("group", "basis", "rate", *_NUMBER[1:]), (_rate(ctx, rate) for rate in RATES)),
        _table(ctx, "checked", "checked", ("quantity", "values", "nearness", "source", "known"), _checked(ctx)),
        _table(ctx, "gaps", "safe-distances", ("group", "gap", "source"), _gaps(ctx)),
        *(_method(ctx, each) for each in sorted(methods, key=lambda each: words_in(each.name))),
        lead=words("methods.lead"),
    )


def _method(ctx: PageContext, told: Method) -> Section:
    blocks = (
        Paragraph(told.paragraph),
        section(ctx.words("methods.assumptions"), Items(told.assumptions)),
        section(ctx.words("methods.sources"), Items(tuple(_english(source) for source in told.sources))),
    )
    return Section(told.name, blocks, told.id, look="prose", folded=True)


def _table(ctx: PageContext, name: str, id: str, heads: Iterable[str], rows: Iterable[tuple[Inline, ...]]) -> Section:
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
        rows: dict[tuple[str, str], list[float]] = {}
        for each in held.checks:
            rows.setdefault((each.source, each.known), []).append(each.tolerance / abs(each.expected))
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
