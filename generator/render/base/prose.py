"""A keeper's Markdown as safe HTML, with every dead link reported by file and line.

Links of our own: ``coral:tide-lantern``, ``system:lagoon``, ``entry:2026-03-02-cut``, ``trade:…``. Raw HTML is
shown as text. Other links may be https or mailto. Pictures come from the journal's photos only. The first
mention of a coral's name in a text becomes a link. Footnotes, tasks with a box and pictures with a caption are added.
"""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import cache
from pathlib import PurePosixPath
from urllib.parse import unquote

from markdown_it import MarkdownIt
from markdown_it.renderer import RendererHTML
from markdown_it.token import Token
from markdown_it.utils import EnvType, OptionsDict
from markupsafe import Markup
from mdit_py_plugins.footnote import footnote_plugin
from msgspec import Struct

from generator.records.source import Problem, Source
from generator.render.base.links import photo_path
from generator.render.base.words import Words

# The words of names, as texts are searched for them.
WORD = re.compile(r"[^\W_]+")

Names = Mapping[str, tuple[tuple[str, str], ...]]
"""From a name's first word to the names that begin with it, longest first, each with its coral's id."""


class Mention(Struct, frozen=True):
    """Where in a text a coral is named."""

    start: int
    end: int
    coral: str


def mentions(text: str, names: Names) -> Iterator[Mention]:
    """Every coral named in a text, in order, as it is spelt in its file."""
    if names.keys().isdisjoint(WORD.findall(text)):  # as in most texts
        return
    end = 0
    for word in WORD.finditer(text):
        if (those := names.get(word[0])) is None or (start := word.start()) < end:
            continue
        for name, coral in those:
            after = start + len(name)
            if text.startswith(name, start) and not text[after : after + 1].isalnum():
                end = after
                yield Mention(start, end, coral)
                break


class Copy(Struct, frozen=True):
    """One small copy: its address in the site, and its size in pixels."""

    address: str
    width: int
    height: int


class PhotoCopies(Struct, frozen=True):
    """A photo's copies, from narrow to wide. Where only one can be used, it is the last.

    `detail`: how many bytes the last one needs for each pixel. All are packed alike, and what is blurred or dark packs
    smaller.
    """

    copies: tuple[Copy, ...]
    detail: float = 0.0

    @property
    def largest(self) -> Copy:
        """The widest copy."""
        return self.copies[-1]


_TASKS = {"[ ] ": ("☐", "task.open"), "[x] ": ("☑", "task.done"), "[X] ": ("☑", "task.done")}


@cache
def _parser() -> MarkdownIt:
    """The parser for keepers' texts. Links are checked afterwards, token by token."""
    made = MarkdownIt("commonmark", {"html": False}).enable("table").use(footnote_plugin)
    made.validateLink = lambda url: True  # type: ignore[method-assign]  # noqa: ARG005
    # Many texts lead to the same records.
    made.normalizeLink = cache(made.normalizeLink)  # type: ignore[method-assign]
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


def _mark_tasks_and_figures(tokens: Sequence[Token], words: Words) -> None:
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


_SCHEME = re.compile(r"([a-z][a-z0-9+.-]*):(.*)", re.IGNORECASE | re.DOTALL)
_NO_FOOTNOTE = re.compile(r"\[\^[^\]\s]+\]")
_ALIGNED = re.compile(r"text-align:\s*(left|right|center)")


class Dead(Struct, frozen=True):
    """Why a link leads nowhere, and what to write instead."""

    wrong: str
    remedy: str


class Hidden(Struct, frozen=True):
    """A link to something this audience may not see: its text stays, the link is removed."""


class Prose(Struct, frozen=True):
    """Safe HTML and what was wrong in the Markdown."""

    html: Markup
    problems: tuple[Problem, ...] = ()


Resolve = Callable[[str, str], str | Dead | Hidden]
"""From a kind of record and an id to the way to its page."""


class Surroundings(Struct, frozen=True):
    """What a text can refer to: targets of our own links, pictures, corals' names, links to addresses."""

    resolve: Resolve
    pictures: Mapping[str, PhotoCopies]
    names: Names
    way: Callable[[str], str]
    words: Words


class _Reader(Struct):
    """The state while reading one text: what it can refer to, corals named so far, and problems so far."""

    source: Source
    around: Surroundings
    named: set[str]
    problems: list[Problem]

    def wrong(self, line: int, dead: Dead) -> None:
        where = Source(self.source.file, self.source.line + line)
        self.problems.append(Problem(where, "dead-link", dead.wrong, dead.remedy))


