"""The marks that the program makes, with the keys of their detail."""

from collections.abc import Mapping

MARKS: Mapping[str, str] = {
    "power": "the switch answered: on (bool), channel, why",
    "power unanswered": "the switch was commanded and did not answer: on, channel, why",
    "start": "a power cycle's on: kind (warm, cold, first), number, off_s, dwell",
    "start ended": "the start was watched to its end: kind, number, seen (bool), took_s",
    "short break": "what a short break of the supply did: number, off_s, degree (four degrees)",
    "voltage": "the supply was set: volt, said_v (what it says it is set to), channel, why",
    "working state": "what the unit did while its current was read: working_state, from_s",
    "supply trial": "a start at a rated limit: end, set_v, read_v, took_s, held_s, degree",
    "unguarded": "the power was on with no guard: from_s, by (runner, resume), found_on (null: ?)",
    "off proved": "the unit was seen to be off: by (source), after_s",
    "off not proved": "the unit was commanded off and still looks alive: by, after_s",
    "stretch begins": "observed_s and count that earlier sessions already have",
    "goes on": "nothing else was recorded for a while and the stretch still runs",
    "stretch ends": "because (done, skipped, not after, stopped, or by plan), observed_s",
    "question": "the operator was asked: id, text, expects",
    "answer": "what the operator said: id, answer (null: nobody in time), by, photograph",
    "note": "the operator's word: text, by, from_s, to_s, was_me (bool)",
    "trip": "the guard cut the power and latched: source, value, limit",
    "silence": "the guard cut the power as a guarding probe, or the switch, fell silent: source",
    "rearmed": "the guard allows power again: channel, reason",
    "alarm": "a person must look at once: why, waits (whether the soak goes on once it is well)",
    "hand needed": "something the operator must do that is no alarm: why",
    "bench fault": "an instrument of the bench failed: instrument, what",
    "bench well": "it works again: instrument",
    "reconnected": "a stick or link was found again: source, gone_s",
    "chunk": "a chunk of transferred data was not right: kinds, where, disk_address_bytes, errno",
    "writing refused": "a stick takes no more data though it is there: source, errno, why",
    "capacity": "a stick was filled once: claims_bytes, tried_bytes, holds_bytes, wraps_bytes",
    "plugged in": "a plug went into a port on cue: port, plug, side, number, from_s, to_s, seen",
    "movement begins": "a plug is moved on cue or left alone: port, movement, repeat, cue, lasts_s",
    "movement ends": "that movement is over: port, movement, repeat, force, whole",
    "load": "the load at a port of the unit was switched: on",
    "button": "the unit's own power button was pressed: does (start, stop), held_s, why, doubtful",
    "soft stop": "the unit was to go off by its button: ended (null: unseen), by, after_s, limit_s",
    "carried": "a file of a pack was looked for: file, name, came (whole, changed, ...), copies",
    "fetched": "a file was fetched from the unit: came (whole, ...), size_bytes, from_s, why",
    "clock stepped": "the wall clock moved against boot time: by_s",
    "host slept": "the host was suspended: for_s",
    "stood still": "nothing of the program ran for a while: for_s, spans (from_s, to_s)",
    "stopped": "the soak was ended early: by, why",
    "operator left": "the attended start is over; the bench runs alone",
}
"""Marks and the keys of their detail. Checks of other people may make their own."""

COUNTED = "learned"
"""The state of a source that only counts; what it counted stands in the detail."""

LINES = ".lines"
"""Ends the name of the source that counts what a probe said and nobody could read."""

COUNTS: Mapping[str, str] = {
    "capture.stream": "what came of a capture: pictures, lost, repeated, damaged, period_s",
    "probe.NAME.lines": "what a probe said and nobody could read: unread, last (how it came)",
}
"""Sources that only count, and the keys of their detail; each begins at 0 when it is opened."""


START_BY_EYE = "start by eye"
"""In the id of a question whether the picture came after a start."""

SWITCH_ON = "power on"
"""The id of the question that has the operator switch on a unit that no switch is wired to."""


def start_called(kind: str, number: int, check: str) -> str:
    """Return the name of a start in words; one after a short break of the supply says so."""
    after_break = kind == "quick" and check == "supply_margin"
    return f"start after short break {number}" if after_break else f"{kind} start {number}"
