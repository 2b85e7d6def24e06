"""Names that come with the program, in words: scripts, checks, sources ... Others stay as typed."""

from collections.abc import Mapping

from soak.instruments import ROLES
from soak.words import Message, just, msg

_SCRIPTS = (
    msg("by-hand"),
    msg("evening"),
    msg("overnight"),
    msg("quick"),
    msg("supply"),
    msg("Hands and eyes alone: five starts, then each function of the model tried once."),
    msg("An hour: twenty starts and twenty-five minutes of everything."),
    msg("A night: sixty warm starts, three cold ones, four hours hot and watched."),
    msg("A first look in ten minutes: three starts and six minutes of everything."),
    msg(
        "The lowest and highest rated voltage, short breaks of the supply, and what the unit draws."
    ),
)
_STRETCHES = (
    msg("attended"),
    msg("by hand"),
    msg("cold starts"),
    msg("current"),
    msg("first data"),
    msg("hot run"),
    msg("look-over"),
    msg("rated limits"),
    msg("run"),
    msg("starts"),
    msg("warm starts"),
)
_SOURCES = (
    msg("ambient"),
    msg("bench"),
    *(entry.called for entry in ROLES.values()),
)
_PROVED = (
    msg("switch off"),
    msg("switch on"),
    msg("write a block and read it back"),
    msg("warm up with power on"),
    msg("read the room"),
    msg("press it off"),
    msg("power off for 100 ms"),
    msg("video plug pulled"),
    msg("stick pulled"),
)
_PICTURES = (
    msg("first"),
    msg("before"),
    msg("during"),
    msg("after"),
    msg("photograph"),
)
_ENDED = (
    msg("complete"),
    msg("stopped"),
    msg("bench fault"),
)
_STATES = (
    msg("on the bench"),
    msg("sold"),
    msg("came back"),
)
_ENTRIES = (
    msg("job"),
    msg("repair"),
    msg("hazard settled"),
    msg("wiped"),
    msg("soak"),
    msg("demand withdrawn"),
    msg("withdrawn"),
    msg("corrected"),
    msg("bought"),
)
"""Kinds of entries of the ledger that are not named above or below."""
_REPAIRS = (
    msg("rework"),
    msg("part replaced"),
    msg("donor part"),
)
_WHY_BEGUN = (msg("repaired after intake"),)
_RESULTS = (
    msg("passed"),
    msg("failed"),
    msg("none found"),
)
_WHOSE = (msg("the bench's own stock"),)
_GRADES = (
    msg("ready"),
    msg("ready, as far as tested"),
    msg("not ready: failed"),
    msg("not ready: incomplete"),
)
_CHECKS: Mapping[str, Message] = {
    "look": msg("looked over by eye"),
    "by_hand": msg("judged by hand"),
    "power_cycles": msg("repeated starts"),
    "supply_margin": msg("supply tried at its limits"),
    "current_draw": msg("supply current read"),
    "picture": msg("picture watched"),
    "coded_clip": msg("coded clip played and read"),
    "transfer": msg("data written and read back"),
    "spots": msg("temperatures"),
    "link": msg("link watched"),
    "network": msg("network link watched"),
    "reseat": msg("plugged in again and again"),
    "wiggle": msg("plugs moved while watched"),
    "stood_in": msg("use of the stand-in stick counted"),
    "carried": msg("files carried by hand compared"),
    "port_power": msg("port loaded"),
}
"""Checks that come with the program, in words that say what was done."""
_ALL = (
    *_ENDED,
    *_STATES,
    *_ENTRIES,
    *_REPAIRS,
    *_WHY_BEGUN,
    *_SCRIPTS,
    *_STRETCHES,
    *_SOURCES,
    *_PROVED,
    *_PICTURES,
    *_RESULTS,
    *_WHOSE,
    *_GRADES,
)
_KNOWN = {str(name): name for name in _ALL}
"""By the English, which is what files and records hold."""


def named(name: object) -> Message:
    """Return a name as it is said."""
    return _KNOWN.get(str(name)) or just(str(name))


def check_named(check: str) -> Message:
    """Return a check as it is said."""
    return _CHECKS.get(check) or just(check)


def source_named(source: str) -> Message:
    """Return a source as it is said; a probe by its own name."""
    return named(source.removeprefix("probe."))
