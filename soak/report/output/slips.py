"""What travels with the unit: the label with its code, and the removable record of its test.

References
----------
The Waste Electrical and Electronic Equipment Regulations 2013 (Great Britain), Schedule 9,
paragraph 3: the record holds the item, its type number, the year it was made, the name and
address of who vouches, the result and date of the function test, and the kind of tests; it is
fixed to the item or its packing so that it can be read without unpacking, and can be removed.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from soak.errors import UsageError
from soak.language import language
from soak.names import check_named
from soak.report.contents.facts import SIMULATED, Fact, signed
from soak.report.contents.given import UNNAMED, given, is_given
from soak.report.contents.spoken import spoken
from soak.report.model import Report
from soak.report.output.listing import qr_png
from soak.report.output.typeset import fitted, set_pdf, set_pictures
from soak.report.signing.particulars import Particulars
from soak.report.signing.sign import HOLE
from soak.words import NOTHING_SAID, Message, Number, begin, joined, just, msg, paragraph, sentence

TEMPLATE = "slip.typ"
DOTS_PER_MM = 12.0
"""Of a picture: 300 dots an inch, rounded up, as label printers have them."""
SMALLEST_MM = (25.0, 12.0)
LARGEST_MM = (210.0, 297.0)
LABEL_IS_UNSIGNED = msg("Label, not signed")
A6_MM = (105.0, 148.0)
_MADE = datetime(2000, 1, 1, tzinfo=UTC)
"""A label says nothing of a day, so its file does not either."""
_POINTS_PER_MM = 72 / 25.4


@dataclass(frozen=True, slots=True)
class Slip:
    """One slip, as picture for a label printer and as PDF."""

    png: bytes
    pdf: bytes


def label(bench: str, tag: str, model: str, serial: str, size_mm: tuple[float, float]) -> Slip:
    """Return a unit's label: the bench's name, its code and the code as QR; it is never signed.

    Raises
    ------
    UsageError
        If the label is too small to read, or larger than a sheet.
    """
    width, height = size_mm
    if not all(
        low <= given <= high
        for low, given, high in zip(SMALLEST_MM, size_mm, LARGEST_MM, strict=True)
    ):
        raise UsageError(
            msg(
                "--size {width}x{height}: a label is from {smallest} to {largest} mm",
                width=Number(width, "g"),
                height=Number(height, "g"),
                smallest=_size(SMALLEST_MM),
                largest=_size(LARGEST_MM),
            )
        )
    margin = max(1.5, height * 0.06)
    side = min(height - 2 * margin, width * 0.47)
    room = width - 2 * margin - side - 1.5
    data = {
        "kind": "label",
        "title": tag,
        "bench": str(given(bench, UNNAMED)),
        "code": tag,
        "lines": [*(line for line in (model, serial) if line), str(LABEL_IS_UNSIGNED)],
        "qr_mm": side,
        "qr_says": f"QR: {code_text(tag)}",
        "size_mm": min(height * 0.105, room / 13),
        "big_mm": min(height * 0.3, room / (0.68 * max(3, len(tag)))),
    }
    return _set(data, size_mm, margin, qr=qr_png(code_text(tag)), made=_MADE)


def code_text(tag: str) -> str:
    """Return what the QR code of a label holds."""
    return f"SOAK UNIT {tag}"


def record(report: Report, qr: str, language_code: str = "en") -> tuple[Slip, Sequence[Message]]:
    """Return the removable record of a job on A6, and the names of what is missing on it.

    Parameters
    ----------
    report : Report
        The bench's report: the record carries the full serial.
    qr : str
        What the QR code holds.
    """
    facts, missing = record_facts(report)
    lacking = msg("MISSING")
    foot = paragraph(
        sentence(report.safety.words),
        msg("A function test, no safety test, no forecast."),
        report.report_id,
        sentence(signed(report)),
    )
    data = {
        "kind": "record",
        "title": msg("Record of a function test"),
        "bench": report.issuer.bench,
        "code": report.unit.tag,
        "facts": [(name, value if is_given(value) else lacking) for name, value in facts],
        "missing": msg("Missing: {names}.", names=joined(", ", missing)) if missing else "",
        "foot": foot,
        "simulated": SIMULATED if report.simulated else "",
        "keywords": (HOLE, Particulars.of_report(report).mark),
        "qr_mm": 30.0,
        "qr_says": f"QR: {qr}",
        "size_mm": 3.9,
    }
    issued = datetime.fromisoformat(report.issued_utc.replace("Z", "+00:00"))
    said = {**spoken(data, language(language_code)), "language": language_code}
    return _set(said, A6_MM, 7.0, qr=qr_png(qr), made=issued), missing


def record_facts(report: Report) -> tuple[Sequence[Fact], Sequence[Message]]:
    """Return what a record must hold, and the names of what is not known."""
    unit = report.unit
    issuer = report.issuer
    kinds = dict.fromkeys(check_named(together.check) for together in report.summary)
    facts: list[Fact] = [
        (msg("Item"), just(unit.kind)),
        (msg("Type number"), just(unit.model)),
        (msg("Serial"), unit.serial),
        (msg("Year made"), just(unit.year_made) if unit.year_made else NOTHING_SAID),
        (msg("Vouched for by"), issuer.bench),
        (msg("Address"), issuer.address),
        (msg("Result"), begin(report.grade.in_full)),
        (msg("Date of the test"), report.performed),
        (msg("Kinds of test"), joined(", ", kinds)),
    ]
    return facts, [name for name, value in facts if not is_given(value)]


def _set(
    data: Mapping[str, Any], size_mm: tuple[float, float], margin: float, qr: bytes, made: datetime
) -> Slip:
    whole = {
        "width_mm": size_mm[0],
        "height_mm": size_mm[1],
        "margin_mm": margin,
        "qr": "qr.png",
        "keywords": (),
        "scale": 1.0,
        "language": "en",
        "simulated": "",
        **data,
    }
    fit, _ = fitted(whole)
    pictures = {"qr.png": qr}
    png = set_pictures(TEMPLATE, fit, pictures, scale=DOTS_PER_MM / _POINTS_PER_MM)[0]
    return Slip(png, set_pdf(TEMPLATE, fit, pictures, made))


def _size(mm: tuple[float, float]) -> str:
    return f"{mm[0]:g}x{mm[1]:g}"
