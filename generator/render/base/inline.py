"""What stands within a line of a page: text, links, moments, numbers with their intervals, lines of files.

Each puts itself into HTML, escaped, so that templates and tables hold any of them where they hold text.
"""

import re
from dataclasses import dataclass
from html import unescape
from typing import Literal

from markupsafe import Markup, escape

from generator.render.base.numbers import Moment, Shown

BREAK = Markup("<br>")
_TAG = re.compile("<[^>]*>")
Tag = Literal["span", "b", "i", "small", "code", "li", "bdi"]


@dataclass(frozen=True, slots=True)
class Link:
    """A link; without `href` it is plain text."""

    text: str
    href: str = ""

    def __html__(self) -> str:
        """A name may be in another script than the page, so its direction is its own."""
        said = f"<bdi>{escape(self.text)}</bdi>"
        return f'<a href="{escape(self.href)}">{said}</a>' if self.href else said


@dataclass(frozen=True, slots=True)
class Cannot:
    """Why there is no figure, and what would give one; `label` says that the data cannot tell."""

    reason: str
    remedy: str
    label: str

    def __html__(self) -> str:
        """The three, the label strong."""
        return f"<strong>{escape(self.label)}</strong> {escape(self.reason)} {escape(self.remedy)}"


@dataclass(frozen=True, slots=True)
class Span:
    """Something in an element of its own, with its class, id and language. A `li` is an item of a list as it is."""

    inside: "Inline"
    tag: Tag = "span"
    look: str = ""
    id: str = ""
    lang: str = ""

    def __html__(self) -> str:
        """The element."""
        given = {"class": self.look, "id": self.id, "lang": self.lang}
        attributes = "".join(f' {name}="{escape(value)}"' for name, value in given.items() if value)
        return f"<{self.tag}{attributes}>{escape(self.inside)}</{self.tag}>"


class Phrase(tuple["Inline", ...]):
    """Several of them one after another."""

    __slots__ = ()

    def __html__(self) -> str:
        """All of them, with nothing between."""
        return "".join(map(escape, self))


Inline = str | Link | Moment | Shown | Cannot | Span | Phrase


def joined(*parts: Inline, by: str = " ") -> Phrase:
    """The parts with `by` between them; empty parts are left out."""
    said = [part for part in parts if part]
    return Phrase(each for number, part in enumerate(said) for each in ((by, part) if number else (part,)))


def bold(inside: Inline) -> Span:
    """Strong text."""
    return Span(inside, "b")


def small(inside: Inline) -> Span:
    """Text beside what matters more."""
    return Span(inside, "small")


def code(inside: object) -> Span:
    """A name or a line of the keeper's files."""
    return Span(str(inside), "code")


def plain_text(inside: object) -> str:
    """The text alone."""
    return inside if type(inside) is str else unescape(_TAG.sub("", escape(inside)))
