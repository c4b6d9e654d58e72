"""Every field of a journal reaches those whom the table in DEVELOPERS.md names, in every byte of their sites."""

import json
import re
from collections.abc import Iterator, Mapping
from datetime import date
from pathlib import Path
from typing import Any

import pytest
import yaml
from PIL import Image, PngImagePlugin

from generator.__main__ import main
from generator.read.load import load
from generator.render.audience import view
from tests.archive import sections, write_archive
from tests.conftest import ROOT

pytestmark = pytest.mark.long

PLANTED = (ROOT / "tests" / "canaries.txt").read_text(encoding="utf-8")
PARTNER = "kanaripartnerid"
FLAGS = ("partner_names", "worth", "log_notes", "region_of_origin", "offers", "containers", "weeks", "contact")
SITES = ("public", "partners", f"partner:{PARTNER}", "partner:other", "own")
# Fields that hold a name of something and no words: digests and files, an alert, a part, a compound, a kit, a unit.
NAMES = re.compile(
    r"journal\.units|corals\.provenance\.|logs\.dismiss\.alert|systems\.places\.part|systems\.(solutions\.compound|kits\.name)"
)


def table() -> dict[str, list[str]]:
    """The table: who sees a field, by the field, one cell a column."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").split("## Who sees what", 1)[1].split("\n## ", 1)[0]
    rows = [line.strip("| ").split(" | ") for line in text.splitlines() if line.startswith("| ")][1:]
    return {field: cells for fields, *cells in rows for field in re.findall(r"`([^`]+)`", fields)}


def free_text(kind: str) -> Iterator[str]:
    """The fields of a kind of file that hold any text, by the schema that the keeper's editor reads."""
    schema = json.loads((ROOT / "content" / ".schemas" / f"{kind}.json").read_text(encoding="utf-8"))

    def below(part: Mapping[str, Any], path: str, seen: frozenset[str]) -> Iterator[str]:
        name = part.get("$ref", "").rpartition("/")[2]
        if name:
            if name not in seen:
                yield from below(schema["$defs"][name], path, seen | {name})
            return
        for each in (*part.get("anyOf", ()), *part.get("oneOf", ()), *part.get("allOf", ())):
            yield from below(each, path, seen)
        for key, each in part.get("properties", {}).items():
            yield from below(each, f"{path}.{key}", seen)
        for each in (part.get("items"), part.get("additionalProperties"), *part.get("patternProperties", {}).values()):
            if isinstance(each, dict):
                yield from below(each, path, seen)
        if part.get("type") == "string" and not part.keys() & {"pattern", "enum", "format", "const", "examples"}:
            yield path

    yield from below(schema, kind, frozenset())


def canaries() -> Iterator[tuple[str, str]]:
    """Every planted word with its row of the table."""

    def below(value: Any, path: str) -> Iterator[tuple[str, str]]:
        if isinstance(value, dict):
            mark = f"audience: {value['audience']}" if "audience" in value else ""
            mark = "private: true" if value.get("private") == "true" else mark
            # A photo from before the coral came: the partner had it then.
            mark = "corals.photos" if "before" in value.get("file", "") else mark
            for key, each in value.items():
                yield from below(
                    each, mark or (path if ":" in path else f"{path}.{'*' if _named_by_us(path) else key}")
                )
        elif isinstance(value, list):
            for each in value:
                yield from below(each, path)
        else:
            field = path.replace(".*", "")
            yield from (
                (word, field) for word in re.findall(r"Kanari\w*|kanarispecies|KANARI-\w+|9947\d{3}", str(value))
            )

    for name, (text, _) in sections(PLANTED).items():
        kind = name.split("/")[0].removesuffix(".yaml")
        if name.endswith(".md"):
            head, body = text.split("---\n", 2)[1:] if text.startswith("---") else ("", text)
            where = yaml.safe_load(head) or {}
            yield from below(where, kind)
            field = "body" if kind == "entries" else "story"
            yield from below(body, f"audience: {where['audience']}" if "audience" in where else f"{kind}.{field}")
        else:
            # The log of a system that is marked own is the keeper's own.
            hidden = name.startswith("logs/cellar/")
            yield from below(yaml.load(text, yaml.CBaseLoader), "audience: own" if hidden else kind)


def _named_by_us(path: str) -> bool:
    """Whether the keys at a path are names that the keeper chose."""
    return path in ("journal.containers", "systems.kits", "systems.solutions", "systems.mixes", "systems.places")


def expected(cell: str, flags: bool, agreed: bool, site: str) -> bool:
    """What a cell promises for a site, with all of `publish:` on or off, and with all agreed or nothing."""
    if cell.startswith("their own"):
        return site == f"partner:{PARTNER}" or ("agreed" in cell and agreed)
    if cell in ("yes", "no"):
        return cell == "yes"
    return (agreed or "agreed" not in cell) and (flags or not re.search(r"`\w+`", cell))


