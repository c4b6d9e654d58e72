"""Who signed what: changes, swaps, cuts, replays and new keys, each as a forger would make it look right."""

import copy
import json
import shutil
import subprocess
from datetime import date
from functools import cache
from pathlib import Path
from tempfile import mkdtemp

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec import Struct

from generator.__main__ import main
from generator.exchange.document import Refused, canonical, digest
from generator.exchange.reading import read_document
from generator.exchange.verify import NAMESPACE, sign, verify
from generator.records.coral import Verdict
from tests.exchange.journals import ines_and_marta
from tests.exchange.reseal import Json, at, changed, raw, rechained, relisted, sealed, steps, without

pytestmark = pytest.mark.skipif(shutil.which("ssh-keygen") is None, reason="needs OpenSSH")


def new_key(path: Path) -> Path:
    subprocess.run(["ssh-keygen", "-q", "-t", "ed25519", "-N", "", "-C", "", "-f", str(path)], check=True)
    return path


class Scene(Struct, frozen=True, dict=True):
    """Ines gave Marta a cutting, and Marta gives one of that back: two signed hands, three corals."""

    document: Json
    first: Json
    allowed: Path
    folder: Path


@cache
def scene() -> Scene:
    place = Path(mkdtemp())
    ines, marta = ines_and_marta(place)
    keys = {name: new_key(place / f"key-{name}") for name in ("ines", "marta")}
    first = ines.hand_over("tide-lantern", date(2026, 5, 1), "--frags", "1", "--key", str(keys["ines"]))
    (there,) = marta.take_in(first, date(2026, 5, 2))
    second = marta.hand_over(there, date(2026, 9, 1), "--frags", "1", "--key", str(keys["marta"]))
    allowed = place / "allowed_signers"
    allowed.write_text(
        "".join(f"{name} {key.with_suffix('.pub').read_text()}" for name, key in keys.items()), encoding="utf-8"
    )
    return Scene(json.loads(second.read_bytes()), json.loads(first.read_bytes()), allowed, place)


def judged(document: Json) -> Verdict:
    return verify(read_document(raw(document)), scene().allowed)


def is_caught(document: Json) -> bool:
    try:
        return bool(judged(document).faults)
    except Refused:
        return True


def test_a_record_as_it_was_handed_over_is_sound():
    verdict = judged(scene().document)
    assert not verdict.faults
    said = [(statement.id, dict(statement.facts)) for statement in verdict.proven]
    assert [dict(facts)["known_as"] for id, facts in said if id == "signed-by-known"] == ["marta", "ines"]
    assert [id for id, _ in said] == ["signed-by-known", "chain", "signed-by-known"]
    chain = next(facts for id, facts in said if id == "chain")
    assert (chain["corals"], chain["hands"], chain["oldest"]) == ("3", "2", "Tide Lantern")
    assert {"coral", "papers"} <= {statement.id for statement in verdict.claimed}


def test_another_spacing_or_order_of_keys_is_no_change():
    loose = json.dumps(dict(reversed(scene().document.items())), indent=2).encode()
    assert not verify(read_document(loose), scene().allowed).faults


@given(st.data())
def test_no_single_byte_can_be_changed_with_a_change_of_meaning(data: st.DataObject):
    before = raw(scene().document)
    place = data.draw(st.integers(0, len(before) - 1))
    byte = data.draw(st.integers(0, 255).filter(lambda value: value != before[place]))
    forged = before[:place] + bytes([byte]) + before[place + 1 :]
    try:
        document = read_document(forged)
    except Refused:
        return
    assert document.digest == scene().document["digest"], "the same meaning has the same digest"
    assert json.loads(forged) == scene().document


_OTHER = st.one_of(
    st.none(), st.booleans(), st.integers(-5, 3000), st.text(max_size=8), st.just([]), st.just({}), st.floats()
)


@given(st.data())
def test_no_part_can_be_changed(data: st.DataObject):
    document = scene().document
    path = data.draw(st.sampled_from(steps(document)))
    before = at(document, path)
    new = data.draw(_OTHER.filter(lambda value: value != before or type(value) is not type(before)))
    try:
        forged = json.dumps(changed(document, path, new)).encode()
        assert verify(read_document(forged), scene().allowed).faults
    except Refused:
        return


