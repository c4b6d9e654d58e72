"""Signatures in OpenSSH's own format, made and checked by ssh-keygen: the way git signs.

A signature proves which key made it, not that what it says is true.
"""

import re
import shutil
import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path

from generator.exchange.schema import Refused

# So that a signature made for anything else can never pass for one of ours (ssh-keygen(1), -n).
NAMESPACE = "record-of-origin@corallite"
_SECONDS = 60
_FINGERPRINT = re.compile(r"with (\S+) key (SHA256:[A-Za-z0-9+/]{43})")
_PRIVATE = re.compile(rb"-----BEGIN [A-Z ]*PRIVATE KEY-----")


@dataclass(frozen=True, slots=True)
class Signer:
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
