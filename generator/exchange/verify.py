"""What a record of origin proves, and what it only claims; and signatures as git makes them, by ssh-keygen.

A signature proves which key made it, not that what it says is true.
"""

import re
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from msgspec import Struct

from generator.exchange.document import CoralRecord, Document, Handover, Refused, canonical
from generator.records.coral import Statement, Verdict

# So that a signature made for anything else can never pass for one of ours (ssh-keygen(1), -n).
NAMESPACE = "record-of-origin@corallite"
_SECONDS = 60
_FINGERPRINT = re.compile(r"with (\S+) key (SHA256:[A-Za-z0-9+/]{43})")
_PRIVATE = re.compile(rb"-----BEGIN [A-Z ]*PRIVATE KEY-----")


class Signer(Struct, frozen=True):
    """Who made a good signature: the key, and its name in the reader's own list of allowed signers."""

    key_type: str
    fingerprint: str
    principal: str | None


def sign(message: bytes, key: Path, journal: Path) -> str:
    """The signature of a message by a private key, or by an agent that holds the key of a public one.

    Raises `Refused` without ssh-keygen, for a key that cannot be used, and for a private key in the journal
    or in its repository.
    """
    _refuse_key_in_tree(key, journal)
    done = _keygen("-Y", "sign", "-q", "-n", NAMESPACE, "-f", str(key), given=message)
    if done.returncode:
        reason = done.stderr.decode("utf-8", "replace").strip().splitlines()
        raise Refused(
            "key", f"the key cannot sign: {reason[-1] if reason else 'ssh-keygen gives no reason'}", "check the key"
        )
    return done.stdout.decode("ascii")


def signer_of(message: bytes, signature: str, allowed_signers: Path | None = None) -> Signer | None:
    """Who signed a message; None if the signature is not of this message, or not in our namespace.

    With `allowed_signers` (ssh-keygen(1), ALLOWED SIGNERS) the signer's name in it, if the key is there.
    """
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "signature"
        file.write_text(signature, encoding="ascii", newline="\n")
        named = ("-n", NAMESPACE, "-s", str(file))
        checked = _keygen("-Y", "check-novalidate", *named, given=message)
        told = _FINGERPRINT.search(checked.stdout.decode("utf-8", "replace"))
        if checked.returncode or told is None:
            return None
        return Signer(told[1], told[2], _principal(message, named, allowed_signers))


def available() -> bool:
    """Whether this computer can check signatures at all."""
    return shutil.which("ssh-keygen") is not None


def _principal(message: bytes, named: tuple[str, ...], allowed_signers: Path | None) -> str | None:
    if allowed_signers is None:
        return None
    listed = ("-f", str(allowed_signers))
    found = _keygen("-Y", "find-principals", *named[2:], *listed, given=b"")
    for principal in found.stdout.decode("utf-8", "replace").splitlines() if found.returncode == 0 else ():
        if _keygen("-Y", "verify", *named, *listed, "-I", principal, given=message).returncode == 0:
            return principal
    return None


def _refuse_key_in_tree(key: Path, journal: Path) -> None:
    real, tree = key.resolve(), _tree_of(journal.resolve())
    try:
        private = _PRIVATE.search(real.read_bytes()[:200]) is not None
    except OSError as error:
        raise Refused("key", f"the key cannot be read: {error.strerror}", "give the path of your key") from None
    if private and real.is_relative_to(tree):
        raise Refused(
            "key",
            "the private key is in the journal's folder",
            "move it out; if anyone else has the folder, make a new key",
        )


def _tree_of(journal: Path) -> Path:
    """The repository the journal lies in, or the journal's own folder."""
    return next((folder for folder in (journal, *journal.parents) if (folder / ".git").exists()), journal)


def _keygen(*words: str, given: bytes) -> subprocess.CompletedProcess[bytes]:
    program = shutil.which("ssh-keygen")
    if program is None:
        raise Refused("ssh-keygen", "ssh-keygen is not installed", "install OpenSSH, or leave the record unsigned")
    try:
        return subprocess.run([program, *words], input=given, capture_output=True, timeout=_SECONDS, check=False)
    except subprocess.TimeoutExpired:
        raise Refused("ssh-keygen", "ssh-keygen does not answer", "unlock the key, and try again") from None


class _Checked(Struct, frozen=True):
    """A handover and who signed it: `signer` is None for a signature that is not of this handover."""

    handover: Handover
    signer: Signer | None


