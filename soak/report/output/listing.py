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
from soak.language import Language, language
from soak.report.contents import facts
from soak.report.contents.brief import briefest, cut, photographs
from soak.report.contents.spoken import spoken
from soak.report.model import Report
from soak.report.output.typeset import NotSet, fitted, own_words, set_pictures
from soak.words import (
    NOTHING_SAID,
    Said,
    begin,
    counted,
    joined,
    msg,
    sentence,
)

TEMPLATE = "listing.typ"
SIZES = {"portrait": (1200, 1600), "square": (1600, 1600)}
"""Width and height in px; the long edge is 1600."""
MOST_BYTES = 1_000_000
_UNIT = re.compile(r"(\d) (h|min|s|B|kB|MB|GB|TB)\b")
QUIET = 4
"""Modules of white around a QR code."""
_TRIED = ((7, 1.15), *((most, 1.0) for most in (7, 6, 5, 4, 3, 2, 1, 0, -1)))
"""Entries of a list and size of the words, the first that fits is taken; 1.0 is the least size. 0
stands for one entry, cut to one line; -1 for one line that says how many more there are, too."""
_TRIAL = 0.04
"""A trial only counts pages: so few pixels cost next to nothing."""
_UNDER = 140
"""Characters of what stands right under the grade."""
_FIRST = 24
"""Characters of an entry beside how many more there are, all in one line."""
_LINE = 62
"""Characters of one entry; more is cut with an ellipsis."""
_FAILED_LINE = 160
"""The same of what failed, which goes over several lines: what was found stands at its end."""
MOST_CHARACTERS = 1500
"""Of the listing's text. Own choice: what is read on a phone before it is scrolled past."""
_WHOLE = 150
"""Characters of what speaks against the unit: it stays whole where any other line can be cut."""
_VOUCHED = 90
"""At least so many of why it is graded so, and of when and by whom it was tested."""


@dataclass(frozen=True, slots=True)
class _Room:
    """Entries of a list, characters of a line, and of one that speaks against the unit."""

    entries: int
    line: int
    against: int = _WHOLE


_CUT = (
    *(_Room(8, 200), _Room(6, 150), _Room(5, 130), _Room(4, 110), _Room(4, 80), _Room(3, 80)),
    *(
        _Room(3, 60),
        _Room(2, 60),
        _Room(1, 40),
        _Room(1, 40, against=100),
        _Room(1, 40, against=40),
    ),
)
"""The first with which the text is short enough."""


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


def plain_proof(report: Report, address: str = "") -> Proof:
    """Return the proof of an unsigned report: its id, which holds the beginning of its SHA-256.

    Where the bench names an address of its reports, the code holds that.
    """
    return Proof(address or f"SOAK REPORT {report.report_id}", report.report_id)


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
    speaks = language(language_code)
    width, height = SIZES[shape]
    qr = qr_png(proof.qr) if proof.qr else b""
    for most, scale in _TRIED:
        data, _ = fitted(
            {
                "scale": scale,
                "width": width,
                "height": height,
                "qr": "qr.png" if qr else "",
                "qr_side": 380,
                "code": proof.short,
                **_words(report, speaks, most, shown_ready),
            }
        )
        pictures = {"qr.png": qr} if qr else {}
        if len(set_pictures(TEMPLATE, data, pictures, scale=_TRIAL)) == 1:
            return set_pictures(TEMPLATE, data, pictures)[0]
    raise NotSet(
        msg(
            "listing picture ({shape}): its words do not fit; shorten the bench's name", shape=shape
        )
    )


def qr_png(text: str) -> bytes:
    """Return a QR code as PNG, one pixel a module, error correction M or better."""
    made = io.BytesIO()
    address, mark, signed = text.rpartition("#")
    parts: Any = (address + mark, signed) if mark else text  # what is signed packs tighter alone
    segno.make(parts, error="m", micro=False).save(made, kind="png", scale=1, border=QUIET)
    return made.getvalue()


_CAUTION = msg("A function test, no safety test, no forecast.")


