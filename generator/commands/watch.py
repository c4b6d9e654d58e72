"""`corallite watch`: make the site, show it on this computer, and make it anew whenever a file is saved."""

import argparse
import gc
import io
import os
import re
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from datetime import date, datetime
from pathlib import Path
from threading import Thread
from typing import TYPE_CHECKING

from generator.commands import build
from generator.commands.terminal import doing, steered, text_only

if TYPE_CHECKING:
    from generator.door.memory import Lasting
    from generator.publish.serve import LiveSite

# How often the files are looked at, and how long they must rest before a build, seconds.
_EACH, _REST = 0.1, 0.04
# Looking takes at most this part of one processor: more while somebody writes, until so long after a save, seconds.
_SHARE, _SHARE_WHILE_WRITING, _WRITING = 0.1, 0.4, 600.0
# What editors and copying programs write for a moment beside a file.
_PASSING = re.compile(r"[.#].*|.*(~|\.tmp|\.part|\.swp)|4913")
_COLOUR = re.compile(r"\x1b\[[0-9;]*m")
# Every file below the journal's folder, with what changes when it is written.
Seen = dict[str, tuple[int, int, int]]

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
    """Build and serve until Ctrl-C, which is the usual end and gives 0. Return 1 if the port cannot be had."""
    from generator.publish.serve import LiveSite
    from generator.render.base.words import template_files

    try:
        server = LiveSite(args.site or Path("site"), args.port, template_files() / "watch")
    except OSError as error:
        print(f"port {args.port}: {error.strerror} (give another with --port, or none)", file=sys.stderr)
        return 1
    with server, suppress(KeyboardInterrupt):
        print(f"the site is at {server.url} (Ctrl-C ends)", flush=True)
        _make_and_show(args, server)
    return 0


def _make_and_show(args: argparse.Namespace, server: "LiveSite") -> None:
    last: tuple[date, Seen] | None = None
    said, saved, kept = "", 0.0, Kept()
    # A build makes many objects and little garbage; to look for it in between takes a third of the time.
    gc.disable()
    serving = Thread(target=server.serve_forever, args=(0.1,), daemon=True)
    try:
        while True:
            started = time.perf_counter()
            now = date.today(), at_rest(args.content, last[1] if last else None)
            if now == last:
                share = _SHARE_WHILE_WRITING if started - saved < _WRITING else _SHARE
                time.sleep(max(_EACH, (time.perf_counter() - started) / share))
                continue
            last, before, saved = now, said, time.perf_counter()
            with doing(args, "making the site"):
                good, said = site_made(args, kept, lambda said: server.show(_COLOUR.sub("", said), True))
            if not good:
                server.show(_COLOUR.sub("", said), False)
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


class Kept:
    """What stays at hand from one build to the next."""

    def __init__(self) -> None:
        self._memories: dict[Path, Lasting] = {}

    def opened(self, file: Path, program: str) -> "Lasting":
        """The memory in a file."""
        from generator.door.memory import Lasting

        if file in self._memories:
            self._memories[file].open()
        else:
            self._memories[file] = Lasting(file, program)
        return self._memories[file]


def site_made(args: argparse.Namespace, kept: Kept, show: Callable[[str], object]) -> tuple[bool, str]:
    """Whether the site was built, and what the build said. No state of the files ends the watch."""
    said = _Said()
    with text_only(said, said):
        try:
            quiet = argparse.Namespace(**{**vars(args), "quiet": True})
            good = build.run(quiet, kept.opened, lambda: show(said.getvalue())) == 0
        except Exception as error:  # files that vanish in the middle of a build, or a fault of ours
            good = False
            print(f"the build failed: {error!r} (save again; if it stays, report it)")
    return good, said.getvalue()


class _Said(io.StringIO):
    """What a build says, in the colours of the terminal that it will be shown on."""

    def isatty(self) -> bool:
        return sys.__stdout__ is not None and sys.__stdout__.isatty()


def at_rest(content: Path, before: Seen | None) -> Seen:
    """The files of a folder; if they are not as before, once nobody has written them for a moment."""
    now = dict(_files(content))
    while now != before:
        time.sleep(_REST)
        before, now = now, dict(_files(content))
    return now


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
                    status = entry.stat(follow_symlinks=False)
                    yield entry.path, (status.st_mtime_ns, status.st_size, status.st_ino)


def _port(text: str) -> int:
    if text.isdecimal() and 0 <= (port := int(text[:6])) < 65536:
        return port
    raise argparse.ArgumentTypeError(f"'{text}' is not a port (write a number up to 65535)")
