"""No bytes whatever bring a traceback, and every problem points to a line that exists."""

import os
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from generator.publish.stage import publish
from generator.read.discover import MAX_BYTES
from generator.read.load import load
from generator.read.yaml_lines import MAX_DEPTH
from tests.archive import sections, write_archive

HERE = Path(__file__).parent
SOUND = (HERE / "sound.txt").read_text(encoding="utf-8")
FILES = sorted(name for name in sections(SOUND) if not name.startswith("photos/"))
TEXTS = {name: text.encode() for name, (text, _) in sections(SOUND).items()}
NOW = datetime(2026, 3, 31, 12, 0, tzinfo=UTC)
SCRAPS = st.sampled_from(
    [
        b"- at: 2026-03-02 08:10\n",
        b"  readings:\n",
        b"    alkalinity: 8.1 dKH\n",
        b"source: x\n",
        b"id: y\n",
        b"~",
        b"\t",
        b": ",
        b"- ",
        b"{",
        b"}",
        b"[",
        b"]",
        b"&a ",
        b"*a",
        b"!!python/object:os.system ",
        b"<<: ",
        b"---\n",
        b"'",
        b'"',
        b"|\n",
        b">\n",
        b"# ",
        b"? ",
        b"%YAML 1.2\n",
        b"\x00",
        b"\r",
        b"\x85",
        b"\xe2\x80\xa8",
        b"\xef\xbb\xbf",
        b"\xff\xfe",
        b"\xb0C",
        b"9" * 400,
        b"1e999 L",
        b"2026-02-30",
        b"0001-01-01 00:00",
        b"9999-12-31 23:59+23:59",
        b"null",
        b"NaN",
        b"-0 mL",
        b"\xd9\xa3",
        b"\xf0\x9f\x90\xa0",
        b"\n",
        b"  ",
        b"true",
        b"a: {b: {c: [1, 2]}}\n",
    ]
)


def spliced(text: bytes, cuts: list[tuple[float, float, bytes]]) -> bytes:
    """A text with pieces cut out and others put in."""
    for start, length, scrap in cuts:
        at = int(start * len(text))
        text = text[:at] + scrap + text[at + int(length * 40) :]
    return text


fractions = st.floats(0, 1, allow_nan=False)
cuts = st.lists(st.tuples(fractions, fractions, SCRAPS | st.binary(max_size=6)), min_size=1, max_size=4)
contents = st.binary(max_size=80) | st.lists(SCRAPS, max_size=25).map(b"".join)
relaxed = settings(suppress_health_check=[HealthCheck.function_scoped_fixture])


def must_be_judged(folder: Path) -> None:
    """Load the folder and hold every problem to its promises."""
    loaded = load(folder, NOW)
    assert (loaded.journal is None) == bool(loaded.errors)
    for problem in loaded.problems:
        assert problem.wrong
        assert problem.remedy
        assert str(problem).isprintable()
        path = folder / problem.source.file
        raw = path.read_bytes() if path.is_file() else b""
        lines = raw.replace(b"\r\n", b"\n").replace(b"\r", b"\n").removesuffix(b"\n").count(b"\n") + 1
        assert 1 <= problem.source.line <= lines, str(problem)


@given(name=st.sampled_from(FILES), content=contents)
@relaxed
def test_any_bytes_in_any_file_are_judged(tmp_path: Path, name: str, content: bytes) -> None:
    write_archive(SOUND, tmp_path)
    (tmp_path / name).write_bytes(content)
    must_be_judged(tmp_path)


@given(name=st.sampled_from(FILES), pieces=cuts)
@relaxed
def test_any_damage_to_a_sound_file_is_judged(
    tmp_path: Path, name: str, pieces: list[tuple[float, float, bytes]]
) -> None:
    write_archive(SOUND, tmp_path)
    (tmp_path / name).write_bytes(spliced(TEXTS[name], pieces))
    must_be_judged(tmp_path)


