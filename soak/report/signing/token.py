"""What the QR code of a picture or record holds: the report in short, signed, to compare by eye.

Where the bench names an address of its reports, the code begins with that, so that a phone opens
it; what is signed follows in the part of an address that no browser sends (RFC 3986, 3.5).

References
----------
RFC 4648, section 6, Base 32 Encoding; RFC 9285, Base45.
"""

import base64
from dataclasses import dataclass

from soak.report.model import Report
from soak.report.output.listing import Proof
from soak.report.signing import base45
from soak.report.signing.particulars import Particulars
from soak.report.signing.sign import (
    KEY_BYTES,
    SIGNATURE_BYTES,
    BenchKey,
    Changed,
    NotSigned,
    check_token,
)
from soak.words import msg

_BEGINS = "SOAK SIGNED REPORT 3 "
"""Words that say what it is, and the version of what follows. Own choice: without a colon, so that
no phone takes it for an address (RFC 3986, 3.1); all are characters that a code packs tightly."""
_KEY_BYTES_OF = {"SOAK SIGNED REPORT 2 ": 8, _BEGINS: KEY_BYTES}
"""Bytes of the public key that each version holds."""
_LONGEST = 24
"""Characters of one field; a QR code that a phone can read has little room."""
_LABEL = "SOAK UNIT "
_UNSIGNED = "SOAK REPORT "
_ANY_SIGNED = "SOAK SIGNED REPORT "


@dataclass(frozen=True, slots=True)
class Told:
    """What a code says; `key` is the signer's public key, of an older code only its beginning."""

    particulars: Particulars
    key: str
    content: bytes
    signature: bytes

    def check(self, public: str) -> None:
        """Check it against a public key, hexadecimal; raises `Changed`."""
        check_token(self.content, self.signature, public)


def proof(report: Report, key: BenchKey, address: str = "") -> Proof:
    """Return what ties a picture to its report, signed; `address` is where a phone shall go."""
    content = "\n".join(_fields(report)).encode()
    packed = bytes.fromhex(key.public) + key.token(content) + content
    if address:
        told = base64.b32encode(packed).decode().rstrip("=")
        return Proof(f"{address}#{told}", report.report_id)
    return Proof(_BEGINS + base45.encode(packed), report.report_id)


def told(text: str) -> Told:
    """Read a code.

    Raises
    ------
    NotSigned
        If it is one of soak's that is never signed, or none of soak's.
    Changed
        If it cannot be read any more.
    """
    if text.startswith(_LABEL):
        tag = text.removeprefix(_LABEL)
        raise NotSigned(
            msg("is the label of unit {tag}, which is not signed: it says nothing else", tag=tag)
        )
    if text.startswith(_UNSIGNED):
        report = text.removeprefix(_UNSIGNED)
        raise NotSigned(msg("its code names the report {report}, not signed", report=report))
    begins = next((known for known in _KEY_BYTES_OF if text.startswith(known)), "")
    try:
        if begins:
            return _unpacked(base45.decode(text.removeprefix(begins)), _KEY_BYTES_OF[begins])
        _, _, coded = text.rpartition("#")
        return _unpacked(base64.b32decode(coded + "=" * (-len(coded) % 8)), KEY_BYTES)
    except ValueError:
        if text.startswith(_ANY_SIGNED):
            raise Changed(msg("its code cannot be read")) from None
        raise NotSigned(msg("its code is none of soak's")) from None


def _unpacked(packed: bytes, key_bytes: int) -> Told:
    key = packed[:key_bytes]
    rest = packed[key_bytes:]
    content = rest[SIGNATURE_BYTES:]
    fields = content.decode().split("\n")
    if len(fields) != len(_NAMES):
        raise ValueError("other fields than a code of soak's has")
    said = dict(zip(_NAMES, fields, strict=True))
    job, _, rest_of_number = said["report"].partition("/")
    said["unit"] = job.rpartition("-")[0]
    said["edition"] = rest_of_number.partition("/")[0]
    return Told(Particulars(**said), key.hex(), content, rest[:SIGNATURE_BYTES])


_NAMES = ("report", "grade", "model", "serial", "issued", "simulated")


def _fields(report: Report) -> tuple[str, ...]:
    said = Particulars.of_report(report)
    return tuple(getattr(said, name)[:_LONGEST] for name in _NAMES)
