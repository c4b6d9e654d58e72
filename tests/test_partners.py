"""What each audience gets of a journal, over every byte that is written: pages, data, search, feeds and pictures."""

import json
import re
import shutil
import subprocess
from pathlib import Path

import pytest
from PIL import Image, PngImagePlugin

from generator.__main__ import main
from tests.archive import write_archive
from tests.render.pages import texts

AS_OF = "2026-11-20"


def _partner(who: str) -> str:
    day, coral = f"2026-05-0{ord(who[-1]) - ord('a') + 1}", f"{who}-lantern"
    return f"""\
--- partners/canary{who}.yaml
name: CANARY{who} name
public_name: CANARY{who} public name
shows: [name, trades, photos]
private: CANARYOWN of {who}
--- corals/{coral}.yaml
name: Lantern of {who[-1]}
species: Acropora millepora
line: lantern
form: branching
arrival: {{at: {day}, how: trade, partner: canary{who}, trade: {day}-canary{who}, note: CANARYOWN note}}
origin: {{region: Moluccas, year: 2018, permit: CANARYOWN permit}}
placements: [{{since: {day}, system: reef}}]
sizes: [{{at: {day}, length: 5 cm, width: 4 cm, height: 3 cm}}]
private: CANARYOWN of coral
--- trades/{day}-canary{who}.yaml
at: {day}
partner: canary{who}
gave:
  - {{coral: mother, frags: 2, worth: {7100 + len(who)}.37 EUR}}
received:
  - {{coral: {coral}, worth: {7200 + len(who)}.37 EUR}}
paid: 7301.37 EUR
owed:
  - by: us
    what: CANARY{who} promise
    coral: mother
    due: 2026-12-0{len(who)}
travel:
  container: {who}-crate
  water: 9 L
  duration: 55 min
  distance: 43 km
  temperatures: [{{after: 0 min, water: 25 °C, air: 12 °C}}, {{after: 55 min, water: 24 °C, air: 12 °C}}]
  packing: CANARY{who} packing
inspection: CANARY{who} inspection
checks: [{{days: 0, condition: good, coral: {coral}, note: CANARY{who} state}}]
note: CANARYOWN note of {who}
private: CANARYOWN private
--- plans/{who}-plan.yaml
since: {day}
date: 2026-12-0{len(who)}
partner: canary{who}
keeps: {day}-canary{who}
going: [{{coral: mother}}]
travel: {{container: {who}-crate, duration: 50 min, distance: 41 km, packing: CANARYOWN plan with {who}}}
--- entries/{day}-{who}.md
---
title: With {who[-1]}
at: {day}
audience: own
---
CANARYOWN words
"""


_JOURNAL = """\
--- journal.yaml
title: Two friends
keeper: Wren Halloway
time_zone: Europe/Lisbon
base_url: https://two-friends.example/
publish: {partner_names: false, offers: true, containers: true}
containers:
  oona-crate: {length: 66 cm, width: 54 cm, height: 41 cm}
  oonb-crate: {length: 60 cm, width: 42 cm, height: 40 cm}
--- systems/reef.yaml
name: Reef
water: {volume: 400 L, uncertainty: 10 L}
low: {alkalinity: 7.0 dKH}
high: {alkalinity: 9.0 dKH}
--- systems/back.yaml
name: CANARYOWN room
water: {volume: 100 L, uncertainty: 10 L}
low: {alkalinity: 7.0 dKH}
high: {alkalinity: 9.0 dKH}
audience: own
--- logs/reef/2026-05.yaml
- at: 2026-05-02 10:00
  readings: {alkalinity: 8.1 dKH}
- at: 2026-05-03 10:00
  note: CANARYOWN note in the log
--- corals/mother.yaml
name: Mother
species: Acropora millepora
line: lantern
form: branching
arrival: {at: 2020-02-01, how: bought}
placements: [{since: 2020-02-01, system: reef}]
sizes: [{at: 2026-05-01, length: 20 cm, width: 18 cm, height: 12 cm}]
cuttings: [{at: 2026-04-20, frags: 4}]
photos: [{file: mother.png, alt: A colony}]
to_offer: true
--- corals/hidden.yaml
name: CANARYOWN coral
species: Acropora humilis
line: canaryown
form: branching
arrival: {at: 2020-02-01, how: bought}
placements: [{since: 2020-02-01, system: back}]
photos: [{file: canaryown.png, alt: CANARYOWN alt}]
audience: own
--- corals/for-partners.yaml
name: CANARYPARTNERS coral
species: Acropora humilis
line: for-partners
form: branching
arrival: {at: 2020-02-01, how: bought}
placements: [{since: 2020-02-01, system: reef}]
audience: partners
"""
_WHO = ("oona", "oonb")


