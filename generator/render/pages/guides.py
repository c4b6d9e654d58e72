"""What to do by task: the guides that every keeper's own site has, from the same files that README leads to."""

from generator.records.source import Source
from generator.render.base.blocks import Block, group, row, section
from generator.render.base.context import PageContext, page
from generator.render.base.inline import Link
from generator.render.base.page import Page
from generator.render.base.template_files import template_files


def guides_page(ctx: PageContext) -> Page:
    """One section for each task, with its command lines."""
    name = f"{ctx.words.language}.md"
    text = (template_files() / "guides" / name).read_text(encoding="utf-8")
    parts = [part.partition("\n") for part in text.removeprefix("## ").split("\n## ")]
    blocks: list[Block] = [row(*(Link(title, f"#{number}") for number, (title, _, _) in enumerate(parts, 1)))]
    for number, (title, _, body) in enumerate(parts, 1):
        blocks.append(section(title, group("prose", ctx.prose(body, Source(name)).html), id=str(number)))
    return page(ctx, "guides", "today", *blocks, text=text)
