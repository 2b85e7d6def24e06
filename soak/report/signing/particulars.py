"""Which report a signed file is: unit, grade, edition, days, in a form that programs find in it.

The mark stands in a page's `meta` tag and in a PDF's keywords, so the signature covers it. It holds
what the page says as well, as the JSON of an object of texts in Base64 for addresses.

References
----------
RFC 4648, section 5, Base 64 Encoding with URL and Filename Safe Alphabet.
"""

import base64
import json
import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from typing import Any, Self

from soak.charts.words import printable
from soak.report.model import Report

_MARK = "soak-report:"
_MARKED = re.compile(rb"soak-report:([A-Za-z0-9_-]+)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Particulars:
    """What a file says it is; all are texts, empty where it does not say.

    Attributes
    ----------
    report : str
        The report's number.
    serial : str
        As far as the file shows it: a masked one has dots.
    grade : str
        In English, as the ledger has it.
    issued : str
        Day of issue, ISO 8601.
    tested : str
        Days on which it was soaked.
    key : str
        Fingerprint that the file prints.
    """

    report: str = ""
    unit: str = ""
    model: str = ""
    serial: str = ""
    grade: str = ""
    edition: str = ""
    tested: str = ""
    issued: str = ""
    simulated: str = ""
    key: str = ""

    @classmethod
    def of_report(cls, report: Report) -> Self:
        """Return those of a report."""
        return cls.of_data(report.model_dump(mode="json"))

    @classmethod
    def of_data(cls, data: Mapping[str, Any]) -> Self:
        """Return those of a report's data, which may be damaged or no report at all."""
        unit = _object(data.get("unit"))
        grade = _object(data.get("grade"))
        return cls(
            report=_text(data.get("report_id")),
            unit=_text(unit.get("tag") or data.get("unit")),
            model=_text(unit.get("model")),
            serial=_text(unit.get("serial")),
            grade=_text(grade.get("words")),
            edition=_text(data.get("edition")),
            tested=_text(data.get("performed")),
            issued=_text(data.get("issued_utc"))[:10],
            simulated="yes" if data.get("simulated") is True else "",
            key=_text(data.get("signed_by")),
        )

    @property
    def mark(self) -> str:
        """What stands in a file."""
        told = json.dumps({name: text for name, text in asdict(self).items() if text})
        return _MARK + base64.urlsafe_b64encode(told.encode()).decode().rstrip("=")


def particulars_in(content: bytes) -> Particulars:
    """Return what a file says it is, which proves nothing; nothing where it cannot be read."""
    found = _MARKED.search(content)
    if found is None:
        return Particulars()
    try:
        told = json.loads(base64.urlsafe_b64decode(found[1] + b"=" * (-len(found[1]) % 4)))
    except (ValueError, RecursionError):
        return Particulars()
    said = _object(told)
    known = [field.name for field in fields(Particulars)]
    return Particulars(**{name: _text(said.get(name)) for name in known})


def _object(told: Any) -> Mapping[str, Any]:
    return told if isinstance(told, dict) else {}


def _text(told: Any) -> str:
    """Return a text or whole number as one printable line of bounded length."""
    if isinstance(told, bool) or not isinstance(told, str | int):
        return ""
    return printable(told, _LONGEST)


_LONGEST = 200
"""Characters of one of them. Decides nothing: names and serials are far shorter."""