@pytest.fixture(scope="module")
def content(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = write_archive(_JOURNAL + "".join(map(_partner, _WHO)), tmp_path_factory.mktemp("friends"))
    words = PngImagePlugin.PngInfo()
    words.add_text("Comment", "CANARYOWN metadata")
    (folder / "photos").mkdir()
    for name in ("mother", "canaryown"):
        Image.new("RGB", (40, 30), "teal").save(folder / "photos" / f"{name}.png", pnginfo=words)
    return folder


def _built(content: Path, site: Path, audience: str, *more: str) -> str:
    """Every address and byte of an audience's site as one text."""
    words = ["build", "--content", str(content), "--site", str(site), "--audience", audience, "--as-of", AS_OF]
    assert main([*words, *more]) == 0
    files = sorted(path for path in site.rglob("*") if path.is_file())
    assert len(files) > 20
    return "\n".join(f"{path.relative_to(site)}\n{path.read_bytes().decode('latin-1')}" for path in files)


@pytest.fixture(scope="module")
def sites(content: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    place = tmp_path_factory.mktemp("sites")
    audiences = ("own", "public", "partners", *(f"partner:canary{who}" for who in _WHO))
    return {each: _built(content, place / each.replace(":", "-"), each) for each in audiences}


def test_the_keeper_finds_every_canary_so_that_the_search_for_them_can_fail(sites: dict[str, str]) -> None:
    for word in ("CANARYOWN", "CANARYPARTNERS", *(f"CANARY{who}" for who in _WHO), "7301.37", "41 km", "43 km"):
        assert word in sites["own"].replace("\u00c2\u00a0", " ").replace("\u00a0", " "), word


@pytest.mark.parametrize("audience", ["public", "partners", *(f"partner:canary{who}" for who in _WHO)])
def test_nothing_private_is_in_any_byte_that_leaves(sites: dict[str, str], audience: str) -> None:
    assert "canaryown" not in sites[audience].casefold()


def test_nothing_of_any_partner_and_nothing_for_partners_is_public(sites: dict[str, str]) -> None:
    public = sites["public"].casefold()
    assert "canarypartners" not in public
    for who in _WHO:
        assert f"canary{who}" not in public
    assert "7301.37" not in public


@pytest.mark.parametrize(("mine", "other"), [_WHO, _WHO[::-1]])
def test_a_partner_gets_all_of_their_trades_and_nothing_of_anothers(
    sites: dict[str, str], mine: str, other: str
) -> None:
    site = sites[f"partner:canary{mine}"]
    for told in ("public name", "promise", "packing", "inspection", "state"):
        assert f"CANARY{mine} {told}" in site, told
    assert "CANARYPARTNERS" in site
    assert "7301.37" in site
    assert f"canary{other}" not in site.casefold()


def _page(site: str, name: str) -> str:
    """What a page of a site says."""
    html = "<" + site.split(f"\n{name}\n<", 1)[1].split("</html>", 1)[0] + "</html>"
    return " ".join(" ".join(text for _, text in texts(html)).replace("\u00c2", "").split())


@pytest.mark.parametrize("audience", ["public", "partners", *(f"partner:canary{who}" for who in _WHO)])
def test_guests_come_to_the_journal_and_are_given_nothing_to_do(sites: dict[str, str], audience: str) -> None:
    first = _page(sites[audience], "index.html")
    assert first.index("Some of the corals") < first.index("The water")
    assert "Today" in _page(sites["own"], "index.html")
    for to_do in ("Today", "Test alkalinity", "add to the log", "corallite arrive"):
        assert to_do not in first
    for page in ("travel/index.html", "offers.html"):
        said = _page(sites[audience], page)
        assert "corallite journey" not in said
        assert "journal.yaml" not in said


@pytest.mark.parametrize("who", _WHO)
def test_a_partner_reads_what_was_given_taken_and_is_owed_from_their_own_side(sites: dict[str, str], who: str) -> None:
    """The keeper gave two frags and 7301.37 EUR, took one coral, and owes something."""
    said = _page(sites[f"partner:canary{who}"], "trades/index.html")
    given = f"Mother , 2 frags ({7100 + len(who)}.37 EUR) Lantern of {who[-1]} ({7200 + len(who)}.37 EUR)"
    assert said.index("You received You gave") < said.index(given)
    assert f"you are owed: CANARY{who} promise" in said
    assert f"You are owed one thing: CANARY{who} promise, 2" in said, "and nobody is told their own name"


def test_a_partners_folder_holds_the_record_of_what_they_got_and_its_paper_gives_its_digest(
    content: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _built(content, tmp_path / "site", "partner:canaryoona")
    name = "2026-05-01-canaryoona"
    file = tmp_path / "site" / "origin" / "trades" / f"{name}.json"
    digest = json.loads(file.read_text())["digest"].removeprefix("sha256:")
    assert digest in (file.with_suffix(".html")).read_text()
    capsys.readouterr()
    assert main(["verify", str(file), "--digest", digest]) == 0
    assert "This is the record with the given digest." in capsys.readouterr().out
    assert sorted(path.name for path in file.parent.iterdir()) == [f"{name}.html", f"{name}.json"]


def test_the_paper_of_a_coral_that_is_gone_is_that_of_its_last_day(content: Path, tmp_path: Path) -> None:
    gone = shutil.copytree(content, tmp_path / "content")
    with (gone / "corals" / "for-partners.yaml").open("a") as file:
        file.write("end: {at: 2026-06-01, how: died}\n")
    said = re.sub(r"</?span[^>]*>", "", _built(gone, tmp_path / "site", "own"))
    assert said.count("would hand it over on 2026-06-01") == 1
    assert "would hand it over on 2026-11-20" in said


@pytest.mark.skipif(shutil.which("ssh-keygen") is None, reason="needs OpenSSH")
def test_a_partners_record_is_signed_with_the_key_that_is_given(content: Path, tmp_path: Path) -> None:
    key = tmp_path / "key"
    subprocess.run(["ssh-keygen", "-q", "-t", "ed25519", "-N", "", "-f", str(key)], check=True)
    _built(content, tmp_path / "site", "partner:canaryoona", "--key", str(key))
    page = (tmp_path / "site" / "origin" / "trades" / "2026-05-01-canaryoona.html").read_text()
    assert "signed by ED25519 key" in page
    assert "PRIVATE" not in "".join(path.read_bytes().decode("latin-1") for path in (tmp_path / "site").rglob("*.*"))


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--audience", "everyone"], "is not an audience"),
        (["--audience", "partner:"], "is not an audience"),
        (
            ["--audience", "partner:nobody", "--site", "x"],
            "there is no partner 'nobody' (write one of canaryoona, canaryoonb)",
        ),
        (["--audience", "partner:canaryoona"], "a site for a partner needs a folder of its own"),
        (["--audience", "own", "--key", "x"], "--key signs the records of one partner"),
    ],
)
def test_what_cannot_be_built_is_said_and_nothing_is_written(
    content: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    words: list[str],
    said: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["build", "--content", str(content), "--as-of", AS_OF, *words]) == 1
    assert said in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []
