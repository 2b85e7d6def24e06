"""Whole soaks on a terminal of their own, in a language in which what is no phrase stands out."""

import os
import re
import subprocess
import sys
import time
from pathlib import Path

import pytest
from marked_language import plain_words, wide
from one_unit_bench import bench_with_k1
from patience import LIMIT_S

from soak.sim.samples import fixture_text

pty = pytest.importorskip("pty", reason="a terminal of its own is a thing of Unix")
MARKED = Path(__file__).parents[1] / "support" / "marked_language.py"
NAMES = (
    *("K1", "SP40", "Ferrow SP-40", "simulated bench", "heatsink", "outside", "probe."),
    *("'quick'", "/reports/", "report.html", "soak:", "service port", "ferrow-sp-40"),
    "middle of the heatsink, under the lid",
    "warmest place of the case that a hand can touch",
)
"""What people typed, and names of files."""


def screen_of(bench, *words):
    """Run a command in the marked language on a terminal; return all that came on it."""
    ours, theirs = pty.openpty()
    path = os.pathsep.join([str(Path(__file__).parents[2]), *sys.path])
    command = [sys.executable, str(MARKED), "--bench", str(bench), *words]
    running = subprocess.Popen(
        command, stdin=theirs, stdout=theirs, stderr=theirs, env={**os.environ, "PYTHONPATH": path}
    )
    os.close(theirs)
    shown = b""
    ends_s = time.monotonic() + LIMIT_S
    try:
        while time.monotonic() < ends_s and (part := os.read(ours, 1 << 16)):
            shown += part
    except OSError:  # the other end of the terminal was closed
        pass
    finally:
        running.kill()
        running.wait()
        os.close(ours)
    plain = re.sub(r"\x1b\[[0-9]*[A-Z]|^-+$", "", shown.decode("utf-8", "replace"), flags=re.M)
    return plain.replace("\r", "\n")


@pytest.mark.parametrize(
    ("script", "scene", "said"),
    [
        ("quick", "good", "nothing against it so far"),
        ("evening", "overheats", "against it so far"),
        ("evening", "welded_relay", "You can leave."),
        ("overnight", "probe_falls_silent", "fell silent"),
    ],
)
def test_every_line_of_a_soak_is_said_in_the_readers_language(tmp_path, script, scene, said):
    """Events, progress, questions, cautions and the grade: nothing but names is left as it is."""
    bench = bench_with_k1(tmp_path / "bench", fixture_text(scene))
    shown = screen_of(bench, "run", script, "--unit", "K1@left", "--as-it-is", "--may-sleep")
    lines = [line.replace(str(tmp_path / "bench"), "") for line in shown.splitlines()]
    left = {
        line: words for line in lines if (words := plain_words(line, *NAMES, scene, f"'{script}'"))
    }
    assert left == {}
    assert wide("report") in shown
    assert wide(said) in shown


@pytest.mark.parametrize(
    "words",
    [
        ("show", "last"),
        ("show", "last", "0:04:00"),
        ("judge", "last"),
        ("causes", "last"),
        ("unit", "list"),
    ],
)
def test_what_a_verb_tells_of_a_soak_is_said_in_the_readers_language(soaked, words):
    """So is what is looked at in the morning."""
    shown = screen_of(soaked, *words)
    names = (*NAMES, str(soaked), "quick", *(OF_RECORD if "0:04:00" in words else ()))
    left = {line: found for line in shown.splitlines() if (found := plain_words(line, *names))}
    assert left == {}
    assert shown


OF_RECORD = (
    "network.rate",
    *("transfer.stick.chunk_s", "transfer.stick.damaged", "transfer.stick.read_s"),
    *(
        "transfer.stick.speed",
        "transfer.stick.write_s",
        "transfer.stick.write_speed",
        "transfer.stick.written",
    ),
    *("capture", "stick", "link.speed", "link", "supply", "ambient", "switch", "network.speed"),
    *("network", "jpg"),
)
"""Columns of `soak show` at a moment: sources and quantities by the names a journal has."""


@pytest.fixture(scope="module")
def soaked(tmp_path_factory):
    """Make a bench whose unit overheated in a soak."""
    bench = bench_with_k1(tmp_path_factory.mktemp("soaked") / "bench", fixture_text("overheats"))
    screen_of(bench, "run", "quick", "--unit", "K1@left")
    return bench