def to_html(markdown: str, source: Source, around: Surroundings) -> Prose:
    """A Markdown text as HTML; `source` is the position of its first line."""
    reader = _Reader(source, around, set(), [])
    env = {"words": around.words}
    tokens = _parser().parse(markdown, env)
    _mark_tasks_and_figures(tokens, around.words)
    _walk(tokens, reader)
    html = _parser().renderer.render(tokens, _parser().options, env)
    return Prose(Markup(html), tuple(reader.problems))


def _walk(tokens: Sequence[Token], reader: _Reader) -> None:
    line = 0
    for token in tokens:
        line = token.map[0] if token.map else line
        style = token.attrs.pop("style", None)
        aligned = _ALIGNED.search(str(style)) if style else None
        if aligned:
            token.attrJoin("class", f"align-{aligned[1]}")
        if token.type in ("heading_open", "heading_close"):
            # The page has its own h1; the headings of a text are below it.
            token.tag = f"h{min(6, int(token.tag[1]) + 1)}"
        if token.children:
            token.children = _inline(token.children, line, reader)


def _inline(tokens: Sequence[Token], line: int, reader: _Reader) -> list[Token]:
    kept: list[Token] = []
    dropping: list[bool] = []
    for token in tokens:
        if token.type == "text":
            for note in _NO_FOOTNOTE.findall(token.content):
                reader.wrong(line, Dead(f"the footnote '{note}' has no text", f"add a line '{note}: …' below"))
        if token.type == "text" and not dropping:
            kept += _with_names(token, reader)
            continue
        if token.type in ("softbreak", "hardbreak"):
            line += 1
        if token.type == "link_open":
            written = str(token.attrs["href"])
            href = _link(written, line, reader)
            dropping.append(href is None)
            if href is not None:
                token.attrs["href"] = href
                if written.lower().startswith("https:"):
                    token.attrs["rel"] = "nofollow noopener noreferrer"
        if token.type in ("link_open", "link_close") and dropping and dropping[-1]:
            if token.type == "link_close":
                dropping.pop()
            continue
        if token.type == "link_close" and dropping:
            dropping.pop()
        if token.type == "image" and not _image(token, line, reader):
            continue
        kept.append(token)
    return kept


def _with_names(token: Token, reader: _Reader) -> list[Token]:
    """A text split where it names a coral for the first time."""
    parts: list[Token] = []
    end = 0
    for mention in mentions(token.content, reader.around.names):
        href = reader.around.resolve("coral", mention.coral)
        if mention.coral in reader.named or not isinstance(href, str):
            continue
        reader.named.add(mention.coral)
        parts += [
            Token("text", "", 0, content=token.content[end : mention.start]),
            Token("link_open", "a", 1, attrs={"href": href}),
            Token("text", "", 0, content=token.content[mention.start : mention.end]),
            Token("link_close", "a", -1),
        ]
        end = mention.end
    return [*parts, Token("text", "", 0, content=token.content[end:])]


def _link(href: str, line: int, reader: _Reader) -> str | None:
    match = _SCHEME.match(href)
    if match is None:
        reader.wrong(
            line, Dead(f"the link '{href}' leads to no page", "write for example coral:tide-lantern or https://…")
        )
        return None
    scheme, rest = match[1].lower(), match[2]
    if scheme in ("https", "mailto"):
        return href
    led = reader.around.resolve(scheme, rest)
    if scheme == "coral":
        reader.named.add(rest)
    if isinstance(led, Dead):
        reader.wrong(line, led)
    return led if isinstance(led, str) else None


def _image(token: Token, line: int, reader: _Reader) -> bool:
    """Fill in a picture's copies; False if there is no picture."""
    src = unquote(str(token.attrs["src"]))
    name = photo_path(src)
    picture = reader.around.pictures.get(name)
    if picture is None:
        reader.wrong(line, Dead(f"there is no photo '{src}'", "name a file in photos/, for example photos/lagoon.jpg"))
        return False
    if not token.content.strip():
        # The renderer takes the alternative text from what stands within the picture.
        token.children = [
            Token("text", "", 0, content=reader.around.words("photo.not_described", of=PurePosixPath(name).stem))
        ]
    largest = picture.largest
    token.attrs = {
        "src": reader.around.way(largest.address),
        "srcset": ", ".join(f"{reader.around.way(copy.address)} {copy.width}w" for copy in picture.copies),
        "sizes": "(min-width: 48rem) 44rem, 92vw",
        "alt": "",
        "width": largest.width,
        "height": largest.height,
        "loading": "lazy",
        "decoding": "async",
    }
    return True


def photos_in(markdown: str) -> tuple[str, ...]:
    """The photos a text shows, as paths below the journal."""
    found = []
    for token in _parser().parse(markdown):
        for child in token.children or ():
            if child.type == "image":
                found.append(photo_path(unquote(str(child.attrs["src"]))))
    return tuple(found)
