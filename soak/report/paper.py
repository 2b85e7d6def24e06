"""The report as PDF: tagged, to be kept, one to three sheets."""

import re
from collections.abc import Collection, Mapping
from datetime import datetime
from typing import Any, Literal

from soak.report.content import Sheet
from soak.report.html import first_upper, minute
from soak.report.language import Language, drawn_in, spoken_report
from soak.report.model import Report, Soak
from soak.report.sign import HOLE
from soak.report.typeset import NotSet, fitted, set_pdf, set_pictures

Paper = Literal["a4", "us-letter"]
PAPERS: Mapping[str, Paper] = {"a4": "a4", "us-letter": "us-letter"}
TEMPLATE = "report.typ"
NAMED = 8
"""Signs that a page lacks and names; of more it says how many."""
FRAMES = 10
"""Pictures of one soak on paper; the HTML page shows more."""
MOST_SHEETS = 3
SIZES = ((1.0, 1.0), (0.94, 0.86), (0.88, 0.74))
"""Of the words and of the charts, tried in this order."""
_TRIAL = 0.04
"""A trial only counts sheets: so few pixels cost next to nothing."""

LABELS = (
    "SIMULATED",
    "SIMULATED. No real unit was tested; every reading comes from a model.",
    "The unit",
    "Counted",
    "Bounds on what was counted here, not a forecast.",
    "Electrical safety",
    "soak tests functions.",
    "Recall",
    "What was tested",
    "Nothing was tested.",
    "demand",
    "verdict",
    "found",
    "limit",
    "margin",
    "What was NOT tested",
    "Every function of the model sheet was exercised, and every requirement has an answer.",
    "key function",
    "Known defects and limits",
    "None known.",
    "The smallest break this bench can see",
    "No source of breaks was wired.",
    "Repairs, and what showed each",
    "No repair is recorded.",
    "Shown by",
    "Not shown: a requirement on it was not met, or none was tested.",
    "All soaks since the repair",
    "not part of this report",
    "Pictures kept as evidence",
    "When the bench could not see",
    "It saw all the time.",
    "Holes are never counted for the unit and never against it.",
    "After the test",
    "Look for yourself, in ten minutes",
    "Cautions",
    "About this report",
    "Deviations from the script",
    "What came from others or by hand",
    "Instruments",
    "It is reproduced in full or not at all.",
)
"""The page's own words; the template holds none."""

_FONT = re.compile(r'font-family="[^"]*"')


def pdf(sheet: Sheet, language_code: str = "en", paper: Paper = "a4") -> bytes:
    """Return a sheet's report as PDF; the same sheet gives the same bytes.

    Raises
    ------
    NotSet
        If it cannot be set.
    """
    report, speaks = spoken_report(sheet.report, language_code)
    data = page_data(report, sheet, speaks, paper)
    issued = datetime.fromisoformat(sheet.report.issued_utc.replace("Z", "+00:00"))
    try:
        return _set(data, _files(sheet), issued)
    except NotSet:
        if not sheet.pictures:
            raise
    # A damaged picture must not cost the page: it is set without pictures, and says so.
    bare = {**data, "frames": [_unshown(frames, speaks) for frames in data["frames"]]}
    return _set(bare, {}, issued)


def _set(data: Mapping[str, Any], files: Mapping[str, bytes], issued: datetime) -> bytes:
    """Set the page at the largest size at which it takes few sheets, else at the smallest.

    Where several soaks take too many, the earlier ones go without charts and pictures.
    """
    sized: Mapping[str, Any] = data
    for told in (data, _newest_drawn(data)):
        for scale, chart_share in SIZES:
            sized = {**told, "scale": scale, "chart_share": chart_share}
            if len(set_pictures(TEMPLATE, sized, files, scale=_TRIAL)) <= MOST_SHEETS:
                return set_pdf(TEMPLATE, sized, files, issued)
    return set_pdf(TEMPLATE, sized, files, issued)


def _newest_drawn(data: Mapping[str, Any]) -> dict[str, Any]:
    """Leave charts and pictures to the newest soak, and say of the others who keeps theirs."""
    earlier = len(data["charts"]) - 1
    titles = [f"{title} ({data['kept']})" for title in data["soak_titles"][:earlier]]
    return {
        **data,
        "charts": [*([[]] * earlier), *data["charts"][earlier:]],
        "frames": [*([[]] * earlier), *data["frames"][earlier:]],
        "soak_titles": [*titles, *data["soak_titles"][earlier:]],
    }


