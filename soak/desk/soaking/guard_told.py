"""What the guard of a bench would have a person know, before whatever command comes next."""

import socket
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import Any

from soak.desk.places import REPORTS
from soak.outside import json_of
from soak.run.guard.place import SOCKET, guard_place
from soak.words import Message, msg

_ANSWERS_WITHIN_S = 1.0
_LONGEST_BYTES = 1 << 16


def guard_says(bench: Path) -> list[Message]:
    """Return a line for each unit that its guard has not got off yet; none where no guard runs."""
    if not hasattr(socket, "AF_UNIX"):
        return []
    hello = _hello(bench / REPORTS)
    return [_line(channel, hello.get("pid")) for channel in hello.get("not_off", ())]


def _line(told: dict[str, Any], pid: object) -> Message:
    since = datetime.fromisoformat(str(told["since"])).astimezone()
    at = f"{since:%Y-%m-%d %H:%M}"
    return msg(
        "MIND: the guard (process {pid}) tries to switch off {soak}, channel "
        "{channel}, since {since} ({what}). The unit may be on: mend that, or switch "
        "it off by hand",
        pid=str(pid),
        soak=told["soak_id"],
        channel=told["channel"],
        since=at,
        what=told["what"],
    )


def _hello(reports: Path) -> dict[str, Any]:
    """Return the first that a guard says to whoever comes; empty if none answers."""
    place = guard_place(reports) / SOCKET
    came = b""
    if not place.exists():
        return {}
    with suppress(OSError, ValueError), socket.socket(socket.AF_UNIX) as line:
        line.settimeout(_ANSWERS_WITHIN_S)
        line.connect(str(place))
        while b"\n" not in came and len(came) < _LONGEST_BYTES:
            more = line.recv(4096)
            if not more:
                break
            came += more
        content = json_of(came.partition(b"\n")[0])
        return content if isinstance(content, dict) else {}
    return {}
