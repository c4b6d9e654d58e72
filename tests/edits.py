"""A small journal, and what a keeper changes in it: for tests of builds that remember the one before."""

import io
import os
import random
import re
import shutil
from collections.abc import Callable, Iterator
from contextlib import redirect_stderr, redirect_stdout
from itertools import count
from pathlib import Path

import pytest
from msgspec import Struct, field
from PIL import Image

from generator.__main__ import main
from generator.commands.options import parser_of
from generator.commands.watch import Watcher, site_made
from tests.archive import sections
from tests.conftest import ROOT

TEXT = (ROOT / "tests" / "edits.txt").read_text(encoding="utf-8")
RECEIVED = "received/64465e8fd81a36f2297b88f9885c0331.json"
TWIG = "photos/twig.png"
AUDIENCES = ("own", "public", "partner:marta")
# The clock of the files: each change is a second after the one before, and long before any build.
_CLOCK = count(1_700_000_000)

Files = dict[str, bytes]
Early = dict[str, bytes | None]


def drawn(colour: str) -> bytes:
    made = io.BytesIO()
    Image.new("RGB", (60, 40), colour).save(made, "PNG")
    return made.getvalue()


START: Files = {
    **{path: text.encode() for path, (text, _) in sections(TEXT).items()},
    RECEIVED: (ROOT / "content" / RECEIVED).read_bytes(),
    TWIG: drawn("navy"),
}


class Tabs:
    """The part of the server: some pages are open when a build begins, others are opened while it runs."""

    def __init__(self, seed: int) -> None:
        self.rng = random.Random(seed)
        self.addresses: list[str] = []
        self.early: Early = {}
        self.shown = self._asked = 0

    def wanted(self) -> list[str]:
        self._asked += 1
        many = 2 if self._asked == 1 else self.rng.random() < 0.05
        return self.rng.sample(self.addresses, min(many, len(self.addresses)))

    def show_early(self, files: Early) -> None:
        self.early |= files

    def show(self, *_: object) -> None:
        self._asked = 0

    def wrong(self, site: Files) -> list[str]:
        """What was shown early and is not in the site that came of it; the site's pages are open from now on."""
        wrong = [at for at, shown in self.early.items() if site and site.get(at) != shown]
        self.shown += len(self.early)
        self.addresses = sorted(at for at in site or self.addresses if at.endswith(".html"))
        self.early = {}
        return wrong


class Desk(Struct, dict=True):
    """A keeper's folder, what is in it, and what is asked of it."""

    folder: Path
    files: Files = field(default_factory=lambda: dict(START))
    as_of: str = "2026-03-05"
    audience: str = "own"
    builds: int = 0
    # With this it builds as `watch` does, in one process that keeps its memory.
    live: Watcher | None = None

    def __post_init__(self) -> None:
        self.save({})

    def save(self, before: Files) -> None:
        """Write to the disk what is another than before."""
        content = self.folder / "content"
        for name in before.keys() - self.files.keys():
            (content / name).unlink()
        for name, written in self.files.items():
            if before.get(name) != written:
                path = content / name
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_bytes(written)
                os.utime(path, (moment := next(_CLOCK), moment))

    def change(self, edit: Callable[["Desk"], object]) -> None:
        before = dict(self.files)
        edit(self)
        self.save(before)

    def text(self, name: str) -> str:
        return self.files[name].decode()

    def replace(self, name: str, old: str, new: str) -> None:
        self.files[name] = self.text(name).replace(old, new, 1).encode()

    def site(self, cache: str = "cache") -> Path:
        return self.folder / f"{cache}-{self.audience.replace(':', '-')}"

    def build(self, cache: str = "cache", forget: bool = False) -> tuple[int, str, Files]:
        """The code and the words of a build, and the site after it."""
        said = io.StringIO()
        with pytest.MonkeyPatch.context() as patch, redirect_stdout(said), redirect_stderr(said):
            patch.setenv("XDG_CACHE_HOME", str(self.folder / cache))
            patch.setenv("CORALLITE_FORGET", "all") if forget else patch.delenv("CORALLITE_FORGET")
            if cache != "cache":
                # What copies of the process made is compared with what one made alone.
                patch.setattr("generator.door.remembering.cores", lambda: 1)
            words = [f"--content={self.folder / 'content'}", f"--site={self.site(cache)}"]
            words += ["--as-of", self.as_of, "--audience", self.audience, "--quiet"]
            if self.live and cache == "cache":
                good, told = site_made(parser_of(["watch"]).parse_args(["watch", *words]), self.live)
                return 1 - good, told, files_of(self.site(cache)) if good else {}
            code = main(["build", *words])
        return code, said.getvalue(), files_of(self.site(cache)) if code == 0 else {}

    def check(self, forget: bool = False) -> tuple[int, str]:
        """The code and the words of a check."""
        said = io.StringIO()
        with pytest.MonkeyPatch.context() as patch, redirect_stdout(said), redirect_stderr(said):
            patch.setenv("XDG_CACHE_HOME", str(self.folder / "cache"))
            patch.setenv("CORALLITE_FORGET", "all") if forget else patch.delenv("CORALLITE_FORGET")
            code = main(["check", f"--content={self.folder / 'content'}", "--as-of", self.as_of])
        return code, said.getvalue()

    def cold(self) -> tuple[int, str, Files]:
        """The same without any build before, in turn with and without steps that are remembered."""
        self.builds += 1
        try:
            return self.build("cold", forget=self.builds % 2 == 0)
        finally:
            for folder in (self.folder / "cold", self.site("cold")):
                shutil.rmtree(folder, ignore_errors=True)


