"""Where soak itself breaks: its trace is kept in a file, without what is the operator's own."""

import getpass
import os
import platform
import sys
import tempfile
import traceback
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path

from soak import __version__
from soak.words import Message, msg


def kept_trace(error: BaseException) -> Message:
    """Keep the trace of an error in a file of its own; return one sentence that says where."""
    text = _without_names(
        f"soak {_verb()}\nsoak {__version__}, Python {platform.python_version()}, "
        f"{platform.system()}\n{''.join(traceback.format_exception(error))}"
    )
    file = _written(text)
    where = msg("no file took it")
    if file:
        where = msg("the trace is in {file}; send it to who keeps soak", file=str(file))
    return msg(
        "broke with {error}: a fault of soak, not of the unit, and what was on record is kept; "
        "look whether the unit is off, then `soak show`; {where}",
        error=type(error).__name__,
        where=where,
    )


def _verb() -> str:
    """Return the verb that was typed, without what follows: that is the operator's."""
    return next((word for word in sys.argv[1:] if not word.startswith("-")), "")


def _without_names(text: str) -> str:
    """Leave out the folders of the operator, who that is, and on which computer."""
    own: list[tuple[str, str]] = []
    with suppress(OSError):
        own.append((str(Path.cwd()), "BENCH"))
    for typed in sys.argv[1:]:  # a bench's folder, a file: as typed, and as the system calls it
        place = typed.partition("=")[2] or typed
        if os.sep in place:
            with suppress(OSError, ValueError):
                own += [(os.path.realpath(place), "PATH"), (place, "PATH")]
    with suppress(RuntimeError):
        home = str(Path.home())
        own += [(os.path.realpath(home), "~"), (home, "~")]
    with suppress(OSError, KeyError):
        own.append((getpass.getuser(), "USER"))
    own.append((platform.node(), "HOST"))
    for name, instead in sorted(own, key=lambda pair: -len(pair[0])):
        if len(name) > 2 and name != "root":
            text = text.replace(name, instead)
    return text


def _written(text: str) -> Path | None:
    """Write it where programs keep what they must not lose, else where passing files go.

    References
    ----------
    XDG Base Directory Specification 0.8: `$XDG_STATE_HOME`, by default `~/.local/state`.
    """
    places = [Path(tempfile.gettempdir())]
    with suppress(RuntimeError):  # nobody's home is known
        state = os.environ.get("XDG_STATE_HOME") or Path.home() / ".local" / "state"
        places.insert(0, Path(state) / "soak")
    name = f"crash-{datetime.now(UTC):%Y%m%dT%H%M%S}-{os.getpid()}.txt"
    for folder in places:
        try:
            folder.mkdir(parents=True, exist_ok=True)
            (folder / name).write_text(text, "utf-8", "backslashreplace")
        except OSError:
            continue
        return folder / name
    return None
