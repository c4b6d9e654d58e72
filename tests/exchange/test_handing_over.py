"""From one keeper's hands into another's: what is told, what stays at home, and what becomes of the family tree."""

import hashlib
import json
from datetime import date, timedelta
from pathlib import Path

import pytest
import yaml

from generator.__main__ import main
from generator.exchange.document import identity_of
from generator.exchange.reading import read_document
from generator.records.coral import Audience
from generator.records.journal import Journal
from generator.render.audience import view
from tests.exchange.journals import NOW, ines_and_marta

PICTURE = b"a picture\n"


def test_a_record_tells_the_coral_its_origin_and_its_papers_as_given(tmp_path: Path):
    ines, _ = ines_and_marta(tmp_path)
    record = read_document(ines.hand_over("tide-lantern").read_bytes())
    (coral,) = record.records.values()
    assert (coral.name, coral.species, coral.keeper) == ("Tide Lantern", "Acropora millepora", "ines")
    assert (coral.region, coral.year, coral.source_code, coral.appendix) == ("Moluccas", 2018, "F", "II")
    assert coral.permit == "ID-2018-0042"
    assert coral.photos[0].digest == f"sha256:{hashlib.sha256(PICTURE).hexdigest()}"


def test_papers_nobody_gave_are_not_made_up(tmp_path: Path):
    ines, _ = ines_and_marta(tmp_path)
    file = ines.folder / "corals/tide-lantern.yaml"
    file.write_text(file.read_text().replace("  source_code: F\n  appendix: II\n", ""))
    (coral,) = read_document(ines.hand_over("tide-lantern").read_bytes()).records.values()
    assert coral.source_code is None
    assert coral.appendix is None


def test_a_cutting_does_not_inherit_the_source_code_of_its_mother(tmp_path: Path):
    ines, marta = ines_and_marta(tmp_path)
    (new,) = marta.take_in(ines.hand_over("tide-lantern", NOW, "--frags", "1"))
    origin = marta.journal().corals[new].origin
    assert origin is not None
    assert (origin.region, origin.year) == ("Moluccas", 2018)
    assert (origin.source_code, origin.appendix, origin.permit) == (None, None, None)


def test_what_the_keeper_keeps_to_themselves_does_not_leave(tmp_path: Path):
    ines, _ = ines_and_marta(tmp_path)
    ines.write(
        """\
--- corals/secret-mother.yaml
name: CANARY-mother
species: Acropora millepora
line: canary-line
form: branching
audience: own
arrival: {at: 2019-02-01, how: bought, note: CANARY-note}
private: CANARY-private
placements:
  - {since: 2019-02-01, system: reef}
--- corals/daughter.yaml
name: Daughter
species: Acropora millepora
line: canary-line
form: branching
parent: secret-mother
arrival: {at: 2021-02-01, how: cutting, note: CANARY-note}
private: CANARY-private
placements:
  - {since: 2021-02-01, system: reef}
health:
  - {at: 2021-05-01, what: well, note: CANARY-health}
photos:
  - {file: own.png, alt: CANARY-photo, audience: own}
--- corals/daughter.md
CANARY-story
--- photos/own.png
CANARY-pixels
"""
    )
    raw = ines.hand_over("daughter").read_bytes()
    told = raw.decode().replace('"line":"canary-line"', "")
    assert "canary" not in told.lower()
    (coral,) = read_document(raw).records.values()
    assert coral.parent_withheld


