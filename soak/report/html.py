"""The HTML page: one file, no script, nothing loaded from anywhere, for screen, phone and paper."""

import base64
import functools
import hashlib
from collections.abc import Sequence
from importlib import resources
from typing import NamedTuple

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from soak.report.content import Sheet
from soak.report.drawing import Drawing
from soak.report.frames import Picture
from soak.report.language import drawn_in, spoken_report
from soak.report.model import Tested
from soak.report.seen import at
from soak.report.sign import HOLE


class _Group(NamedTuple):
    """What Jinja's `groupby` gives."""

    grouper: str
    list: Sequence[Tested]


def page(sheet: Sheet, language_code: str = "en") -> str:
    """Return the page of a sheet; the report's `audience` says for whom.

    The style sheet is allowed by its SHA-256, pictures only as data, all else is refused: a text
    that broke out of its place could still neither run nor load anything.

    References
    ----------
    W3C, Content Security Policy Level 3, sections 2.3.1 (hash sources) and 6.
    """
    style = _style()
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    template = _environment().get_template("sheet.html.j2")
    report, speaks = spoken_report(sheet.report, language_code)
    return template.render(
        report=report,
        lang=speaks.code,
        _=speaks.say,
        minute=lambda utc: speaks.say(minute(utc)),
        resumed=lambda soak: ", ".join(speaks.say(minute(utc)) for utc in soak.resumed_utc),
        drawings={
            name: Drawing(one.chart, drawn_in(one.wide, speaks), drawn_in(one.narrow, speaks))
            for name, one in sheet.drawings.items()
        },
        pictures=sheet.pictures,
        style=Markup(style),  # our own file, nothing of anybody else's in it
        style_sha256=digest,
        hole=HOLE,
    )


def data_uri(picture: Picture) -> str:
    """Return a picture as a `data:` address."""
    return f"data:{picture.media_type};base64,{base64.b64encode(picture.data).decode()}"


def first_upper(words: str) -> str:
    """Return `words` with its first letter in upper case, the rest untouched."""
    return words[:1].upper() + words[1:]


def minute(utc: str) -> str:
    """Return an RFC 3339 time to the minute, for people: `"2026-03-01 20:00"`."""
    return utc[:16].replace("T", " ")


def by_first(groups: Sequence[_Group], tested: Sequence[Tested]) -> list[_Group]:
    """Put the groups of findings in the order in which the findings stand, not by name."""
    order = list(dict.fromkeys(one.stretch for one in tested))
    return sorted(groups, key=lambda group: order.index(group.grouper))


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
    environment.filters |= {
        "drawn": Markup,
        "data_uri": data_uri,
        "clock": at,
        "first_upper": first_upper,
        "by_first": by_first,
    }
    return environment
