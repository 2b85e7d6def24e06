"""A soak in real time on the kernel's own network ports: the whole program, a relay of the test.

The unit is a veth's other end: it has a link while the relay is on. Takes about half a minute.
"""

import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest
from as_recorded import verdicts_as_recorded
from network_bench import PORT, NetworkBench, network_bench, why_not
from patience import LIMIT_S, until
from soak_process import RELAY, SHEET, SOAK, Relay, new_bench

from soak.clock import boot_time_s
from soak.errors import JournalError
from soak.journal import JournalEvidence, open_evidence
from soak.judge.explain.timeline import events

pytestmark = pytest.mark.skipif(bool(why_not()), reason=why_not() or "-")

SOCKET = """\
[ports.network]
text = "network socket"
kind = "network"
[functions.network]
text = "takes clips over the network"
check = "network"
port = "network"
"""
WIRED = f"""\
[network]
driver = "network_port"
interface = "{PORT}"
port = "network"
"""
SCRIPT = """\
name = "short"
not_after = "25 s"
[[stretch]]
name = "run"
lasts = "10 s"
attended = true
[stretch.network]
"""
SETTLED_S = 3.0
"""So long the unit has a link before anything befalls it, s: its model starts within 1 s."""


def soaked(
    path: Path, befalls: Callable[[NetworkBench, Callable[[str], None]], None]
) -> JournalEvidence:
    """Run a soak in which something befalls the link; return its evidence.

    Parameters
    ----------
    befalls : callable
        Is given the namespace, and what waits until the link's last state is on record.
    """
    new_bench(path)
    sheet = SHEET.replace('start_s = "20 s"', 'start_s = "1 s"') + SOCKET
    (path / "fixtures" / "models" / "clip-player.toml").write_text(sheet)
    (path / "scripts").mkdir()
    (path / "scripts" / "short.toml").write_text(SCRIPT)

    def recorded() -> JournalEvidence | None:
        found = list((path / "reports").glob("*/journal.sqlite"))
        try:
            return open_evidence(found[0].parent) if found else None
        except JournalError:  # it is being made
            return None

    def is_last(state: str) -> bool:
        evidence = recorded()
        states = evidence.states("network") if evidence else ()
        return bool(states) and states[-1].state == state

    with network_bench() as bench, Relay(path / "relay") as relay:
        text = 'name = "network"\n' + RELAY.format(relay=relay.link) + WIRED
        (path / "fixtures" / "left.toml").write_text(text)
        command = [*SOAK, "--bench", str(path), "run", "short", "--unit", "K1@left"]
        process = subprocess.Popen(
            bench.within(command),
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        until(lambda: relay.is_on or process.poll() is not None)
        assert relay.is_on, process.communicate()
        bench.unit(True)
        until(lambda: is_last("seen"))
        until(lambda: boot_time_s() > relay.on_at_s[0] + SETTLED_S)
        befalls(bench, lambda state: until(lambda: is_last(state)))
        said = process.communicate(timeout=LIMIT_S)
    evidence = recorded()
    assert evidence is not None, said
    return evidence


def test_a_link_that_goes_for_a_second_under_power_is_charged(tmp_path):
    """The other end is switched off for 1 s: one loss, as long as that, and it is not met."""

    def drops(bench: NetworkBench, told: Callable[[str], None]) -> None:
        bench.unit(False)
        gone_s = boot_time_s()
        told("gone")
        until(lambda: boot_time_s() > gone_s + 1.0)
        bench.unit(True)
        told("seen")

    evidence = soaked(tmp_path, drops)
    assert verdicts_as_recorded(evidence)["run/network/stays"] == "not met"
    [loss] = [one for one in events(evidence) if one.kind == "network gone"]
    assert loss.to_s - loss.from_s >= 1.0


def test_a_port_of_the_bench_that_vanishes_is_never_charged(tmp_path):
    """Its carrier goes and it is deleted, as when a USB adapter is pulled: blind, and no loss."""

    def vanishes(bench: NetworkBench, told: Callable[[str], None]) -> None:
        bench.unit(False)
        bench.ip("link", "del", PORT)
        told("blind")

    evidence = soaked(tmp_path, vanishes)
    assert verdicts_as_recorded(evidence)["run/network/stays"] == "not shown"
    assert [one for one in events(evidence) if one.kind == "network gone"] == []
    assert "plug its adapter in again" in evidence.states("network")[-1].detail["why"]
