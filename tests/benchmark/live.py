"""From a save to the page that shows it: `corallite watch` with a browser's part played by two requests."""

import os
import re
import shutil
import tempfile
import time
from pathlib import Path
from statistics import median

from tests.watching import Watching

_SAVES = 5


def save_to_reload(content: Path, as_of: str) -> float:
    """Seconds on the clock, the median of some saves of an entry: until its open page was told and had the new text."""
    with tempfile.TemporaryDirectory() as folder:
        copy = shutil.copytree(content, Path(folder) / "content")
        entry = max((copy / "entries").glob("*.md"))
        address, before = f"journal/{entry.stem}.html", entry.read_text("utf-8")
        watch = Watching(copy, "--as-of", as_of)
        try:
            watch.until(" made in ")
            return median(_one(watch, entry, address, f"{before}\nSaved {number} times.\n") for number in range(_SAVES))
        finally:
            watch.end()


def _one(watch: Watching, entry: Path, address: str, text: str) -> float:
    seen = re.search(r'data-seen="(\w+)"', watch.page(address))
    assert seen
    time.sleep(0.5)
    beside = entry.with_name(f".{entry.name}.new")
    beside.write_text(text, "utf-8")
    started = time.perf_counter()
    os.replace(beside, entry)
    while "reload" not in watch.page(f".watch/after-{seen[1]}.js"):
        pass
    assert text.splitlines()[-1] in watch.page(address)
    return time.perf_counter() - started
