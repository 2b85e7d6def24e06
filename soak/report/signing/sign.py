"""The bench's key, and signatures over reports: who vouches, and that not a byte has changed.

A report's data is signed as canonical JSON; pages and paper are signed as whole files, with the
signature in a hole of fixed width that is zeros while it is signed.

References
----------
RFC 8032, Edwards-Curve Digital Signature Algorithm (Ed25519). RFC 8785, JSON Canonicalization
Scheme. FIPS 180-4, SHA-256.
"""

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from cryptography.exceptions import InternalError, InvalidSignature, UnsupportedAlgorithm
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    PublicFormat,
    load_pem_private_key,
)

from soak.errors import UsageError
from soak.records import canonical_json
from soak.words import msg

KEY_BYTES = 32
SIGNATURE_BYTES = 64
FINGERPRINT_DIGITS = 32
"""Hexadecimal digits of a public key that people compare: 128 bits. Who wants a key of his own that
begins alike has to try 2^128 of them, the strength of Ed25519 itself (RFC 8032, section 8.5)."""
_MARK = "soak-signature:"
HOLE = _MARK + "0" * 2 * (KEY_BYTES + SIGNATURE_BYTES)
"""Where the signature of a whole file goes: public key and signature, hexadecimal."""
_FILLED = re.compile(rb"soak-signature:([0-9a-f]{64})([0-9a-f]{128})")
_HEX = re.compile(r"[0-9a-f]{192}")
_FILE, _DATA, _TOKEN = b"soak file 1\n", b"soak data 1\n", b"soak token 1\n"
"""What is signed begins with its kind, so that no signature fits another kind."""


class NotSigned(UsageError):
    """Report a file that holds no signature."""


class Changed(UsageError):
    """Report a file that is not what was signed."""


@dataclass(frozen=True, slots=True)
class Signed:
    """By whom a file was signed: `key` is the public key, hexadecimal."""

    key: str

    @property
    def fingerprint(self) -> str:
        """The key as people compare it."""
        return fingerprint(self.key)


@dataclass(frozen=True, slots=True)
class BenchKey:
    """The bench's private key; it never leaves its file."""

    private: Ed25519PrivateKey

    @property
    def public(self) -> str:
        """The public key, hexadecimal."""
        raw = self.private.public_key().public_bytes(Encoding.Raw, PublicFormat.Raw)
        return raw.hex()

    @property
    def fingerprint(self) -> str:
        """The public key as people compare it."""
        return fingerprint(self.public)

    def pem(self) -> bytes:
        """Return the private key as PEM, PKCS 8, not encrypted."""
        return self.private.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())

    def token(self, content: bytes) -> bytes:
        """Return the signature of a token's content, 64 bytes."""
        return self.private.sign(_TOKEN + content)


def new_key() -> BenchKey:
    """Make a key from the system's randomness."""
    return BenchKey(Ed25519PrivateKey.generate())


def key_from_pem(pem: bytes, file: str) -> BenchKey:
    """Read a private key.

    Raises
    ------
    UsageError
        If it is not an Ed25519 key in PEM.
    """
    try:
        private = load_pem_private_key(pem, password=None)
    except (ValueError, TypeError, UnsupportedAlgorithm, InternalError):  # of a wrong length
        raise UsageError(msg("{file}: is not a key; make one with `soak key`", file=file)) from None
    if not isinstance(private, Ed25519PrivateKey):
        raise UsageError(msg("{file}: is not an Ed25519 key; make one with `soak key`", file=file))
    return BenchKey(private)


def fingerprint(public: str) -> str:
    """Write a public key the way people compare it: its first digits in groups of four."""
    return " ".join(public[at : at + 4] for at in range(0, FINGERPRINT_DIGITS, 4))


def typed_key(text: str) -> str:
    """Return the hexadecimal digits of a key or fingerprint that a person typed; empty if none is.

    Blanks, hyphens, colons and capitals are as people copy them from paper.
    """
    digits = re.sub(r"[\s:-]", "", text).lower()
    whole = len(digits) in (FINGERPRINT_DIGITS, 2 * KEY_BYTES)
    return digits if whole and re.fullmatch("[0-9a-f]*", digits) else ""


def sign_file(content: bytes, key: BenchKey) -> bytes:
    """Return the file with its hole filled.

    Raises
    ------
    UsageError
        If it has no hole, or words in it look like a signature.
    """
    spaces = {match[0] for match in _FILLED.finditer(content)}
    if spaces != {HOLE.encode()}:
        raise UsageError(
            msg("the page holds words that look like a signature; it cannot be signed")
        )
    signature = key.private.sign(_FILE + hashlib.sha256(content).digest())
    filled = f"{_MARK}{key.public}{signature.hex()}"
    return content.replace(HOLE.encode(), filled.encode())


def check_file(content: bytes) -> Signed:
    """Return who signed a whole file.

    Raises
    ------
    NotSigned
        If its hole is empty or it has none.
    Changed
        If any byte of it is not what was signed.
    """
    filled = {match.groups() for match in _FILLED.finditer(content)}
    if not filled or filled == {(b"0" * 64, b"0" * 128)}:
        raise NotSigned(msg("holds no signature"))
    if len(filled) > 1:
        raise Changed(msg("holds two signatures; it was changed"))
    key, signature = (part.decode() for part in filled.pop())
    empty = _FILLED.sub(HOLE.encode(), content)
    _check(key, signature, _FILE + hashlib.sha256(empty).digest())
    return Signed(key)


def sign_data(data: Mapping[str, Any], key: BenchKey) -> dict[str, Any]:
    """Return a JSON object with its signature added under `signature`."""
    plain = {name: value for name, value in data.items() if name != "signature"}
    value = key.private.sign(_DATA + canonical_json(plain)).hex()
    return {**plain, "signature": {"key": key.public, "value": value}}


def check_data(data: Mapping[str, Any]) -> Signed:
    """Return who signed a JSON object; raises as `check_file`."""
    signature = data.get("signature")
    if signature is None:
        raise NotSigned(msg("holds no signature"))
    plain = {name: value for name, value in data.items() if name != "signature"}
    try:
        key = str(signature["key"])
        value = str(signature["value"])
        message = _DATA + canonical_json(plain)
    except (TypeError, KeyError, ValueError):
        raise Changed(msg("its signature cannot be read; it was changed")) from None
    _check(key, value, message)
    return Signed(key)


def check_token(content: bytes, signature: bytes, public: str) -> None:
    """Check a token; raises `Changed` if it is not what was signed by that key."""
    _check(public, signature.hex(), _TOKEN + content)


def _check(key: str, signature: str, message: bytes) -> None:
    if _HEX.fullmatch(key + signature) is None:  # one way to write it: a capital is a change too
        raise Changed(msg("its signature is not written as soak writes it; it was changed"))
    try:
        public = Ed25519PublicKey.from_public_bytes(bytes.fromhex(key))
        public.verify(bytes.fromhex(signature), message)
    except (InvalidSignature, ValueError):
        raise Changed(msg("is not what was signed")) from None
