"""What holds for all tests: tests/support by name, no verdict by the clock, whole modules together.

`from fuse_disk import FuseDisk` finds what stands in tests/support, and
`import generate` what stands in docs.
"""

import functools
import os
import signal
import sys
from pathlib import Path

import hypothesis
import pytest

sys.path[:0] = [str(Path(__file__).parent / "support"), str(Path(__file__).parents[1] / "docs")]

os.environ.pop("PYTHONUNBUFFERED", None)  # what hangs on it would break in an operator's shell
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)  # else each of a thousand processes compiles anew
sys.dont_write_bytecode = False
for name in ("LANGUAGE", "LC_ALL"):  # tests compare English, whatever their author's shell speaks
    os.environ.pop(name, None)
os.environ["LC_MESSAGES"] = "C"

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

WORKERS_A_CORE = 3
"""Many tests wait for a process or an instrument rather than compute."""


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers() -> int:
    """Return how many workers `-n auto` means."""
    return WORKERS_A_CORE * (os.cpu_count() or 1)


SHARES = ('scope="module"', "# on one worker: ")
"""What a module says that makes something once for its tests, or holds what is the computer's."""


@functools.cache
def _stays_together(path: str) -> bool:
    """Tell whether the tests of a module are one worker's."""
    told = (Path(__file__).parent.parent / path).read_text(encoding="utf-8")
    return any(word in told for word in SHARES)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: object) -> object:
    """Return what deals tests out: a module that shares something to one worker, others one by one.

    xdist's own groups hang on a private name of an item's id that pytest 9 no longer reads.
    """
    from xdist.scheduler import LoadScopeScheduling

    class Sharing(LoadScopeScheduling):
        def _split_scope(self, nodeid: str) -> str:
            path = nodeid.partition("::")[0]
            return path if _stays_together(path) else nodeid

    return Sharing(config, log)


SLOW = (
    *("browser", "cli", "corpus", "crash", "desk", "every", "hostile", "interrupted"),
    *("rules/test_little_evidence",),
    *("guard/test_joining", "guard/test_kills", "guard/test_lives_on", "guard/test_over_voltage"),
    *("guard/test_pressed_off_process", "guard/test_rules_in_process", "guard/test_standing"),
    *("guard/test_starting", "guard/test_supply_margin_process", "guard/test_unguarded"),
    *("house/test_promises", "judge/test_beside_holes", "nights", "real"),
    *("report/test_language", "run/test_relay_falls_silent", "run/test_resume"),
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

NIGHTS = (
    *("browser", "cli/test_liars", "crash/test_damage", "desk/test_demo", "desk/test_heat_verb"),
    *("desk/test_jobs_before",),
    *("desk/test_open_relay", "desk/test_stricter_word", "desk/test_three_soaks"),
    *("guard/test_kills", "guard/test_over_voltage", "guard/test_supply_margin_process"),
    *("interrupted", "nights"),
)
"""Beginnings of what takes long: nights one after another, soaks in real time, pages in a browser,
each byte of a journal."""


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Mark what is slow, and what is for the nights.

    Workers begin with what is slow, so that none is alone with it in the last minutes.
    """
    for item in items:
        module = item.path.relative_to(Path(__file__).parent).as_posix()
        if module.startswith(SLOW):
            item.add_marker(pytest.mark.slow)
        if module.startswith(NIGHTS):
            item.add_marker(pytest.mark.nights)
    if hasattr(config, "workerinput"):
        items.sort(key=lambda item: item.get_closest_marker("slow") is None)


@pytest.fixture(autouse=True)
def english_again():
    """Speak no bench's language to the next test."""
    yield
    if "soak.reader" in sys.modules:
        reader = sys.modules["soak.reader"]
        reader.speak(reader.of_environment)
