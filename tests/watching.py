"""A running `corallite watch`, by the lines that it prints and the pages that it gives."""

import os
import queue
import re
import signal
import subprocess
import sys
from functools import partial
from pathlib import Path
from threading import Thread
from urllib.request import urlopen

from tests.conftest import ROOT


class Watching:
    """The command on a journal, from its first line on; `end` it."""

    def __init__(self, content: Path, *options: str) -> None:
        command = [sys.executable, "-m", "generator", "watch", "--content", str(content), *options]
        # It remembers its builds, as it does for keepers, in a cache of its own.
        kept = {name: value for name, value in os.environ.items() if name != "CORALLITE_FORGET"}
        environment = {**kept, "PYTHONPATH": str(ROOT), "XDG_CACHE_HOME": str(content.parent / "cache")}
        self.process = subprocess.Popen(
            command,
            env=environment,
            cwd=content.parent,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            # Tests may run in the background, where Ctrl-C counts for nothing.
            preexec_fn=None if sys.platform == "win32" else partial(signal.signal, signal.SIGINT, signal.SIG_DFL),
        )
        self.lines: queue.Queue[str] = queue.Queue()
        Thread(target=self._hear, daemon=True).start()
        self.url = re.search(r"http://\S+", self.until("the site is at"))[0]  # type: ignore[index]

    def _hear(self) -> None:
        for line in self.process.stdout or ():
            self.lines.put(line)

    def until(self, words: str) -> str:
        """All that it prints until a line with these words."""
        said = ""
        while words not in said:
            said += self.lines.get(timeout=300)
        return said

    def page(self, address: str = "") -> str:
        """A page, or what a page is answered when it waits for the next."""
        return str(urlopen(f"{self.url}{address}", timeout=300).read().decode())

    def end(self) -> None:
        """Stop it at once."""
        self.process.kill()
        self.process.wait()
