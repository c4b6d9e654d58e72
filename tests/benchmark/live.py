"""From a save to the pages that show it: `corallite watch` on the keeper's own site; requests play a browser's part.

Open are the page that the save is about, and Today.
"""

import os
import re
import shutil
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from statistics import median
from threading import Thread

from tests.watching import Watching

_SAVES = 5
# The text of a file after each of some saves; and the address of the page that it is about.
Edit = tuple[Path, Callable[[str, int], str], str]


def save_to_reload(content: Path, as_of: str) -> Iterator[tuple[str, float, float | None, float]]:
    """What is saved, and seconds on the clock, medians of some saves.

    Until the page it is about is there anew, until Today is if it changes, and until the whole site is there.
    """
    with tempfile.TemporaryDirectory() as folder:
        copy = shutil.copytree(content, Path(folder) / "content")
        watch = Watching(copy, "--as-of", as_of, "--audience", "own")
        try:
            watch.until(" made in ")
            for what, (file, text, address) in _edits(copy, as_of).items():
                before = file.read_text("utf-8")
                every = [_one(watch, file, text(before, number), address) for number in range(_SAVES)]
                today = [each[1] for each in every if each[1]]
                yield (
                    what,
                    median(each[0] for each in every),
                    median(today) if today else None,
                    median(each[2] for each in every),
                )
        finally:
            watch.end()


def _edits(content: Path, as_of: str) -> dict[str, Edit]:
    entry = max((content / "entries").glob("*.md"))
    log = max(content.glob("logs/*/*.yaml"), key=lambda path: (path.stem, path.stat().st_size))
    day = as_of if as_of.startswith(log.stem) else f"{log.stem}-28"
    coral = next(path for path in sorted(content.glob("corals/*.yaml")) if "\nend:" not in path.read_text("utf-8"))

    def measured(before: str, number: int) -> str:
        line = f"sizes:\n  - {{at: {as_of}, length: {9 + number / 10:.1f} cm}}\n"
        return before.replace("sizes:\n", line, 1) if "\nsizes:\n" in before else before + line

    return {
        "an entry": (entry, lambda text, n: f"{text}\nSaved {n} times.\n", f"journal/{entry.stem}.html"),
        "a reading": (
            log,
            lambda text, n: f"{text}- at: {day} 22:5{n}\n  readings: {{alkalinity: 8.{n} dKH}}\n",
            f"systems/{log.parent.name}.html",
        ),
        "a coral measured": (coral, measured, f"corals/{coral.stem}.html"),
    }


def _one(watch: Watching, file: Path, text: str, address: str) -> tuple[float, float | None, float]:
    pages = {at: watch.page(at) for at in (address, "index.html")}
    there: dict[str, float] = {}
    for at, page in pages.items():
        Thread(target=_told, args=(watch, at, page, there), daemon=True).start()
    time.sleep(0.5)
    beside = file.with_name(f".{file.name}.new")
    beside.write_text(text, "utf-8")
    started = time.perf_counter()
    os.replace(beside, file)
    watch.until(" made in ")
    whole = time.perf_counter() - started
    time.sleep(0.5)  # a page that has not changed is not told anything
    return there[address] - started, there["index.html"] - started if "index.html" in there else None, whole


def _told(watch: Watching, address: str, page: str, there: dict[str, float]) -> None:
    """Note when a page that is open was told that it is another, and was there anew."""
    seen = re.search(r'data-seen="(\w+)"', page)
    assert seen
    with suppress(OSError):  # the watch ends before there is news
        if "reload" in watch.page(f".watch/after-{seen[1]}/{address}"):
            assert watch.page(address) != page
            there[address] = time.perf_counter()
