"""What a listing picture's QR code holds: the report in short, signed, to be compared by eye."""

from dataclasses import dataclass

from soak.report.model import Report
from soak.report.output.listing import Proof
from soak.report.signing import base45
from soak.report.signing.sign import SIGNATURE_BYTES, BenchKey, Changed, check_token
from soak.words import msg

_BEGINS = "SOAK SIGNED REPORT 2 "
"""Words that say what it is, and the version of what follows. Own choice: without a colon, so that
no phone takes it for an address (RFC 3986, 3.1); all are characters that a code packs tightly."""
_PRINT_BYTES = 8
_LONGEST = 24
"""Characters of one field; a QR code that a phone can read has little room."""


@dataclass(frozen=True, slots=True)
class Told:
    """What a picture's code says, in words; `key_begins` are the first digits of the key."""

    lines: tuple[str, ...]
    report_id: str
    key_begins: str
    content: bytes
    signature: bytes

    def check(self, public: str) -> None:
        """Check it against a public key, hexadecimal; raises `Changed`."""
        check_token(self.content, self.signature, public)


def proof(report: Report, key: BenchKey) -> Proof:
    """Return what ties a picture to its report, signed."""
    content = "\n".join(_fields(report)).encode()
    packed = bytes.fromhex(key.public)[:_PRINT_BYTES] + key.token(content) + content
    return Proof(_BEGINS + base45.encode(packed), report.report_id)


def told(text: str) -> Told:
    """Read a code.

    Raises
    ------
    Changed
        If it is not one of ours.
    """
    try:
        packed = base45.decode(text.removeprefix(_BEGINS))
        key = packed[:_PRINT_BYTES]
        rest = packed[_PRINT_BYTES:]
        signature = rest[:SIGNATURE_BYTES]
        content = rest[SIGNATURE_BYTES:]
        fields = content.decode().split("\n")
    except ValueError:
        raise Changed(msg("its code cannot be read")) from None
    if not text.startswith(_BEGINS) or len(fields) != len(_NAMES):
        raise Changed(msg("its code is not one of soak's"))
    pairs = zip(_NAMES, fields, strict=True)
    lines = tuple(f"{name}: {value}" for name, value in pairs if value)
    return Told(lines, fields[0], key.hex(), content=content, signature=signature)


_NAMES = ("report", "grade", "model", "serial", "issued", "simulated")


def _fields(report: Report) -> tuple[str, ...]:
    unit = report.unit
    fields = (
        report.report_id,
        str(report.grade.words),
        unit.model,
        str(unit.serial),
        report.issued_utc[:10],
        "yes" if report.simulated else "",
    )
    return tuple(field.replace("\n", " ")[:_LONGEST] for field in fields)
