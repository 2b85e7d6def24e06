"""What holds for all tests: tests/support by name, no verdict by the clock, whole modules together.

`from fuse_disk import FuseDisk` finds what stands in tests/support.
"""

import os
import signal
import sys
from pathlib import Path

import hypothesis
import pytest

sys.path.insert(0, str(Path(__file__).parent / "support"))

os.environ.pop("PYTHONUNBUFFERED", None)  # what hangs on it would break in an operator's shell
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)  # else each of a thousand processes compiles anew
sys.dont_write_bytecode = False

# Started with `nohup`, or in the background of a script, signals are handed down ignored: a program
# that heeds that would not end where a test says that it must.
for number in (getattr(signal, name) for name in ("SIGINT", "SIGHUP") if hasattr(signal, name)):
    if signal.getsignal(number) is signal.SIG_IGN:
        by_default = number == signal.SIGINT
        signal.signal(number, signal.default_int_handler if by_default else signal.SIG_DFL)

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


SLOW = (
    *("browser", "cli", "corpus", "crash", "desk", "every", "interrupted"),
    *("rules/test_little_evidence",),
    *("guard/test_joining", "guard/test_kills", "guard/test_standing"),
    *("guard/test_pressed_off_process", "guard/test_rules_in_process"),
    *("guard/test_supply_margin_process", "nights", "real", "run/test_resume"),
    *("bench/test_capture_child.py", "bench/test_capture_opencv", "bench/test_dialogues"),
    *("bench/test_stick", "bench/test_vanishing", "measure/test_picture", "measure/test_coded"),
    *("report/test_listing", "report/test_typeset", "report/test_slips"),
    *("checks/test_transfer", "journal/test_model", "run/test_good_unit", "run/test_pressed_off"),
    *("run/test_soak_ends_off", "run/test_stop_early", "sim/test_scenes_show"),
    *(
        "ledger/test_bench_wear",
        "ledger/test_corrections_model",
        "ledger/test_ledger_model",
        "sim/test_instruments",
        "sim/test_unit",
    ),
)
"""Beginnings of what waits for processes or instruments, plays whole soaks or looks at pictures."""


@pytest.hookimpl(tryfirst=True)  # before xdist reads the groups
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Mark what is slow; keep tests together that share what is made once for their module.

    Workers begin with what is slow, so that none is alone with it in the last minutes.
    """
    for item in items:
        module = item.path.relative_to(Path(__file__).parent).as_posix()
        if module.startswith(SLOW):
            item.add_marker(pytest.mark.slow)
        known = item._fixtureinfo.name2fixturedefs.values()  # the only place that knows scopes
        if any(one.scope == "module" for found in known for one in found):
            item.add_marker(pytest.mark.xdist_group(module.replace("/", ".")))  # "/" ends a name
    if hasattr(config, "workerinput"):
        items.sort(key=lambda item: item.get_closest_marker("slow") is None)
