"""The picture and the text for a listing; what was NOT tested stands as large as the rest.

References
----------
ISO/IEC 18004:2015 for the QR code; the quiet zone of 4 modules is its clause 5.3.8 as commonly
quoted.
"""

import io
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import segno

from soak.charts.words import shortened
from soak.report.html import first_upper
from soak.report.language import Language, spoken_report
from soak.report.model import Report
from soak.report.typeset import NotSet, fitted, set_pictures

TEMPLATE = "listing.typ"
SIZES = {"portrait": (1200, 1600), "square": (1600, 1600)}
"""Width and height in px; the long edge is 1600."""
MOST_BYTES = 1_000_000
_UNIT = re.compile(r"(\d) (h|min|s|B|kB|MB|GB|TB)\b")
QUIET = 4
"""Modules of white around a QR code."""
LABELS = ("SIMULATED", "Tested and working", "NOT tested")
_TRIED = ((7, 1.15), *((most, 1.0) for most in (7, 6, 5, 4, 3, 2, 1)))
"""Entries of a list and size of the words, the first that fits is taken; 1.0 is the least size."""
_TRIAL = 0.04
"""A trial only counts pages: so few pixels cost next to nothing."""
_LINE = 62
"""Characters of one entry; more is cut with an ellipsis."""


@dataclass(frozen=True, slots=True)
class Proof:
    """What ties a picture to its report.

    Attributes
    ----------
    qr : str
        What the QR code holds; empty: none is printed.
    short : str
        A code to read out and to type, printed beside it.
    """

    qr: str
    short: str


Prove = Callable[[Report], Proof]
"""Makes the proof of a buyer's report."""


def plain_proof(report: Report) -> Proof:
    """Return the proof of an unsigned report: its id, which holds the beginning of its SHA-256."""
    return Proof(f"SOAK REPORT {report.report_id}", report.report_id)


def picture(
    report: Report,
    shape: str,
    *,
    language_code: str = "en",
    proof: Proof,
    shown_ready: bool,
) -> bytes:
    """Return the picture as PNG.

    Parameters
    ----------
    shape : str
        One of `SIZES`.
    shown_ready : bool
        Print the grade; else NOT READY stands there, as large, with the reason.

    Raises
    ------
    NotSet
        If it does not fit however short its lists are made.
    """
    said, speaks = spoken_report(report, language_code)
    width, height = SIZES[shape]
    qr = qr_png(proof.qr) if proof.qr else b""
    for most, scale in _TRIED:
        data, _ = fitted(
            {
                "scale": scale,
                "width": width,
                "height": height,
                "qr": "qr.png" if qr else "",
                "qr_side": 420,
                "code": proof.short,
                **_words(said, speaks, most, shown_ready),
            }
        )
        pictures = {"qr.png": qr} if qr else {}
        if len(set_pictures(TEMPLATE, data, pictures, scale=_TRIAL)) == 1:
            return set_pictures(TEMPLATE, data, pictures)[0]
    raise NotSet(f"listing picture ({shape}): its words do not fit; shorten the bench's name")


def qr_png(text: str) -> bytes:
    """Return a QR code as PNG, one pixel a module, error correction M or better."""
    made = io.BytesIO()
    segno.make(text, error="m", micro=False).save(made, kind="png", scale=1, border=QUIET)
    return made.getvalue()


def _words(report: Report, speaks: Language, most: int, shown_ready: bool) -> dict[str, Any]:
    say, unit = speaks.say, report.unit
    limits = len(report.known_limits)
    missing = [one.what for one in report.not_tested]
    grade = say("Ready for sale") if shown_ready else say("NOT READY")
    return {
        "labels": {words: say(words) for words in LABELS},
        "language": speaks.code,
        "simulated": report.simulated,
        "bench": shortened(report.issuer.bench, 40),
        "day": report.performed,
        "grade": grade,
        "under": "" if shown_ready else first_upper(report.no_picture or report.grade.words),
        "model": shortened(unit.model, 40),
        "which": shortened(
            " · ".join(
                (
                    unit.tag,
                    f"{say('Serial')} {unit.serial}",
                    *((report.claim.words,) if report.grade.ready else ()),
                )
            ),
            90,
        ),
        "counts": [_UNIT.sub("\\1\u00a0\\2", one.large) for one in report.counts[:4]],
        "tested": _some(report.shown, most, speaks) or [say("nothing was shown to work")],
        "untested": _some(missing, most, speaks) or [say("nothing of the model sheet is left out")],
        "defects": say(f"Known defects and limits: {limits}, named in the report")
        if limits
        else "",
        "safety": ", ".join(report.safety.words.split(", ")[:2]),  # the method is in the report
        "caution": say("A function test, no safety test, no forecast."),
    }


def _some(words: Sequence[str], most: int, speaks: Language) -> list[str]:
    """Return the first entries and how many more there are: none is dropped unsaid."""
    shown = [first_upper(shortened(one, _LINE)) for one in words[:most]]
    more = len(words) - len(shown)
    if more:
        shown.append(speaks.say(f"and {more} more, named in the report"))
    return shown


def listing_text(report: Report, *, language_code: str = "en", proof: Proof) -> str:
    """Return plain text to paste into a listing, without markup."""
    said, speaks = spoken_report(report, language_code)
    say = speaks.say
    grade = say("Ready for sale") if said.grade.ready else first_upper(said.grade.words)
    lines = [
        *([say("SIMULATED. No real unit was tested; every reading comes from a model.")]
          if said.simulated else []),
        f"{said.unit.model} ({said.unit.tag}): {grade}",
        f"{said.grade.reason} {said.soaks_in_one_line}",
        *(
            [f"{say('Sold as')}: {said.claim.words}. {said.claim.means}"]
            if said.grade.ready
            else []
        ),
        "",
        *(_listed(say("Counted"), [one.large for one in said.counts])),
        *(_listed(say("Repairs, and what showed each"), [one.what for one in said.repairs])),
        *(_listed(say("What was tested"), [_verdict(one, speaks) for one in said.summary])),
        *(_listed(say("What was NOT tested"), [f"{o.what} ({o.why})" for o in said.not_tested])),
        *(_listed(say("Known defects and limits"), said.known_limits)),
        said.safety.words,
        f"{say('Recall')}: {said.recall_checked}",
        f"{say('Data')}: {said.unit.wiped}",
        said.shelf_life,
        *(_listed(say("Look for yourself, in ten minutes"), said.at_home)),
        *said.cautions,
        "",
        f"{say('Tested by')} {said.issuer.bench}, {said.issuer.address}, {said.performed}",
        f"{say('Report, edition')} {said.edition}: {said.report_id}; {proof.short}",
    ]  # fmt: skip
    return "\n".join(lines) + "\n"


def _listed(title: str, entries: Sequence[str]) -> list[str]:
    return [f"{title}:", *(f"- {entry}" for entry in entries), ""] if entries else []


def _verdict(one: Any, speaks: Language) -> str:
    return f"{one.text}: {speaks.say(one.verdict)} ({one.found}; {one.limit})"