def page_data(report: Report, sheet: Sheet, speaks: Language, paper: Paper) -> dict[str, Any]:
    """Return what the template prints: the spoken report, and lines put together from it."""
    say = speaks.say
    grade = say("Ready for sale") if report.grade.ready else first_upper(report.grade.words)
    simulated = f"{say('SIMULATED')}: " if report.simulated else ""
    data = {
        "report": report.model_dump(mode="json"),
        "labels": {words: say(words) for words in LABELS},
        "verdicts": {o: say(o) for o in ("met", "not met", "not shown", "not tested")},
        "language": speaks.code,
        "paper": paper,
        "hole": HOLE,
        "kept": say("kept by the bench"),
        "title": f"{simulated}{report.unit.model} {report.unit.tag}: {grade}",
        "grade": grade,
        "claim": _claim(report, speaks),
        "unit_facts": unit_facts(report, speaks),
        "soak_titles": [
            f"{say('Soak')} {n} {say('of')} {len(report.soaks)}: {soak.script}"
            for n, soak in enumerate(report.soaks, start=1)
        ],
        "soak_facts": [_soak_facts(soak, speaks) for soak in report.soaks],
        "charts": [_charts(soak, sheet, speaks) for soak in report.soaks],
        "frames": [_frames(soak, sheet, speaks) for soak in report.soaks],
        "holes": [
            "; ".join(f"{hole.source} {hole.lasts}" for hole in soak.holes) for soak in report.soaks
        ],
        "wear": f"{say('Use by all soaks of this report')}: {say(_use(report.wear))}.",
        "about": _about(report, speaks),
        "method": f"{first_upper(report.method.rules)}, {report.method.program}; "
        f"{report.method.sampling}.",
        "instruments": " · ".join(
            ", ".join(
                part
                for part in (
                    one.name,
                    one.accuracy and f"{say('accuracy')} {one.accuracy}",
                    one.calibration and f"{say('calibrated')}: {one.calibration}",
                )
                if part
            )
            for one in report.instruments
        ),
    }
    fit, missing = fitted(data)
    fit["missing"] = missing_words(missing, speaks)
    return dict(fit)


def missing_words(missing: Collection[str], speaks: Language) -> str:
    """Name the signs that could not be printed by their code points; empty if all could."""
    if not missing:
        return ""
    points = [f"U+{ord(sign):04X}" for sign in sorted(missing)]
    more = f" and {len(points) - NAMED} more" if len(points) > NAMED else ""
    named = f"{', '.join(points[:NAMED])}{more}"
    return speaks.say(f"Signs that this page's font does not hold are shown as □: {named}")


def unit_facts(report: Report, speaks: Language) -> list[tuple[str, str]]:
    """Return names and values that identify the unit."""
    unit, say = report.unit, speaks.say
    pairs = [
        ("Model", unit.model),
        ("Kind", unit.kind),
        ("Bench tag", unit.tag),
        ("Serial (masked)" if unit.serial_masked else "Serial", unit.serial),
        ("Year made", str(unit.year_made or "")),
        ("Condition", unit.condition),
        ("Received", unit.received_on),
        ("Data", unit.wiped),
        *((("Sold as", report.claim.words),) if report.grade.ready else ()),
    ]
    return [(say(name), value) for name, value in pairs if value]


def _claim(report: Report, speaks: Language) -> str:
    own = f"{first_upper(report.claim.words)}: {report.claim.means}"
    others = [f"{first_upper(one.words)}: {one.means}" for one in report.other_claims]
    return " ".join([own, speaks.say("That is not what other words claim."), *others])


def _use(wear: Any) -> str:
    return f"{wear.starts} starts, {wear.powered} powered, {wear.written} written"


def _soak_facts(soak: Soak, speaks: Language) -> list[tuple[str, str]]:
    say = speaks.say
    return [
        (say("Began (UTC)"), say(minute(soak.began_utc))),
        (say("Lasted"), soak.lasted),
        (say("Ended"), soak.ended),
        (say("Wear by this soak"), say(_use(soak.wear))),
        *([(say("The capture delivered"), say(soak.stream))] if soak.stream else []),
    ]


def _about(report: Report, speaks: Language) -> list[tuple[str, str]]:
    issuer, say = report.issuer, speaks.say
    pairs = (
        ("Issued by", issuer.bench),
        ("Address", issuer.address),
        ("Tested at", issuer.location),
        ("Authorised by", issuer.authorised_by),
        ("Tested for", issuer.customer),
        ("Tested on", report.performed),
        ("Issued (UTC)", say(minute(report.issued_utc))),
    )
    edition = (f"{say('Report, edition')} {report.edition}", report.report_id)
    return [*((say(name), value) for name, value in pairs), edition]


def _charts(soak: Soak, sheet: Sheet, speaks: Language) -> list[dict[str, str]]:
    told = []
    for chart in soak.charts:
        svg = drawn_in(sheet.drawings[chart.name].narrow, speaks)
        svg = _FONT.sub('font-family="Soak Sans"', svg)
        told.append({"title": chart.title, "about": f"{chart.title}. {chart.about}", "svg": svg})
    return told


def _frames(soak: Soak, sheet: Sheet, speaks: Language) -> list[dict[str, str]]:
    told = []
    for frame in soak.frames[:FRAMES]:
        words = f"{frame.at} {frame.shows}"
        if frame.problem:
            words += f" – {speaks.say('Not shown')}: {speaks.say('kept by the bench')}"
        file = "" if frame.problem else _file(sheet, frame.name)
        told.append({"file": file, "words": words})
    return told


def _unshown(frames: list[dict[str, str]], speaks: Language) -> list[dict[str, str]]:
    return [{"file": "", "words": f"{one['words']} ({speaks.say('Not shown')})"} for one in frames]


def _file(sheet: Sheet, name: str) -> str:
    ending = "png" if sheet.pictures[name].media_type == "image/png" else "jpg"
    return f"{name}.{ending}"


def _files(sheet: Sheet) -> Mapping[str, bytes]:
    return {_file(sheet, name): one.data for name, one in sheet.pictures.items() if one.data}