def _words(report: Report, speaks: Language, most: int, shown_ready: bool) -> dict[str, Any]:
    say = speaks.say
    unit = report.unit
    limits = len(report.known_limits)
    brief = most <= 0
    least = most < 0
    most = max(most, 1)
    under_at_most, failed_at_most = (_LINE, _LINE) if brief else (_UNDER, _FAILED_LINE)
    missing = [gap.what for gap in report.not_tested]
    judged = report.grade.judged_by
    by_whom = msg("Judged {who}, not by instruments", who=judged) if judged else NOTHING_SAID
    under = joined("; ", [report.grade.as_far_as, by_whom]) if shown_ready else NOTHING_SAID
    if not shown_ready and not report.failed:  # what failed stands in a block of its own
        under = report.no_picture or report.grade.words
    ready = begin(report.grade.words) if report.grade.as_far_as else msg("Ready for sale")
    which = [
        unit.tag,
        msg("Serial {serial}", serial=unit.serial),
        report.claim.words if report.grade.ready else None,
    ]
    words = {
        "own": own_words(TEMPLATE),
        "day": report.performed,
        "grade": ready if shown_ready else msg("NOT READY"),
        "defects": counted(
            limits,
            "Known defects and limits: 1, named in the report",
            "Known defects and limits: {count}, named in the report",
            none=NOTHING_SAID,
        ),
        "safety": report.safety.in_short,  # the method is in the report
        "caution": _CAUTION,
        "signed": facts.signed(report),
    }
    failed = _some(report.failed, most, speaks, failed_at_most, brief=brief)
    tested = _some(report.shown, most, speaks, _LINE, brief=brief)
    untested = _some(missing, most, speaks, _LINE, brief=brief)
    if least:
        tested = _in_a_line(tested)
        untested = _in_a_line(untested)
    return {
        **spoken(words, speaks),
        "language": speaks.code,
        "simulated": report.simulated,
        "under": shortened(say(begin(under)), under_at_most),
        "bench": shortened(say(report.issuer.bench), 40),
        "model": shortened(say(unit.model), 40),
        "which": shortened(say(joined(" · ", which)), 90),
        "counts": [_UNIT.sub("\\1\u00a0\\2", say(count.large)) for count in report.counts],
        "doubted": _some(report.doubted, most, speaks, under_at_most, brief=brief),
        "failed": failed,
        "tested": tested or [say(msg("nothing was shown to work"))],
        "untested": untested or [say(msg("nothing of the model sheet is left out"))],
    }


def _some(
    words: Sequence[Said], most: int, speaks: Language, longest: int, *, brief: bool
) -> list[str]:
    """Return the first entries and how many more there are: none is dropped unsaid."""
    if len(words) == most + 1 and not brief:
        most += 1  # the last one takes hardly more room than to say that there is one more
    shown = [shortened(speaks.say(begin(word)), longest) for word in words[:most]]
    more = counted(
        len(words) - len(shown),
        "and 1 more, named in the report",
        "and {count} more, named in the report",
        none=NOTHING_SAID,
    )
    return [*shown, speaks.say(more)] if more else shown


def _in_a_line(entries: Sequence[str]) -> list[str]:
    """Put the first entry and how many more there are into one line."""
    first, *more = entries or [""]
    return [f"{shortened(first, _FIRST)} ({more[0]})"] if more else list(entries)


def listing_text(report: Report, *, language_code: str = "en", proof: Proof) -> str:
    """Return plain text to paste into a listing, without markup, under `MOST_CHARACTERS`.

    Lists are cut and say how many entries more the report has; what is typed is cut with an
    ellipsis. Grade, what was not tested and who signed it are never left out.
    """
    speaks = language(language_code)
    text = ""
    for room in _CUT:
        text = _text(report, speaks, room)
        if len(text) < MOST_CHARACTERS:
            break
    return text


def _text(report: Report, speaks: Language, room: _Room) -> str:
    def short(told: Said, longest: int = room.line) -> str:
        return shortened(speaks.say(told), longest)

    unit = report.unit
    issuer = report.issuer
    lines = [
        *([speaks.say(facts.MADE_UP)] if report.simulated else []),
        *map(short, report.doubted[:1]),
        short(joined(" ", [unit.model, unit.tag])),
        shortened(speaks.say(facts.grade(report)), _UNDER),
        short(report.grade.reason, max(room.line, _VOUCHED)),
        short(report.soaks_in_one_line),
    ]
    for part in briefest(report):
        longest = room.against if part.against else room.line
        entries, more = cut(part.entries, room.entries)
        lines += ["", speaks.say(sentence(part.title, ":"))]
        lines += [f"- {short(begin(entry), longest)}" for entry in (*entries, more) if entry]
    edition = msg(
        "Report, edition {number}: {report}", number=report.edition, report=report.report_id
    )
    last = (_CAUTION, edition, facts.signed(report), facts.how_to_check(report))
    tested_by = joined(", ", [report.performed, issuer.bench, issuer.address])
    told_of_photographs = [msg("Photographs: {what}", what=what) for what in photographs(report)]
    vouched = (sentence(report.safety.in_short), *told_of_photographs, tested_by)
    lines += ["", *(short(words, max(room.line, _VOUCHED)) for words in vouched)]
    return "\n".join([*lines, *map(speaks.say, last)]) + "\n"
