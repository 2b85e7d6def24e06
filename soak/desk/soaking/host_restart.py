"""Whether this host is about to restart, as far as it says so."""

from datetime import UTC, datetime
from pathlib import Path

_WANTED = "run/reboot-required"
_SCHEDULED = "run/systemd/shutdown/scheduled"


def pending_restart(root: Path = Path("/")) -> str:
    """Return one sentence if a restart or shutdown of the host is wanted or planned, else nothing.

    Known from what the system's updater (`/run/reboot-required`) and its service manager
    (`/run/systemd/shutdown/scheduled`) leave there; a system without them is not known about.

    Parameters
    ----------
    root : Path
        Where the system's files are.
    """
    try:
        text = (root / _SCHEDULED).read_text("utf-8", "replace")
    except OSError:
        text = ""
    planned = dict(line.split("=", 1) for line in text.splitlines() if "=" in line)
    if planned.get("USEC", "").isdigit():
        when = datetime.fromtimestamp(int(planned["USEC"]) / 1e6, UTC)
        kind = planned.get("MODE", "shutdown")
        return (
            f"this host will {kind} at {when:%Y-%m-%d %H:%M} UTC and the soak end with it; "
            "take that back (`shutdown -c`) or wait for it"
        )
    if (root / _WANTED).exists():
        return (
            "updates of this host wait for a restart; if it restarts by itself at night the soak "
            "ends: restart it now, or turn automatic restarts off"
        )
    return ""
