"""What no generator in Python can go below, and the plainest one there can be.

``python -m tests.benchmark.floors start|hash|write|plain CONTENT OUT``, each in a process of its own.
"""

import os
import sys
from hashlib import blake2b
from pathlib import Path

_PAGE = (
    "<!doctype html><html lang=en><meta charset=utf-8><title>{{ title }}</title>"
    "<h1>{{ title }}</h1><p>{{ at }}</p><main>{{ body }}</main></html>"
)


def hashed(content: Path) -> int:
    """Ask the disk for every file of the journal, and read and hash each."""
    files = [path for path in content.rglob("*") if path.is_file()]
    return sum(path.stat().st_size + len(blake2b(path.read_bytes()).digest()) for path in files)


def written(site: Path, out: Path) -> None:
    """Write as many pages of the same sizes."""
    for folder, _, names in os.walk(site):
        there = out / Path(folder).relative_to(site)
        there.mkdir(parents=True, exist_ok=True)
        for name in names:
            if name.endswith(".html"):
                (there / name).write_bytes(bytes((Path(folder) / name).stat().st_size))


def plain(content: Path, out: Path) -> None:
    """The yardstick: front matter, Markdown, one template, write; all entries, nothing else."""
    import yaml
    from jinja2 import Environment
    from markdown_it import MarkdownIt

    page, prose = Environment(autoescape=False).from_string(_PAGE), MarkdownIt()
    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    out.mkdir(parents=True, exist_ok=True)
    for path in sorted((content / "entries").glob("*.md")):
        _, head, body = path.read_text("utf-8").split("---\n", 2)
        text = page.render(yaml.load(head, loader), body=prose.render(body))
        (out / f"{path.stem}.html").write_text(text, "utf-8")


if __name__ == "__main__":
    what, first, second = sys.argv[1], Path(sys.argv[2]), Path(sys.argv[3])
    if what == "hash":
        hashed(first)
    elif what == "write":
        written(first, second)
    elif what == "plain":
        plain(first, second)
