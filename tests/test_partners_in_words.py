"""Partners named in a keeper's own words: told to the keeper, and left out of the folder that another partner gets."""

from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from generator.__main__ import main
from generator.read.load import load
from generator.render.audience import view
from tests.archive import write_archive

_JOURNAL = """\
--- journal.yaml
title: The reef
keeper: Wren Halloway
time_zone: Europe/Lisbon
publish: {log_notes: true}
--- systems/reef.yaml
name: Reef
water: {volume: 400 L, uncertainty: 10 L}
low: {alkalinity: 7.0 dKH}
high: {alkalinity: 9.0 dKH}
--- partners/oona.yaml
name: Oona Vantorre
public_name: the lamp maker
--- partners/club.yaml
name: Reef Hall Keepers
shows: [name]
public_name: Reef Hall
--- corals/ember.yaml
name: Ember
species: Acropora millepora
line: ember
form: branching
arrival: {at: 2020-02-01, how: bought}
placements: [{since: 2020-02-01, system: reef}]
cuttings: [{at: 2026-05-01, frags: 1, note: For Oona.}]
health: [{at: 2026-05-02, what: inspection, note: Oona Vantorre looked too; Vantorre is her second name.}]
photos: [{file: ember.png, alt: Ember, credit: Oona}]
--- corals/ember.md
Grown in the reef, and for

the lamp maker.
--- entries/2026-05-03-tea.md
---
title: Tea
at: 2026-05-03
---
Nobody is named here, and Oonagh is somebody else.
--- entries/2026-05-04-hall.md
---
title: An evening
at: 2026-05-04
---
We were at Reef Hall.
--- entries/2026-05-05-lamp.md
---
title: A lamp from Oona
at: 2026-05-05
---
It is bright. See [tea](entry:2026-05-03-tea).
--- entries/2026-05-06-after.md
---
title: After
at: 2026-05-06
---
As [told](entry:2026-05-05-lamp).
--- logs/reef/2026-05.yaml
- at: 2026-05-02 10:00
  readings: {alkalinity: 8.1 dKH}
- at: 2026-05-07 10:00
  note: Oona came by.
- at: 2026-05-08 10:00
  event: {what: feeding, text: Oona fed them.}
"""
_SAID_OF_OONA = [
    "corals/ember.md:3: warning: this names 'the lamp maker'",
    "corals/ember.yaml:7: warning: this names 'Oona'",
    "corals/ember.yaml:8: warning: this names 'Oona Vantorre'",
    "corals/ember.yaml:9: warning: this names 'Oona'",
    "entries/2026-05-05-lamp.md:2: warning: this names 'Oona'",
    "logs/reef/2026-05.yaml:4: warning: this names 'Oona'",
    "logs/reef/2026-05.yaml:6: warning: this names 'Oona'",
]


