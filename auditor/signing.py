"""Signatures on files: Ed25519 keys as PEM, and detached signatures of 64 bytes that other programs can check.

With OpenSSL 3 alone:

    openssl pkeyutl -verify -pubin -inkey KEY.pub.pem -rawin -in REPORT.json -sigfile REPORT.json.sig
"""

from __future__ import annotations

import contextlib
import hashlib
import os
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from auditor.vocabulary.problems import Problem, UnusableInput, system_reason

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

SIGNATURE_BYTES = 64
"""Length of an Ed25519 signature (RFC 8032)."""

_PRIVATE_MODE, _PUBLIC_MODE = 0o600, 0o644


def public_path(private: Path) -> Path:
    """Where the public half of a new key goes: KEY.pem has KEY.pub.pem beside it."""
    return private.with_name(f"{private.stem}.pub{private.suffix or '.pem'}")


def new_key(private: Path, passphrase: bytes | None) -> str:
    """Make a key pair: PKCS#8 at `private` (mode 0600, encrypted under a passphrase), the public key beside it.

    Gives the fingerprint of the public key. Raises UnusableInput where either file exists or cannot be written.
    """
    from cryptography.hazmat.primitives import serialization as form
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    public = public_path(private)
    taken = [path for path in (private, public) if os.path.lexists(path)]
    if taken:
        todo = "Name another file; a key is never overwritten."
        raise UnusableInput([Problem(str(p), "", "", "a file of that name", "a new name", todo) for p in taken])
    key = Ed25519PrivateKey.generate()
    protection = form.BestAvailableEncryption(passphrase) if passphrase else form.NoEncryption()
    _create(private, key.private_bytes(form.Encoding.PEM, form.PrivateFormat.PKCS8, protection), _PRIVATE_MODE)
    shown = key.public_key().public_bytes(form.Encoding.PEM, form.PublicFormat.SubjectPublicKeyInfo)
    try:
        _create(public, shown, _PUBLIC_MODE)
    except UnusableInput:
        private.unlink()
        raise
    return fingerprint(key.public_key())


def _create(path: Path, content: bytes, mode: int) -> None:
    """Write a file that does not exist yet, with its permissions from the first moment."""
    made = False
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode)
        made = True
        with os.fdopen(handle, "wb") as file:
            file.write(content)
    except OSError as error:
        if made:
            with contextlib.suppress(OSError):
                path.unlink()
        found = system_reason(error)
        raise UnusableInput(
            [Problem(str(path), "", "", found, "a file that can be made", "Name another file.")]
        ) from error


def sign(content: bytes, private: Path, ask: Callable[[], bytes]) -> tuple[bytes, str]:
    """The signature of the bytes and the fingerprint of the key that made it.

    `ask` gives the passphrase and is called only where the key needs one. Raises UnusableInput.
    """
    key = _private_key(private, ask)
    return key.sign(content), fingerprint(key.public_key())


def signature_holds(content: bytes, signature: Path, public: Path) -> tuple[bool, str]:
    """Whether the signature in a file is that of the bytes by the public key, and the key's fingerprint.

    Raises UnusableInput where a file is missing, the key is no Ed25519 public key or the signature has a wrong length.
    """
    from cryptography.exceptions import InvalidSignature

    key = _public_key(public)
    signed = _content(signature)
    if len(signed) != SIGNATURE_BYTES:
        found = f"{len(signed):,} bytes"
        expected = f"a signature of {SIGNATURE_BYTES} bytes"
        raise _refused(signature, found, expected, "Give the file that `auditor sign` wrote.")
    try:
        key.verify(signed, content)
    except InvalidSignature:
        return False, fingerprint(key)
    return True, fingerprint(key)


def fingerprint(key: Ed25519PublicKey) -> str:
    """SHA-256 of the public key (DER), to be compared with what the signer says by another way."""
    from cryptography.hazmat.primitives import serialization as form

    der = key.public_bytes(form.Encoding.DER, form.PublicFormat.SubjectPublicKeyInfo)
    return hashlib.sha256(der).hexdigest()


def _private_key(path: Path, ask: Callable[[], bytes]) -> Ed25519PrivateKey:
    from cryptography.exceptions import UnsupportedAlgorithm
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    data = _content(path)
    found = "no private key"
    try:
        try:
            key = load_pem_private_key(data, None)
        except TypeError:
            found = "no private key that this passphrase opens"
            key = load_pem_private_key(data, ask())
    except UnsupportedAlgorithm:
        raise _refused(path, "a key of an unknown kind", "an Ed25519 private key", _MAKE) from None
    except (ValueError, TypeError):
        # An empty passphrase is a TypeError again.
        raise _refused(path, found, "an Ed25519 private key as PEM (PKCS#8)", _CHECK) from None
    if not isinstance(key, Ed25519PrivateKey):
        raise _refused(path, "a private key of another kind", "an Ed25519 private key", _MAKE)
    return key


def _public_key(path: Path) -> Ed25519PublicKey:
    from cryptography.exceptions import UnsupportedAlgorithm
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
    from cryptography.hazmat.primitives.serialization import load_pem_public_key

    try:
        key = load_pem_public_key(_content(path))
    except (ValueError, UnsupportedAlgorithm):
        raise _refused(path, "no public key", "an Ed25519 public key as PEM", "Give the signer's .pub.pem.") from None
    if not isinstance(key, Ed25519PublicKey):
        raise _refused(path, "a public key of another kind", "an Ed25519 public key", "Give the signer's .pub.pem.")
    return key


_MAKE = "Make one with `auditor sign --new-key KEY.pem`."
_CHECK = "Check the file and the passphrase."


def _content(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        found = system_reason(error)
        raise _refused(path, found, "a file that can be read", "Check the name.") from error


def _refused(path: Path, found: str, expected: str, todo: str) -> UnusableInput:
    return UnusableInput([Problem(str(path), "", "", found, expected, todo)])
