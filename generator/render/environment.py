"""Templates, from the wheel or the checkout. Everything is escaped, and an undefined name is an error."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import PurePosixPath
from typing import Any

from jinja2 import Environment, FunctionLoader, StrictUndefined
from markupsafe import Markup

from generator.nature.methods import method
from generator.render.blocks import Block, Drawn
from generator.render.charts.chart import Chart
from generator.render.page import Page
from generator.render.template_files import template_files
from generator.render.whole_days import keep_days_whole
from generator.render.words import words_of


@dataclass(frozen=True, slots=True)
class PageOut:
    """One page: its address, the template that draws it, and all that the template sees.

    The search finds a page by the title and description of its frame, and by the words of `text`.
    `card` is the full address of its preview picture for shared links. `beside` is the address of the file
    with the data of its live `charts`.
    """

    url: str
    template: str
    model: Any
    text: str = ""
    card: str = ""
    charts: tuple[Chart, ...] = ()
    beside: str = ""


def told(url: str, page: Page, text: str = "") -> PageOut:
    """A page of blocks at its address."""
    return PageOut(url, "page.html", page, text, charts=page.charts)


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
    made.globals["method_name"] = lambda id: method(id, words.language).name

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


def render_page(page: PageOut, assets: Mapping[str, str]) -> bytes:
    """A page's bytes. `assets` leads from a name such as ``style.css`` to its address in the site."""
    template = environment(page.model.frame.language).get_template(page.template)
    kind = page.model.kind if isinstance(page.model, Page) else PurePosixPath(page.template).stem
    return keep_days_whole(
        template.render(page=page.model, kind=kind, card=page.card, beside=page.beside, asset=assets.__getitem__)
    ).encode()
