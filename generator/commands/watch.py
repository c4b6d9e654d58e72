"""`corallite watch`: make the site, show it on this computer, and make it anew whenever a file is saved."""

import argparse
import gc
import io
import os
import re
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from datetime import date, datetime
from functools import partial
from heapq import nlargest
from operator import itemgetter
from pathlib import Path
from threading import Thread
from typing import TYPE_CHECKING, Protocol

from generator.commands import build
from generator.commands.terminal import Stop, doing, steered, text_only

if TYPE_CHECKING:
    from generator.door.memory import Lasting
    from generator.door.steps import Steps
    from generator.publish.serve import LiveSite

# How often all files are looked at, and those that were written last; how long they must rest, seconds.
_EACH, _SOON, _REST = 0.1, 0.02, 0.04
# So many files were written last: one of them is likely the next.
_LAST = 32
# Looking takes at most this part of one processor: more while somebody writes, until so long after a save, seconds.
_SHARE, _SHARE_WHILE_WRITING, _WRITING = 0.1, 0.4, 600.0
# So many courses of a quantity are kept at hand, of some megabytes each: those of the waters somebody writes of.
_COURSES = 12
# What editors and copying programs write for a moment beside a file.
_PASSING = re.compile(r"[.#].*|.*(~|\.tmp|\.part|\.swp)|4913")
_COLOUR = re.compile(r"\x1b\[[0-9;]*m")
# Every file below the journal's folder, with what changes when it is written.
Seen = dict[str, tuple[int, int, int]]
_GONE = (0, 0, 0)

EXAMPLES = """\
  corallite watch                             the public site, in site/
  corallite watch --audience own --site my-site --port 8000"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options: all of build's, and where to show the site."""
    build.arguments(parser)
    parser.add_argument(
        "--port", type=_port, default=0, metavar="N", help="the port on 127.0.0.1 (default: a free one)"
    )


def run(args: argparse.Namespace) -> int:
    """Build and serve until Ctrl-C, which is the usual end and gives 0. Raises `Stop` if the port cannot be had."""
    from generator.publish.serve import LiveSite
    from generator.reckon.estimate.kept_courses import KEPT_COURSES
    from generator.render.base.words import template_files

    KEPT_COURSES.keep(_COURSES)
    try:
        server = LiveSite(args.site or Path("site"), args.port, template_files() / "watch")
    except OSError as error:
        raise Stop(f"port {args.port}: {error.strerror} (give another with --port, or none)") from None
    with server, suppress(KeyboardInterrupt):
        print(f"the site is at {server.url} (Ctrl-C ends)", flush=True)
        _make_and_show(args, server)
    return 0


class SavedAgain(BaseException):
    """A file was saved while the site was made. No step may take it for a failure of its own."""


def _make_and_show(args: argparse.Namespace, server: "LiveSite") -> None:
    last: tuple[date, Seen] | None = None
    said, saved, live = "", 0.0, Watcher(server)
    # A build makes many objects and little garbage; to look for it in between takes a third of the time.
    gc.disable()
    # Who asks for a page gets it though a build is running.
    sys.setswitchinterval(0.001)
    serving = Thread(target=server.serve_forever, args=(0.1,), daemon=True)
    try:
        while True:
            started = time.perf_counter()
            now = date.today(), looked_at(args.content)
            if now == last:
                share = _SHARE_WHILE_WRITING if started - saved < _WRITING else _SHARE
                wait(max(_EACH, (time.perf_counter() - started) / share), written_last(now[1]))
                continue
            live.rest = resting(last[1] if last else {}, now[1])
            last, before, saved = now, said, time.perf_counter()
            live.saved = seldom(partial(_differ, args.content, now[1]))
            try:
                with doing(args, "making the site"):
                    good, said = site_made(args, live)
            except SavedAgain:
                last = None
                continue
            gc.collect()
            gc.freeze()  # what is left stays, and need not be looked at again
            if said != before:
                print(said, end="", file=steered(sys.stdout))
            took = f"made in {time.perf_counter() - saved:.2f} s" if good else "not made: the last good site stays"
            if not (good and args.quiet):
                print(f"{datetime.now():%H:%M:%S} {took}", flush=True)
            if not serving.is_alive():  # a first build may use several processes, which start before any thread
                serving.start()
    finally:
        gc.enable()
        if serving.is_alive():
            server.shutdown()


def wait(seconds: float, files: Seen) -> None:
    """Wait, but no longer than until one of some files is written."""
    end = time.perf_counter() + seconds
    while (left := end - time.perf_counter()) > 0.0 and not _written(files):
        time.sleep(min(left, _SOON))


