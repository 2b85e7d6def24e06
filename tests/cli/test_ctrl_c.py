"""Ctrl-C anywhere: one plain line, exit code 130, and a soak that had begun is sealed.

Also where the shell that started soak handed Ctrl-C down ignored, as it does with what a script
puts in the background (POSIX.1-2017, Shell Command Language, 2.11).
"""

import signal
import subprocess
import sys

import pytest
from patience import LIMIT_S
from soak_process import SOAK, handed_down_ignored, started
from typed_bench import BRIEF

from soak.errors import ExitCode
from soak.journal import open_evidence


def stopped_at(process: "subprocess.Popen[str]", stream, word: str) -> tuple[int, str]:
    """Send Ctrl-C as soon as a word was said; return the exit code and all that was said."""
    said = []
    for line in stream:
        said.append(line)
        if word in line:
            process.send_signal(signal.SIGINT)
            break
    out, err = process.communicate(timeout=LIMIT_S)
    return process.returncode, "".join(said) + out + err


@pytest.mark.parametrize("ignored", [(), (signal.SIGINT,)], ids=["as usual", "ignored"])
def test_a_simulated_soak_is_stopped_sealed_and_graded(bench, ignored):
    """In leaping time too the unit is switched off, the journal sealed, the stop on record."""
    known = bench.soaks()
    fortnight = BRIEF.replace('"1 h"', '"336 h"').replace('"2 min"', '"160 h"')
    bench.write(
        "scripts/fortnight.toml", fortnight
    )  # leaping, a night could be over before Ctrl-C comes
    with handed_down_ignored(*ignored):
        process = started(bench.path, "run", "fortnight", "--unit", "K4@sim")
    code, said = stopped_at(process, process.stderr, "'run' begins")
    assert code == ExitCode.STOPPED, said
    [new] = set(bench.soaks()) - set(known)
    evidence = open_evidence(bench.path / "reports" / new)
    assert evidence.seal is not None
    assert evidence.seal.ended == "stopped"
    assert "Traceback" not in said
    assert "ALARM" not in said


@pytest.mark.parametrize("ignored", [(), (signal.SIGINT,)], ids=["as usual", "ignored"])
def test_the_demo_is_stopped_without_a_traceback(tmp_path, ignored):
    """Ctrl-C in the demo's first seconds: exit code 130 and no traceback of its workers."""
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "text": True}
    with handed_down_ignored(*ignored):
        process = subprocess.Popen([*SOAK, "demo"], cwd=tmp_path, **pipes)
    code, said = stopped_at(process, process.stdout, "SIMULATED")
    assert code == ExitCode.STOPPED, said
    assert "Traceback" not in said


def test_a_soak_started_with_nohup_outlives_its_terminal(bench):
    """A closed terminal that was handed down ignored ends nothing: the soak comes to its end."""
    known = bench.soaks()
    with handed_down_ignored(signal.SIGHUP):
        process = started(bench.path, "run", "brief", "--unit", "K4@sim")
    for line in process.stderr:
        if "begins" in line:
            break
    process.send_signal(signal.SIGHUP)
    _, err = process.communicate(timeout=LIMIT_S)
    [new] = set(bench.soaks()) - set(known)
    evidence = open_evidence(bench.path / "reports" / new)
    assert evidence.seal is not None, err
    assert evidence.seal.ended == "complete"
    assert not evidence.marks("stopped")


EARLY = """
import importlib.abc, os, signal, sys

class CtrlC(importlib.abc.MetaPathFinder):
    # Presses Ctrl-C in the moment in which a module is looked for.
    def find_spec(self, name, path, target=None):
        if name == {module!r}:
            sys.meta_path.remove(self)
            os.kill(os.getpid(), signal.{how})

sys.meta_path.insert(0, CtrlC())
from soak.cli.main import main
main()
"""


LOADED = (
    "typer soak.cli.units soak.desk.soaking.run trio numpy numpy.linalg cv2 sqlalchemy scipy "
    "pydantic soak.desk.soaking.carrying_out"
)


@pytest.mark.parametrize(
    ("how", "module"),
    [
        *(("SIGINT", module) for module in LOADED.split()),
        ("SIGHUP", "soak.desk.soaking.run"),
        ("SIGTERM", "soak.desk.soaking.run"),
    ],
)
def test_ctrl_c_while_the_program_still_loads_is_one_line(bench, how, module):
    """In the first half second, wherever it comes: code 130, one plain line, nothing begun."""
    known = bench.soaks()
    words = ["--bench", str(bench.path), "run", "brief", "--unit", "K4@sim"]
    ended = subprocess.run(
        [sys.executable, "-c", EARLY.format(module=module, how=how), *words],
        check=False,
        capture_output=True,
        text=True,
        timeout=LIMIT_S,
    )
    assert ended.returncode == ExitCode.STOPPED, ended.stderr
    assert ended.stderr == "soak: stopped\n"
    assert bench.soaks() == known


CHILD = """
import subprocess, sys
from soak.cli.main import main
try:
    main()
except SystemExit:
    print(subprocess.run([sys.executable, "-c", "raise SystemExit(7)"]).returncode)
"""


def test_how_a_child_ended_is_known_whoever_started_soak():
    """Where the end of children is handed down ignored their exit codes would all read 0."""
    with handed_down_ignored(signal.SIGCHLD):
        command = [sys.executable, "-c", CHILD, "--version"]
        process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    out, _ = process.communicate(timeout=LIMIT_S)
    assert out.splitlines()[-1] == "7"