@given(st.data())
def test_no_part_can_be_changed_by_one_who_mends_every_digest(data: st.DataObject):
    document = scene().document
    path = data.draw(st.sampled_from([path for path in steps(document) if path[0] in ("records", "handovers")]))
    if isinstance(path[-1], str) and data.draw(st.booleans()):
        forged = without(document, path)
    else:
        before = at(document, path)
        text = st.sampled_from(["Ember", "2019-01-01", "wild", "F", "W", "II", "urn:uuid:" + "0" * 8, "other"])
        new = data.draw(text.filter(lambda value: value != before)) if isinstance(before, str) else copy.deepcopy([])
        forged = changed(document, path, new)
    for mend in (sealed, rechained, relisted):
        try:
            mended = mend(forged)
        except (KeyError, TypeError, ValueError, IndexError):
            continue
        assert mended == document or is_caught(mended)


@pytest.mark.parametrize("mend", [sealed, relisted], ids=["own digest mended", "all digests mended"])
def test_a_swapped_parent_is_caught(mend):
    document = copy.deepcopy(scene().document)
    stranger = {
        **document["records"][-1],
        "organismName": "Ember",
        "id": "urn:uuid:00000000-0000-0000-0000-000000000000",
    }
    document["records"][-1] = stranger
    document["records"][-2]["parent"]["id"] = stranger["id"]
    assert is_caught(mend(document))


def test_a_truncated_chain_is_caught():
    document = copy.deepcopy(scene().document)
    del document["records"][-1]
    assert is_caught(sealed(document))
    del document["handovers"][-1]["listed"][-1]
    assert is_caught(sealed(document))
    del document["records"][-1]["parent"]
    assert is_caught(relisted(document))
    document["records"][-1]["parentWithheld"] = True
    assert is_caught(relisted(document))


def test_a_hand_left_out_is_caught():
    document = without(scene().document, ("handovers", 0))
    assert is_caught(sealed(document))
    assert is_caught(sealed(changed(document, ("handovers", 0, "earlier"), [])))


def test_a_signature_replayed_on_another_handover_is_caught():
    document = scene().document
    old = document["handovers"][0]["signature"]
    forged = sealed(changed(document, ("handovers", 1, "signature"), old))
    assert [fault.id for fault in judged(forged).faults] == ["bad-signature"]


def test_a_signature_made_for_another_purpose_is_not_taken():
    document = scene().document
    message = raw({name: part for name, part in document["handovers"][1].items() if name != "signature"})
    words = ["ssh-keygen", "-Y", "sign", "-q", "-n", "git", "-f", str(scene().folder / "key-marta")]
    made = subprocess.run(words, input=message, capture_output=True, check=True).stdout.decode()
    forged = sealed(changed(document, ("handovers", 1, "signature"), made))
    assert [fault.id for fault in judged(forged).faults] == ["bad-signature"]


def resigned(document: Json, index: int, key: Path) -> Json:
    message = raw({name: part for name, part in document["handovers"][index].items() if name != "signature"})
    words = ["ssh-keygen", "-Y", "sign", "-q", "-n", NAMESPACE, "-f", str(key)]
    made = subprocess.run(words, input=message, capture_output=True, check=True).stdout.decode()
    return changed(document, ("handovers", index, "signature"), made)


def test_another_key_is_not_taken_for_the_one_we_know(tmp_path: Path):
    forged = sealed(resigned(scene().document, 1, new_key(tmp_path / "forger")))
    assert [fault.id for fault in judged(forged).faults] == ["unknown-key"]
    # Who has no list of keys sees a good signature by a key no list names, and its fingerprint.
    verdict = verify(read_document(raw(forged)))
    assert "signed" in [statement.id for statement in verdict.proven]


