"""What a keeper does between two builds, each tried on a copy of a journal and of the program."""

import os
import shutil
import sys
from collections.abc import Callable
from itertools import count
from pathlib import Path

from tests.benchmark.processes import Cost, cost_of
from tests.conftest import AS_OF, ROOT

_A_DAY = 86400.0


class Bench:
    """A journal, a program and a cache of our own in a folder, so that what is measured changes nothing else."""

    def __init__(self, journal: Path, folder: Path) -> None:
        self.content, self.site, self.program = folder / "content", folder / "site", folder / "program"
        self._cache, self._turn = folder / "cache", count(1)
        shutil.copytree(journal, self.content)
        for part in ("generator", "templates"):
            shutil.copytree(ROOT / part, self.program / part, ignore=shutil.ignore_patterns("__pycache__"))
        for path in self.content.rglob("*"):
            os.utime(path, (moment := path.stat().st_mtime - _A_DAY, moment))
        self.run("--help")

    def run(self, *words: str) -> Cost:
        """What one command costs."""
        ours = {"XDG_CACHE_HOME": str(self._cache), "CORALLITE_FORGET": "", "PYTHONDONTWRITEBYTECODE": ""}
        return cost_of([sys.executable, "-m", "generator", *words], self.program, ours)

    def build(self) -> Cost:
        """What a build costs."""
        return self.run("build", "--content", str(self.content), "--site", str(self.site), "--as-of", AS_OF)

    def cold(self) -> Cost:
        """The first build there is."""
        for folder in (self._cache, self.site):
            shutil.rmtree(folder, ignore_errors=True)
        return self.build()

    def entry_edited(self) -> Cost:
        """The newest entry says something more."""
        with max((self.content / "entries").glob("*.md")).open("a", encoding="utf-8") as entry:
            entry.write(f"\nSaved {next(self._turn)} times.\n")
        return self.build()

    def reading_added(self) -> Cost:
        """One system has one more reading of alkalinity."""
        log = max(self.content.glob("logs/*/*.yaml"), key=lambda path: (path.stem, path.parent.name))
        day = f"{log.stem}-{AS_OF[8:] if AS_OF.startswith(log.stem) else '28'}"
        with log.open("a", encoding="utf-8") as lines:
            lines.write(
                f"- at: {day} 23:{next(self._turn):02}\n  readings: {{alkalinity: 8.{next(self._turn) % 9} dKH}}\n"
            )
        return self.build()

    def coral_measured(self) -> Cost:
        """One living coral is measured today."""
        coral = next(
            path for path in sorted(self.content.glob("corals/*.yaml")) if "\nend:" not in path.read_text("utf-8")
        )
        text = coral.read_text("utf-8")
        line = f"sizes:\n  - {{at: {AS_OF}, length: {9 + next(self._turn) / 10:.1f} cm}}\n"
        coral.write_text(text.replace("sizes:\n", line) if "\nsizes:\n" in text else text + line, "utf-8")
        return self.build()

    def template_changed(self) -> Cost:
        """The template of a coral's page has another line."""
        template = sorted((self.program / "templates").rglob("*.html"))[0]
        template.write_text(template.read_text("utf-8") + f"{{# {next(self._turn)} #}}", "utf-8")
        return self.build()

    def checked(self) -> Cost:
        """An entry was changed since the last `check`, and `check` is asked again."""
        words = ("check", "--content", str(self.content), "--as-of", AS_OF)
        self.run(*words)
        with max((self.content / "entries").glob("*.md")).open("a", encoding="utf-8") as entry:
            entry.write(f"\nChecked {next(self._turn)} times.\n")
        return self.run(*words)


SCENARIOS: dict[str, Callable[[Bench], Cost]] = {
    "cold": Bench.cold,
    "nothing changed": Bench.build,
    "one entry edited": Bench.entry_edited,
    "one reading added": Bench.reading_added,
    "one coral measured": Bench.coral_measured,
    "one template changed": Bench.template_changed,
    "check, one file changed": Bench.checked,
}
