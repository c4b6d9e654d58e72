"""Every link inside the finished site must lead somewhere."""

import posixpath
import re
from collections.abc import Iterator, Mapping
from html import unescape
from urllib.parse import unquote, urlsplit

# Our own templates write the pages: attributes are double-quoted and text is escaped, so a tag ends at the
# first '>'. A whole HTML parser would find the same links and take fifty times as long.
_TAG = re.compile(r"<[a-zA-Z][^<>]*>")
_ATTRIBUTE = re.compile(r'\s(href|src|srcset|id|data-library|data-beside)="([^"]*)"')
_OUTSIDE = ("https", "mailto")


def dead_links(files: Mapping[str, bytes]) -> list[str]:
    """One sentence for each link, image, script or anchor of a page that is not in the site; sorted."""
    anchors: dict[str, set[str]] = {}
    links: list[tuple[str, str]] = []
    dead = []
    for address, content in files.items():
        if not address.endswith(".html"):
            continue
        anchors[address] = set()
        for attribute, value in _attributes(content.decode("utf-8")):
            if attribute == "id" and value in anchors[address]:
                dead.append(f"{address}: two elements have the id '{value}'")
            elif attribute == "id":
                anchors[address].add(value)
            else:
                links.append((address, value))
    dead += [f"{address}: {wrong}" for address, link in links if (wrong := _wrong(address, link, files, anchors))]
    return sorted(set(dead))


def _attributes(html: str) -> Iterator[tuple[str, str]]:
    for tag in _TAG.finditer(html):
        for name, value in _ATTRIBUTE.findall(tag.group()):
            if name == "srcset":
                yield from (("src", unescape(part.split()[0])) for part in value.split(",") if part.strip())
            else:
                yield name, unescape(value)


def _wrong(page: str, link: str, files: Mapping[str, bytes], anchors: Mapping[str, set[str]]) -> str | None:
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
    if parts.fragment and target in anchors and unquote(parts.fragment) not in anchors[target]:
        return f"'{link}' leads to an anchor that {target} does not have"
    return None