@pytest.mark.parametrize("opening", ["[", "{a: ", "- "])
@pytest.mark.parametrize("depth", [MAX_DEPTH + 1, 100_000])
def test_depth_is_refused_however_it_is_written(tmp_path: Path, opening: str, depth: int) -> None:
    write_archive(SOUND, tmp_path)
    (tmp_path / "partners/marta.yaml").write_text(opening * depth + "x")
    assert [problem.kind for problem in load(tmp_path, NOW).errors] == ["depth"]


def test_a_bomb_of_aliases_is_refused_at_its_first(tmp_path: Path) -> None:
    write_archive(SOUND, tmp_path)
    bomb = "a: &a [x, x]\n" + "".join(f"{b}: &{b} [*{a}, *{a}]\n" for a, b in zip("abcdefgh", "bcdefghi", strict=True))
    (tmp_path / "partners/marta.yaml").write_text(bomb)
    (problem,) = load(tmp_path, NOW).errors
    assert (problem.kind, problem.source.line) == ("alias", 1)


def test_a_type_named_in_a_file_is_never_made(tmp_path: Path) -> None:
    write_archive(SOUND, tmp_path)
    (tmp_path / "partners/marta.yaml").write_text(f"name: !!python/object/apply:os.mkdir ['{tmp_path}/made']\n")
    assert [problem.kind for problem in load(tmp_path, NOW).errors] == ["tag"]
    assert not (tmp_path / "made").exists()


def test_a_file_too_large_is_not_read(tmp_path: Path) -> None:
    write_archive(SOUND, tmp_path)
    (tmp_path / "partners/marta.yaml").write_bytes(b"#" * (MAX_BYTES + 1))
    (problem,) = load(tmp_path, NOW).errors
    assert str(problem) == (
        "partners/marta.yaml:1: the file has more than 4 MB, too much for a journal's file (split it)"
    )


def test_a_name_no_terminal_can_show_is_printed_as_escapes(tmp_path: Path) -> None:
    write_archive(SOUND, tmp_path)
    try:
        Path(os.fsdecode(os.fsencode(tmp_path / "photos") + b"/\xff\x1b[2J.png")).write_bytes(b"")
    except OSError:
        pytest.skip("this file system takes no such name")
    (problem,) = load(tmp_path, NOW).errors
    assert str(problem).startswith("photos/\\udcff\\x1b[2J.png:1: the file's name cannot be used")


def test_a_link_to_the_folder_itself_is_not_followed(tmp_path: Path) -> None:
    write_archive(SOUND, tmp_path)
    (tmp_path / "photos/again").symlink_to(tmp_path, target_is_directory=True)
    assert [(problem.source.file, problem.kind) for problem in load(tmp_path, NOW).problems] == [
        ("photos/again", "link")
    ]


def test_a_pipe_among_the_files_does_not_stop_the_reading(tmp_path: Path) -> None:
    write_archive(SOUND, tmp_path)
    os.mkfifo(tmp_path / "partners/rui.yaml")
    assert [(problem.source.file, problem.kind) for problem in load(tmp_path, NOW).problems] == [
        ("partners/rui.yaml", "link")
    ]


def test_a_site_built_among_the_journal_s_files_is_none_of_them(tmp_path: Path) -> None:
    write_archive(SOUND, tmp_path)
    publish({"index.html": b"<title>Reef</title>"}, tmp_path / "site")
    assert load(tmp_path, NOW).problems == ()


def test_a_path_no_disk_can_hold_is_a_folder_that_is_not_there(tmp_path: Path) -> None:
    assert [problem.kind for problem in load(tmp_path / ("x" * 5000), NOW).problems] == ["no-journal"]


def test_a_folder_that_is_not_there_is_a_problem(tmp_path: Path) -> None:
    (problem,) = load(tmp_path / "nowhere", NOW).problems
    assert (problem.kind, problem.remedy) == ("no-journal", "give the journal's folder with --content")
