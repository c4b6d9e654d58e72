"""A page: its frame, its head and its blocks; the templates and charts' specifications that draw it; blocks as text."""

import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cache
from hashlib import sha256
from typing import TYPE_CHECKING, Any, TypedDict, cast

from markupsafe import Markup, escape
from msgspec import Struct
from msgspec.structs import replace

from generator.door.compiled import compiled
from generator.render.base.blocks import (
    Block,
    Chart,
    Drawn,
    Facts,
    Figures,
    Fold,
    Group,
    Items,
    Paragraph,
    Picture,
    Section,
    Table,
    Why,
    walk,
)
from generator.render.base.links import Cannot, Inline, Link, plain_text
from generator.render.base.numbers import NBSP, Moment
from generator.render.base.scale import Ranges
from generator.render.base.words import Words, template_files, words_of
from generator.units.kinds import KINDS

if TYPE_CHECKING:
    from jinja2 import Environment, Template


def lines(blocks: tuple[Block, ...]) -> Iterator[str]:
    """Blocks as lines of text. A section begins with an empty line and its title; what is in it is indented."""
    for block in blocks:
        if not block:
            continue
        match block:
            case Section():
                yield from ("", said(block.title))
                yield from (f"  {line}" if line else "" for line in lines(block.blocks))
            case Group():
                yield from lines(block.blocks)
            case Paragraph() if "how" not in block.look:
                yield said(block.text)
            case Cannot():
                yield said(block)
            case Facts():
                yield from (f"{said(term)}: {said(fact)}" for term, fact in block.rows)
            case Figures():
                yield from (f"{each.label}: {said(each.shown or each.cannot or '')}" for each in block.figures)
            case Items():
                yield from map(said, block.items)
            case Fold() if "in-text" in block.look:
                yield from lines(block.blocks)
            case Table():
                heads = tuple(map(said, block.heads))
                yield from (_row(heads, tuple(map(said, row))) for row in block.rows)
            case Drawn(model=Ranges(strips=strips)):
                yield from (f"{strip.label}: {strip.said.value}, {strip.said.interval}" for strip in strips)


def said(inside: object) -> str:
    """A text whose lines and small print stand apart by signs."""
    html = escape(inside).replace(Markup("<br><small>"), ", ")
    html = html.replace(Markup(".<br>"), Markup("<br>")).replace(Markup(" <small>("), Markup(" ("))
    return plain_text(Markup(html.replace(Markup("<br>"), "; ").replace(Markup(" <small>"), ", ")))


def _row(heads: tuple[str, ...], cells: tuple[str, ...]) -> str:
    named = (f"{head}: {cell}" for head, cell in zip(heads[1:], cells[1:], strict=False) if cell)
    return f"{cells[0]}: {'; '.join(named)}"


class NavLink(Struct, frozen=True):
    """One link of the navigation on every page."""

    text: str
    href: str
    here: bool


class Frame(Struct, frozen=True):
    """The frame of every page.

    `root` is the relative link to the top of the site; `address` is the page's public address ("" for none).
    `predicted` says which changes the numbers of a system's page only predict.
    """

    address: str
    root: str
    language: str
    site_title: str
    keeper: str
    title: str
    description: str
    nav: tuple[NavLink, ...]
    crumbs: tuple[Link, ...]
    as_of: Moment
    data: str
    feeds: tuple[Link, ...]
    version: str
    predicted: tuple[str, ...] = ()


class Head(TypedDict, total=False):
    """What a page may have beside its blocks; see `Page`."""

    lead: Inline
    over: Inline
    heading: Inline
    look: str
    script: str
    titled: bool
    text: str
    margin: tuple[Block, ...]