def files_of(site: Path) -> Files:
    """All that a site holds, but the chart library, which is the same in every site."""
    files = (path for path in site.rglob("*") if path.is_file() and "vendor" not in path.parts)
    return {path.relative_to(site).as_posix(): path.read_bytes() for path in files}


def difference(desk: Desk) -> list[str]:
    """What a build that remembers makes other than one that does not."""
    return between(desk.build(), desk.cold())


def between(warm: tuple[int, str, Files], cold: tuple[int, str, Files]) -> list[str]:
    """What two builds told and made differently."""
    wrong = [] if warm[:2] == cold[:2] else [f"warm {warm[:2]}, cold {cold[:2]}"]
    return wrong + sorted(name for name in warm[2].keys() | cold[2].keys() if warm[2].get(name) != cold[2].get(name))


_FIELD = re.compile(r"(?<=: )[^\s{}\[\],][^{}\[\],\n]*|(?<=\[)[^{}\[\],]+(?=\])|^[^-{}\s#][^:]* [^:]*$", re.MULTILINE)
_CHOICES = (
    "true false, false true, gift bought, trade gift, cutting gift, died lost, branching digitate, massive encrusting, "
    "plating tabling, partners own, public partners, good fair, us them, reef nook, nook reef, ledge bay, bay ledge, "
    "II I, year-month-day day-month-year, Europe/Lisbon Europe/Athens, cm in, dKH meq/L, tissue-loss bleaching, "
    "Na2CO3 NaHCO3"
)
_OTHER = {each.split(" ")[0]: each.split(" ")[1] for each in _CHOICES.split(", ")}


def another(value: str) -> str:
    """Another value for a field: a day later, a number with another last digit, another choice, another word."""
    if value in _OTHER:
        return _OTHER[value]
    if re.match(r"20\d\d-\d\d-\d\d", value):
        return f"{value[:9]}{int(value[9]) % 8 + 1}{value[10:]}"
    if number := re.match(r"\d+(\.\d+)?", value):
        last = number.end() - 1
        return f"{value[:last]}{int(value[last]) % 9 + 1}{value[last + 1 :]}"
    return f"{value} anew"


def fields() -> Iterator[tuple[str, re.Match[str]]]:
    """Every field of every file of the journal, wherever it is."""
    for name in sections(TEXT):
        yield from ((name, found) for found in _FIELD.finditer(START[name].decode()))


