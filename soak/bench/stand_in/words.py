"""What a bench and a stand-in say to each other: JSON lines, and the proof of a shared key.

See docs/reference/stand-in-protocol.md. Pure: no socket here.

References
----------
RFC 2104 (HMAC), FIPS 180-4 (SHA-256), RFC 8259 (JSON).
"""

import hmac
import ipaddress
import json
import math
import secrets
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from soak.bench.stand_in.gadget_watch import Status
from soak.outside import json_of, read_bytes
from soak.words import msg

VERSION = 2
LONGEST_BYTES = 4096
"""No line is longer; who sends more is not a stand-in."""
EVERY_S = 1.0
"""A stand-in says its status at every change and at least so often. Our own choice."""
PORT = 7417
_KEY_BYTES = 32


class Unfit(Exception):
    """Report a line, key or address that cannot be used, in one sentence."""


def line(**said: Any) -> bytes:
    """Write one message."""
    return json.dumps(said, separators=(",", ":")).encode("ascii") + b"\n"


def heard(data: bytes) -> Mapping[str, Any]:
    """Read one message.

    Raises
    ------
    Unfit
        If it is no JSON object.
    """
    try:
        content = json_of(data)
    except (ValueError, RecursionError):
        raise Unfit(msg("what came is no line of JSON")) from None
    if not isinstance(content, dict):
        raise Unfit(msg("what came is no JSON object"))
    return content


def nonce() -> str:
    """Return 16 random bytes as text: no proof can be used twice."""
    return secrets.token_hex(16)


def proof(key: bytes, who: str, theirs: str, own: str) -> str:
    """Prove that `who` (`bench` or `stand-in`) knows the key, for just this connection."""
    said = "\n".join(["soak stand-in", str(VERSION), who, theirs, own])
    return hmac.new(key, said.encode(), "sha256").hexdigest()


def proved(given: object, key: bytes, who: str, theirs: str, own: str) -> bool:
    """Return whether a proof is right, in a time that tells nothing."""
    wanted = proof(key, who, theirs, own).encode()
    return isinstance(given, str) and hmac.compare_digest(given.encode("utf-8", "replace"), wanted)


def new_key(file: Path) -> None:
    """Make a key file that only its owner may read.

    Raises
    ------
    Unfit
        If the file is there already, or cannot be made.
    """
    try:
        file.touch(mode=0o600, exist_ok=False)
        file.write_text(secrets.token_hex(_KEY_BYTES) + "\n", encoding="ascii")
    except FileExistsError:
        raise Unfit(
            msg("{file}: is there already; use it, or give another name", file=str(file))
        ) from None
    except OSError as fault:
        raise Unfit(
            msg("{file}: cannot be made: {why}", file=str(file), why=str(fault.strerror))
        ) from None


def read_key(file: Path) -> bytes:
    """Read a key file.

    Raises
    ------
    Unfit
        If it is missing, open to other users, or no key.
    """
    try:
        mode = file.stat().st_mode
        text = read_bytes(file).decode("ascii").strip()
    except UnicodeDecodeError:
        text = ""
        mode = 0
    except OSError as fault:
        raise Unfit(
            msg(
                "{file}: the key cannot be read ({why}); make one on the stand-in with `soak "
                "stand-in --new-key FILE` and copy it to the bench",
                file=str(file),
                why=str(fault.strerror),
            )
        ) from None
    if mode & 0o077:
        raise Unfit(msg("{file}: others may read this key; chmod 600 it", file=str(file)))
    if len(text) != 2 * _KEY_BYTES or not set(text) <= set("0123456789abcdef"):
        raise Unfit(
            msg("{file}: is no key; make one with `soak stand-in --new-key FILE`", file=str(file))
        )
    return bytes.fromhex(text)


def fit_to_bind(address: str, *, anywhere: bool) -> None:
    """Refuse to listen beyond the bench's own network.

    Raises
    ------
    Unfit
        If the address is every address, a public one, or none at all.
    """
    try:
        parsed = ipaddress.ip_address(address)
    except ValueError:
        raise Unfit(
            msg("{address}: is no address of this computer, such as 192.168.7.20", address=address)
        ) from None
    if anywhere:
        return
    if parsed.is_unspecified:
        raise Unfit(
            msg(
                "{address}: would listen on every network; give this computer's address on the "
                "bench's network, or --any if you mean it",
                address=address,
            )
        )
    if not (parsed.is_private or parsed.is_loopback or parsed.is_link_local):
        raise Unfit(
            msg(
                "{address}: is a public address; stay on the bench's network, or say --any",
                address=address,
            )
        )


def status_from(said: Mapping[str, Any], now_s: float) -> Status:
    """Read a status.

    Raises
    ------
    Unfit
        If a field is missing or impossible.
    """
    try:
        at = said["at"]
        ago_s = float(said["ago_s"])
        if at not in ("seen", "gone") or not (math.isfinite(ago_s) and ago_s >= 0):
            raise ValueError
        speed = said["speed_mbps"]
        status = Status(
            at=at,
            udc=str(said["udc"])[:40],
            speed_mbps=None if speed is None else _number(speed),
            enumerations=_count(said["enumerations"]),
            resets=_count(said["resets"]),
            read_bytes=_count_if_known(said["read_bytes"]),
            written_bytes=_count_if_known(said["written_bytes"]),
            read_here_bytes=_count_if_known(said["read_here_bytes"]),
            since_s=now_s,
        )
    except (KeyError, TypeError, ValueError):
        raise Unfit(msg("the stand-in's status lacks a field or holds an impossible one")) from None
    return replace(status, since_s=now_s - ago_s)


def _count(value: object) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value < 2**53:
        raise ValueError
    return value


def _count_if_known(value: object) -> int | None:
    return None if value is None else _count(value)


def _number(value: object) -> float:
    if not isinstance(value, int | float) or not 0 < value < 1e6:
        raise ValueError
    return float(value)
