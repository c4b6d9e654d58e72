"""Templates, from the wheel or the checkout. Everything is escaped, and an undefined name is an error."""

import re
from collections.abc import Mapping
from functools import cache

from jinja2 import Environment, FunctionLoader, StrictUndefined
from markupsafe import Markup

from generator.render.base.blocks import Block, Drawn
from generator.render.base.numbers import NBSP
from generator.render.base.page import Page
from generator.render.base.words import template_files, words_of
from generator.units.kinds import KINDS


def _shipped(template: str) -> str | None:
    """A template by its path below the templates folder, whether that is a folder or inside a wheel."""
    file = template_files().joinpath(*template.split("/"))
    return file.read_text(encoding="utf-8") if file.is_file() else None


@cache
def environment(language: str) -> Environment:
    """The templates with one language's words in them."""
    words = words_of(language)
    made = Environment(
        loader=FunctionLoader(_shipped),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    # JSON for scripts has no spaces, and letters are not escaped.
    made.policies["json.dumps_kwargs"] = {"ensure_ascii": False, "separators": (",", ":")}
    made.globals["t"] = words

    def draw(block: Block, level: int) -> Markup:
        """A block by the macro of its kind; its headings begin at `level`."""
        if isinstance(block, Markup):
            return block
        if isinstance(block, Drawn):
            return Markup(getattr(made.get_template(f"parts/{block.part}.html").module, block.part)(block.model, level))
        return Markup(getattr(blocks, type(block).__name__.lower())(block, level))

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
_DAY = re.compile(r"(?<!<li>)(?<!<td>)(?<![\w/.-])\d{4}-\d\d-\d\d(?![\w-]|\.\w)(?=[^<>]*(?:<|\Z))")
# A number and its unit, known, with a slash or of time, in the text between tags; "in" is more often a word.
_UNITS = {unit.symbol for kind in KINDS.values() for unit in kind.units} - {"in", "total", "NBS"} | {"%"}
_TIMES = r"\w+/[\w/]+|(?:day|week|month|year|hour|minute)s?|(?:Tag|Monat|Jahr)(?:en?)?|(?:Woche|Stunde|Minute)n?"
_UNIT = re.compile(rf"(\d)[ \n](?=(?:{'|'.join(map(re.escape, _UNITS))}|{_TIMES})(?![\w/])[^<>]*(?:<|\Z))")


def keep_whole(html: str) -> str:
    """The same page with each date and each number with its unit kept together; `<time>` elements already are."""
    pieces = _APART.split(html)
    for at, piece in enumerate(pieces):
        if at % 2 == 0 or piece.startswith("<code"):
            whole = piece if at % 2 else _UNIT.sub(rf"\1{NBSP}", piece)
            pieces[at] = _DAY.sub(r'<span class="whole">\g<0></span>', whole)
    return "".join(pieces)
