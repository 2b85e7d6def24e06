"""The driver of a network port: on what a kernel told, and on the kernel's own pairs of ports."""

import hashlib
import json
import subprocess
import sys
from pathlib import Path

import pytest
from network_bench import PORT, UNIT, network_bench, why_not
from patience import LIMIT_S, until

from soak.bench.drivers.network_port import PortWatch
from soak.bench.find import find_network_ports
from soak.bench.rtnetlink import Interface, parse_messages
from soak.records import Reading, State

SUPPORT = Path(__file__).parents[1] / "support"
TOLD = json.loads((SUPPORT.parent / "data" / "network" / "rtnetlink.json").read_text())["messages"]
GIGABIT = (1000.0, "full")
needs_kernel = pytest.mark.skipif(bool(why_not()), reason=why_not() or "-")


def after(command: str) -> list[Interface]:
    """Return what a kernel told after a command of iproute2."""
    messages = [bytes.fromhex(one["message"]) for one in TOLD if one["after"] == command]
    assert messages
    return [one for message in messages for one in parse_messages(message)]


def port(*, up: bool = True, carrier: bool = True, drops: int = 0) -> Interface:
    """Return a port as the kernel may tell of it."""
    return Interface(index=2, name="eth1", up=up, carrier=carrier, drops=drops)


def states(said: list[State | Reading]) -> list[str]:
    """Return the states among what was said."""
    return [one.state for one in said if isinstance(one, State)]


def test_what_a_kernel_told_is_read():
    """Switched on here, a partner that comes and goes, a name that changes, and a deletion."""
    on = after("ip link set bench0 up")[-1]
    assert (on.name, on.up, on.carrier) == ("bench0", True, False)
    comes, goes = after("ip link set unit0 up")[-1], after("ip link set unit0 down")[-1]
    assert (comes.name, comes.carrier, goes.carrier) == ("bench0", True, False)
    assert goes.drops == comes.drops + 1
    renamed = after("ip link set bench0 name other0")[-1]
    assert (renamed.index, renamed.name) == (on.index, "other0")
    assert not after("ip link del other0")[0].there


def test_a_port_that_leaves_a_bridge_is_not_deleted():
    """A bridge tells of its ports by deletions of its own family: the port itself is there."""
    told = after("ip link del br0")
    assert all(one.there for one in told if one.name == "bench0")


@pytest.mark.parametrize("cut", [0, 3, 15, 16, 40, 200])
def test_a_message_cut_short_is_left_out(cut):
    """Half a message says nothing and breaks nothing."""
    whole = bytes.fromhex(TOLD[0]["message"])
    assert parse_messages(whole[:cut]) == []
    assert len(parse_messages(whole + whole[:cut])) == 1


def test_a_speed_is_said_when_the_link_comes_and_when_it_differs():
    """Both ends agreed on less after the carrier was gone: gone, seen, and the lower speed."""
    watch = PortWatch("network", "eth1")
    said = watch.take(1.0, port(), GIGABIT)
    said += watch.take(2.0, port(), GIGABIT)
    said += watch.take(3.0, port(carrier=False, drops=1))
    said += watch.take(6.0, port(drops=1), (100.0, "full"))
    assert states(said) == ["seen", "gone", "seen"]
    assert [one.value for one in said if isinstance(one, Reading)] == [1000.0, 100.0]


def test_a_loss_between_two_looks_is_told_by_the_kernels_count():
    """The carrier is there at both looks, and the kernel counted that it went in between."""
    watch = PortWatch("network", "eth1")
    watch.take(1.0, port(drops=4), GIGABIT)
    said = watch.take(11.0, port(drops=5), GIGABIT, within_s=10.0)
    assert states(said) == ["gone", "seen"]
    assert said[0].within_s == 10.0


def test_a_speed_that_nobody_knows_is_not_said():
    """A driver may not tell the speed (-1 in sysfs-class-net): the link is seen all the same."""
    said = PortWatch("network", "eth1").take(1.0, port(), (None, ""))
    assert [type(one) for one in said] == [State]


@pytest.mark.parametrize(
    ("now", "says"), [(None, "plug its adapter in again"), (port(up=False), "ip link set eth1 up")]
)
def test_what_is_the_benchs_own_is_blind_and_says_what_to_do(now, says):
    """An adapter that was pulled, a port that was switched off: never against the unit."""
    watch = PortWatch("network", "eth1")
    watch.take(1.0, port(), GIGABIT)
    [blind] = watch.take(2.0, now)
    assert blind.state == "blind"
    assert says in blind.detail["why"]
    assert watch.take(3.0, now) == []


def test_find_gives_lines_to_paste():
    """Each port but the loopback, with what it is now and what to do first."""
    there = {one.name: one for one in (port(up=False), Interface(1, "lo", True, True))}
    [found] = find_network_ports(there)
    assert "switched off" in found.description
    assert 'driver = "network_port"\ninterface = "eth1"' in found.toml
    assert "ip link set eth1 up" in found.toml


