"""Ctrl-C anywhere: one plain line, exit code 130, and a soak that had begun is sealed."""

import signal
import subprocess

from soak_process import SOAK, started

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
    out, err = process.communicate(timeout=60)
    return process.returncode, "".join(said) + out + err


def test_a_simulated_soak_is_stopped_sealed_and_graded(bench):
    """In leaping time too the unit is switched off, the journal sealed, the stop on record."""
    known = bench.soaks()
    process = started(bench.path, "run", "overnight", "--unit", "K4@sim")
    code, said = stopped_at(process, process.stderr, "'warm starts' begins")
    [new] = set(bench.soaks()) - set(known)
    evidence = open_evidence(bench.path / "reports" / new)
    assert code == ExitCode.STOPPED, said
    assert evidence.seal is not None
    assert evidence.seal.ended == "stopped"
    assert "Traceback" not in said
    assert "ALARM" not in said


def test_the_demo_is_stopped_without_a_traceback(tmp_path):
    """Ctrl-C in the demo's first seconds: exit code 130 and no traceback of its workers."""
    process = subprocess.Popen(
        [*SOAK, "demo"], cwd=tmp_path, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    code, said = stopped_at(process, process.stdout, "SIMULATED")
    assert code == ExitCode.STOPPED, said
    assert "Traceback" not in said
