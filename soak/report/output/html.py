"""The HTML page: one file, no script, nothing loaded from anywhere, for screen, phone and paper."""

import base64
import functools
import hashlib
from collections.abc import Iterator, Mapping
from functools import partial
from importlib import resources
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from soak.charts.words import shortened
from soak.language import Language, language
from soak.report.contents import facts
from soak.report.contents.brief import brief, by_reason, cut
from soak.report.contents.frames import Picture
from soak.report.contents.seen import at
from soak.report.contents.sheet import Sheet
from soak.report.contents.spoken import spoken
from soak.report.contents.wording import VERDICTS
from soak.report.model import Report, Tested
from soak.report.signing.particulars import Particulars
from soak.report.signing.sign import HOLE
from soak.words import Message, Phrase, Said, begin, msg

MOST_OF_A_LIST = 5
"""Entries of one list before all details. Own choice: what fits three screens of a phone."""
LONGEST_ENTRY = 220
"""Characters of one of them, likewise; more is cut with an ellipsis."""


def page(sheet: Sheet, language_code: str = "en") -> str:
    """Return the page of a sheet; the report's `audience` says for whom.

    The style sheet is allowed by its SHA-256, pictures only as data, all else is refused: a text
    that broke out of its place could still neither run nor load anything.

    References
    ----------
    W3C, Content Security Policy Level 3, sections 2.3.1 (hash sources) and 6.
    """
    style = _style()
    speaks = language(language_code)
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    template = _environment().get_template("sheet.html.j2")

    def own(phrase: str, **values: Said) -> str:
        """Say a phrase that stands in the template."""
        return speaks.say(Message(Phrase(phrase, values)))

    return template.render(
        **spoken(_lines(sheet.report), speaks),
        _=own,
        lang=speaks.code,
        drawings=_drawings(sheet, speaks),
        pictures=sheet.pictures,
        style=Markup(style),  # our own file, nothing of anybody else's in it
        style_sha256=digest,
        hole=HOLE,
        particulars=Particulars.of_report(sheet.report).mark,
    )


def _lines(report: Report) -> dict[str, Any]:
    """Return the report, and lines put together from it."""
    return {
        "report": report,
        "title": facts.title(report),
        "grade": facts.grade(report),
        "claim": facts.claim(report),
        "verdicts": VERDICTS,
        "unit_facts": facts.unit_facts(report),
        "by_stretch": _by_stretch(report),
        "soak_titles": facts.each_title(report),
        "soak_facts": [facts.soak_facts(soak) for soak in report.soaks],
        "stretches": [[*map(facts.stretch_words, soak.stretches)] for soak in report.soaks],
        "more_frames": [facts.more_frames(soak) for soak in report.soaks],
        "wear": facts.wear_words(report.wear),
        "about": facts.about(report),
        "brief": list(_brief(report)),
        "untested": by_reason(report.not_tested),
        "signed": facts.signed(report),
        "how_to_check": facts.how_to_check(report),
        "method": facts.method(report),
        "instruments": [facts.instrument_words(instrument) for instrument in report.instruments],
    }


def _brief(report: Report) -> Iterator[dict[str, Any]]:
    """Yield what a buyer reads first, each list cut: the details below have all of it."""
    for part in brief(report):
        entries, more = cut(part.entries, MOST_OF_A_LIST)
        yield {"title": part.title, "entries": [*map(begin, entries)], "more": more}


def _by_stretch(report: Report) -> list[tuple[Message, list[Tested]]]:
    """Return the findings of each part of the script, in the order in which they stand."""
    stretches: dict[Message, list[Tested]] = {}
    for row in report.tested:
        stretches.setdefault(row.stretch, []).append(row)
    return [(begin(name or msg("the whole soak")), tested) for name, tested in stretches.items()]


def _drawings(sheet: Sheet, speaks: Language) -> Mapping[str, Mapping[str, str]]:
    return {
        chart.name: {
            "wide": sheet.drawings[chart.name].wide(speaks),
            "narrow": sheet.drawings[chart.name].narrow(speaks),
        }
        for soak in sheet.report.soaks
        for chart in soak.charts
    }


def data_uri(picture: Picture) -> str:
    """Return a picture as a `data:` address."""
    return f"data:{picture.media_type};base64,{base64.b64encode(picture.data).decode()}"


@functools.cache
def _style() -> str:
    file = resources.files("soak.report").joinpath("templates/sheet.css")
    return file.read_text(encoding="utf-8")


@functools.cache
def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("soak.report", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        keep_trailing_newline=True,
    )
    # The charts escape their own text; everything else goes through Jinja's escaping.
    environment.filters |= {"drawn": Markup, "data_uri": data_uri, "clock": at}
    environment.filters["shortly"] = partial(shortened, longest=LONGEST_ENTRY)
    return environment