class Page(Struct, frozen=True):
    """One page at its address `url`; `kind` names it to the stylesheet, `over` and `lead` stand around its title.

    `heading` replaces the title at the top of the page; if it is not `titled`, a block has the title. `look` is the
    class of a page that has rules of its own on paper; `script` is its own script, if it has one, or
    several with blanks between. The search finds
    it by the title and description of its frame, and by the words of `text`. `card` is the full address of its
    preview picture for shared links, `beside` that of the file with the data of its charts. On a wide screen
    `contents` and `margin` stand to the right of the text; on a narrow one the margin follows it.
    """

    url: str
    kind: str
    frame: Frame
    blocks: tuple[Block, ...]
    lead: Inline = ""
    over: Inline = ""
    heading: Inline = ""
    look: str = ""
    script: str = ""
    titled: bool = True
    text: str = ""
    card: str = ""
    beside: str = ""
    contents: tuple[Link, ...] = ()
    margin: tuple[Block, ...] = ()

    @property
    def in_columns(self) -> bool:
        """Whether something stands beside its text on a wide screen."""
        return bool(self.contents) or any(self.margin)

    @property
    def charts(self) -> tuple[Chart, ...]:
        """Its charts that can be live."""
        return tuple(block for block in walk(self.blocks) if isinstance(block, Chart))

    @property
    def unfolds(self) -> bool:
        """Whether something on it unfolds, so that paper does not have all of it."""
        return any(
            isinstance(block, Fold | Why)
            or (isinstance(block, Figures) and any(figure.why for figure in block.figures))
            or (isinstance(block, Section) and block.folded)
            for block in walk(self.blocks)
        )

    @property
    def styles(self) -> tuple[str, ...]:
        """The stylesheets of what it shows."""
        there = tuple(walk(self.blocks))
        looks = {block.look for block in there if isinstance(block, Picture | Drawn)}
        chart = "chart" in looks or any(isinstance(block, Chart) for block in there)
        own = [f"{sheet}.css" for look, sheet in (("drawing", "drawings"), ("writing", "writing")) if look in looks]
        return (*(["charts.css"] if chart else []), *own)


def with_contents(page: Page) -> Page:
    """The page with the ways to its sections beside it, if there are several; those without an id get one."""
    blocks = tuple(
        replace(block, id=block.id or f"part-{number}") if isinstance(block, Section) and block else block
        for number, block in enumerate(page.blocks)
    )
    ways = tuple(Link(plain_text(each.title), f"#{each.id}") for each in blocks if isinstance(each, Section) and each)
    return replace(page, blocks=blocks, contents=ways) if len(ways) > 1 else page


@cache
def environment(language: str) -> "Environment":
    """The templates with one language's words in them."""
    from jinja2 import BaseLoader, Environment, StrictUndefined, TemplateNotFound, __version__

    options: dict[str, Any] = {
        "autoescape": True,
        "trim_blocks": True,
        "lstrip_blocks": True,
        "keep_trailing_newline": True,
    }

    class Shipped(BaseLoader):
        """Templates by their path below the templates folder, whether that is a folder or inside a wheel."""

        def load(self, environment: Environment, name: str, globals: Any = None) -> "Template":
            """A template, compiled once."""
            file = template_files().joinpath(*name.split("/"))
            if not file.is_file():
                raise TemplateNotFound(name)
            code = compiled(file, lambda text: environment.compile(text, name), f"{__version__} {options}")
            return environment.template_class.from_code(environment, code, globals or {})

    words = words_of(language)
    made = Environment(loader=Shipped(), undefined=StrictUndefined, **options)
    # JSON for scripts has no spaces, and letters are not escaped.
    made.policies["json.dumps_kwargs"] = {"ensure_ascii": False, "separators": (",", ":")}
    made.globals["t"] = words

    def draw(those: Iterable[Block], level: int) -> Markup:
        """Blocks one after another, each by the macro of its kind; their headings begin at `level`."""
        return Markup("".join([one(block, level) for block in those if block]))

    def one(block: Block, level: int) -> str:
        if isinstance(block, Markup):
            return block
        if isinstance(block, Drawn):
            part = made.get_template(f"parts/{block.part}.html").module
            return cast(str, getattr(part, block.part)(block.model, level))
        return cast(str, getattr(blocks, type(block).__name__.lower())(block, level))

    made.globals["draw"] = draw
    blocks = made.get_template("blocks.html").module
    return made


def render_page(page: Page, assets: Mapping[str, str]) -> bytes:
    """A page's bytes. `assets` leads from a name such as ``style.css`` to its address in the site."""
    template = environment(page.frame.language).get_template("page.html")
    return keep_whole(template.render(page=page, asset=assets.__getitem__)).encode()