def test_the_table_and_the_planted_words_hold_every_field_of_text() -> None:
    rows, planted = table(), {path for _, path in canaries()}
    kinds = ("corals", "entries", "journal", "logs", "partners", "plans", "systems", "trades")
    fields = {field for kind in kinds for field in free_text(kind) if not NAMES.match(field)}
    without = {field for field in fields if row_of(field, rows) is None}
    assert not without, "a field of text without a row in the table"
    unplanted = {field for field in fields if not field.startswith("plans.")} - planted
    assert not unplanted, "a field of text without a planted word"


def row_of(field: str, rows: Mapping[str, list[str]]) -> list[str] | None:
    return rows.get(field) or rows.get(field.split(".", 1)[0])


def written(site: Path) -> bytes:
    """All that a site holds, names of files included; but the chart library, which is the same in every site."""
    files = [path for path in sorted(site.rglob("*")) if path.is_file() and "vendor" not in path.parts]
    return b"\n".join(str(path.relative_to(site)).encode() + b"\n" + path.read_bytes() for path in files)


def write_journal(text: str, content: Path) -> None:
    """A journal with a picture for each of its photos; what the picture's file says of itself is planted too."""
    write_archive(text, content)
    (content / "photos").mkdir()
    for name in set(re.findall(r"file: (\w+\.png)", text)):
        within = PngImagePlugin.PngInfo()
        within.add_text("Comment", "Kanariinside")
        Image.new("RGB", (60, 40), (len(name), 90, 90)).save(content / "photos" / name, pnginfo=within)


@pytest.mark.parametrize(("flags", "agreed"), [(False, True), (True, False), (True, True)])
def test_each_field_reaches_those_whom_the_table_names(tmp_path: Path, flags: bool, agreed: bool) -> None:
    content = tmp_path / "content"
    text = PLANTED.replace("shows: []\nprivate", "shows: [name, trades, photos]\nprivate") if agreed else PLANTED
    if flags:
        on = ", ".join(f"{flag}: true" for flag in FLAGS)
        text = text.replace("units: {alk", f"publish: {{{on}}}\nunits: {{alk")
    write_journal(text, content)
    rows, wrong = table(), []
    for column, site in zip((0, 1, 2, 2, 3), SITES, strict=True):
        if site == "own" and not (flags and agreed):
            continue  # what is published, and what partners agreed to, changes nothing for the keeper
        out = tmp_path / site.replace(":", "-")
        assert main(["build", f"--content={content}", f"--site={out}", "--as-of=2026-03-05", f"--audience={site}"]) == 0
        bytes_of = written(out)
        assert b"Kanariinside" not in bytes_of, "what a photo's file says of itself stays behind"
        assert site == "own" or b"kanariown" not in bytes_of.lower(), "a water of one's own, with a coral in it"
        for word, path in canaries():
            row = row_of(path, rows)
            if row is None:
                continue
            shown = re.search(rf"(?i)(?<![a-z]){word}(?![a-z])".encode(), bytes_of) is not None
            if shown != expected(row[column], flags, agreed, site):
                wrong.append(
                    f"{site}: {path} ({word}) is {'shown' if shown else 'not shown'}, the table says {row[column]}"
                )
    assert not wrong, "\n".join(sorted(set(wrong)))


# Where the table's words are not all that differs: a room, a coral and a trade of the keeper's own have other ids and
# measures, the hidden coral is a parent and in a text, and a colony came by a plan, in whose file all of it stands.
HIDDEN = """\
--- plans/done.yaml
date: 2026-02-20 10:00
arrived: 2026-02-20 10:00
coming:
  - {coral: big, name: Big, species: Acropora millepora, form: branching, length: 22 cm, width: 20 cm, height: 14 cm,
     mass: 900 g, system: reef, place: kanariplace, x: 60 cm, y: 40 cm}
moving: [{coral: below, to: reef, place: kanariplace, x: 90 cm, y: 45 cm}]
note: Once
--- corals/child.yaml
name: Child
species: Acropora millepora
line: kanariownline
parent: secret
form: branching
arrival: {at: 2026-02-10, how: cutting}
placements: [{since: 2026-02-10, system: reef, place: kanariplace, x: 90 cm, y: 10 cm}]
sizes: [{at: 2026-02-20, length: 3 cm, width: 3 cm, height: 2 cm}]
"""
OTHERWISE = {
    r"corals/secret|\bsecret\b": lambda found: found[0].replace("secret", "aaron"),
    r"\bcellar\b": lambda _: "attic",
    r"kanaritrade\b": lambda _: "aardvark",
    r"kanariownplace": lambda _: "shelf",
    r"plans/done|Once": lambda found: "plans/an-old-one" if found[0] == "plans/done" else "At last",
    r"volume: 40 L": lambda _: "volume: 90 L",
    r"since: 2026-02-01\n": lambda _: "since: 2026-01-01\n",
    r"471\d EUR": lambda _: "3 EUR",
}