def with_field_changed(desk: Desk, name: str, found: re.Match[str]) -> None:
    text = START[name].decode()
    desk.files = {**START, name: (text[: found.start()] + another(found[0]) + text[found.end() :]).encode()}


REEF, LATEST = "systems/reef.yaml", "logs/reef/2026-03.yaml"


def _entries(desk: Desk) -> list[str]:
    return sorted(name for name in desk.files if name.startswith("entries/"))


def said(desk: Desk, rng: random.Random) -> None:
    if names := _entries(desk):
        desk.files[rng.choice(names)] += f"More {rng.randrange(99)}, of Ember and Gone.\n".encode()


def _titled(desk: Desk, rng: random.Random) -> None:
    if names := _entries(desk):
        desk.replace(rng.choice(names), "title: ", f"title: {rng.choice(['New ', 'Kelp and '])}")


def _dated(desk: Desk, rng: random.Random) -> None:
    if names := _entries(desk):
        old, day = rng.choice(names), f"2026-0{rng.choice('123')}-0{rng.randrange(1, 6)}"
        new = f"entries/{day}{old[len('entries/2026-03-05') :]}"
        desk.files[new] = re.sub(r"at: \S+", f"at: {day}", desk.files.pop(old).decode(), count=1).encode()


def _written(desk: Desk, rng: random.Random) -> None:
    day = f"2026-03-0{rng.randrange(1, 6)}"
    text = f"---\ntitle: Note {rng.randrange(99)}\nat: {day}\ncorals: [ember]\n---\nOf [the Reef](system:reef).\n"
    desk.files[f"entries/{day}-note-{rng.randrange(9)}.md"] = text.encode()


def _unwritten(desk: Desk, rng: random.Random) -> None:
    if names := _entries(desk):
        del desk.files[rng.choice(names)]


def _read(desk: Desk, rng: random.Random) -> None:
    when = f"2026-03-0{rng.randrange(1, 6)} {rng.randrange(10, 20)}:{rng.randrange(10, 59)}"
    desk.files[LATEST] += f"- {{at: {when}, readings: {{alkalinity: {rng.uniform(7, 9):.1f} dKH}}}}\n".encode()


def _reread(desk: Desk, rng: random.Random) -> None:
    name = rng.choice([name for name in desk.files if name.startswith("logs/")])
    desk.files[name] = re.sub(
        r"alkalinity: \S+", f"alkalinity: {rng.uniform(7, 9):.1f}", desk.text(name), count=1
    ).encode()


def _unread(desk: Desk, rng: random.Random) -> None:
    lines = desk.text(LATEST).splitlines(keepends=True)
    del lines[rng.randrange(len(lines)) :][:1]
    desk.files[LATEST] = "".join(lines).encode() or b"[]\n"


def _measured(desk: Desk, rng: random.Random) -> None:
    size = f"sizes:\n  - {{at: 2026-03-0{rng.randrange(1, 6)}, length: {rng.randrange(4, 14)} cm}}\n"
    name = rng.choice(["corals/tide-lantern.yaml", "corals/tide-lantern-2.yaml", "corals/ember.yaml"])
    if name in desk.files:
        desk.replace(name, "sizes:\n", size) if "sizes:" in desk.text(name) else desk.replace(
            name, "placem", f"{size}placem"
        )


def _named(desk: Desk, rng: random.Random) -> None:
    name = rng.choice([name for name in desk.files if name.startswith("corals/") and name.endswith(".yaml")])
    desk.replace(name, "name: ", f"name: {rng.choice(['Old', 'Evening', 'Spring'])} ")


def _renamed(desk: Desk, rng: random.Random) -> None:
    """A coral's file has another name, and so has whatever leads to it; sometimes something is forgotten."""
    old, new = rng.choice([("ember", "ash"), ("ash", "ember"), ("tide-lantern", "lamp"), ("lamp", "tide-lantern")])
    for ending in (".yaml", ".md"):
        if f"corals/{old}{ending}" in desk.files:
            desk.files[f"corals/{new}{ending}"] = desk.files.pop(f"corals/{old}{ending}")
    for name in desk.files if rng.random() < 0.8 else ():
        if name.endswith((".yaml", ".md")):
            desk.files[name] = re.sub(rf"(?<![\w-]){old}(?![\w-])(?!\.png)", new, desk.text(name)).encode()