def verify(document: Document, allowed_signers: Path | None = None, digest: str | None = None) -> Verdict:
    """What a document from `reading.read_document` proves and claims.

    `allowed_signers` is the reader's own list of keys. The last keeper's key must be in it; earlier keepers'
    keys need not. `digest` is the one printed on the paper in the bag. Without ssh-keygen a signature stays
    a claim.
    """
    signed = [handover for handover in document.handovers if handover.signature]
    can_check = bool(signed) and available()
    checked = _checked(signed, allowed_signers) if can_check else []
    proven: list[Statement] = []
    faults: list[Statement] = []
    if digest is not None:
        same = digest.removeprefix("sha256:").lower() == document.digest.removeprefix("sha256:")
        (proven if same else faults).append(Statement("same-digest" if same else "other-digest"))
    by_whom = [_signed(one) for one in checked]
    faults += [one for one in by_whom if one.id == "bad-signature"]
    faults += _against_the_list(document, checked, allowed_signers)
    faults += _keys_that_changed(checked)
    # The weightiest first: the latest signature, the chains, then the signatures before.
    latest_first = [one for one in reversed(by_whom) if one.id != "bad-signature"]
    chains = [_chain(document, about) for about in document.last.about]
    proven += [*latest_first[:1], *chains, *latest_first[1:]]
    unproven = [one for one in document.handovers if not one.signature or not can_check]
    claimed = [
        Statement("unsigned" if not one.signature else "unchecked-signature", _of_handover(one)) for one in unproven
    ]
    claimed += _keys_of_two(checked)
    claimed += [statement for record in document.records.values() for statement in _claims(record)]
    return Verdict(document.digest, tuple(proven), tuple(claimed), tuple(faults))


def _checked(signed: list[Handover], allowed_signers: Path | None) -> list[_Checked]:
    """Each signature checked; several at once, as each waits for a program."""
    with ThreadPoolExecutor() as pool:
        signers = pool.map(
            lambda one: signer_of(canonical(one.signed_part), one.signature or "", allowed_signers), signed
        )
        return [_Checked(handover, signer) for handover, signer in zip(signed, signers, strict=True)]


def _signed(one: _Checked) -> Statement:
    if one.signer is None:
        return Statement("bad-signature", _of_handover(one.handover))
    known = "signed" if one.signer.principal is None else "signed-by-known"
    return Statement(known, _of_signature(one.handover, one.signer))


def _against_the_list(document: Document, checked: list[_Checked], allowed_signers: Path | None) -> Iterator[Statement]:
    """If there is a list of keys, one of them must have signed the last handover."""
    if allowed_signers is None:
        return
    last = next((one for one in checked if one.handover is document.last), None)
    if last is None:
        yield Statement("not-signed", _of_handover(document.last))
    elif last.signer is not None and last.signer.principal is None:
        yield Statement("unknown-key", _of_signature(last.handover, last.signer))


def _keys_of_two(checked: list[_Checked]) -> Iterator[Statement]:
    """A key that signed for two keepers: they may be one person, or one of them is invented."""
    first: dict[str, str] = {}
    for one in checked:
        if one.signer is None:
            continue
        other = first.setdefault(one.signer.fingerprint, one.handover.giver)
        if other != one.handover.giver:
            yield Statement("one-key", (*_of_signature(one.handover, one.signer), ("other", other)))


def _keys_that_changed(checked: list[_Checked]) -> Iterator[Statement]:
    """A keeper whose later handover is signed by another key, unless the reader's list knows both as theirs."""
    first: dict[str, Signer] = {}
    for one in checked:
        if one.signer is None:
            continue
        before = first.setdefault(one.handover.giver, one.signer)
        known_as = {before.principal, one.signer.principal}
        if before.fingerprint != one.signer.fingerprint and (None in known_as or len(known_as) > 1):
            yield Statement("key-changed", (*_of_signature(one.handover, one.signer), ("former", before.fingerprint)))


def _chain(document: Document, about: str) -> Statement:
    """How far back the digests lead. A change after a record was made would break them."""
    chain = document.chain(about)
    oldest = chain[-1]
    facts = (
        ("coral", chain[0].name),
        ("corals", str(len({record.identity for record in chain}))),
        ("hands", str(len({record.keeper for record in chain}))),
        ("oldest", oldest.name),
        ("keeper", oldest.keeper),
    )
    return Statement("chain-withheld" if oldest.parent_withheld else "chain", facts)


def _claims(record: CoralRecord) -> Iterator[Statement]:
    who = (("coral", record.name), ("keeper", record.keeper))
    came = (("how", record.how), ("date", record.at.isoformat()))
    yield Statement("coral", (*who, ("species", record.species), *came))
    papers = {
        "region": record.region,
        "year": str(record.year) if record.year else None,
        "source_code": record.source_code,
        "appendix": record.appendix,
        "permit": record.permit,
    }
    told = tuple((name, value) for name, value in papers.items() if value)
    if told:
        yield Statement("papers", (*who, *told))
    if record.photos:
        yield Statement("photos", (*who, ("photos", str(len(record.photos)))))


def _of_handover(handover: Handover) -> tuple[tuple[str, str], ...]:
    return (("keeper", handover.giver), ("date", handover.at.isoformat()))


def _of_signature(handover: Handover, signer: Signer) -> tuple[tuple[str, str], ...]:
    named = (("known_as", signer.principal),) if signer.principal else ()
    return (*_of_handover(handover), ("key", signer.fingerprint), ("key_type", signer.key_type), *named)
