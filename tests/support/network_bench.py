"""A network port of the bench and the unit's socket at its cable: a veth pair in a namespace.

The kernel's own pair of ports: `bench0` has carrier while `unit0` is switched on (veth(4)). Nothing
of this computer's own network is touched.
"""

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

from patience import LIMIT_S

PORT, UNIT = "bench0", "unit0"
_SETS_UP = f"""
mount -t sysfs sysfs /sys
ip link set lo up
ip link add {PORT} type veth peer name {UNIT}
ip link set {PORT} up
echo ready
read _
"""


def why_not() -> str:
    """Say why no pair of ports can be made here; empty where one can."""
    if sys.platform != "linux" or os.geteuid() != 0:
        return "a network namespace needs Linux and root"
    missing = [name for name in ("unshare", "nsenter", "ip") if shutil.which(name) is None]
    if missing:
        return f"{missing[0]} is not installed (util-linux, iproute2)"
    tried = subprocess.run(
        ["unshare", "-n", "ip", "link", "add", "a0", "type", "veth", "peer", "name", "a1"],
        capture_output=True,
        text=True,
        check=False,
    )
    return f"this kernel has no veth: {tried.stderr.strip()}" if tried.returncode else ""


@dataclass(frozen=True)
class NetworkBench:
    """The namespace of a process that keeps it."""

    pid: int

    def within(self, command: Sequence[str]) -> list[str]:
        """Return a command as it runs in the namespace, with the namespace's own files in /sys."""
        return ["nsenter", "-t", str(self.pid), "-n", "-m", *command]

    def ip(self, *words: str) -> None:
        """Run `ip` there."""
        subprocess.run(self.within(["ip", *words]), check=True, timeout=LIMIT_S)

    def unit(self, on: bool) -> None:
        """Give the unit's end of the cable a link, or take it."""
        self.ip("link", "set", UNIT, "up" if on else "down")


@contextmanager
def network_bench() -> Iterator[NetworkBench]:
    """Make the pair; the unit's end is off at first."""
    keeper = subprocess.Popen(
        ["unshare", "-n", "-m", "sh", "-e", "-c", _SETS_UP],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert keeper.stdin is not None
    assert keeper.stdout is not None
    try:
        assert keeper.stdout.readline() == "ready\n"
        yield NetworkBench(keeper.pid)
    finally:
        keeper.stdin.close()
        keeper.stdout.close()
        keeper.wait(LIMIT_S)