def otherwise(text: str, column: int, site: str) -> str:
    """The journal with all else that a site may not show: each word that the table hides from it, and `OTHERWISE`."""
    rows = table()
    for number, (word, path) in enumerate(canaries()):
        row = row_of(path, rows)
        if row is not None and not expected(row[column], False, False, site):
            text = re.sub(rf"\b{word}\b", "3" if word.isdigit() else f"Anders{number}", text)
    for pattern, other in OTHERWISE.items():
        assert re.search(pattern, text), pattern
        text = re.sub(pattern, other, text)
    return text


@pytest.mark.parametrize(("column", "site"), [(0, "public"), (1, "partners"), (2, "partner:other")])
def test_what_is_private_changes_no_byte_of_a_site_for_others(tmp_path: Path, column: int, site: str) -> None:
    """So that no sum, order, address or digest tells of it either."""
    text = PLANTED + HIDDEN
    text = text.replace("Kanaribody\n", "Kanaribody, of [one](coral:secret) in [a room](system:cellar).\n")
    made = []
    for name, journal in (("one", text), ("other", otherwise(text, column, site))):
        write_journal(journal, tmp_path / name / "content")
        words = [f"--content={tmp_path / name / 'content'}", f"--site={tmp_path / name / 'site'}"]
        assert main(["build", *words, "--as-of=2026-03-05", f"--audience={site}"]) == 0
        folder = tmp_path / name / "site"
        files = (path for path in folder.rglob("*") if path.is_file() and "vendor" not in path.parts)
        made.append({path.relative_to(folder).as_posix(): path.read_bytes() for path in files})
    one, other = made
    assert one.keys() == other.keys()
    assert [name for name in one if one[name] != other[name]] == []


@pytest.mark.parametrize("story", ["corals/star.md", "entries/2026-03-01-spring.md"])
def test_a_text_cannot_show_a_photo_to_more_people_than_may_see_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], story: str
) -> None:
    write_archive(PLANTED, tmp_path / "content")
    (tmp_path / "content" / "photos").mkdir()
    for name in set(re.findall(r"Kanari\w+\.png", PLANTED)):
        Image.new("RGB", (60, 40), "navy").save(tmp_path / "content" / "photos" / name)
    with (tmp_path / "content" / story).open("a", encoding="utf-8") as text:
        text.write("![mine](photos/Kanariownphoto.png)\n")
    words = [f"--content={tmp_path / 'content'}", "--as-of=2026-03-05"]
    for command in (["check", *words], ["build", *words, f"--site={tmp_path / 'site'}"]):
        assert main(command) == 1
        said = capsys.readouterr().out
        assert f"{story}:" in said
        assert "this text is for everyone, but its photo 'photos/Kanariownphoto.png' is for you alone" in said
    assert not (tmp_path / "site").exists()


@pytest.mark.parametrize(
    ("site", "agreed", "told"),
    [
        ("public", False, True),
        ("public", True, False),
        ("partner:other", False, True),
        (f"partner:{PARTNER}", False, False),
        ("own", False, False),
    ],
)
def test_the_keeper_is_told_of_a_text_with_a_photo_that_a_partner_did_not_agree_to(
    tmp_path: Path, site: str, agreed: bool, told: bool
) -> None:
    text = PLANTED.replace("shows: []\nprivate", "shows: [photos]\nprivate") if agreed else PLANTED
    story = "Kanaristory\n![then](photos/Kanaribefore.png)\n![now](photos/Kanarishown.png)\n"
    write_journal(text.replace("Kanaristory\n", story), tmp_path / "content")
    journal = load(tmp_path / "content", date(2026, 3, 5)).journal
    assert journal is not None
    audience, _, partner = site.partition(":")
    notices = view(journal, "partners" if partner else audience, partner or None).notices
    said = [str(each) for each in notices if each.kind == "private-photo"]
    assert len(said) == told
    assert all("shows 'photos/Kanaribefore.png', of the time when a partner had the coral" in each for each in said)


@pytest.mark.parametrize("site", SITES)
def test_only_the_public_sites_page_for_lost_addresses_names_a_host(tmp_path: Path, site: str) -> None:
    write_archive(re.sub(r"(?m)^photos:\n(  - .*\n)+", "", PLANTED), tmp_path / "content")
    out = tmp_path / "site"
    words = [f"--content={tmp_path / 'content'}", "--as-of=2026-03-05", f"--site={out}", f"--audience={site}"]
    assert main(["build", *words]) == 0
    asked = b"https://" in (out / "404.html").read_bytes()
    assert asked == (site == "public")
