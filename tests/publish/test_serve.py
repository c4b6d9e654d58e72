"""The live site: whom it answers, what it gives, and what it adds to a page."""

import http.client
import socket
import struct
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from threading import Thread
from time import sleep

import pytest

from generator.publish.serve import LiveSite
from generator.publish.stage import publish
from tests.conftest import ROOT

PAGE = b"<!doctype html><html><head><title>Reef</title></head><body><p>Reef</p></body></html>"
FILES = {
    "index.html": PAGE,
    "corals/index.html": PAGE,
    "corals/bell.html": PAGE,
    "reef.ics": b"BEGIN:VCALENDAR",
    "a.js": b"1",
    "data/all.sqlite": b"SQLite",
    "photos/a.webp": b"RIFF",
}


@pytest.fixture
def live(tmp_path: Path) -> Iterator[LiveSite]:
    publish(FILES, tmp_path / "site")
    (tmp_path / "journal.yaml").write_text("keeper: Ines\n")
    (tmp_path / "site/note.txt").write_text("put here by hand\n")
    with LiveSite(tmp_path / "site", 0, ROOT / "templates/watch") as server:
        server.show("", good=True)
        serving = Thread(target=server.serve_forever, args=(0.01,))
        serving.start()
        yield server
        server.shutdown()
        serving.join()


def asked(live: LiveSite, path: str, method: str = "GET", host: str = "") -> tuple[int, dict[str, str], bytes]:
    with closing(http.client.HTTPConnection("127.0.0.1", live.server_port, timeout=5)) as connection:
        connection.putrequest(method, path, skip_host=True)
        if host != "none":
            connection.putheader("Host", host or f"127.0.0.1:{live.server_port}")
        connection.endheaders()
        answer = connection.getresponse()
        return answer.status, dict(answer.getheaders()), answer.read()


def test_it_is_on_this_computers_own_address_only(live: LiveSite) -> None:
    assert live.server_address[0] == "127.0.0.1"
    assert live.url == f"http://127.0.0.1:{live.server_port}/"
    assert asked(live, "/", host=f"localhost:{live.server_port}")[0] == 200


@pytest.mark.parametrize("host", ["none", "reef.example", "127.0.0.1", "127.0.0.1:1", "localhost.reef.example:80"])
def test_a_page_elsewhere_whose_name_was_turned_to_this_computer_gets_nothing(live: LiveSite, host: str) -> None:
    status, _, content = asked(live, "/index.html", host=host)
    assert (status, content) == (421, b"not a name of this site")


@pytest.mark.parametrize(
    ("path", "kind"),
    [
        ("/", "text/html; charset=utf-8"),
        ("/corals/", "text/html; charset=utf-8"),
        ("/corals/bell.html?x#y", "text/html; charset=utf-8"),
        ("/corals/b%65ll.html", "text/html; charset=utf-8"),
        ("/reef.ics", "text/calendar; charset=utf-8"),
        ("/a.js", "text/javascript; charset=utf-8"),
        ("/data/all.sqlite", "application/vnd.sqlite3"),
        ("/photos/a.webp", "image/webp"),
    ],
)
def test_every_file_of_the_site_is_given_with_its_type(live: LiveSite, path: str, kind: str) -> None:
    status, headers, _ = asked(live, path)
    assert (status, headers["Content-Type"]) == (200, kind)
    # No page elsewhere may load it, as a script or a picture, or show it in a frame.
    assert headers["Cross-Origin-Resource-Policy"] == "same-origin"
    assert headers["Content-Security-Policy"] == "frame-ancestors 'none'"
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Cache-Control"] == "no-store"


@pytest.mark.parametrize(
    "path",
    [
        "/../journal.yaml",
        "/%2e%2e/journal.yaml",
        "/corals/../../journal.yaml",
        "/..%5cjournal.yaml",
        "/corals/..%2f..%2fjournal.yaml",
        "//etc/passwd",
        "/.corallite-site",
        "/.nojekyll",
        "/note.txt",
        "/index.html%00",
        "/corals/./bell.html",
        "http://reef.example/../journal.yaml",
        "/nothing.html",
    ],
)
def test_nothing_but_what_a_build_wrote_is_given(live: LiveSite, path: str) -> None:
    status, _, content = asked(live, path)
    assert status == 404
    assert b"The site has no such page." in content


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "OPTIONS", "CONNECT", "PROPFIND"])
def test_it_can_be_read_and_nothing_else(live: LiveSite, method: str) -> None:
    assert asked(live, "/", method)[0] == 501


def test_the_head_of_an_answer_can_be_asked_for_alone(live: LiveSite) -> None:
    _, headers, content = asked(live, "/a.js", "HEAD")
    assert (headers["Content-Length"], content) == ("1", b"")


def test_a_page_is_as_on_disk_but_for_what_stands_at_its_end(live: LiveSite) -> None:
    page = asked(live, "/")[2]
    script = f'<script src="/.watch/watch.js" data-seen="{live.mark(PAGE)}"></script>'.encode()
    assert page == PAGE.replace(b"</body>", script + b"</body>")
    assert (live.site / "index.html").read_bytes() == PAGE
    assert asked(live, "/a.js")[2] == FILES["a.js"]


