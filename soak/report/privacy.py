"""What a buyer's page leaves out: paths, host names, addresses of ports, causes, prices."""

import re
from typing import Any

from soak.report.content import Sheet
from soak.report.model import Hole, Instrument, Report, Soak, Together

_PRIVATE = re.compile(
    r"""(?:[A-Za-z]:)?\\{1,2}[\w.$-]+(?:\\[\w.$-]+)+   # C:\folder\file, \\host\share
    | (?<![\w/])~?(?:/[\w.@+:-]+){2,}/?                  # /dev/ttyUSB0, ~/bench/x
    | \b[a-z][a-z0-9+.-]*://\S+                          # rtsp://camera/1
    | \b[\w.+-]+@[\w-]+(?:\.[\w-]+)*\b                   # somebody@host
    | \b(?:\d{1,3}\.){3}\d{1,3}(?::\d+)?\b               # 192.168.1.4
    | \b[\w-]+\.(?:local|lan|home|internal|localdomain)\b
    | \b(?:COM\d+|ttyUSB\d+|ttyACM\d+|video\d+)\b
    | [£$€]\s?\d[\d.,]*|\b\d[\d.,]*\s?(?:£|€|EUR|GBP|USD)\b
    """,
    re.VERBOSE | re.IGNORECASE,
)
_HALVES = re.compile(r" ?Early half [^.]*\.")
"""How faults lie in time says something to the bench, nothing to a buyer."""
_MEANT = frozenset({"issuer", "report_id", "end"})
"""Parts that are public on purpose: a bench may print its mail address."""
FRAMES = 9
"""Pictures of a soak on the buyer's page: what went wrong first shows what goes wrong."""
_OURS = frozenset({"method"})
"""Text of the program itself: sections of a handbook look like addresses of hosts."""
_LEFT_OUT = "(left out)"
_BENCH_CHARTS = frozenset({"a", "v", "w"})
"""Charts of the supply: they say something to a bench only. By the ends of their names."""


def for_buyer(sheet: Sheet, *, show_serial: bool = False) -> Sheet:
    """Return the buyer's sheet: the same grade, findings and limits, nothing private.

    What a person or an instrument wrote freely is searched for paths, host names and prices as
    a second line of defence; the first is that whole fields are not taken over.
    """
    said = sheet.report
    soaks = tuple(map(_soak, said.soaks))
    unit = said.unit
    if not show_serial:
        unit = unit.model_copy(update={"serial": masked(unit.serial), "serial_masked": True})
    slim = said.model_copy(
        update={
            "audience": "buyer",
            "causes": (),
            "unit": unit,
            "grade": said.grade.model_copy(
                update={"reason": _HALVES.sub("", said.grade.reason).strip()}
            ),
            "repairs": tuple(one.model_copy(update={"kind": ""}) for one in said.repairs),
            "tested": tuple(
                one.model_copy(update={"because": "", "pointers": ()}) for one in said.tested
            ),
            "summary": tuple(_plain(one) for one in said.summary),
            "not_tested": tuple(one.model_copy(update={"because": ""}) for one in said.not_tested),
            "soaks": soaks,
            "instruments": tuple(map(_instrument, said.instruments)),
        }
    )
    kept = {frame.name for soak in soaks for frame in soak.frames}
    pictures = {name: one for name, one in sheet.pictures.items() if name in kept}
    said_plainly = slim.model_dump()
    public = {
        key: said_plainly[key] if key in _MEANT else scrubbed(said_plainly[key])
        for key in said_plainly
    }
    return Sheet(Report.model_validate(public), sheet.drawings, pictures)


def masked(serial: str) -> str:
    """Return a serial of which only the last characters can be read, at most three."""
    shown = min(3, len(serial) // 3)
    return "•" * (len(serial) - shown) + (serial[-shown:] if shown else "")


def scrubbed(value: Any) -> Any:
    """Replace what looks private in every text of a plain structure."""
    if isinstance(value, str):
        return _PRIVATE.sub(_LEFT_OUT, value)
    if isinstance(value, dict):
        return {
            key: inner if key in _OURS and isinstance(inner, str) else scrubbed(inner)
            for key, inner in value.items()
        }
    if isinstance(value, list | tuple):
        return tuple(map(scrubbed, value))
    return value


def _soak(soak: Soak) -> Soak:
    """Keep what a soak shows; of the bench's own troubles only that they were, and how long."""
    holes = tuple(
        Hole(source=hole.source, from_s=hole.from_s, lasts=hole.lasts) for hole in soak.holes
    )
    nothing: tuple[()] = ()
    charts = tuple(one for one in soak.charts if one.name.rpartition("-")[2] not in _BENCH_CHARTS)
    left_out: dict[str, Any] = dict.fromkeys(("notes", "answers", "script_in_full"), nothing)
    shown = [one for one in soak.frames if not one.problem] or list(soak.frames)
    left_out |= {
        "stream": "",
        "frames": tuple(shown[:FRAMES]),
        "more_frames": len(soak.frames) - len(shown[:FRAMES]),
    }
    return soak.model_copy(update={"holes": holes, "charts": charts, **left_out})


def _plain(one: Together) -> Together:
    """Drop a reason that speaks of the bench; what was found against the unit stays."""
    return one if one.verdict == "not met" else one.model_copy(update={"because": ""})


def _instrument(instrument: Instrument) -> Instrument:
    return Instrument(
        name=instrument.name.removeprefix("probe."),
        driver="",
        accuracy=instrument.accuracy,
        calibration=instrument.calibration,
    )
