"""Additions to Markdown: footnotes, tasks with a box, pictures with a caption."""

from collections.abc import Sequence

from markdown_it import MarkdownIt
from markdown_it.renderer import RendererHTML
from markdown_it.token import Token
from markdown_it.utils import EnvType, OptionsDict
from mdit_py_plugins.footnote import footnote_plugin

from generator.render.base.words import Words

_TASKS = {"[ ] ": ("☐", "task.open"), "[x] ": ("☑", "task.done"), "[X] ": ("☑", "task.done")}


def parser() -> MarkdownIt:
    """The parser for keepers' texts. Links are checked afterwards, token by token."""
    made = MarkdownIt("commonmark", {"html": False}).enable("table").use(footnote_plugin)
    made.validateLink = lambda url: True  # type: ignore[method-assign]  # noqa: ARG005
    made.add_render_rule("footnote_block_open", lambda *_: '<ol class="footnotes">\n')
    made.add_render_rule("footnote_block_close", lambda *_: "</ol>\n")
    made.add_render_rule("footnote_anchor", _way_back)
    made.add_render_rule("table_open", _wide)
    made.add_render_rule("table_close", lambda *_: "</table></div>\n")
    return made


def _way_back(self: RendererHTML, tokens: Sequence[Token], idx: int, options: OptionsDict, env: EnvType) -> str:
    """The link from a footnote back to its mark, with a label for screen readers."""
    del self, options
    number, time = tokens[idx].meta["id"] + 1, tokens[idx].meta["subId"]
    mark = f"{number}:{time}" if time > 0 else str(number)
    words: Words = env["words"]
    return f' <a href="#fnref{mark}" aria-label="{words("footnote.back", n=mark)}">↩</a>'


def _wide(self: RendererHTML, tokens: Sequence[Token], idx: int, options: OptionsDict, env: EnvType) -> str:
    """A table that scrolls in its own place, also by the keyboard."""
    del self, tokens, idx, options
    words: Words = env["words"]
    return f'<div class="wide" tabindex="0" role="group" aria-label="{words("table.label")}"><table>\n'


def mark_tasks_and_figures(tokens: Sequence[Token], words: Words) -> None:
    """Give a list's tasks their boxes, and a picture that has a title, alone in its paragraph, a caption."""
    for before, opened, inside, closed in zip([None, *tokens], tokens, tokens[1:], tokens[2:], strict=False):
        if opened.type != "paragraph_open" or not inside.children:
            continue
        first = inside.children[0]
        if before and before.type == "list_item_open" and first.type == "text" and first.content[:4] in _TASKS:
            sign, key = _TASKS[first.content[:4]]
            first.content = first.content[4:]
            inside.children = [_box(sign, words(key)), *inside.children]
            before.attrJoin("class", "task")
        elif len(inside.children) == 1 and first.type == "image" and first.attrs.get("title"):
            opened.tag = closed.tag = "figure"
            inside.children += [
                Token("figcaption_open", "figcaption", 1),
                Token("text", "", 0, content=str(first.attrs["title"])),
                Token("figcaption_close", "figcaption", -1),
            ]


def _box(sign: str, said: str) -> Token:
    # Both texts come from our own catalogue: `html_inline` is the renderer's way to pass markup through.
    return Token("html_inline", "", 0, content=f'<span role="img" aria-label="{said}">{sign}</span> ')
