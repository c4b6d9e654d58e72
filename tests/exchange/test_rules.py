"""Single rules of the exchange, each in a case that no other rule would catch."""

from pathlib import Path

import pytest

from generator.exchange.document import Refused, check_text, plain_letters
from generator.exchange.reading import read_document
from generator.exchange.record_of_origin import Piece, make, photos_to_hash
from generator.exchange.verify import signer_of
from tests.exchange.journals import NOW, Keeper, ines_and_marta

_LINE = """\
--- corals/{id}.yaml
name: {name}
species: Acropora millepora
line: tide-lantern
form: branching
parent: {parent}
audience: {audience}
arrival: {{at: {at}, how: cutting}}
placements:
  - {{since: {at}, system: reef}}
photos:
  - {{file: {id}.png, alt: A cutting}}
  - {{file: {id}-own.png, alt: For the keeper, audience: own}}
--- photos/{id}.png
a picture
--- photos/{id}-own.png
a picture
"""


def with_a_line(keeper: Keeper, mothers_audience: str) -> Keeper:
    """The lantern, a cutting of it, and a cutting of that."""
    keeper.write(
        _LINE.format(id="mother", name="Mother", parent="tide-lantern", audience=mothers_audience, at="2021-02-01")
        + _LINE.format(id="daughter", name="Daughter", parent="mother", audience="partners", at="2022-02-01")
    )
    return keeper


@pytest.mark.parametrize(
    ("mothers_audience", "photos"), [("partners", ["daughter", "mother", "lantern"]), ("own", ["daughter"])]
)
def test_a_record_shows_the_line_up_to_the_first_ancestor_that_is_not_to_be_seen(
    tmp_path: Path, mothers_audience: str, photos: list[str]
):
    ines = with_a_line(ines_and_marta(tmp_path)[0], mothers_audience)
    asked = photos_to_hash(ines.journal(), [Piece("daughter")])
    assert asked == tuple(f"{name}.png" for name in photos)
    record = read_document(ines.hand_over("daughter").read_bytes())
    assert sum(len(coral.photos) for coral in record.records.values()) == len(photos)


def test_what_came_with_a_coral_goes_on_with_it_or_nothing_does(tmp_path: Path):
    ines, marta = ines_and_marta(tmp_path)
    (there,) = marta.take_in(ines.hand_over("tide-lantern", NOW, "--frags", "1"))
    (received,) = (marta.folder / "received").iterdir()
    journal, name = marta.journal(), f"received/{received.name}"
    with_it, _ = make(journal, [Piece(there)], NOW, {}, {name: received.read_bytes()})
    assert len(with_it["handovers"]) == 2, "Ines's hand, and Marta's"
    with pytest.raises(Refused, match=f"{name} is missing; '{there}' came with it .put the file back"):
        make(journal, [Piece(there)], NOW, {}, {})


def a_keygen(folder: Path, says: str, code: int) -> Path:
    """A stand-in for ssh-keygen that says something and ends with a code."""
    folder.mkdir()
    program = folder / "ssh-keygen"
    program.write_text(f"#!/bin/sh\ncat >/dev/null\necho '{says}'\nexit {code}\n")
    program.chmod(0o755)
    return folder


_GOOD = f'Good "record-of-origin@corallite" signature with ED25519 key SHA256:{"A" * 43}'


@pytest.mark.parametrize(
    ("says", "code", "believed"), [(_GOOD, 0, True), (_GOOD, 255, False), ("Good signature", 0, False)]
)
def test_a_signature_counts_only_if_the_checker_ends_well_and_names_the_key(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, says: str, code: int, believed: bool
):
    monkeypatch.setenv("PATH", str(a_keygen(tmp_path / "bin", says, code)), prepend=":")
    signer = signer_of(b"a message", "a signature")
    assert (signer is not None) == believed
    if signer is not None:
        assert (signer.key_type, signer.fingerprint) == ("ED25519", f"SHA256:{'A' * 43}")


@pytest.mark.parametrize("name", ["Nº 3 Lantern", "1ª Colônia", "H₂O blue", "5 cm² frag", "half ½", "Tide™", "red…"])
def test_ordinals_and_signs_that_are_no_letters_may_stand_in_a_name(name: str):
    check_text(name, "name")


@pytest.mark.parametrize("name", ["＝1+1", "Tide！", "ﬁn", "Ｔide", "ˢoft", "ℓagoon"])
def test_wide_signs_and_letters_that_only_look_plain_may_not(name: str):
    with pytest.raises(Refused) as refusal:
        check_text(name, "name")
    assert refusal.value.kind == "look-alike"


@pytest.mark.parametrize(
    ("typed", "shown"),
    [
        ("Ines’  Reef ", "Ines’ Reef"),
        ("＝SUM", "=SUM"),
        ("ﬁne", "fine"),
        ("Cafe\u0301", "Café"),
        ("a\u200db\u00adc", "abc"),
        ("a\u3164b", "ab"),
        ("½ m², 3 ℃", "½ m², 3 ℃"),
        ("Ⅳ", "Ⅳ"),
        ("𝐁old", "Bold"),
    ],
)
def test_our_own_text_goes_into_a_record_as_it_is_seen(typed: str, shown: str):
    assert plain_letters(typed) == shown
    check_text(plain_letters(typed), "name")