def resting(before: Seen, now: Seen) -> Callable[[], None]:
    """What waits until nobody writes those files that are not as before. It raises `SavedAgain` if somebody does."""
    changed = dict.fromkeys(before.keys() - now.keys(), _GONE) | dict(now.items() - before.items())
    until = time.perf_counter() + _REST

    def rest() -> None:
        time.sleep(max(until - time.perf_counter(), 0.0))
        if _written(changed):
            raise SavedAgain

    return rest


def seldom(look: Callable[[], bool]) -> Callable[[], bool]:
    """A look that is taken so seldom that it takes little of the time; False in between."""
    pause = time.perf_counter() + _EACH

    def looked() -> bool:
        nonlocal pause
        if (started := time.perf_counter()) < pause:
            return False
        found = look()
        pause = time.perf_counter() + (time.perf_counter() - started) / _SHARE
        return found

    return looked


class Server(Protocol):
    """Who shows the site, as `LiveSite` does."""

    def wanted(self) -> list[str]:
        """The addresses that somebody waits for, or has open."""

    def show_early(self, files: Mapping[str, bytes | None]) -> None:
        """Show files before the rest of their site."""

    def show(self, said: str, good: bool) -> None:
        """Show the site on disk."""


class Watcher:
    """Builds again and again: what stays at hand, what is wanted before the rest, and who shows it."""

    def __init__(self, server: Server) -> None:
        self._server = server
        self._memories: dict[Path, Lasting] = {}
        # Whether to begin anew, asked between steps; and what must be done before anything is shown.
        self.saved: Callable[[], bool] = bool
        self.rest: Callable[[], object] = bool
        self.said = _Said()

    def memory(self, file: Path, program: str) -> "Lasting":
        """The memory in a file."""
        from generator.door.memory import Lasting

        if file in self._memories:
            self._memories[file].open()
        else:
            self._memories[file] = Lasting(file, program)
        return self._memories[file]

    def begin(self, door: "Steps", page: Callable[[str], Mapping[str, bytes]]) -> None:
        """Make the pages that are open, and from then on between steps those that somebody asks for."""
        made: set[str] = set()

        def wanted_first() -> None:
            if self.saved():
                raise SavedAgain
            for address in self._server.wanted():
                if address not in made:
                    made.add(address)
                    self._server.show_early(door.soon(page, address) or {address: None})

        door.between = wanted_first
        wanted_first()

    def show(self, good: bool = True) -> None:
        """Show the site, with what was said of it."""
        self._server.show(_COLOUR.sub("", self.said.getvalue()), good)


def site_made(args: argparse.Namespace, live: Watcher) -> tuple[bool, str]:
    """Whether the site was built, and what the build said. No state of the files ends the watch."""
    live.said = said = _Said()
    with text_only(said, said):
        try:
            good = build.run(argparse.Namespace(**{**vars(args), "quiet": True}), live) == 0
        except Stop as stop:
            good = False
            print(*stop.args, sep="\n")
        except Exception as error:  # files that vanish in the middle of a build, or a fault of ours
            good = False
            print(f"the build failed: {error!r} (save again; if it stays, report it)")
    if not good:
        live.rest()
        live.show(good=False)
    return good, said.getvalue()


class _Said(io.StringIO):
    """What a build says, in the colours of the terminal that it will be shown on."""

    def isatty(self) -> bool:
        return sys.__stdout__ is not None and sys.__stdout__.isatty()


def looked_at(content: Path) -> Seen:
    """The files of a folder as they are now."""
    return dict(_files(content))


def written_last(seen: Seen) -> Seen:
    """Those of some files that were written last."""
    return dict(nlargest(_LAST, seen.items(), key=itemgetter(1)))


def _written(files: Seen) -> bool:
    return any(_mark(path) != mark for path, mark in files.items())


def _differ(content: Path, before: Seen) -> bool:
    return looked_at(content) != before


def _files(folder: Path) -> Iterator[tuple[str, tuple[int, int, int]]]:
    """Each file below a folder but sites, hidden and passing ones; none of a folder that is gone."""
    from generator.publish.staging import MARKER

    with suppress(OSError), os.scandir(folder) as entries:
        inside = list(entries)
        if any(entry.name == MARKER for entry in inside):
            return
        for entry in inside:
            if _PASSING.fullmatch(entry.name):
                continue
            with suppress(OSError):
                if entry.is_dir(follow_symlinks=False):
                    yield from _files(Path(entry.path))
                else:
                    yield entry.path, _mark(entry.path)


def _mark(file: str) -> tuple[int, int, int]:
    """What changes when a file is written; nothing of one that is gone."""
    try:
        status = os.lstat(file)  # what a folder says of its entries has no inode on Windows
    except OSError:
        return _GONE
    return status.st_mtime_ns, status.st_size, status.st_ino


def _port(text: str) -> int:
    if text.isdecimal() and 0 <= (port := int(text[:6])) < 65536:
        return port
    raise argparse.ArgumentTypeError(f"'{text}' is not a port (write a number up to 65535)")