def _deleted(desk: Desk, rng: random.Random) -> None:
    name = rng.choice(["kelp", "gone", "tide-lantern-2", "ember"])
    desk.files.pop(f"corals/{name}.yaml", None)


def _come(desk: Desk, rng: random.Random) -> None:
    text = START["corals/kelp.yaml"].decode().replace("Kelp", f"Weed {rng.randrange(9)}")
    desk.files[f"corals/weed-{rng.randrange(3)}.yaml"] = text.replace("partners", rng.choice(AUDIENCES[:2])).encode()


def _moved(desk: Desk, rng: random.Random) -> None:
    if "corals/ember.yaml" in desk.files:
        there = (
            f"placements:\n  - {{since: 2026-03-0{rng.randrange(1, 6)}, system: reef, place: bay, x: 50 cm, y: 9 cm}}"
        )
        desk.replace("corals/ember.yaml", "placements:", there)


def _pictured(desk: Desk, rng: random.Random) -> None:
    desk.files[TWIG] = rng.choice([drawn("navy"), drawn("red"), b"no picture"])


def _unpictured(desk: Desk, _: random.Random) -> None:
    desk.files.pop(TWIG, None)


def _received(desk: Desk, rng: random.Random) -> None:
    desk.files[RECEIVED] = rng.choice([START[RECEIVED], START[RECEIVED].replace(b"Marit", b"Merit"), b"{}"])


def _banded(desk: Desk, rng: random.Random) -> None:
    desk.files[REEF] = re.sub(
        r"alkalinity: 7\S*", f"alkalinity: 7.{rng.randrange(9)}", desk.text(REEF), count=1
    ).encode()


def _set(desk: Desk, rng: random.Random) -> None:
    changes = {
        r"title: .*": ["title: Two tubs", "title: Three tubs"],
        r"base_url: .*": ["base_url: https://reef.example", "base_url: https://tubs.example/a/"],
        r"units: .*": ["units: {alkalinity: meq/L, length: in}", "units: {alkalinity: dKH, length: cm}"],
        r"(true|false)": ["true", "false"],
        r"time_zone: .*": ["time_zone: Europe/Lisbon", "time_zone: Pacific/Auckland"],
        r"date_order: .*": ["date_order: day-month-year", "date_order: year-month-day"],
        r"keeper: .*": ["keeper: Ines", "keeper: Ines Amaro"],
        r"publish: \{": ["publish: {containers: true, ", "publish: {"],
        r"time_zone": ["language: de\ntime_zone", "time_zone"],
    }
    pattern = rng.choice(list(changes))
    desk.files["journal.yaml"] = re.sub(
        pattern, rng.choice(changes[pattern]), desk.text("journal.yaml"), count=1
    ).encode()


def _arrived(desk: Desk, rng: random.Random) -> None:
    when = rng.choice(["arrived: 2026-03-05 14:30\n", "arrived: 2026-03-04\n", ""])
    desk.files["plans/soon.yaml"] = (when + re.sub(r"arrived: .*\n", "", desk.text("plans/soon.yaml"))).encode()


def _later(desk: Desk, rng: random.Random) -> None:
    desk.as_of = rng.choice(["2026-03-05", "2026-03-06", "2026-03-04", "2026-03-05 14:00", "2026-03-05 15:00"])


def _for_others(desk: Desk, rng: random.Random) -> None:
    desk.audience = rng.choice(AUDIENCES)


def _as_at_first(desk: Desk, _: random.Random) -> None:
    desk.files = dict(START)


EDITS: tuple[Callable[[Desk, random.Random], None], ...] = (
    *(said, _titled, _dated, _written, _unwritten, _read, _reread, _unread, _measured, _named, _renamed, _deleted),
    *(_come, _moved, _pictured, _unpictured, _received, _banded, _set, _arrived, _later, _for_others, _as_at_first),
)
