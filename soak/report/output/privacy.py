"""What a buyer's page leaves out: paths, host names, addresses of ports, causes, prices."""

import re
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from soak.report.contents.parts import Part
from soak.report.contents.sheet import Sheet
from soak.report.model import Corrected, Hole, Instrument, Soak, Together
from soak.words import NOTHING_SAID, Message, joined, msg, typed_in

_PRIVATE = re.compile(
    r"""(?<!\w)[A-Z]:\\(?:[^\\/:*?"<>|\r\n]+\\)*[^\s\\/:*?"<>|,;()]*     # C:\a folder\file
    | (?<!\w)[A-Z]:(?:/[\w.@+-]+)+/?                    # D:/folder/file
    | \\{1,2}[\w.$-]+(?:\\[\w.$-]+)+                   # \\host\share
    | (?<![\w/])~(?:/[\w.@+:-]+)+/?                    # ~/notes.txt
    | (?<![\w/])(?:/[\w.@+:-]+){2,}/?                  # /dev/ttyUSB0
    | (?<![\w/])/(?:root|home|etc|mnt|media|opt|srv|tmp|usr|var|dev|run|boot|Users|Volumes)\b/?
    | \b[a-z][a-z0-9+.-]*://\S+                          # rtsp://camera/1
    | \b[\w.+-]+@[\w-]+(?:\.[\w-]+)*\b                   # somebody@host
    | \b(?:\d{1,3}\.){3}\d{1,3}(?::\d+)?\b               # 192.168.1.4
    | (?<![\w:])(?:[0-9a-f]{2}[:-]){5}[0-9a-f]{2}(?![\w:])             # the address of a card
    | (?<![\w:])(?:[0-9a-f]{1,4}:){7}[0-9a-f]{1,4}(?:%\w+)?(?![\w:])  # 2001:db8:0:0:0:0:0:1
    | (?<![\w:])(?=:{0,2}[0-9a-f])(?:[0-9a-f]{1,4}(?::[0-9a-f]{1,4})*)?::
      (?:[0-9a-f]{1,4}(?::[0-9a-f]{1,4})*)?(?:%\w+)?(?![\w:])          # fe80::1
    | \b[\w-]+\.(?:local|lan|home|internal|localdomain)\b
    | \b(?:COM\d+|ttyUSB\d+|ttyACM\d+|video\d+)\b
    | \b(?:usb|bus)\s*:?\s*\d+-\d+(?:\.\d+)*(?::\d+\.\d+)?\b         # usb 1-2.3
    | (?<![\w.-])\d{1,2}-\d{1,2}(?:\.\d{1,2})*:\d+\.\d+(?![\w-])       # 1-2.3:1.0
    | (?:[£$€]|\b(?:EUR|GBP|USD|CHF|euros?|pounds?|dollars?))\s?\d[\d.,]*(?:-|\b)  # £45.00, EUR 35
    | \b\d[\d.,]*-?\s?(?:[£$€]|(?:EUR|GBP|USD|CHF|euros?|pounds?|dollars?)\b)(?!\w)  # 35,- €
    """,
    re.VERBOSE | re.IGNORECASE,
)
_MEANT = frozenset({"issuer", "report_id", "signed_by", "end"})
"""Parts that are public on purpose: a bench may print its mail address."""
FRAMES = 9
"""Pictures of a soak on the buyer's page: what went wrong first shows what goes wrong."""
_LEFT_OUT = msg("(left out)")
_BENCH_CHARTS = frozenset({"a", "v", "w"})
"""Charts of the supply: they say something to a bench only. By the ends of their names."""


