"""A site is put in place whole or not at all."""

import os
import stat
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest

from generator.publish import stage, staging
from generator.publish.stage import Before, CannotPublish, publish
from generator.publish.staging import MARKER

PAGE = b'<p id="top"><a href="#top">up</a></p>'


def tree(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_the_new_site_replaces_all_of_the_old(tmp_path: Path) -> None:
    site = tmp_path / "site"
    publish({"index.html": PAGE, "corals/gone.html": PAGE}, site)
    publish({"index.html": PAGE, "corals/new.html": PAGE}, site)
    assert {name for name in tree(site) if name[0] != "."} == {"index.html", "corals/new.html"}
    assert [path.name for path in tmp_path.iterdir()] == ["site"], "nothing hidden is left beside it"


def test_what_git_ignores_in_the_site_survives_and_page_hosts_are_told_to_leave_names_alone(tmp_path: Path) -> None:
    site = tmp_path / "site"
    site.mkdir()
    (site / ".gitignore").write_text("*\n!.gitignore\n")
    publish({"index.html": PAGE}, site)
    assert tree(site) == {
        "index.html": PAGE,
        ".gitignore": b"*\n!.gitignore\n",
        ".nojekyll": b"",
        MARKER: tree(site)[MARKER],
    }


def test_a_folder_with_someones_files_is_refused_and_untouched(tmp_path: Path) -> None:
    (tmp_path / "thesis.txt").write_text("years of work")
    with pytest.raises(CannotPublish, match="did not write"):
        publish({"index.html": PAGE}, tmp_path)
    assert tree(tmp_path) == {"thesis.txt": b"years of work"}


def test_a_file_where_the_site_should_be_is_refused(tmp_path: Path) -> None:
    (tmp_path / "site").write_text("a file")
    with pytest.raises(CannotPublish, match="not a folder"):
        publish({"index.html": PAGE}, tmp_path / "site")


@pytest.mark.parametrize(("site", "why"), [("/", "cannot hold a site"), ("/tmp/" + "x" * 5000, "name too long")])
def test_a_place_where_no_folder_can_be_is_refused(site: str, why: str) -> None:
    with pytest.raises(CannotPublish, match=why):
        publish({"index.html": PAGE}, Path(site))


@pytest.mark.parametrize("address", ["../out.html", "/etc/passwd", "a//b.html", "a/../b.html", ".hidden", "a/.b", ""])
def test_an_address_outside_the_site_is_refused(tmp_path: Path, address: str) -> None:
    with pytest.raises(CannotPublish, match="cannot be a page"):
        publish({address: PAGE}, tmp_path / "site")
    assert not list(tmp_path.iterdir())


def test_two_addresses_that_differ_only_by_case_are_refused(tmp_path: Path) -> None:
    with pytest.raises(CannotPublish, match="same file"):
        publish({"a.html": PAGE, "A.html": PAGE}, tmp_path / "site")


def test_a_dead_link_leaves_the_old_site_as_it_was(tmp_path: Path) -> None:
    site = tmp_path / "site"
    publish({"index.html": PAGE}, site)
    before = tree(site)
    with pytest.raises(CannotPublish, match=r"index\.html: 'nowhere\.html' leads to nowhere\.html"):
        publish({"index.html": b'<a href="nowhere.html">x</a>'}, site)
    assert tree(site) == before


def test_a_disk_that_fails_half_way_leaves_the_old_site_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    site = tmp_path / "site"
    publish({"index.html": PAGE}, site)
    before = tree(site)
    write, written = Path.write_bytes, []

    def full(path: Path, content: bytes) -> int:
        if len(written) == 2:
            raise OSError(28, "No space left on device")
        written.append(path)
        return write(path, content)

    monkeypatch.setattr(stage.Path, "write_bytes", full)
    with pytest.raises(CannotPublish, match="No space left"):
        publish({f"{n}.html": PAGE for n in range(5)}, site)
    monkeypatch.undo()
    assert tree(site) == before
    assert [path.name for path in tmp_path.iterdir()] == ["site"]


def test_what_fails_once_the_site_is_there_does_not_say_that_the_old_one_is(tmp_path: Path) -> None:
    publish({"index.html": PAGE}, site := tmp_path / "site")

    def nobody_listens() -> None:
        raise OSError("nobody listens")

    with pytest.raises(CannotPublish, match=r"nobody listens \(the new site is in place\)"):
        publish({"new.html": PAGE}, site, show=nobody_listens)
    assert {name for name in tree(site) if name[0] != "."} == {"new.html"}


def test_an_old_site_that_cannot_be_moved_from_aside_does_not_undo_the_new_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    publish({"index.html": PAGE}, site := tmp_path / "site")
    renamed = Path.rename
    moves: list[Path] = []

    def twice(path: Path, to: Path) -> Path:
        moves.append(path)
        if len(moves) == 3:
            raise OSError("no further")
        return renamed(path, to)

    monkeypatch.setattr(staging, "_exchanged", lambda *_: False)
    monkeypatch.setattr(staging.Path, "rename", twice)
    publish({"new.html": PAGE}, site)
    monkeypatch.undo()
    assert {name for name in tree(site) if name[0] != "."} == {"new.html"}
    staging.tidy(site)
    assert [path.name for path in tmp_path.iterdir()] == ["site"]


def test_a_build_killed_between_the_two_renames_is_made_good_by_the_next(tmp_path: Path) -> None:
    site = tmp_path / "site"
    publish({"index.html": PAGE}, site)
    (site / ".gitignore").write_text("*\n")
    site.rename(tmp_path / ".site.corallite-4711")
    publish({"index.html": PAGE}, site)
    assert (site / ".gitignore").read_text() == "*\n"
    assert [path.name for path in tmp_path.iterdir()] == ["site"]


def test_what_a_host_or_the_keeper_put_there_stays_if_it_is_listed(tmp_path: Path) -> None:
    site = tmp_path / "site"
    publish({"index.html": PAGE}, site)
    (site / ".git" / "objects").mkdir(parents=True)
    (site / ".git" / "objects" / "4f").write_bytes(b"an object")
    (site / ".git" / "current").symlink_to("objects")
    (site / "CNAME").write_text("reef.example\n")
    publish({"index.html": PAGE, "new.html": PAGE}, site, keep=(".git", "CNAME", ".well-known"))
    assert (site / ".git" / "current" / "4f").read_bytes() == b"an object"
    assert (site / ".git" / "current").is_symlink()
    assert (site / "CNAME").read_text() == "reef.example\n"
    assert [path.name for path in tmp_path.iterdir()] == ["site"]


def test_a_file_that_no_build_wrote_stops_the_build_until_it_is_told_to_delete_it(tmp_path: Path) -> None:
    site = tmp_path / "site"
    publish({"index.html": PAGE, "corals/gone.html": PAGE}, site)
    (site / "corals" / "note.txt").write_text("mine")
    (site / "elsewhere").symlink_to(tmp_path)
    before = tree(site)
    with pytest.raises(CannotPublish, match=r"did not write: corals/note\.txt, elsewhere \(list them under publish"):
        publish({"index.html": PAGE}, site)
    assert tree(site) == before
    publish({"index.html": PAGE}, site, replace=True)
    assert {name for name in tree(site) if name[0] != "."} == {"index.html"}
    assert tmp_path.exists()


def test_it_is_deleted_too_where_nothing_else_has_changed(tmp_path: Path) -> None:
    site = tmp_path / "site"
    marks = publish({"index.html": PAGE}, site)
    (site / "note.txt").write_text("mine")
    publish({"index.html": PAGE}, site, replace=True, before=Before(marks, frozenset))
    assert {name for name in tree(site) if name[0] != "."} == {"index.html"}


def test_to_replace_never_empties_a_folder_that_is_no_site(tmp_path: Path) -> None:
    (tmp_path / "thesis.txt").write_text("years of work")
    with pytest.raises(CannotPublish, match="did not write"):
        publish({"index.html": PAGE}, tmp_path, replace=True)
    assert tree(tmp_path) == {"thesis.txt": b"years of work"}


@pytest.mark.parametrize("name", ["index.html", "corals", "index.html/below"])
def test_a_place_that_the_site_needs_cannot_be_kept(tmp_path: Path, name: str) -> None:
    with pytest.raises(CannotPublish, match="a file of its own there"):
        publish({"index.html": PAGE, "corals/one.html": PAGE}, tmp_path / "site", keep=(name,))


def test_only_a_folder_with_our_mark_and_our_kind_of_name_is_taken_for_a_leftover(tmp_path: Path) -> None:
    site = tmp_path / "site"
    publish({"index.html": PAGE}, site)
    for name, mark in ((".site.corallite-ours", True), (".site.corallite-theirs", False), (".site.backup", True)):
        (tmp_path / name).mkdir()
        (tmp_path / name / "page.html").write_bytes(PAGE)
        if mark:
            (tmp_path / name / MARKER).write_bytes((site / MARKER).read_bytes())
    publish({"index.html": PAGE}, site)
    assert {path.name for path in tmp_path.iterdir()} == {"site", ".site.corallite-theirs", ".site.backup"}


def test_where_folders_cannot_be_exchanged_the_site_is_moved_aside_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(staging, "_exchanged", lambda *_: False)
    site = tmp_path / "site"
    publish({"index.html": PAGE}, site)
    publish({"other.html": PAGE}, site)
    assert {name for name in tree(site) if name[0] != "."} == {"other.html"}
    assert [path.name for path in tmp_path.iterdir()] == ["site"]


def test_the_site_before_is_laid_by_and_the_next_is_made_in_its_folder(tmp_path: Path) -> None:
    site, place = tmp_path / "sites" / "site", tmp_path / "place"
    pages = {"index.html": PAGE, "corals/1.html": PAGE, "corals/2.html": PAGE}
    first = publish(pages, site)
    inside = site.stat().st_ino
    second = publish(
        {**pages, "index.html": PAGE + b"<p>two</p>"}, site, before=Before(first, lambda: {"index.html"}, place)
    )
    assert place.stat().st_ino == inside, "it lies by"
    assert (place / "index.html").read_bytes() == PAGE
    assert (place / "corals" / "1.html").samefile(site / "corals" / "1.html"), "what has not changed is one file"
    (place / "corals" / "note.txt").write_text("of nobody")
    (place / "corals" / "2.html").unlink()
    publish({**pages, "corals/1.html": PAGE + b"<p>three</p>"}, site, before=Before(second, lambda: pages, place))
    assert site.stat().st_ino == inside, "the new site is made in it"
    assert {name: bytes for name, bytes in tree(site).items() if name[0] != "."} == {
        "index.html": PAGE,
        "corals/1.html": PAGE + b"<p>three</p>",
        "corals/2.html": PAGE,
    }
    assert [path.name for path in site.parent.iterdir()] == ["site"], "nothing hidden is left beside it"


def test_what_is_there_no_more_is_not_in_a_site_that_is_made_in_another_ones_folder(tmp_path: Path) -> None:
    site, place = tmp_path / "site", tmp_path / "place"
    pages = {f"{n}.html": PAGE for n in range(4)}
    first = publish({**pages, "room/one.html": PAGE}, site)
    (site / "empty").mkdir()
    second = publish(pages, site, before=Before(first, frozenset, place))
    publish({**pages, "room": PAGE, "empty": PAGE}, site, before=Before(second, frozenset, place))
    assert {name for name in tree(site) if name[0] != "."} == {*pages, "room", "empty"}


def test_a_site_that_keeps_files_of_others_or_has_few_in_common_with_the_new_is_not_laid_by(tmp_path: Path) -> None:
    site, place = tmp_path / "site", tmp_path / "place"
    pages = {"index.html": PAGE, "corals/1.html": PAGE, "corals/2.html": PAGE}
    marks = publish(pages, site)
    publish(pages, site, before=Before(marks, lambda: ["index.html", "corals/1.html"], place))
    assert not place.exists()
    (site / "CNAME").write_text("reef.example")
    publish({**pages, "new.html": PAGE}, site, keep=("CNAME",), before=Before(marks, lambda: ["new.html"], place))
    assert not place.exists()
    assert [path.name for path in tmp_path.iterdir()] == ["site"]


def heeding_modes(deed: Callable[..., None], path: str | Path, *, dir_fd: int | None = None) -> None:
    """Remove a name, unless its folder is read-only: some who run these tests may do that all the same."""
    if not os.stat(os.path.dirname(path) if dir_fd is None else dir_fd).st_mode & stat.S_IWUSR:
        raise PermissionError(13, "Permission denied", str(path))
    deed(path, dir_fd=dir_fd)


def test_a_folder_that_its_keeper_made_read_only_stops_no_build_and_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("unlink", "rmdir"):
        monkeypatch.setattr(os, name, partial(heeding_modes, getattr(os, name)))
    site, place, marks = tmp_path / "sites" / "site", tmp_path / "place", dict[str, bytes]()
    pages = {f"corals/{n}.html": PAGE for n in range(9)}
    for day in range(6):
        pages |= {"corals/1.html": PAGE + b"%d" % day}
        marks = publish(pages, site, before=Before(marks, lambda: ["corals/1.html"], place))
        assert {name: bytes for name, bytes in tree(site).items() if name[0] != "."} == pages
        assert [path.name for path in site.parent.iterdir()] == ["site"]
        if day == 2:
            (site / "corals").chmod(0o555)
        if day == 4:
            site.chmod(0o555)


def test_a_page_that_another_build_put_into_the_site_meanwhile_is_not_taken_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    site, pages = tmp_path / "site", {"index.html": PAGE, "prices.html": PAGE}
    marks = publish(pages, site)
    link = os.link

    def after_another_build(old: str, new: str, **how: bool) -> None:
        os.unlink(old)
        Path(old).write_bytes(PAGE + b"<p>what it paid</p>")
        link(old, new, **how)

    monkeypatch.setattr(os, "link", after_another_build)
    publish({**pages, "index.html": PAGE + b"<p>two</p>"}, site, before=Before(marks, lambda: {"index.html"}))
    assert tree(site)["prices.html"] == PAGE
