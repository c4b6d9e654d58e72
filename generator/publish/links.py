"""Every link inside the finished site must lead somewhere."""

import posixpath
import re
from collections.abc import Container, Iterator, Mapping
from html import unescape
from typing import NamedTuple
from urllib.parse import unquote, urlsplit

# Our own templates write the pages: attributes are double-quoted and text is escaped, so a tag ends at the
# first '>'. A whole HTML parser would find the same links and take fifty times as long.
_TAG = re.compile(r"<[a-zA-Z][^<>]*>")
_ATTRIBUTE = re.compile(r'\s(href|src|srcset|id|data-library|data-beside)="([^"]*)"')
_OUTSIDE = ("https", "mailto")


class Links(NamedTuple):
    """The anchors of a page, its links, and the anchors that it has twice."""

    anchors: tuple[str, ...]
    links: tuple[str, ...]
    twice: tuple[str, ...]


def dead_links(files: Mapping[str, bytes]) -> list[str]:
    """One sentence for each link, image, script or anchor of a page that is not in the site; sorted."""
    pages = {address: links_in(content) for address, content in files.items() if address.endswith(".html")}
    return sorted({wrong for page in pages for wrong in dead_links_of(page, pages, files)})


def links_in(page: bytes) -> Links:
    """Where a page's bytes lead, and what leads into it."""
    told = list(_attributes(page.decode("utf-8")))
    anchors = [value for attribute, value in told if attribute == "id"]
    links = dict.fromkeys(value for attribute, value in told if attribute != "id")
    there = dict.fromkeys(anchors)
    twice = dict.fromkeys(each for each in there if anchors.count(each) > 1) if len(there) < len(anchors) else ()
    return Links(tuple(there), tuple(links), tuple(twice))


def dead_links_of(page: str, pages: Mapping[str, Links], files: Container[str]) -> tuple[str, ...]:
    """One sentence for each dead link and double anchor of a page; `files` are the addresses of the site."""
    here = pages[page]
    wrong = [f"two elements have the id '{anchor}'" for anchor in here.twice]
    wrong += [dead for link in here.links if (dead := _wrong(page, link, files, pages))]
    return tuple(f"{page}: {each}" for each in wrong)


def _attributes(html: str) -> Iterator[tuple[str, str]]:
    for tag in _TAG.finditer(html):
        for name, value in _ATTRIBUTE.findall(tag.group()):
            if name == "srcset":
                yield from (("src", unescape(part.split()[0])) for part in value.split(",") if part.strip())
            else:
                yield name, unescape(value)


def _wrong(page: str, link: str, files: Container[str], pages: Mapping[str, Links]) -> str | None:
    parts = urlsplit(link)
    if parts.scheme in _OUTSIDE:
        return None
    if parts.scheme or parts.netloc:
        return f"'{link}' leaves the site, but not by https: or mailto:"
    if parts.path.startswith("/"):
        return f"'{link}' starts with /, but a site in a folder has no root"
    target = posixpath.normpath(posixpath.join(posixpath.dirname(page), unquote(parts.path))) if parts.path else page
    if target not in files:
        return f"'{link}' leads to {target}, which is not in the site"
    if parts.fragment and target in pages and unquote(parts.fragment) not in pages[target].anchors:
        return f"'{link}' leads to an anchor that {target} does not have"
    return None