def for_buyer(sheet: Sheet, *, show_serial: bool = False) -> Sheet:
    """Return the buyer's sheet: the same grade, findings and limits, nothing private.

    What a person or an instrument wrote freely is searched for paths, host names and prices as
    a second line of defence; the first is that whole fields are not taken over.
    """
    said = sheet.report
    unit = said.unit
    grade = said.grade
    if not show_serial:
        serial = typed_in(unit.serial, masked)
        unit = unit.model_copy(update={"serial": serial, "serial_masked": True})
    slim = said.model_copy(
        update={
            "audience": "buyer",
            "causes": (),
            "jobs_before": (),
            "unit": unit,
            "grade": grade.model_copy(update={"reason": grade.reason_for_buyers}),
            "corrections": said.corrections if show_serial else _for_buyers(said.corrections),
            "repairs": tuple(repair.model_copy(update={"kind": ""}) for repair in said.repairs),
            "tested": tuple(
                tested.model_copy(update={"because": NOTHING_SAID, "pointers": ()})
                for tested in said.tested
            ),
            "summary": tuple(map(_plain, said.summary)),
            "not_tested": tuple(
                untested.model_copy(update={"because": NOTHING_SAID})
                for untested in said.not_tested
            ),
            "soaks": tuple(map(_soak, said.soaks)),
            "instruments": tuple(map(_instrument, said.instruments)),
        }
    )
    fields = [name for name in type(slim).model_fields if name not in _MEANT]
    public = slim.model_copy(update={name: _public(getattr(slim, name)) for name in fields})
    shown = {chart.name for soak in public.soaks for chart in soak.charts}
    kept = {frame.name for soak in public.soaks for frame in soak.frames}
    kept |= {photograph.name for photograph in public.photographs}
    return Sheet(
        public,
        {
            name: replace(drawing, change=scrubbed)
            for name, drawing in sheet.drawings.items()
            if name in shown
        },
        {name: picture for name, picture in sheet.pictures.items() if name in kept},
    )


def masked(serial: str) -> str:
    """Return a serial of which only the last characters can be read, at most three."""
    shown = min(3, len(serial) // 3)
    return "•" * (len(serial) - shown) + (serial[-shown:] if shown else "")


def is_masked_of(shown: str, serial: str) -> bool:
    """Tell whether a masked serial, as a page shows it, may be that of a whole one."""
    return len(serial) >= 3 and "•" in shown and shown == masked(serial)


def scrubbed(text: str) -> Message:
    """Return a text that somebody typed with all that looks private replaced."""
    first, *others = _PRIVATE.split(text)
    return joined("", [first, *(part for other in others for part in (_LEFT_OUT, other))])


def _public(told: Any) -> Any:
    """Return a part of a report with every text that was typed in it scrubbed."""
    if isinstance(told, Message):
        return typed_in(told, scrubbed)
    if isinstance(told, str):
        return str(scrubbed(told))
    if isinstance(told, Part):
        fields = type(told).model_fields
        return told.model_copy(update={name: _public(getattr(told, name)) for name in fields})
    if isinstance(told, tuple):
        return tuple(map(_public, told))
    return told


def _soak(soak: Soak) -> Soak:
    """Keep what a soak shows; of the bench's own troubles only that they were, and how long."""
    holes = tuple(
        Hole(source=hole.source, from_s=hole.from_s, lasts=hole.lasts) for hole in soak.holes
    )
    nothing: tuple[()] = ()
    charts = tuple(
        chart for chart in soak.charts if chart.name.rpartition("-")[2] not in _BENCH_CHARTS
    )
    left_out: dict[str, Any] = dict.fromkeys(("notes", "answers", "script_in_full"), nothing)
    shown = [frame for frame in soak.frames if not frame.problem] or list(soak.frames)
    left_out |= {
        "stream": NOTHING_SAID,
        "frames": tuple(shown[:FRAMES]),
        "more_frames": len(soak.frames) - len(shown[:FRAMES]),
    }
    return soak.model_copy(update={"holes": holes, "charts": charts, **left_out})


def _for_buyers(corrections: Sequence[Corrected]) -> tuple[Corrected, ...]:
    return tuple(
        correction.model_copy(update={"words": correction.for_buyers}) for correction in corrections
    )


def _plain(one: Together) -> Together:
    """Drop a reason that speaks of the bench; what was found against the unit stays."""
    return one if one.verdict == "not met" else one.model_copy(update={"because": NOTHING_SAID})


def _instrument(instrument: Instrument) -> Instrument:
    return Instrument(
        name=instrument.name,
        driver="",
        kind=instrument.kind,
        known_as=instrument.known_as,
        proved=instrument.proved,
        accuracy=instrument.accuracy,
        calibration=instrument.calibration,
    )
