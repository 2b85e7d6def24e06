"""How long a test waits for what other processes, threads and devices bring about.

No test's verdict hangs on how busy the machine is: a test waits until what it claims has happened.
The limit only ends a test that would otherwise hang for ever.
"""

import time
from collections.abc import Callable

LIMIT_S = 240.0
LOOK_EVERY_S = 0.01


def until(true: Callable[[], bool], story: Callable[[], str] = str) -> None:
    """Return as soon as something is true.

    Parameters
    ----------
    story : callable
        What to tell when it never is.

    Raises
    ------
    AssertionError
        If it is not within the limit.
    """
    ends_s = time.monotonic() + LIMIT_S
    while not true():
        if time.monotonic() > ends_s:
            raise AssertionError(f"did not happen within {LIMIT_S:g} s:\n{story()}")
        time.sleep(LOOK_EVERY_S)