@pytest.fixture(scope="module")
def story():
    """Play the story on the kernel's own ports; return what was said by chapter."""
    with network_bench() as bench:
        command = [sys.executable, str(SUPPORT / "network_story.py")]
        ran = subprocess.run(
            bench.within(command), capture_output=True, text=True, timeout=LIMIT_S, check=False
        )
    assert ran.returncode == 0, ran.stderr
    return {one["what"]: one["said"] for one in json.loads(ran.stdout)}


@needs_kernel
def test_a_port_that_is_not_there_is_refused_with_those_that_are(story):
    """Before anything starts, in one sentence."""
    assert story["refused"]["nope0"] == (
        f"network: there is no network interface nope0 on this computer; "
        f"there are {PORT}, lo, {UNIT}"
    )


@needs_kernel
def test_a_port_that_is_switched_off_is_refused_with_what_to_do(story):
    """The command to type stands in the sentence."""
    assert story["refused"][UNIT].endswith(f"switch it on: ip link set {UNIT} up")


@needs_kernel
def test_the_carrier_of_a_real_kernel_is_seen_to_come_and_go(story):
    """Gone while the other end is off, seen with speed and duplex when it comes."""
    assert [one["state"] for one in story["begins"]] == ["gone"]
    [seen, speed] = story["comes"]
    assert (seen["state"], seen["duplex"]) == ("seen", "full")
    assert speed == {"network.speed": 10000.0}  # what veth says: drivers/net/veth.c
    assert [one["state"] for one in story["goes"]] == ["gone"]


@needs_kernel
def test_losses_too_short_to_look_at_are_counted_each(story):
    """The link goes twice within milliseconds: twice it is said to be gone."""
    assert [one["state"] for one in story["blinks"] if "state" in one].count("gone") == 2


@needs_kernel
def test_a_deleted_port_is_blind_until_it_is_back(story):
    """As when a USB adapter is pulled and plugged in again: it may have another number then."""
    assert "gone" not in [one.get("state") for one in story["switched off here"]]
    assert story["deleted"][-1]["state"] == "blind"
    assert [one["state"] for one in story["back"] if "state" in one][-1] == "seen"


FETCH = """
import json, sys
from soak.bench.drivers.network_port import fetch_over
got = fetch_over(sys.argv[1], sys.argv[2], float(sys.argv[3]))
json.dump(got._asdict(), sys.stdout)
"""
SERVE = """
import http.server, sys, time
class Unit(http.server.BaseHTTPRequestHandler):
    def do_GET(self):
        if self.path == "/missing":
            return self.send_error(404)
        self.send_response(200)
        self.send_header("Content-Length", "200000")
        self.end_headers()
        self.wfile.write(b"soak" * (50_000 if self.path == "/clip" else 10_000))
        if self.path == "/hangs":
            time.sleep(60)
    def log_message(self, *words):
        pass
http.server.ThreadingHTTPServer(("10.99.0.2", 80), Unit).serve_forever()
"""


@pytest.fixture(scope="module")
def fetched():
    """Let a unit in a namespace of its own serve a file; return what came of four fetches."""
    with network_bench() as bench, network_bench() as unit:
        bench.ip("link", "set", UNIT, "name", "socket0")
        bench.ip("link", "set", "socket0", "netns", str(unit.pid))
        bench.ip("addr", "add", "10.99.0.1/24", "dev", PORT)
        unit.ip("addr", "add", "10.99.0.2/24", "dev", "socket0")
        unit.ip("link", "set", "socket0", "up")
        server = subprocess.Popen(unit.within([sys.executable, "-c", SERVE]))

        def fetch(path: str, limit_s: float = LIMIT_S) -> dict:
            command = [sys.executable, "-c", FETCH, PORT, f"http://10.99.0.2{path}", str(limit_s)]
            said = subprocess.run(bench.within(command), capture_output=True, check=True)
            return json.loads(said.stdout)

        try:
            until(lambda: fetch("/clip")["why"] == "")
            yield {
                "/clip": fetch("/clip"),
                "/short": fetch("/short"),
                "/hangs": fetch("/hangs", 1.0),
                "/missing": fetch("/missing"),
            }
        finally:
            server.kill()
            server.wait()


@needs_kernel
def test_a_file_that_came_whole_has_its_checksum(fetched):
    """Its SHA-256 is that of what was served."""
    assert fetched["/clip"]["size_bytes"] == 200_000
    assert fetched["/clip"]["sha256"] == hashlib.sha256(b"soak" * 50_000).hexdigest()


@needs_kernel
@pytest.mark.parametrize(
    ("path", "hung"), [("/short", False), ("/hangs", True), ("/missing", False)]
)
def test_what_did_not_come_whole_has_no_checksum_and_a_reason(fetched, path, hung):
    """A connection that broke off, one that stands still, a file that is not there."""
    got = fetched[path]
    assert (got["sha256"], got["hung"]) == ("", hung)
    assert got["why"]
