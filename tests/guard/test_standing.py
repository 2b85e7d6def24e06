"""A fixture that is only stood up, to be proved, is guarded as in a soak."""

from pathlib import Path

from guarded_bench import SHEET, GuardedBench, kill
from patience import LIMIT_S

from soak.errors import ExitCode

PORT = '\n[ports.usb1]\ntext = "USB port"\nkind = "usb"\n'
VOLTS = """
[probe.usb5v]
driver = "number_file"
file = "{file}"
unit = "V"
at_port = "usb1"
every_s = 0.2
"""


def proving(bench: GuardedBench):
    """Prove a fixture whose port shows no 5 V: then the unit is on for a while."""
    (bench.folder / "fixtures" / "models" / "sp.toml").write_text(SHEET + PORT)
    volts, fixture = bench.folder / "volts.txt", bench.folder / "fixtures" / "f1.toml"
    volts.write_text("0.0\n")
    fixture.write_text(fixture.read_text() + VOLTS.format(file=volts))
    started = bench.run(verb=("prove", "f1", "--model", "sp"))
    bench.until(lambda: bench.relays.is_on("1"))
    return started


def test_a_program_killed_while_it_proves_leaves_the_unit_off(tmp_path: Path):
    """Ten minutes of power to see a probe warm are no time to be without a guard."""
    with GuardedBench(tmp_path) as bench:
        kill(proving(bench).pid)
        bench.until(lambda: not bench.relays.is_on("1"))


def test_a_relay_that_is_away_while_it_is_proved_calls_whoever_stands_there(tmp_path: Path):
    """There is no screen of a soak; the alarm is said all the same, and off comes first again."""
    with GuardedBench(tmp_path) as bench:
        prover = proving(bench)
        words = len(bench.relays.told)
        bench.peer.unplug()
        bench.until(lambda: "ALARM: the power could not be switched off" in bench.said())
        assert "the switch fell silent" in bench.said()
        bench.peer.plug()
        bench.until(lambda: len(bench.relays.told) > words)
        assert bench.relays.told[words][1:] == ("1", False)
        kill(prover.pid)


def test_what_passes_its_trip_while_it_is_proved_is_cut(tmp_path: Path):
    """A guarding probe guards whatever the power is on for."""
    with GuardedBench(tmp_path) as bench:
        prover = proving(bench)
        bench.heat("1", 95.0)
        assert prover.wait(LIMIT_S) == ExitCode.BENCH_FAULT
        assert not bench.relays.is_on("1")
        assert (
            "the guard tripped at probe.heatsink: it read 95.0 °C, its trip is 90.0 °C"
            in bench.said()
        )


def test_a_unit_is_proved_beside_another_that_is_soaked(tmp_path: Path):
    """Both hang on one board, which the bench's guard opens once for both."""
    with GuardedBench(tmp_path) as bench:
        bench.started("2")
        proving(bench)
        assert bench.relays.is_on("2")
