"""The report as PDF: tagged, to be kept, one to three sheets."""

import re
from collections.abc import Collection, Mapping
from datetime import datetime
from typing import Any, Literal

from soak.language import Language, language
from soak.report.contents import facts
from soak.report.contents.sheet import Sheet
from soak.report.contents.spoken import spoken
from soak.report.contents.wording import VERDICTS
from soak.report.model import Frame, Photograph, Soak
from soak.report.output.typeset import NotSet, fitted, own_words, set_pdf, set_pictures
from soak.report.signing.particulars import Particulars
from soak.report.signing.sign import HOLE
from soak.words import NOTHING_SAID, Message, Said, counted, joined, msg

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

_FONT = re.compile(r'font-family="[^"]*"')


def pdf(sheet: Sheet, language_code: str = "en", paper: Paper = "a4") -> bytes:
    """Return a sheet's report as PDF; the same sheet gives the same bytes.

    Raises
    ------
    NotSet
        If it cannot be set.
    """
    data = page_data(sheet, language(language_code), paper)
    issued = datetime.fromisoformat(sheet.report.issued_utc.replace("Z", "+00:00"))
    try:
        return _set(data, _files(sheet), issued)
    except NotSet:
        if not sheet.pictures:
            raise
    # A damaged picture must not cost the page: it is set without pictures, and says so.
    photographs = [{**one, "file": ""} for one in data["photographs"]]
    return _set({**data, "frames": data["unshown"], "photographs": photographs}, {}, issued)


def _set(data: Mapping[str, Any], files: Mapping[str, bytes], issued: datetime) -> bytes:
    """Set the page at the largest size at which it takes few sheets, else at the smallest.

    Where several soaks take too many, the earlier ones go without charts and pictures.
    """
    sized: Mapping[str, Any] = data
    for drawn in (data, _newest_drawn(data)):
        for scale, chart_share in SIZES:
            sized = {**drawn, "scale": scale, "chart_share": chart_share}
            if len(set_pictures(TEMPLATE, sized, files, scale=_TRIAL)) <= MOST_SHEETS:
                return set_pdf(TEMPLATE, sized, files, issued)
    return set_pdf(TEMPLATE, sized, files, issued)


def _newest_drawn(data: Mapping[str, Any]) -> dict[str, Any]:
    """Leave charts and pictures to the newest soak, and say of the others who keeps theirs."""
    earlier = len(data["charts"]) - 1
    return {
        **data,
        "charts": [*([[]] * earlier), *data["charts"][earlier:]],
        "frames": [*([[]] * earlier), *data["frames"][earlier:]],
        "soak_titles": [*data["undrawn_titles"][:earlier], *data["soak_titles"][earlier:]],
    }


def page_data(sheet: Sheet, speaks: Language, paper: Paper) -> dict[str, Any]:
    """Return what the template prints: the report, and lines put together from it, all said."""
    report = sheet.report
    data = {
        "report": report,
        "own": own_words(TEMPLATE),
        "verdicts": VERDICTS,
        "language": speaks.code,
        "paper": paper,
        "hole": HOLE,
        "particulars": Particulars.of_report(report).mark,
        "title": facts.title(report),
        "grade": facts.grade(report),
        "claim": facts.claim(report),
        "unit_facts": facts.unit_facts(report),
        "soak_titles": facts.each_title(report),
        "undrawn_titles": [_undrawn(title) for title in facts.each_title(report)],
        "soak_facts": [facts.soak_facts(soak) for soak in report.soaks],
        "charts": [_charts(soak, sheet, speaks) for soak in report.soaks],
        "frames": [
            [_frame(frame, sheet) for frame in soak.frames[:FRAMES]] for soak in report.soaks
        ],
        "unshown": [[*map(_unshown, soak.frames[:FRAMES])] for soak in report.soaks],
        "photographs": [_photograph(one, sheet) for one in report.photographs],
        "holes": [
            joined("; ", [joined(" ", [hole.source, hole.lasts]) for hole in soak.holes])
            for soak in report.soaks
        ],
        "wear": msg("Use by all soaks of this report: {wear}.", wear=facts.wear_words(report.wear)),
        "about": facts.about(report),
        "signed": facts.signed(report),
        "how_to_check": facts.how_to_check(report),
        "method": facts.method(report),
        "instruments": joined(" · ", map(facts.instrument_words, report.instruments)),
    }
    fit, missing = fitted(spoken(data, speaks))
    return {**fit, "missing": speaks.say(missing_words(missing))}


def missing_words(missing: Collection[str]) -> Message:
    """Name the signs that could not be printed by their code points; nothing if all could."""
    if not missing:
        return NOTHING_SAID
    points = [f"U+{ord(sign):04X}" for sign in sorted(missing)]
    named = joined(", ", points[:NAMED])
    more = counted(
        len(points) - NAMED,
        "{signs} and 1 more",
        "{signs} and {count} more",
        signs=named,
    )
    return msg(
        "Signs that this page's font does not hold are shown as □: {signs}",
        signs=more if len(points) > NAMED else named,
    )


def _undrawn(title: Message) -> Message:
    return msg("{soak} (kept by the bench)", soak=title)


def _charts(soak: Soak, sheet: Sheet, speaks: Language) -> list[dict[str, Said]]:
    charts: list[dict[str, Said]] = []
    for chart in soak.charts:
        svg = _FONT.sub('font-family="Soak Sans"', sheet.drawings[chart.name].narrow(speaks))
        about = msg("{title}. {about}", title=chart.title, about=chart.about)
        charts.append({"title": chart.title, "about": about, "svg": svg})
    return charts


def _frame(frame: Frame, sheet: Sheet) -> dict[str, Said]:
    words = joined(" ", [frame.at, frame.shows])
    if frame.problem:
        return {"file": "", "words": msg("{picture} – Not shown: kept by the bench", picture=words)}
    return {"file": _file(sheet, frame.name), "words": words}


def _photograph(one: Photograph, sheet: Sheet) -> dict[str, Said]:
    words = joined(", ", [one.what, one.on, one.tied])
    if one.problem:
        return {
            "file": "",
            "words": msg("{picture} – Not shown: {why}", picture=words, why=one.problem),
        }
    return {"file": _file(sheet, one.name), "words": words}


def _unshown(frame: Frame) -> dict[str, Said]:
    words = joined(" ", [frame.at, frame.shows])
    return {"file": "", "words": msg("{picture} (Not shown)", picture=words)}


def _file(sheet: Sheet, name: str) -> str:
    ending = "png" if sheet.pictures[name].media_type == "image/png" else "jpg"
    return f"{name}.{ending}"


def _files(sheet: Sheet) -> Mapping[str, bytes]:
    return {
        _file(sheet, name): picture.data for name, picture in sheet.pictures.items() if picture.data
    }
