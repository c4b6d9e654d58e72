"""All links of a site are looked up before it is published: each must lead somewhere, and each address must be one."""

import posixpath
import re
from collections.abc import Container, Iterable, Iterator, Mapping
from functools import lru_cache
from html import unescape
from typing import NamedTuple
from urllib.parse import unquote, urlsplit

# Our own templates write the pages: attributes are double-quoted and text is escaped, so a tag ends at the
# first '>'. A whole HTML parser would find the same links and take fifty times as long.
_OPENING = re.compile(r"<[a-zA-Z][^<>]*>")
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
    anchors = {address: page.anchors for address, page in pages.items()}
    return sorted({wrong for page, here in pages.items() for wrong in dead_links_of(page, here, anchors, files)})


def links_in(page: bytes) -> Links:
    """Where a page's bytes lead, and what leads into it."""
    told = list(_attributes(page.decode("utf-8")))
    anchors = [value for attribute, value in told if attribute == "id"]
    links = dict.fromkeys(value for attribute, value in told if attribute != "id")
    there = dict.fromkeys(anchors)
    twice = dict.fromkeys(each for each in there if anchors.count(each) > 1) if len(there) < len(anchors) else ()
    return Links(tuple(there), tuple(links), tuple(twice))


def dead_links_of(
    page: str, here: Links, anchors: Mapping[str, Container[str]], files: Container[str]
) -> tuple[str, ...]:
    """One sentence for each dead link and double anchor of a page.

    `here` is where it leads, `anchors` are those of all pages, `files` the addresses of the site.
    """
    wrong = [f"two elements have the id '{anchor}'" for anchor in here.twice]
    wrong += [dead for link in here.links if (dead := _wrong_link(page, link, files, anchors))]
    return tuple(f"{page}: {each}" for each in wrong)


def _attributes(html: str) -> Iterator[tuple[str, str]]:
    for tag in _OPENING.finditer(html):
        for name, value in _ATTRIBUTE.findall(tag.group()):
            if name == "srcset":
                yield from (("src", unescape(part.split()[0])) for part in value.split(",") if part.strip())
            else:
                yield name, unescape(value)


def _wrong_link(page: str, link: str, files: Container[str], anchors: Mapping[str, Container[str]]) -> str | None:
    wrong, target, fragment = _way(page.rpartition("/")[0], link)
    if wrong or not (target or fragment):
        return wrong
    if target and target not in files:
        return f"'{link}' leads to {target}, which is not in the site"
    if fragment and (not target or target in anchors) and fragment not in anchors[target or page]:
        return f"'{link}' leads to an anchor that {target or page} does not have"
    return None


@lru_cache(maxsize=4096)
def _way(folder: str, link: str) -> tuple[str | None, str, str]:
    """What is wrong with a link on a page in a folder, if anything; the address it leads to, and the anchor."""
    parts, wrong = urlsplit(link), None
    if parts.scheme in _OUTSIDE:
        return None, "", ""
    if parts.scheme or parts.netloc:
        wrong = f"'{link}' leaves the site, but not by https: or mailto:"
    elif parts.path.startswith("/"):
        wrong = f"'{link}' starts with /, but a site in a folder has no root"
    target = posixpath.normpath(posixpath.join(folder, unquote(parts.path))) if parts.path else ""
    return wrong, target, unquote(parts.fragment)


# An empty part of an address, or a hidden one.
_NO_ADDRESS = re.compile(r"(?:^|/)(?:[./]|$)")


def wrong_addresses(files: Iterable[str]) -> list[str]:
    """One sentence for each address that no page can have, and for two that are one on some computers."""
    wrong: list[str] = []
    folded: dict[str, str] = {}
    for address in files:
        if _NO_ADDRESS.search(address):
            wrong.append(f"'{address}' cannot be a page's address")
        twin = folded.setdefault(address.casefold(), address)
        if twin != address:
            wrong.append(f"'{address}' and '{twin}' are the same file on some computers")
    return wrong
