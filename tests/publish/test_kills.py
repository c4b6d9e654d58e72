"""Builds that are killed, and builds at one time: the site is always the whole old one or the whole new one."""

import errno
import os
import random
import signal
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from itertools import count
from pathlib import Path

import pytest

from generator.publish import staging
from generator.publish.stage import Before, CannotPublish, publish
from tests.kills import child, killed_at, refused_at

pytestmark = [pytest.mark.long, pytest.mark.skipif(sys.platform == "win32", reason="processes are forked and killed")]

# Two sites that share no page's content: a mixture of both shows.
SITES = {
    mark: {f"{folder}/{n}.html": f"<p>{mark}</p>".encode() * 40 for folder in ("corals", "systems") for n in range(2)}
    for mark in ("old", "new")
}


# Sites of a keeper's days, each with one page that the day before has not.
DAYS = [SITES["old"]]
for _page in ("corals/0.html", "corals/1.html", "corals/0.html"):
    DAYS.append({**DAYS[-1], _page: f"<p>day {len(DAYS)}</p>".encode() * 40})


def told(site: Path) -> str:
    """Which of the two sites a folder is; an assertion fails if it is neither, or a mixture."""
    pages = pages_in(site)
    assert pages in SITES.values()
    return "old" if pages == SITES["old"] else "new"


def pages_in(site: Path) -> dict[str, bytes]:
    return {path.relative_to(site).as_posix(): path.read_bytes() for path in site.rglob("*.html")}


class Keeper:
    """Builds that remember, day by day, the third of them in the folder that the second laid by."""

    def __init__(self, folder: Path) -> None:
        self.site, self._place, self._marks = folder / "sites" / "site", folder / "place", dict[str, bytes]()
        for day in range(3):
            self.build(day)
        assert self._place.exists()

    def build(self, day: int) -> None:
        changed = {at for at in DAYS[day] if DAYS[day][at] != DAYS[day - 1][at]}
        self._marks = publish(DAYS[day], self.site, before=Before(self._marks, lambda: changed, self._place))
        assert pages_in(self.site) == DAYS[day]
        assert [path.name for path in self.site.parent.iterdir()] == ["site"]


def _with_kept(folder: Path) -> Path:
    """The old site in a folder, with a file of the keeper's own."""
    site = folder / "site"
    publish(SITES["old"], site, keep=("CNAME",))
    (site / "CNAME").write_text("reef.example")
    return site


@contextmanager
def site_in(folder: Path) -> Iterator[Path]:
    yield (site := _with_kept(folder))
    assert (site / "CNAME").read_text() == "reef.example", "what is kept is kept"


def one_build(site: Path) -> None:
    publish(SITES["new"], site, keep=("CNAME",))


@pytest.fixture(params=[True, False], ids=["exchanged", "moved aside"])
def exchanges(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> bool:
    """Whether the system can exchange two folders in one step."""
    if not request.param:
        monkeypatch.setattr(staging, "_exchanged", lambda *_: False)
    return bool(request.param)


def killed_at_each_step(
    begun: Callable[[int], tuple[Path, Callable[[], None]]], told: Callable[[Path], object], exchanges: bool
) -> set[object]:
    """Kill a build at each of its steps, each time from the start, which gives the site and the build.

    After each kill the site must be whole, or whole once it is tidied, and the next build must come through. Returns
    which sites a killed build left, by what is `told` of a site.
    """
    ended = set[object]()
    for event in count():
        site, build = begun(event)
        if not killed_at(event, build):
            assert event > 30, "each step on the disk was tried"
            return ended
        if exchanges or site.exists():
            ended.add(told(site))
        staging.tidy(site)
        ended.add(told(site))
        assert [path.name for path in site.parent.iterdir()] == ["site"], "what the killed build left is gone"
        build()
    raise AssertionError("no build came through")


def test_a_build_killed_at_any_step_leaves_a_whole_site_or_one_that_the_next_build_repairs(
    tmp_path: Path, exchanges: bool
) -> None:
    def begun(event: int) -> tuple[Path, Callable[[], None]]:
        site = _with_kept(tmp_path / f"{event}")

        def build() -> None:
            one_build(site)
            assert told(site) == "new"
            assert (site / "CNAME").read_text() == "reef.example", "what is kept is kept"
            assert [path.name for path in site.parent.iterdir()] == ["site"]

        return site, build

    assert killed_at_each_step(begun, told, exchanges) == {"old", "new"}


def test_builds_killed_at_random_moments_never_mix_two_sites_or_leave_none(tmp_path: Path) -> None:
    rng = random.Random(4)

    def build_on_and_on() -> None:
        for turn in count():
            publish(SITES["old" if turn % 2 else "new"], tmp_path / "site", keep=("CNAME",))

    with site_in(tmp_path) as site:
        for _ in range(60):
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


@pytest.mark.parametrize(("error", "for_good"), [(errno.ENOSPC, False), (errno.EROFS, True)])
def test_whatever_the_disk_refuses_the_site_is_a_whole_one(tmp_path: Path, error: int, for_good: bool) -> None:
    """No room, no inodes, a folder that nobody may write into: at each change of the disk, for once or from then on."""
    for event in count():
        with site_in(tmp_path) as site:
            went_on = refused_at(event, error, for_good, partial(one_build, site))
            if went_on is None:
                break
            assert told(site) == ("old" if went_on else "new")
            one_build(site)
            assert told(site) == "new"
            assert [path.name for path in tmp_path.iterdir()] == ["site"]
    assert event > 20, "each change of the disk was tried"


@pytest.mark.parametrize("year", [1971, 2100])
def test_a_clock_that_was_set_mixes_nothing_and_leaves_nothing(tmp_path: Path, year: int) -> None:
    """All that is there is from long ago, or from years to come: a whole site that was left aside is brought back."""
    with site_in(tmp_path) as site:
        aside = site.with_name(".site.corallite-0123456789abcdef")
        publish(SITES["new"], aside)
        for path in (site, aside, site / staging.MARKER, aside / staging.MARKER):
            os.utime(path, (moment := (year - 1970) * 31556952, moment))
        (site / "CNAME").unlink()
        site.rename(site.with_name(".site.corallite-fedcba9876543210"))
        staging.tidy(site)
        assert told(site) in ("old", "new")
        one_build(site)
        assert told(site) == "new"
        assert [path.name for path in tmp_path.iterdir()] == ["site"]
        (site / "CNAME").write_text("reef.example")


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


def test_a_build_in_a_folder_that_was_laid_by_may_be_killed_at_any_step_as_well(
    tmp_path: Path, exchanges: bool
) -> None:
    def begun(event: int) -> tuple[Path, Callable[[], None]]:
        keeper = Keeper(tmp_path / f"{event}")
        return keeper.site, partial(keeper.build, 3)

    assert killed_at_each_step(begun, lambda site: DAYS.index(pages_in(site)), exchanges) == {2, 3}


@pytest.mark.parametrize(("error", "for_good"), [(errno.ENOSPC, False), (errno.EXDEV, False), (errno.EROFS, True)])
def test_whatever_the_disk_refuses_a_site_in_a_folder_that_was_laid_by_is_a_whole_one(
    tmp_path: Path, error: int, for_good: bool
) -> None:
    for event in count():
        keeper = Keeper(tmp_path / f"{event}")
        went_on = refused_at(event, error, for_good, partial(keeper.build, 3))
        if went_on is None:
            break
        assert pages_in(keeper.site) in (DAYS[2:] if for_good else [DAYS[2] if went_on else DAYS[3]])
        keeper.build(3)
    assert event > 12, "each change of the disk was tried"
