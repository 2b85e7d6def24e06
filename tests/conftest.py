"""What holds for all tests: tests/support by name, no verdict by the clock, whole modules together.

`from fuse_disk import FuseDisk` finds what stands in tests/support.
"""

import os
import sys
from pathlib import Path

import hypothesis
import pytest

sys.path.insert(0, str(Path(__file__).parent / "support"))

hypothesis.settings.register_profile(
    "any-load", deadline=None, suppress_health_check=[hypothesis.HealthCheck.too_slow]
)
hypothesis.settings.load_profile("any-load")

WORKERS_A_CORE = 2
"""Many tests wait for a process or an instrument rather than compute."""


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers() -> int:
    """Return how many workers `-n auto` means."""
    return WORKERS_A_CORE * (os.cpu_count() or 1)


@pytest.hookimpl(tryfirst=True)  # before xdist reads the groups
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Send a module's tests to one worker where they share what is made once for the module."""
    for item in items:
        known = item._fixtureinfo.name2fixturedefs.values()  # the only place that knows scopes
        if any(one.scope == "module" for found in known for one in found):
            item.add_marker(pytest.mark.xdist_group(item.nodeid.partition("::")[0]))
