"""For how long something on this computer waited for a processor.

A read over USB is answered by threads of the kernel and of the program in turn; on a busy computer
each may wait, and the time it took says nothing of the stick. Runs in child processes: only the
standard library is imported.

References
----------
Linux, Documentation/accounting/psi.rst: in `/proc/pressure/cpu` the line `some` counts the time, in
microseconds, in which at least one runnable task had to wait.
"""

from pathlib import Path

PRESSURE = Path("/proc/pressure/cpu")


def waited_so_far_s() -> float:
    """Return the time since the system began, s; 0 where it keeps no count of it."""
    try:
        line = PRESSURE.read_text("ascii").partition("\n")[0]
    except OSError:
        return 0.0
    what, _, count = line.rpartition("total=")
    return int(count) / 1e6 if what.startswith("some") and count.isdigit() else 0.0