@pytest.fixture
def built(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    """Builds the site of an audience: what was said, and every byte of it as one text."""
    content = write_archive(_JOURNAL, tmp_path / "content")
    (content / "photos").mkdir()
    from PIL import Image

    Image.new("RGB", (40, 30), "teal").save(content / "photos" / "ember.png")

    def build(audience: str) -> tuple[list[str], str]:
        site = tmp_path / audience.replace(":", "-")
        words = ["build", "--content", str(content), "--site", str(site), "--audience", audience]
        assert main([*words, "--as-of", "2026-06-01"]) == 0
        said = [line for line in capsys.readouterr().out.splitlines() if "this names" in line]
        files = (path for path in site.rglob("*") if path.is_file() and "vendor" not in path.parts)
        return said, "\n".join(f"{path}\n{path.read_bytes().decode('latin-1')}" for path in files)

    return build


def test_a_partners_folder_has_no_words_that_name_another_and_the_keeper_is_told_which(built):
    said, site = built("partner:club")
    assert [line[: len(start)] for line, start in zip(said, _SAID_OF_OONA, strict=True)] == _SAID_OF_OONA
    assert all("; the site leaves it out" in line for line in said)
    assert "Oona" not in site.replace("Oonagh", "")
    assert "Vantorre" not in site
    assert "lamp maker" not in site
    for kept in ("Oonagh is somebody else", "We were at Reef Hall", "As told"):
        assert kept in site


def test_a_partner_reads_their_own_name(built):
    said, site = built("partner:oona")
    assert "It is bright" in site
    assert "Oona fed them" in site
    assert [line.partition(" warning")[0] for line in said] == ["entries/2026-05-04-hall.md:5:"]


@pytest.mark.parametrize("audience", ["public", "partners"])
def test_words_for_everybody_stay_as_written_and_the_keeper_is_told_whom_they_name(built, audience: str):
    said, site = built(audience)
    assert len(said) == len(_SAID_OF_OONA) + (audience == "public")
    assert not any("left out" in line for line in said)
    assert "Oona fed them" in site


def test_the_keepers_own_site_says_nothing_of_it(built):
    said, site = built("own")
    assert said == []
    assert "A lamp from Oona" in site


_WRITTEN = """\
--- journal.yaml
title: Das Riff
keeper: Wren Vantorre
time_zone: Europe/Lisbon
publish: {{log_notes: true}}
--- systems/reef.yaml
name: Reef
water: {{volume: 400 L, uncertainty: 10 L}}
low: {{alkalinity: 7.0 dKH}}
high: {{alkalinity: 9.0 dKH}}
--- partners/joerg.yaml
name: Jörg O'Dara
--- partners/oona.yaml
name: Oona Finch-Tarrow, skipper of the Patience
public_name: the lamp maker
--- partners/lane.yaml
name: Reef Lane School
--- partners/hafen.yaml
name: Schule am Hafen
--- partners/club.yaml
name: Reef Hall Keepers
--- corals/ember.yaml
name: Ember
species: Acropora millepora
line: ember
form: branching
arrival: {{at: 2020-02-01, how: bought}}
placements: [{{since: 2020-02-01, system: reef}}]
--- corals/ember.md
The school is out, and the patience of a reef is long.
Keine Schule hat so ein Riff, und kaum ein Hafen.
--- {file}
{text}
"""
_ENTRY = "entries/2026-05-03-tea.md", "---\ntitle: Tea\nat: 2026-05-03\n---\n{}"


@pytest.fixture
def told(journal: Callable[[str], Path]) -> Callable[..., list[str]]:
    """The names that the keeper is told of where a journal has one file more, and what is left of that file."""

    def names(file: str, text: str) -> list[str]:
        read = load(journal(_WRITTEN.format(file=file, text=text)), date(2026, 6, 1))
        assert not read.errors
        seen = view(read.journal, "partners", "club")
        names = [notice.wrong.split("names '", 1)[1].split("', but", 1)[0] for notice in seen.notices]
        assert bool(names) != ("2026-05-03-tea" in seen.entries) or not file.startswith("entries/")
        return names

    return names


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("Für OONA.", "OONA"),
        ("Oonas Becken.", "Oona"),
        ("Das war Oona's Idee.", "Oona"),
        ("Ein Oona-Becken.", "Oona"),
        ("_Oona_ war hier.", "Oona"),
        ("Oon**a** war hier.", "Oona"),
        ("Oo\u00adna\u200b war hier.", "Oona"),
        ("oona finch-tarrow war hier", "oona finch-tarrow"),
        ("Frau Finch-Tarrows Boot.", "Finch-Tarrow"),
        ("Finch\u2011Tarrow rief an.", "Finch-Tarrow"),
        ("Mit der Lampe, die the lamp\nmaker baute.", "the lamp maker"),
        ("Bei der Schule am Hafen.", "Schule am Hafen"),
        ("Bei Jörgs Becken.", "Jörg"),
        ("Bei JO\u0308RG.", "JÖRG"),
        ("Bei Joerg.", "Joerg"),
        ("Bei J&ouml;rg.", "Jörg"),
        ("Herr O’Dara rief an.", "O'Dara"),
        ("Wir trafen Reef\nLane School.", "Reef Lane School"),
        ("Wir trafen **Reef** *Lane*.", "Reef Lane"),
        ("![Ein Becken](photos/oonas-becken2.png)", "Oona"),
        ("[Hier](https://example.org/~oona/)", "Oona"),
    ],
)
def test_a_name_is_found_however_it_is_written(told: Callable[..., list[str]], text: str, name: str) -> None:
    file, entry = _ENTRY
    assert told(file, entry.format(text)) == [name]


@pytest.mark.parametrize(
    "text",
    [
        "Oonagh is somebody else.",
        "School begins again, with patience. Patience!",
        "The reef, in a lane. A lamp, for the maker.",
        "The Vantorres have a reef: Reef!",
        "See [before](entry:2026-05-03-tea).",
        "Die Schule liegt am Meer, der Hafen nicht.",
        "Reef Hall Keepers know who they are, and so do Reef Hall.",
    ],
)
def test_what_names_nobody_else_stays(told: Callable[..., list[str]], text: str) -> None:
    file, entry = _ENTRY
    assert told(file, entry.format(text)) == []


@pytest.mark.parametrize(
    ("file", "text", "name"),
    [
        ("entries/2026-05-03-oonas-tea.md", "---\ntitle: Tea\nat: 2026-05-03\n---\nTea.", "Oona"),
        (
            "corals/joerg-1.yaml",
            "name: Kelp\nspecies: Acropora millepora\nline: kelp\nform: branching\n"
            "arrival: {at: 2020-02-01, how: bought}\nplacements: [{since: 2020-02-01, system: reef}]",
            "Joerg",
        ),
        ("trades/2025-02-01-odara.yaml", "at: 2025-02-01\npartner: club\nowed: [{by: us, what: a frag}]", "Odara"),
    ],
)
def test_a_name_in_an_address_is_told_too(told: Callable[..., list[str]], file: str, text: str, name: str) -> None:
    assert told(file, text) == [name]