def test_what_is_wrong_stands_over_the_last_good_site_as_text(live: LiveSite) -> None:
    live.show("corals/<script>.yaml:3: 'x' & \"y\" (write it)\n1 error, no warnings\n", good=False)
    page = asked(live, "/corals/bell.html")[2]
    assert page.startswith(PAGE.removesuffix(b"</body></html>"))
    assert b"corals/&lt;script&gt;.yaml:3: &#x27;x&#x27; &amp; &quot;y&quot; (write it)\n1 error" in page
    assert b'<details class="watched" lang="en" open>' in page
    assert asked(live, "/.watch/watch.css")[1]["Content-Type"] == "text/css; charset=utf-8"
    live.show("shopping.txt:1: warning: …\nno errors, 1 warning\n", good=True)
    page = asked(live, "/")[2]
    assert b'<details class="watched" lang="en"><summary>no errors, 1 warning</summary>' in page


def in_the_background(*ask: Callable[[], object]) -> list[Thread]:
    """Who asks, and has got no answer yet."""
    asking = [Thread(target=each) for each in ask]
    for each in asking:
        each.start()
    asking[-1].join(0.05)
    assert all(each.is_alive() for each in asking), "they wait until there is something new"
    return asking


def test_a_page_that_waits_is_told_when_it_would_be_another(live: LiveSite) -> None:
    told: list[str] = []

    def news(address: str) -> Callable[[], None]:
        path = f"/.watch/after-{live.mark(PAGE)}/{address}"
        return lambda: told.append(f"{address}: {asked(live, path)[2].decode()}")

    bell, front = in_the_background(news("corals/bell.html"), news(""))
    publish({**FILES, "corals/bell.html": PAGE.replace(b"Reef", b"Bell")}, live.site, replace=True)
    live.show("", good=True)
    bell.join(5)
    assert told == ["corals/bell.html: location.reload();"]
    assert front.is_alive(), "nothing is new on the front page"
    live.show("1 warning", good=True)
    front.join(5)
    assert told[1:] == [": location.reload();"]
    assert asked(live, "/.watch/after-of-another-server/index.html")[2] == b"location.reload();"


def test_open_pages_are_shown_first_and_who_asks_for_another_waits_for_it(live: LiveSite) -> None:
    new = PAGE.replace(b"Reef", b"New")
    pages: dict[str, bytes] = {}

    def get(address: str) -> Callable[[], None]:
        return lambda: pages.update({address: asked(live, f"/{address}")[2]})

    (tab,) = in_the_background(lambda: asked(live, f"/.watch/after-{live.mark(PAGE)}/index.html"))
    assert live.wanted() == ["index.html"]
    live.show_early({"index.html": new, "charts/a.js": b"2"})
    tab.join(5)
    assert asked(live, "/")[2].startswith(new.removesuffix(b"</body></html>"))
    assert asked(live, "/charts/a.js")[2] == b"2"
    assert asked(live, "/a.js")[2] == FILES["a.js"], "all but pages is that of the last site meanwhile"
    waiting = in_the_background(get("corals/bell.html"), get("corals/new.html"), get("photos/b.webp"))
    assert sorted(live.wanted()) == ["corals/bell.html", "corals/new.html", "photos/b.webp"]
    live.show_early({"corals/bell.html": new})
    live.show_early({"photos/b.webp": None})
    waiting[0].join(5)
    assert sorted(live.wanted()) == ["corals/new.html", "photos/b.webp"]
    assert waiting[2].is_alive(), "what is not made alone comes with the whole site"
    publish({**FILES, "index.html": new, "corals/bell.html": new, "photos/b.webp": b"b"}, live.site, replace=True)
    live.show("", good=True)
    for each in waiting:
        each.join(5)
    assert pages["corals/bell.html"].startswith(new.removesuffix(b"</body></html>"))
    assert pages["photos/b.webp"] == b"b"
    assert b"no such page" in pages["corals/new.html"]


def test_of_a_site_that_came_to_nothing_no_page_stays(live: LiveSite) -> None:
    live.show("1 error", good=False)
    live.show_early({"index.html": PAGE.replace(b"Reef", b"New")})
    assert b"details" not in asked(live, "/")[2], "what was wrong may be right now"
    live.show("1 error", good=False)
    assert asked(live, "/")[2].startswith(PAGE.removesuffix(b"</body></html>"))
    assert b"1 error" in asked(live, "/")[2]


def test_a_browser_that_goes_away_is_no_accident(live: LiveSite, capfd: pytest.CaptureFixture[str]) -> None:
    connection = http.client.HTTPConnection("127.0.0.1", live.server_port, timeout=5)
    connection.request("GET", f"/.watch/after-{live.mark(PAGE)}/index.html")
    sleep(0.02)  # it waits for news now
    assert live.wanted() == ["index.html"]
    connection.sock.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
    connection.close()
    assert live.wanted() == [], "its page is no longer open"
    live.show("x" * 1_000_000, good=True)
    assert asked(live, "/")[0] == 200
    assert capfd.readouterr().err == ""


def test_a_folder_that_is_no_site_of_ours_is_not_shown(tmp_path: Path) -> None:
    (tmp_path / "index.html").write_text("my letters")
    with LiveSite(tmp_path, 0, ROOT / "templates/watch") as server:
        assert not server.there
