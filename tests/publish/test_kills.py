"""Builds that are killed, and builds at one time: the site is always the whole old one or the whole new one."""

import os
import random
import signal
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from itertools import count
from pathlib import Path

import pytest

from generator.publish import staging
from generator.publish.stage import CannotPublish, publish
from tests.kills import child, killed_at

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="processes are forked and killed")

# Two sites that share no page's content: a mixture of both shows.
SITES = {
    mark: {f"{folder}/{n}.html": f"<p>{mark}</p>".encode() * 40 for folder in ("corals", "systems") for n in range(4)}
    for mark in ("old", "new")
}


def told(site: Path) -> str:
    """Which of the two sites a folder is; an assertion fails if it is neither, or a mixture."""
    pages = {path.relative_to(site).as_posix(): path.read_bytes() for path in site.rglob("*.html")}
    assert pages in SITES.values()
    return "old" if pages == SITES["old"] else "new"


@contextmanager
def site_in(folder: Path) -> Iterator[Path]:
    site = folder / "site"
    publish(SITES["old"], site, keep=("CNAME",))
    (site / "CNAME").write_text("reef.example")
    yield site
    assert (site / "CNAME").read_text() == "reef.example", "what is kept is kept"


def one_build(site: Path) -> None:
    publish(SITES["new"], site, keep=("CNAME",))


@pytest.mark.parametrize("exchanges", [True, False])
def test_a_build_killed_at_any_step_leaves_a_whole_site_or_one_that_the_next_build_repairs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, exchanges: bool
) -> None:
    if not exchanges:
        monkeypatch.setattr(staging, "_exchanged", lambda *_: False)
    ended = set()
    for event in count():
        with site_in(tmp_path) as site:
            if not killed_at(event, partial(one_build, site)):
                break
            if exchanges or site.exists():
                ended.add(told(site))
            staging.tidy(site)
            ended.add(told(site))
            assert [path.name for path in tmp_path.iterdir()] == ["site"], "what the killed build left is gone"
            one_build(site)
            assert told(site) == "new"
    assert event > 30, "each step on the disk was tried"
    assert ended == {"old", "new"}


def test_builds_killed_at_random_moments_never_mix_two_sites_or_leave_none(tmp_path: Path) -> None:
    rng = random.Random(4)

    def build_on_and_on() -> None:
        for turn in count():
            publish(SITES["old" if turn % 2 else "new"], tmp_path / "site", keep=("CNAME",))

    with site_in(tmp_path) as site:
        for _ in range(200):
            pid = child(build_on_and_on)
            time.sleep(rng.uniform(0.0, 0.02))
            os.kill(pid, signal.SIGKILL)
            os.waitpid(pid, 0)
            told(site)
        one_build(site)
    assert [path.name for path in tmp_path.iterdir()] == ["site"]


def test_builds_at_one_time_leave_the_whole_site_of_one(tmp_path: Path) -> None:
    with site_in(tmp_path) as site:
        pids = [child(lambda mark=mark: publish(SITES[mark], site, keep=("CNAME",))) for mark in ("old", "new") * 20]
        while pids:
            assert (site / "corals").is_dir(), "at no moment is there no site"
            pids = [pid for pid in pids if os.waitpid(pid, os.WNOHANG) == (0, 0)]
        told(site)
    publish(SITES["new"], site, keep=("CNAME",))
    assert [path.name for path in tmp_path.iterdir()] == ["site"]


@pytest.mark.parametrize("room", [4, 200])
def test_a_full_disk_leaves_the_old_site(tmp_path: Path, room: int) -> None:
    with site_in(tmp_path) as site:

        def build() -> None:
            import resource

            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (room, room))
            try:
                one_build(site)
            except CannotPublish as refused:
                os._exit(7 if "unchanged" in str(refused) else 8)

        _, status = os.waitpid(child(build), 0)
        assert os.waitstatus_to_exitcode(status) == 7
        assert told(site) == "old"
    assert [path.name for path in tmp_path.iterdir()] == ["site"]
