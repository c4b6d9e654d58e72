"""The finished site on this computer's own address, where an open page loads again when the site was made anew.

Nothing on disk changes: what makes a page load again, and what is wrong with the files, is put into the answer alone.
Nobody else may ask: neither another computer, nor a page of another site in the keeper's browser.
"""

import mimetypes
import secrets
import sys
from html import escape
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from importlib.resources.abc import Traversable
from pathlib import Path
from threading import Condition
from typing import Any
from urllib.parse import unquote, urlsplit

from generator.publish.staging import written_addresses

_LOOPBACK = "127.0.0.1"
# No page of a site has an address with a dot in front.
_OURS = ".watch/"
# A page asks again after this time without news, seconds.
_PATIENCE = 20.0
_GUARDED = {
    "Cache-Control": "no-store",
    "Content-Security-Policy": "frame-ancestors 'none'",
    "Cross-Origin-Resource-Policy": "same-origin",
    "X-Content-Type-Options": "nosniff",
}
_TYPES = {".ics": "text/calendar", ".js": "text/javascript", ".sqlite": "application/vnd.sqlite3"}


class LiveSite(ThreadingHTTPServer):
    """Serves the site in a folder; `helpers` has the script and the stylesheet that pages get here."""

    daemon_threads = True

    def __init__(self, site: Path, port: int, helpers: Traversable) -> None:
        super().__init__((_LOOPBACK, port), _Visit)
        self.site = site
        self.hosts = {f"{name}:{self.server_port}" for name in (_LOOPBACK, "localhost")}
        self.helpers = {f"{_OURS}{name}": (helpers / name).read_bytes() for name in ("watch.css", "watch.js")}
        self._changed = Condition()
        self.show("", good=False)

    @property
    def url(self) -> str:
        """Where the front page is."""
        return f"http://{_LOOPBACK}:{self.server_port}/"

    def show(self, said: str, good: bool) -> None:
        """Let open pages load again with what the last build said, unfolded if it made no site."""
        with self._changed:
            self.said, self.good = said.strip(), good
            self.addresses = written_addresses(self.site) or frozenset()
            self.state = secrets.token_hex(8)
            self._changed.notify_all()

    def news_after(self, state: str) -> bool:
        """Whether the site was made anew since a state; waits some time until it is."""
        with self._changed:
            return self._changed.wait_for(lambda: self.state != state, _PATIENCE)

    def handle_error(self, request: Any, client_address: Any) -> None:
        """Say nothing of a browser that went away before its answer came."""
        if not isinstance(sys.exception(), OSError):
            super().handle_error(request, client_address)

    def told(self) -> bytes:
        """What a page gets in addition: the script that loads it again, and what was said of the last build."""
        script = f'<script src="/{_OURS}watch.js" data-seen="{self.state}"></script>'
        if not self.said:
            return script.encode()
        heading = self.said.splitlines()[-1] if self.good else "This is the last good site: the files have mistakes"
        note = f'<summary>{escape(heading)}</summary><pre dir="auto">{escape(self.said)}</pre>'
        opened = "" if self.good else " open"
        style = f'<link rel="stylesheet" href="/{_OURS}watch.css">'
        return f'{style}<details class="watched" lang="en"{opened}>{note}</details>{script}'.encode()


class _Visit(BaseHTTPRequestHandler):
    server: LiveSite
    server_version, sys_version = "corallite", ""
    timeout = 30

    def do_GET(self) -> None:
        status, kind, content = self._answer()
        self.send_response(status)
        self.send_header("Content-Type", kind)
        self.send_header("Content-Length", str(len(content)))
        for name, value in _GUARDED.items():
            self.send_header(name, value)
        self.end_headers()
        if self.command == "GET":
            self.wfile.write(content)

    do_HEAD = do_GET

    def log_message(self, *_: object) -> None:
        """Nothing: the terminal is for what the keeper must know."""

    def _answer(self) -> tuple[HTTPStatus, str, bytes]:
        # A name that somebody made lead to this computer would let their page read the keeper's site.
        if self.headers.get("Host") not in self.server.hosts:
            return HTTPStatus.MISDIRECTED_REQUEST, "text/plain", b"not a name of this site"
        address = unquote(urlsplit(self.path).path).removeprefix("/")
        if address.startswith(f"{_OURS}after-"):
            state = address.removeprefix(f"{_OURS}after-").removesuffix(".js")
            return HTTPStatus.OK, "text/javascript", b"location.reload();" if self.server.news_after(state) else b""
        if address in self.server.helpers:
            return HTTPStatus.OK, _type(address), self.server.helpers[address]
        if not address or address.endswith("/"):
            address += "index.html"
        try:
            # Only what a build wrote is given, by the very name that it wrote: no way leads out of the folder.
            content = (self.server.site / address).read_bytes() if address in self.server.addresses else None
        except OSError:
            content = None
        if content is None and address == "favicon.ico":  # which browsers ask for unasked
            return HTTPStatus.NO_CONTENT, "image/x-icon", b""
        if content is None:
            return HTTPStatus.NOT_FOUND, "text/html; charset=utf-8", self._nothing()
        if address.endswith(".html"):
            head, end, rest = content.rpartition(b"</body>")
            content = head + self.server.told() + end + rest
        return HTTPStatus.OK, _type(address), content

    def _nothing(self) -> bytes:
        what = "The site has no such page." if self.server.addresses else "There is no site yet."
        head = '<!doctype html><html lang="en"><meta charset="utf-8"><title>Corallite</title>'
        return f'{head}<body><p>{what}</p><p><a href="/">Front page</a></p>'.encode() + self.server.told()


def _type(address: str) -> str:
    suffix = address[address.rfind(".") :]
    kind = _TYPES.get(suffix) or mimetypes.guess_type(address)[0] or "application/octet-stream"
    return f"{kind}; charset=utf-8" if kind.startswith("text/") or kind.endswith(("xml", "json")) else kind
