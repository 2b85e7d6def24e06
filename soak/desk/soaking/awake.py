"""Keep the host awake while a unit runs alone: a sleeping host watches nothing."""

import ctypes
import re
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from soak.errors import UsageError
from soak.words import NOTHING_SAID, Message, msg

_KEEPERS = {
    "linux": (
        "systemd-inhibit",
        "--what=sleep:idle:handle-lid-switch",
        "--who=soak",
        "--why=a unit runs unattended",
        "--mode=block",
        "cat",
    ),
    "darwin": ("caffeinate", "-ims", "cat"),
}
"""Programs of the system that hold sleep off for as long as the command they run; `cat` ends when
its input is closed, so a killed soak holds nothing."""


_CONTINUOUS = 0x80000000
_SYSTEM_REQUIRED = 0x00000001
"""ES_CONTINUOUS and ES_SYSTEM_REQUIRED of SetThreadExecutionState (Windows API): they hold for as
long as the thread that set them lives, so a killed soak holds nothing."""


class MaySleep(UsageError):
    """Report that sleep cannot be held off.

    Attributes
    ----------
    why : Message
        The reason alone.
    """

    def __init__(self, why: Message) -> None:
        super().__init__(msg("{why}; turn sleep off in its settings and add --may-sleep", why=why))
        self.why = why


@contextmanager
def kept_awake(may_sleep: bool) -> Iterator[Message]:
    """Hold sleep off; yield one sentence for the operator.

    Raises
    ------
    MaySleep
        If the system has no way to hold sleep off and `may_sleep` was not given.
    """
    state = _windows_state()
    if state is not None:
        yield from _kept_on_windows(state, may_sleep)
        return
    command = _KEEPERS.get(sys.platform)
    if command is None or shutil.which(command[0]) is None:
        yield from _unkept(may_sleep, msg("this system has no way to hold sleep off"))
        return
    keeper = subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    try:
        if _gave_up(keeper):
            yield from _unkept(may_sleep, msg("the system refused to hold sleep off"))
        else:
            yield msg("This host is kept awake.")
    finally:
        assert keeper.stdin is not None
        keeper.stdin.close()
        keeper.wait(timeout=10)


def _windows_state() -> Callable[[int], int] | None:
    """Return Windows' own call; None on another system."""
    libraries: Any = getattr(ctypes, "windll", None)
    return None if libraries is None else libraries.kernel32.SetThreadExecutionState


def _kept_on_windows(state: Callable[[int], int], may_sleep: bool) -> Iterator[Message]:
    if not state(_CONTINUOUS | _SYSTEM_REQUIRED):  # 0: it refused
        yield from _unkept(may_sleep, msg("the system refused to hold sleep off"))
        return
    try:
        yield msg("This host is kept awake.")
    finally:
        state(_CONTINUOUS)


def _unkept(may_sleep: bool, why: Message) -> Iterator[Message]:
    if not may_sleep:
        raise MaySleep(why)
    yield msg("Mind that {why}; if it sleeps, the soak ends.", why=why)


def _gave_up(keeper: "subprocess.Popen[bytes]") -> bool:
    try:
        keeper.wait(timeout=0.3)
    except subprocess.TimeoutExpired:
        return False
    return True


def kept_or_why_not() -> Message:
    """Hold sleep off for a moment; return why that is refused, empty if it is not."""
    try:
        with kept_awake(may_sleep=False):
            return NOTHING_SAID
    except MaySleep as refused:
        return refused.why


_SLEEP_TARGET = "systemd/system/sleep.target"
_LOGIN = ("etc/systemd/logind.conf", "etc/systemd/logind.conf.d/*.conf")
_IDLE = re.compile(r"^IdleAction=(?!ignore|lock)(\S+)", re.MULTILINE)


def can_sleep(root: Path = Path("/")) -> bool:
    """Return whether a host can sleep: its kernel can, and its service manager may.

    References
    ----------
    Linux, Documentation/ABI/testing/sysfs-power: `/sys/power/state` lists the ways; where it is
    not, nobody knows. systemd, from memory: a masked unit is a link to `/dev/null`.
    """
    try:
        ways = (root / "sys/power/state").read_text("utf-8", "replace").strip()
    except OSError:
        return True
    masks = [root / folder / _SLEEP_TARGET for folder in ("etc", "run")]
    return bool(ways) and not any(
        mask.is_symlink() and str(mask.readlink()) == "/dev/null" for mask in masks
    )


def puts_to_sleep(root: Path = Path("/")) -> Sequence[Message]:
    """Return what puts a host to sleep, a sentence each, as far as systemd's files tell."""
    sentences = []
    for file in (file for pattern in _LOGIN for file in sorted(root.glob(pattern))):
        with suppress(OSError):
            for action in _IDLE.findall(file.read_text("utf-8", "replace")):
                where = f"/{file.relative_to(root)}"
                entry = f"IdleAction={action}"
                sentences.append(
                    msg("{file} says {entry}: it sleeps when idle.", file=where, entry=entry)
                )
    if any((root / "proc/acpi/button/lid").glob("*")):
        sentences.append(msg("It has a lid, and sleeps when that is closed."))
    return sentences


_WANTED = "run/reboot-required"
SCHEDULED = "run/systemd/shutdown/scheduled"
"""What systemd leaves there while a restart or shutdown is planned (from memory)."""


def pending_restart(root: Path = Path("/")) -> Message:
    """Return one sentence if a restart or shutdown of the host is wanted or planned, else nothing.

    Known from what the system's updater (`/run/reboot-required`) and its service manager
    (`/run/systemd/shutdown/scheduled`) leave there; a system without them is not known about.

    Parameters
    ----------
    root : Path
        Where the system's files are.
    """
    try:
        text = (root / SCHEDULED).read_text("utf-8", "replace")
    except OSError:
        text = NOTHING_SAID
    planned = dict(line.split("=", 1) for line in text.splitlines() if "=" in line)
    if planned.get("USEC", "").isdigit():
        when = datetime.fromtimestamp(int(planned["USEC"]) / 1e6, UTC)
        kind = planned.get("MODE", "shutdown")
        at = f"{when:%Y-%m-%d %H:%M}"
        return msg(
            "this host will {kind} at {when} UTC and the soak end with it; take that back "
            "(`shutdown -c`) or wait for it",
            kind=kind,
            when=at,
        )
    if (root / _WANTED).exists():
        return msg(
            "updates of this host wait for a restart; if it restarts by itself at night "
            "the soak ends: restart it now, or turn automatic restarts off"
        )
    return NOTHING_SAID