def test_a_keeper_who_signs_with_another_key_than_before_is_noticed(tmp_path: Path):
    ines, marta = ines_and_marta(tmp_path)
    keys = [str(new_key(tmp_path / name)) for name in ("ines-old", "marta-key", "ines-new")]
    first = ines.hand_over("tide-lantern", date(2026, 1, 1), "--frags", "1", "--key", keys[0])
    (there,) = marta.take_in(first, date(2026, 1, 1))
    (home,) = ines.take_in(marta.hand_over(there, date(2026, 2, 1), "--key", keys[1]), date(2026, 2, 1))
    record = read_document(ines.hand_over(home, date(2026, 3, 1), "--key", keys[2]).read_bytes())
    assert [fault.id for fault in verify(record).faults] == ["key-changed"]
    allowed = tmp_path / "allowed"
    allowed.write_text("".join(f"ines {Path(key + '.pub').read_text()}" for key in (keys[0], keys[2])))
    assert not verify(record, allowed).faults


def test_one_key_for_two_keepers_is_noticed():
    document = copy.deepcopy(scene().document)
    signed: list[Json] = []
    for handover in document["handovers"]:
        handover["earlier"] = [digest(each) for each in signed]
        handover["signature"] = sign(
            canonical(without(handover, ("signature",))), scene().folder / "key-marta", scene().folder / "ines"
        )
        signed.append(handover)
    verdict = verify(read_document(raw(sealed(document))))
    (one_key,) = (dict(statement.facts) for statement in verdict.claimed if statement.id == "one-key")
    assert {one_key["keeper"], one_key["other"]} == {"ines", "marta"}
    sound = verify(read_document(raw(scene().document)))
    assert "one-key" not in {statement.id for statement in sound.claimed}


def test_a_signature_taken_away_leaves_nothing_proven_of_who():
    document = sealed(without(scene().document, ("handovers", 1, "signature")))
    assert [fault.id for fault in judged(document).faults] == ["not-signed"]
    verdict = verify(read_document(raw(document)))
    assert "unsigned" in [statement.id for statement in verdict.claimed]


def test_the_digest_on_the_paper_tells_this_record_from_every_other():
    record = read_document(raw(scene().document))
    assert not verify(record, digest=record.digest).faults
    assert [fault.id for fault in verify(record, digest="sha256:" + "0" * 64).faults] == ["other-digest"]


def test_without_ssh_keygen_a_signature_is_only_a_claim(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setenv("PATH", "")
    verdict = verify(read_document(raw(scene().document)))
    assert {"unchecked-signature"} <= {statement.id for statement in verdict.claimed}
    assert not {"signed", "signed-by-known"} & {statement.id for statement in verdict.proven}


def test_without_ssh_keygen_signing_says_what_to_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    ines, _ = ines_and_marta(tmp_path)
    key = new_key(tmp_path / "key")
    monkeypatch.setenv("PATH", "")
    output = tmp_path / "out.json"
    words = ["origin", "tide-lantern", "--content", str(ines.folder), "--output", str(output), "--key", str(key)]
    assert main(words) == 1
    assert "install OpenSSH" in capsys.readouterr().err
    assert not output.exists()


@pytest.mark.parametrize("where", ["ines", "."], ids=["in the journal", "in its repository"])
def test_a_private_key_among_the_journals_files_is_not_used(
    where: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    ines, _ = ines_and_marta(tmp_path)
    (tmp_path / ".git").mkdir()
    key = new_key(tmp_path / where / ".hidden-key")
    words = ["origin", "tide-lantern", "--content", str(ines.folder), "--output", str(tmp_path / "out.json")]
    assert main([*words, "--key", str(key)]) == 1
    said = capsys.readouterr()
    assert "private key" in said.err + said.out
    assert not (tmp_path / "out.json").exists()


def test_verify_says_it_all_on_one_screen(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    file = tmp_path / "record.json"
    file.write_bytes(raw(scene().document))
    assert main(["verify", str(file), "--allowed-signers", str(scene().allowed)]) == 0
    said = capsys.readouterr().out
    assert len(said.splitlines()) <= 24
    assert said.index("Proven:") < said.index("Only claimed:")
    assert "CITES source code F" in said
    file.write_bytes(raw(scene().document).replace(b"Moluccas", b"Atlantis"))
    assert main(["verify", str(file)]) == 1
    assert "changed after it was made" in capsys.readouterr().err