# Parts of a page that are not running text: its head, scripts, choices, and drawings, which never wrap. In code only
# days are kept whole: what is copied from there has the spaces that a keeper types.
_APART = re.compile(
    r"(<head>.*?</head>|<script\b.*?</script>|<svg\b.*?</svg>|<time\b.*?</time>|<select\b.*?</select>"
    r"|<code\b.*?</code>|<textarea\b.*?</textarea>)",
    re.DOTALL,
)
# A date in the text between tags. A date that starts a list item or a cell cannot be broken, so it is left alone.
# What stands before it is looked at last, and each search begins with one of ten signs: so it is twice as fast or more.
_DAY = re.compile(
    r"[0-9][0-9]{3}-[0-9]{2}-[0-9]{2}(?<!<li>.{10})(?<!<td>.{10})(?<![\w/.-].{10})(?![\w-]|\.\w)(?=[^<>]*(?:<|\Z))"
)
# A number and its unit, known, with a slash or of time, in the text between tags; "in" is more often a word.
_UNITS = {unit.symbol for kind in KINDS.values() for unit in kind.units} - {"in", "total", "NBS"} | {"%"}
_TIMES = r"\w+/[\w/]+|(?:day|week|month|year|hour|minute)s?|(?:Tag|Monat|Jahr)(?:en?)?|(?:Woche|Stunde|Minute)n?"
_UNIT = re.compile(rf"[0-9][ \n](?=(?:{'|'.join(map(re.escape, _UNITS))}|{_TIMES})(?![\w/])[^<>]*(?:<|\Z))")
# From one number to another, between which a line may otherwise end.
_RANGE = re.compile(r"[0-9][0-9.,]*–[0-9.,]*[0-9](?=[^<>]*(?:<|\Z))")


def keep_whole(html: str) -> str:
    """The same page with each date, each number with its unit, and each range kept together; `<time>` elements are."""
    pieces = _APART.split(html)
    for at, piece in enumerate(pieces):
        # In lines to copy, each on a row of its own, a date stands near the beginning.
        if at % 2 == 0 or (piece.startswith("<code") and not pieces[at - 1].endswith("<pre>")):
            if at % 2 == 0:
                piece = _UNIT.sub(lambda found: found[0][0] + NBSP, piece)
                piece = _RANGE.sub(_whole, piece) if "–" in piece else piece
            pieces[at] = _DAY.sub(_whole, piece)
    return "".join(pieces)


def _whole(found: re.Match[str]) -> str:
    return f'<span class="whole">{found[0]}</span>'


# How d3-time-format writes the day of a month.
_DAY_OF_MONTH = "%-d"
KINDS_OF_CHART = ("water", "growth", "change")


def specification_in_words(kind: str, words: Words) -> dict[str, Any]:
    """The specification of one kind of chart, its axes in a language's months and signs."""
    day = words("numbers.day", day=_DAY_OF_MONTH, month="%b")
    made: dict[str, Any] = json.loads(json.dumps(specification(kind)).replace(f"{_DAY_OF_MONTH} %b", day))
    months = [words(f"months.{month}") for month in range(1, 13)]
    days, short_days = ([words(f"{key}.{(day + 6) % 7}") for day in range(7)] for key in ("weekdays", "weekdays_short"))
    made["config"]["locale"] = {
        # The shapes are those of d3-format and d3-time-format; only months and the decimal sign are ever used.
        "number": {"decimal": words("numbers.decimal"), "thousands": "", "grouping": [3], "currency": ["", ""]},
        "time": {
            "dateTime": "%Y-%m-%d %H:%M",
            "date": "%Y-%m-%d",
            "time": "%H:%M",
            "periods": ["", ""],
            "days": days,
            "shortDays": short_days,
            "months": months,
            "shortMonths": months,
        },
    }
    return made


@cache
def specification(kind: str) -> dict[str, Any]:
    """The Vega-Lite specification of one kind of chart (see `KINDS_OF_CHART`), in no language yet."""
    kept: dict[str, Any] = json.loads((template_files() / "charts" / f"{kind}.json").read_text("utf-8"))
    return kept


def beside(charts: Sequence[Chart], words: Words) -> tuple[str, bytes]:
    """Address and content of the script that gives a page's charts their data, and each kind's specification once."""
    kinds = ",".join(_named(kind, words.language) for kind in sorted({chart.kind for chart in charts}))
    data = _as_json({chart.id: chart.data for chart in charts})
    script = f'chartData({{"kinds":{{{kinds}}},"data":{data}}})\n'.encode()
    return f"charts/{charts[0].id.removeprefix('chart-')}-{sha256(script).hexdigest()[:10]}.js", script


@cache
def _named(kind: str, language: str) -> str:
    """A kind of chart with its specification in a language, which very many pages need."""
    return f'"{kind}":{_as_json(specification_in_words(kind, words_of(language)))}'


def _as_json(given: Mapping[str, Any]) -> str:
    return json.dumps(given, ensure_ascii=False, separators=(",", ":"))
