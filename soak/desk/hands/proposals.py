"""Scripts proposed after a repair: what shows it, in the order of work."""

import re
from collections.abc import Callable, Mapping, Sequence

from soak.errors import UsageError
from soak.settings import nearest_name
from soak.words import Message, Said, joined, msg

Stretches = Sequence[Said]
"""A script but for its head, part by part."""

_LOOK = """
[[stretch]]
name = "look-over"
attended = true
[stretch.look]
"""

_PORT = re.compile(r"[\w .-]*")
"""What a port may be called in a script that is proposed: nothing that would end its text."""
_WIGGLE = """
[[stretch]]
name = "wiggle {port} {heat}"
attended = true
[stretch.wiggle]
port = "{port}"
heat = "{heat}"
warm_up_s = {warm_up_s}
"""

_RESEAT = """
[[stretch]]
name = "reseat"
attended = true
[stretch.reseat]
port = "{port}"
times = 20
"""

_WARM_STARTS = """
[[stretch]]
name = "warm starts"
[stretch.power_cycles]
warm = {warm}
[stretch.picture]
"""

_HEAT_CYCLES = """
[[stretch]]
name = "heat cycles"
[stretch.power_cycles]
cold = {cold}
cold_on_s = 1800
[stretch.picture]
"""

_BY_HAND = """
[[stretch]]
name = "by hand"
attended = true
[stretch.by_hand.cards.{port}]
function = "{port}"
"""
_HEARD = msg("Play something: does sound come on both sides, clear and without noise?")
_TURNS = msg("Does the fan turn at each start?")

_NIGHT = """
[[stretch]]
name = "night"
lasts = "{lasts}"
[stretch.picture]
failure_free_s = 7200
{also}"""

_SPOTS = "[stretch.spots]\nsteady = true\n"
_CROSSING = "[stretch.transfer]\nkeep_speed = 0.6\n"


def _text(key: str, words: Message) -> Message:
    """Return a line of a script with words for people, which are quoted as TOML has it."""
    return joined("", [f'{key} = "', words, '"\n'])


def _wiggles(port: str) -> str:
    cold = _WIGGLE.format(port=port, heat="cold", warm_up_s=0)
    # Hands come before the night: nobody is there in the morning at the moment it is still hot.
    return cold + _WIGGLE.format(port=port, heat="hot", warm_up_s=3600)


def _video(port: str) -> Stretches:
    night = _NIGHT.format(lasts="6 h", also="")
    reseat = _RESEAT.format(port=port)
    return [_LOOK, reseat, _wiggles(port), _HEAT_CYCLES.format(cold=6), night]


def _usb(port: str) -> Stretches:
    wiggles = _wiggles(port).replace("warm_up_s = 0\n", "warm_up_s = 0\n[stretch.transfer]\n")
    wiggles = wiggles.replace("warm_up_s = 3600\n", "warm_up_s = 3600\n[stretch.transfer]\n")
    night = _NIGHT.format(lasts="6 h", also=_CROSSING)
    return [_LOOK, _RESEAT.format(port=port), wiggles, night]


def _sound(port: str) -> Stretches:
    # No instrument hears it: somebody listens while the plug is moved, cold and hot.
    wiggles = _wiggles(port).replace("[stretch.wiggle]\n", "[stretch.wiggle]\nby_eye = true\n")
    return [_LOOK, _BY_HAND.format(port=port), _text("question", _HEARD), wiggles]


def _power(port: str) -> Stretches:
    starts = [_WARM_STARTS.format(warm=60), _HEAT_CYCLES.format(cold=3)]
    return [_LOOK, _wiggles(port), *starts, _NIGHT.format(lasts="4 h", also=_SPOTS)]


def _thermal_compound(port: str) -> Stretches:
    hot = _NIGHT.format(lasts="4 h", also=_SPOTS)
    return [_LOOK, hot, _WARM_STARTS.format(warm=10)]


def _fan(port: str) -> Stretches:
    card = ["[stretch.look.cards.fan]\n", _text("text", _TURNS)]
    night = _NIGHT.format(lasts="6 h", also=_SPOTS)
    return [_LOOK, *card, _WARM_STARTS.format(warm=20), night]


def _storage(port: str) -> Stretches:
    night = _NIGHT.format(lasts="6 h", also=_CROSSING)
    return [_LOOK, _WARM_STARTS.format(warm=5), night]


_REPAIRS: Mapping[str, tuple[Message, Callable[[str], Stretches]]] = {
    "video": (
        msg("video port repaired: reseat 20, wiggle cold and hot, 6 heat cycles, night"),
        _video,
    ),
    "usb": (msg("USB port repaired: reseat 20, wiggle while data crosses, night"), _usb),
    "sound": (msg("sound output repaired: listened to, also while its plug is moved"), _sound),
    "power": (msg("power inlet repaired: wiggle, 60 warm and 3 cold starts, warmth"), _power),
    "thermal compound": (
        msg("thermal compound renewed: 4 h hot, steady, hot starts"),
        _thermal_compound,
    ),
    "fan": (msg("fan renewed: turning at every start, hot night"), _fan),
    "storage": (msg("storage renewed: few hard cuts, data read all night"), _storage),
}


def kinds() -> list[str]:
    """Return the repairs for which there is a proposal."""
    return list(_REPAIRS)


def proposal(kind: str, port: str = "") -> Message:
    """Return a script, as TOML, that shows a repair; `port` is the unit's, where one was repaired.

    Raises
    ------
    UsageError
        If there is none for that kind; names the nearest.
    """
    if kind not in _REPAIRS:
        nearest = nearest_name(kind, kinds())
        hint = (
            msg("did you mean {nearest}?", nearest=nearest)
            if nearest
            else msg("there are {kinds}", kinds=joined(", ", kinds()))
        )
        raise UsageError(
            msg("no script is proposed for {kind}; {hint}", kind=repr(kind), hint=hint)
        )
    if not _PORT.fullmatch(port):
        raise UsageError(
            msg("--port {port}: is no name of a port; give it as the model sheet has it", port=port)
        )
    about, make = _REPAIRS[kind]
    head = [f'name = "after {kind}"\n', _text("about", about), 'not_after = "16 h"\n']
    return joined("", [*head, *make(port or kind)])