def test_a_coral_for_own_eyes_only_is_not_handed_over_at_all(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    ines, _ = ines_and_marta(tmp_path)
    file = ines.folder / "corals/tide-lantern.yaml"
    file.write_text(file.read_text() + "audience: own\n")
    output = tmp_path / "out.json"
    assert main(["origin", "tide-lantern", "--content", str(ines.folder), "--output", str(output)]) == 1
    assert "audience: partners" in capsys.readouterr().err
    assert not output.exists()


def test_all_pieces_of_a_trade_go_into_one_record(tmp_path: Path):
    ines, marta = ines_and_marta(tmp_path)
    ines.write(
        """\
--- trades/2026-10-01-swap.yaml
at: 2026-10-01
partner: marta
gave:
  - {coral: tide-lantern, frags: 3}
received: []
"""
    )
    file = ines.hand_over("2026-10-01-swap")
    record = read_document(file.read_bytes())
    assert len(record.last.about) == 3
    assert record.last.to == "marta"
    new = marta.take_in(file)
    corals = marta.journal().corals
    assert new == {"tide-lantern", "tide-lantern-2", "tide-lantern-3"}
    assert len({corals[id].name for id in new}) == 3
    assert {corals[id].line for id in new} == {"tide-lantern"}


def test_a_partner_who_did_not_agree_to_be_named_is_not_named(tmp_path: Path):
    ines, _ = ines_and_marta(tmp_path)
    ines.write(
        """\
--- partners/marta.yaml
name: marta
--- trades/2026-10-01-swap.yaml
at: 2026-10-01
partner: marta
gave:
  - {coral: tide-lantern}
"""
    )
    assert b"marta" not in ines.hand_over("2026-10-01-swap").read_bytes()


def test_taking_in_keeps_the_record_byte_for_byte(tmp_path: Path):
    ines, marta = ines_and_marta(tmp_path)
    file = ines.hand_over("tide-lantern", NOW, "--frags", "1")
    # Another spacing is the same record, and is kept as it came.
    file.write_bytes(json.dumps(json.loads(file.read_bytes()), indent=3).encode())
    (new,) = marta.take_in(file)
    provenance = marta.journal().corals[new].provenance
    assert provenance is not None
    assert (marta.folder / provenance.file).read_bytes() == file.read_bytes()
    assert [ancestor.name for ancestor in provenance.ancestors] == ["Tide Lantern"]
    assert provenance.ancestors[0].here is None


def test_taking_in_twice_changes_nothing(tmp_path: Path):
    ines, marta = ines_and_marta(tmp_path)
    file = ines.hand_over("tide-lantern", NOW, "--frags", "2")
    marta.take_in(file)
    before = marta.tree()
    assert marta.take_in(file) == set()
    assert marta.tree() == before


def test_names_that_clash_get_a_number_and_nothing_of_ours_is_touched(tmp_path: Path):
    ines, marta = ines_and_marta(tmp_path)
    marta.write(
        """\
--- corals/tide-lantern.yaml
name: Tide Lantern
species: Montipora digitata
line: tide-lantern
form: digitate
arrival: {at: 2022-02-01, how: bought}
placements:
  - {since: 2022-02-01, system: reef}
"""
    )
    before = marta.tree()
    (new,) = marta.take_in(ines.hand_over("tide-lantern", NOW, "--frags", "1"))
    coral = marta.journal().corals[new]
    assert (new, coral.name, coral.line) == ("tide-lantern-2", "Tide Lantern 2", "tide-lantern-2")
    assert before.items() <= marta.tree().items()


@pytest.mark.parametrize(
    "name", ["null", "no", "1e3", "Aux", "a: b", "# hash", "x' y", "*star", "~", "Ünï çødé", "珊瑚"]
)
def test_a_name_that_yaml_would_take_for_something_else_stays_a_name(tmp_path: Path, name: str):
    ines, marta = ines_and_marta(tmp_path)
    file = ines.folder / "corals/tide-lantern.yaml"
    file.write_text(file.read_text().replace("name: Tide Lantern", f"name: {json.dumps(name, ensure_ascii=False)}"))
    (new,) = marta.take_in(ines.hand_over("tide-lantern", NOW, "--frags", "1"))
    assert marta.journal().corals[new].name == name
    assert yaml.safe_load((marta.folder / f"corals/{new}.yaml").read_text())["name"] == name


def family(journal: Journal) -> dict[str, str | None]:
    """Who descends from whom, as one journal tells it: identity to the identity of the parent."""
    keeper = journal.settings.keeper
    tree: dict[str, str | None] = {}
    for coral in journal.corals.values():
        identity = identity_of(coral, keeper)
        chain = [identity]
        if coral.provenance:
            chain += [ancestor.identity for ancestor in coral.provenance.ancestors]
        elif coral.parent:
            chain.append(identity_of(journal.corals[coral.parent], keeper))
        for child, parent in zip(chain, [*chain[1:], None], strict=True):
            if parent is not None:
                assert tree.get(child) in (None, parent), "one coral, two parents"
                tree[child] = parent
            else:
                tree.setdefault(child, None)
    return tree


def test_ten_generations_back_and_forth_keep_one_family_tree(tmp_path: Path):
    ines, marta = ines_and_marta(tmp_path)
    giver, taker, held = ines, marta, "tide-lantern"
    day = date(2021, 3, 1)
    for generation in range(10):
        cut = f"generation-{generation}"
        # Every other generation is a cutting grown on in its keeper's own tank before it is given whole.
        if generation % 2:
            mother = giver.journal().corals[held]
            text = f"""\
--- corals/{cut}.yaml
name: Generation {generation}
species: {mother.species}
line: {mother.line}
form: branching
parent: {held}
arrival: {{at: {day}, how: cutting}}
placements:
  - {{since: {day}, system: reef}}
"""
            giver.write(text)
            file = giver.hand_over(cut, day + timedelta(days=60))
            giver.write(text + f"end: {{at: {day + timedelta(days=60)}, how: given}}\n")
        else:
            file = giver.hand_over(held, day + timedelta(days=60), "--frags", "1")
        (held,) = taker.take_in(file, day + timedelta(days=60))
        giver, taker = taker, giver
        day += timedelta(days=180)
    trees = [family(keeper.journal()) for keeper in (ines, marta)]
    together = trees[0] | trees[1]
    for tree in trees:
        for child, parent in tree.items():
            assert together[child] == parent or parent is None
    roots = {child for child, parent in together.items() if parent is None}
    assert len(roots) == 1
    assert {coral.line for keeper in (ines, marta) for coral in keeper.journal().corals.values()} == {"tide-lantern"}
    # The last one's chain runs through all ten cuttings to the colony that was bought.
    last = giver.journal().corals[held]
    assert last.provenance is not None
    record = read_document((giver.folder / last.provenance.file).read_bytes())
    chain = record.chain(record.last.about[0])
    assert len({each.identity for each in chain}) == 11
    assert len(record.handovers) == 10
    assert chain[-1].region == "Moluccas"


def test_a_colony_given_away_and_given_back_is_the_same_animal(tmp_path: Path):
    ines, marta = ines_and_marta(tmp_path)
    (there,) = marta.take_in(ines.hand_over("tide-lantern", date(2026, 5, 1)), date(2026, 5, 1))
    file = ines.folder / "corals/tide-lantern.yaml"
    file.write_text(file.read_text() + "end: {at: 2026-05-01, how: given}\n")
    (back,) = ines.take_in(marta.hand_over(there, date(2026, 9, 1)), date(2026, 9, 1))
    corals = ines.journal().corals
    assert back == "tide-lantern-2"
    assert identity_of(corals[back], "ines") == identity_of(corals["tide-lantern"], "ines")
    assert corals[back].line == "tide-lantern"
    origin = corals[back].origin
    assert origin is not None
    assert origin.permit == "ID-2018-0042"


def test_a_cutting_that_comes_home_is_tied_to_its_mother_here(tmp_path: Path):
    ines, marta = ines_and_marta(tmp_path)
    (there,) = marta.take_in(ines.hand_over("tide-lantern", date(2026, 5, 1), "--frags", "1"), date(2026, 5, 1))
    (home,) = ines.take_in(marta.hand_over(there, date(2026, 9, 1)), date(2026, 9, 1))
    coral = ines.journal().corals[home]
    assert coral.parent == "tide-lantern"
    assert coral.provenance is not None
    assert [ancestor.here for ancestor in coral.provenance.ancestors] == ["tide-lantern"]


def test_a_received_file_that_was_touched_is_not_passed_on(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    ines, marta = ines_and_marta(tmp_path)
    (there,) = marta.take_in(ines.hand_over("tide-lantern", NOW, "--frags", "1"))
    (received,) = (marta.folder / "received").iterdir()
    received.write_bytes(received.read_bytes().replace(b"Moluccas", b"Atlantis"))
    assert main(["origin", there, "--content", str(marta.folder), "--output", str(tmp_path / "out.json")]) == 1
    assert "was changed since it came" in capsys.readouterr().err


def test_nothing_is_written_when_a_file_stands_in_the_way(tmp_path: Path):
    ines, marta = ines_and_marta(tmp_path)
    file = ines.hand_over("tide-lantern", NOW, "--frags", "1")
    # Not a file the journal reads, yet not ours to overwrite.
    (marta.folder / "corals").mkdir()
    (marta.folder / "corals/tide-lantern.yaml").symlink_to(tmp_path / "elsewhere")
    before = marta.tree()
    assert main(["take-in", str(file), "--content", str(marta.folder)]) == 1
    assert marta.tree() == before
    assert not (tmp_path / "elsewhere").exists()


def test_what_no_known_key_signed_is_not_taken_in_when_a_list_is_given(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    ines, marta = ines_and_marta(tmp_path)
    file = ines.hand_over("tide-lantern", NOW, "--frags", "1")
    allowed = tmp_path / "allowed"
    allowed.write_text("")
    before = marta.tree()
    assert main(["take-in", str(file), "--content", str(marta.folder), "--allowed-signers", str(allowed)]) == 1
    assert "No listed key signed" in capsys.readouterr().err
    assert marta.tree() == before


def test_a_partner_a_trade_or_a_system_that_is_not_ours_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    ines, marta = ines_and_marta(tmp_path)
    file = ines.hand_over("tide-lantern", NOW, "--frags", "1")
    before = marta.tree()
    words = ["--partner", "nemo", "--trade", "2026-01-01-x", "--system", "../reef"]
    assert main(["take-in", str(file), "--content", str(marta.folder), *words]) == 1
    said = capsys.readouterr().err
    assert "no partner 'nemo'" in said
    assert "no trade '2026-01-01-x'" in said
    assert "no system '../reef'" in said
    assert marta.tree() == before


@pytest.mark.parametrize(
    ("end", "asked", "made"),
    [
        ("{at: 2026-07-01, how: died}", "2026-11-20", None),
        ("{at: 2026-07-01, how: died}", "2026-06-01", "2026-06-01"),
        ("{at: 2026-07-01, how: given}", "2026-11-20", "2026-07-01"),
        ("{at: 2026-07-01, how: given}", "2019-11-20", None),
    ],
)
def test_a_coral_is_handed_over_only_on_a_day_on_which_it_is_here(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], end: str, asked: str, made: str | None
):
    ines, _ = ines_and_marta(tmp_path)
    with (ines.folder / "corals" / "tide-lantern.yaml").open("a") as file:
        file.write(f"end: {end}\n")
    out = tmp_path / "out.json"
    words = ["origin", "tide-lantern", "--content", str(ines.folder), "--output", str(out), "--as-of", asked]
    assert main(words) == (made is None)
    if made is None:
        assert "was here from 2020-02-01 to 2026-07-01" in capsys.readouterr().err
        assert not out.exists()
    else:
        assert read_document(out.read_bytes()).last.at.isoformat() == made


def test_pieces_are_of_a_coral_and_one_or_more(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    ines, _ = ines_and_marta(tmp_path)
    for number in ("0", "-3"):
        words = ["origin", "tide-lantern", "--content", str(ines.folder), f"--frags={number}"]
        assert main(words) == 1
        assert "1 to 999" in capsys.readouterr().err


def test_a_record_is_not_written_over_another_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    ines, _ = ines_and_marta(tmp_path)
    output = tmp_path / "out.json"
    output.write_text("mine")
    assert main(["origin", "tide-lantern", "--content", str(ines.folder), "--output", str(output)]) == 1
    assert "cannot be written" in capsys.readouterr().err
    assert output.read_text() == "mine"


def test_our_own_text_that_others_would_refuse_is_named_before_it_leaves(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    ines, _ = ines_and_marta(tmp_path)
    file = ines.folder / "corals/tide-lantern.yaml"
    file.write_text(file.read_text().replace("name: Tide Lantern", "name: <b>Tide</b>"))
    output = tmp_path / "out.json"
    assert main(["origin", "tide-lantern", "--content", str(ines.folder), "--output", str(output)]) == 1
    assert "correct it in your files" in capsys.readouterr().err
    assert not output.exists()


@pytest.mark.parametrize("audience", ["public", "partners"])
def test_who_had_it_before_is_for_the_keepers_own_pages(tmp_path: Path, audience: Audience):
    ines, marta = ines_and_marta(tmp_path)
    (new,) = marta.take_in(ines.hand_over("tide-lantern", NOW, "--frags", "1"))
    assert view(marta.journal(), "own").corals[new].provenance is not None
    assert view(marta.journal(), audience).corals[new].provenance is None


def test_no_digest_lets_others_try_what_is_hidden_of_those_who_had_it_before(tmp_path: Path):
    ines, marta = ines_and_marta(tmp_path)
    (new,) = marta.take_in(ines.hand_over("tide-lantern", NOW, "--frags", "1"))
    for audience, told in (("own", True), ("public", False), ("partners", False)):
        site = tmp_path / audience
        words = ["--content", str(marta.folder), "--site", str(site), "--audience", audience, "--as-of", str(NOW)]
        assert main(["build", *words]) == 0
        paper = (site / "origin" / f"{new}.html").read_text()
        assert ("ID-2018-0042" in paper) == told
        assert ("SHA-256" in paper) == ('class="qr"' in paper) == told


def test_the_same_coral_on_the_same_day_makes_the_same_bytes(tmp_path: Path):
    ines, _ = ines_and_marta(tmp_path)
    first = ines.hand_over("tide-lantern", NOW, "--frags", "2").read_bytes()
    assert ines.hand_over("tide-lantern", NOW, "--frags", "2").read_bytes() == first


def test_a_photo_nobody_described_is_told_by_the_corals_name(tmp_path: Path):
    ines, _ = ines_and_marta(tmp_path)
    file = ines.folder / "corals/tide-lantern.yaml"
    file.write_text(file.read_text().replace("alt: A colony with green tips, ", ""))
    (coral,) = read_document(ines.hand_over("tide-lantern").read_bytes()).records.values()
    assert coral.photos[0].description == "a photo of Tide Lantern without a description"


def test_corals_that_are_not_here_yet_are_not_taken_in(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    ines, marta = ines_and_marta(tmp_path)
    file = ines.hand_over("tide-lantern", NOW, "--frags", "1")
    before = marta.tree()
    assert main(["take-in", str(file), "--content", str(marta.folder), "--at", "2190-01-01"]) == 1
    assert "2190-01-01 is in the future" in capsys.readouterr().err
    words = ["--as-of", "2026-01-01", "--at", "2026-01-02"]
    assert main(["take-in", str(file), "--content", str(marta.folder), *words]) == 1
    assert "2026-01-02 is in the future" in capsys.readouterr().err
    assert marta.tree() == before


def test_what_a_new_file_does_not_say_of_partner_and_water_is_asked_for(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    ines, marta = ines_and_marta(tmp_path)
    file = ines.hand_over("tide-lantern", NOW, "--frags", "1")
    capsys.readouterr()
    words = ["take-in", str(file), "--content", str(marta.folder), "--at", NOW.isoformat()]
    assert main(words) == 0
    said = capsys.readouterr().out
    assert "this counts in no partner's account yet" in said
    assert "this is in no system yet" in said
    assert main(words) == 0
    assert "yet" not in capsys.readouterr().out, "it is here already"
