"""The check `stood_in`: counting what a stand-in saw, and what is demanded of it."""

import sys
from pathlib import Path

import trio

sys.path.insert(0, str(Path(__file__).parent))
from headers import placed
from scripted_bench import measured

from soak.checks.stood_in import ENUMERATIONS, READ, WROTE, StoodInCheck, StoodInSettings
from soak.records import Reading, State

SHEET = {
    "ports": {"usb2": {"text": "second USB port", "kind": "usb"}},
    "functions": {
        "usb2": {"text": "takes a stick", "check": "stood_in", "port": "usb2"},
        "service": {"text": "another port", "check": "stood_in", "port": "usb1"},
    },
}


def check(driver: str = "stood_in", **settings: object) -> StoodInCheck:
    """Return the check on a fixture whose link is at the second port."""
    fixture = {"link": {"driver": driver, "port": "usb2"}}
    return StoodInCheck(StoodInSettings(**settings), placed("hot run", fixture, SHEET))


def seen(enumerations: int, read: int | None, wrote: int | None = 0, state: str = "seen") -> State:
    """Return a state as the driver says it."""
    counts = {"enumerations": enumerations, "read_bytes": read, "written_bytes": wrote}
    counts["read_here_bytes"] = None if read is None else min(read, 8192)
    return State(0.0, "link", state, detail={"stood_in": True, **counts})


def summed(*states: State) -> dict[str, float]:
    """Return the sum of each quantity after the link said these states."""

    async def stream(bench):
        for state in states:
            yield state
            await trio.sleep(1.0)

    bench = measured(check(), {"link": stream}, stop_after_s=100.0)
    found: dict[str, float] = {}
    for record in bench.said:
        if isinstance(record, Reading):
            found[record.quantity] = found.get(record.quantity, 0.0) + record.value
    return found


def test_counts_from_before_the_stretch_are_not_counted_again():
    """A stand-in that has run for days brings what is new, and what it read since it came in."""
    found = summed(seen(40, 5_000_000), seen(41, 5_004_096), seen(42, 5_004_608, 512))
    assert found == {ENUMERATIONS: 3.0, READ: 8192 + 4608.0, WROTE: 512.0}


def test_a_stand_in_begun_anew_counts_from_its_beginning():
    """Counts that fall are those of a new process, and all of them are new."""
    found = summed(seen(5, 9000), seen(2, 1000))
    assert found == {ENUMERATIONS: 3.0, READ: 8192 + 1000.0, WROTE: 0.0}


def test_a_stick_that_is_never_taken_in_counts_zero():
    """Nothing seen is a count of none, not a missing count."""
    assert summed(seen(0, 0, state="gone")) == {ENUMERATIONS: 0.0, READ: 0.0, WROTE: 0.0}


def test_what_the_kernel_does_not_count_is_no_reading():
    """Unknown bytes are no zero bytes."""
    assert READ not in summed(seen(1, None, None))


def test_blindness_counts_nothing():
    """A lost connection changes no count."""
    blind = State(0.0, "link", "blind", detail={"why": "it left"})
    assert summed(seen(1, 512), blind, seen(1, 512))[ENUMERATIONS] == 1.0


def test_only_a_stand_in_shows_the_repair_of_its_port():
    """A link seen from the bench's own computer shows nothing of the unit as a host."""
    assert {one.shows_repair for one in check().requirements()} == {frozenset({"usb2"})}
    assert {one.shows_repair for one in check("usb_link").requirements()} == {frozenset()}


def test_a_unit_that_only_looks_need_not_read():
    """With 0 bytes there is one demand, else two; both name the port in words."""
    assert [one.rule for one in check(read_bytes=0).requirements()] == ["taken in"]
    demands = check(enumerations=20, read_bytes=4096).requirements()
    assert [one.rule for one in demands] == ["taken in", "read by the unit"]
    assert demands[0].text == "The unit takes in a stick at the second USB port at least 20 times"
    assert demands[1].text == "The unit reads at least 4.10 kB of a stick at the second USB port"
