"""Stand-in and bench over the loop-back network: greeting, status, and what can go wrong."""

import stat
from contextlib import aclosing, asynccontextmanager

import pytest
import trio
from fake_gadgets import FakeKernel
from patience import LIMIT_S

from soak.bench.drivers.stood_in import StoodIn, open_stood_in
from soak.bench.off_loop import off_loop_for
from soak.bench.registry import Tools
from soak.bench.stand_in.client import Unreached, connect
from soak.bench.stand_in.server import StandIn, serve_stand_in
from soak.bench.stand_in.words import (
    VERSION,
    Unfit,
    fit_to_bind,
    heard,
    line,
    new_key,
    proof,
    read_key,
    status_from,
)
from soak.clock import BootClock
from soak.errors import BenchFault, FixtureError
from soak.records import Reading, State
from soak.settings import checked

KEY = bytes(range(32))


def run(main, *args):
    """Run on the real clock: a network does not leap."""
    clock = BootClock()

    async def limited() -> None:
        with trio.fail_after(LIMIT_S):
            await main(*args)

    trio.run(limited, clock=clock)


@asynccontextmanager
async def served(kernel, key=KEY):
    """Run a stand-in on a fake kernel; yield its port and the scope that ends it."""
    stand_in = StandIn(kernel.port().look, key, {"udc": "fake.0"})
    async with trio.open_nursery() as nursery:
        port = await nursery.start(serve_stand_in, stand_in, "127.0.0.1", 0)
        yield port, nursery.cancel_scope
        nursery.cancel_scope.cancel()


@asynccontextmanager
async def babbling(*lines: bytes):
    """Run something that says lines to whoever connects."""

    async def babble(stream) -> None:
        async with stream:
            for one in lines:
                await stream.send_all(one)
            await trio.sleep(1)

    async with trio.open_nursery() as nursery:
        serve = lambda **given: trio.serve_tcp(babble, 0, host="127.0.0.1", **given)  # noqa: E731 - one use
        listeners = await nursery.start(serve)
        yield listeners[0].socket.getsockname()[1]
        nursery.cancel_scope.cancel()


async def refused(port: int, key: bytes = KEY) -> str:
    """Return the one sentence with which a connection fails."""
    with pytest.raises(Unreached) as caught:
        await connect("127.0.0.1", port, key)
    assert "\n" not in str(caught.value)
    return str(caught.value)


@pytest.fixture
def kernel(tmp_path) -> FakeKernel:
    return FakeKernel(tmp_path)


@pytest.fixture
def key_file(tmp_path):
    file = tmp_path / "bench.key"
    file.touch(mode=0o600)
    file.write_text(KEY.hex())
    return file


def test_the_proof_is_the_one_of_the_protocol():
    """HMAC-SHA-256 over the documented lines; value by `openssl dgst` of OpenSSL 3.0.19.

    `openssl dgst -sha256 -mac HMAC -macopt hexkey:000102...1f` over five lines without a last end:
    soak stand-in, 2, bench, aa, bb.
    """
    given = "11ad4e6b574a17d757032e9931b3d63ea3e83e3502fdef32c542c7fa67e0e8b8"
    assert proof(KEY, "bench", "aa", "bb") == given


def test_a_bench_with_the_key_hears_what_the_unit_does(kernel):
    """Status at once, then at each change, with counts and speed."""

    async def main() -> None:
        async with served(kernel) as (port, _):
            connection = await connect("127.0.0.1", port, KEY)
            assert connection.identity == {"udc": "fake.0"}
            async with aclosing(connection.statuses()) as statuses:
                first = await anext(statuses)
                kernel.enumerate_at("super-speed")
                then = await anext(statuses)
                assert (first.at, first.enumerations) == ("gone", 0)
                assert (then.at, then.enumerations, then.speed_mbps) == ("seen", 1, 5000)
            await connection.aclose()

    run(main)


def test_a_bench_with_another_key_is_turned_away(kernel):
    """It hears no status, and is told to copy the key."""

    async def main() -> None:
        async with served(kernel) as (port, _):
            assert "has another key; copy its key file" in await refused(port, bytes(32))

    run(main)


def test_a_stand_in_that_does_not_know_the_key_is_not_believed():
    """The bench wants a proof, too: whatever listens there could invent a good unit."""

    async def main() -> None:
        greeting = line(soak_stand_in=VERSION, challenge="00")
        async with babbling(greeting, line(proof="0" * 64, identity={})) as port:
            assert "does not know the key" in await refused(port)

    run(main)


def test_a_bench_without_a_proof_hears_nothing(kernel):
    """Silence, rubbish or an empty nonce end the connection without a status."""

    async def main() -> None:
        async with served(kernel) as (port, _):
            for said in (b"\n", b"[]\n", b"x" * 9000, line(soak_bench=VERSION, nonce="", proof="")):
                stream = await trio.open_tcp_stream("127.0.0.1", port)
                await stream.send_all(said)
                heard_all = b""
                try:
                    while data := await stream.receive_some(4096):
                        heard_all += data
                except trio.BrokenResourceError:
                    pass
                assert b"enumerations" not in heard_all
                await trio.aclose_forcefully(stream)
            await (await connect("127.0.0.1", port, KEY)).aclose()  # others are still served

    run(main)


def test_a_stand_in_of_another_version_is_told():
    """Both versions and the way out, before any key is used."""

    async def main() -> None:
        async with babbling(line(soak_stand_in=1, challenge="00")) as port:
            text = await refused(port)
            assert "speaks version 1 of the protocol and this bench version 2" in text
            assert "install the same soak on both" in text

    run(main)


def test_a_bench_of_another_version_is_told_the_stand_ins(kernel):
    """The older end says which it speaks."""

    async def main() -> None:
        async with served(kernel) as (port, _):
            stream = await trio.open_tcp_stream("127.0.0.1", port)
            await stream.send_all(line(soak_bench=9, nonce="aa", proof=""))
            said = b""
            while data := await stream.receive_some(4096):
                said += data
            assert heard(said.splitlines()[-1]) == {"refused": "version", "soak_stand_in": VERSION}
            await trio.aclose_forcefully(stream)

    run(main)


def test_what_is_no_stand_in_is_told():
    """A web server, or rubbish, or nothing at all."""

    async def main() -> None:
        for said in (b"HTTP/1.1 400 Bad Request\r\n", b"{}\n", b"x" * 9000):
            async with babbling(said) as port:
                assert "is no stand-in" in await refused(port)
        listener = (await trio.open_tcp_listeners(0, host="127.0.0.1"))[0]
        port = listener.socket.getsockname()[1]
        await listener.aclose()
        assert "cannot be reached (Connection refused)" in await refused(port)

    run(main)


def wired(at_port: int, key, **more: object) -> StoodIn:
    """Return a fixture's entry."""
    given = {"driver": "stood_in", "stand_in": f"127.0.0.1:{at_port}", "key_file": str(key)}
    return checked(StoodIn, {**given, "port": "usb2", **more}, "left.toml", FixtureError)


@asynccontextmanager
async def linked(settings: StoodIn):
    """Open the driver for the length of a block."""
    clock = trio.lowlevel.current_clock()
    link = await open_stood_in.open("link", settings, Tools(off_loop_for(clock), None, clock))
    try:
        async with aclosing(link.changes()) as changes:
            yield changes
    finally:
        await link.aclose()


async def until(changes, kind, wanted):
    """Return the next record of a kind that is as wanted."""
    async for record in changes:
        if isinstance(record, kind) and wanted(record):
            return record
    return None


def test_the_driver_tells_states_speed_and_resets(kernel, key_file):
    """Seen, its speed, a reset of the unit, gone: as the link of a fixture."""

    async def main() -> None:
        async with served(kernel) as (port, _), linked(wired(port, key_file)) as changes:
            first = await until(changes, State, lambda _: True)
            assert (first.source, first.state) == ("link", "gone")
            kernel.enumerate_at("high-speed")
            seen = await until(changes, State, lambda one: one.state == "seen")
            assert seen.detail["enumerations"] == 1
            speed = await until(changes, Reading, lambda one: one.quantity == "link.speed")
            assert speed.value == 480
            kernel.state("default")
            await trio.sleep(0.1)
            kernel.enumerate_at("high-speed")
            reset = await until(changes, Reading, lambda one: one.quantity == "link.resets")
            assert reset.value == 1
            kernel.state("not attached")
            assert await until(changes, State, lambda one: one.state == "gone")

    run(main)


def test_a_dropped_connection_is_blind_and_mended(kernel, key_file):
    """The bench could not see, which is no loss of the unit's; then it is seen again."""

    async def main() -> None:
        kernel.enumerate_at()
        async with trio.open_nursery() as nursery:
            stand_in = StandIn(kernel.port().look, KEY, {})
            scope = trio.CancelScope()

            async def once(port, task_status=trio.TASK_STATUS_IGNORED) -> None:
                with scope:
                    await serve_stand_in(stand_in, "127.0.0.1", port, task_status)

            port = await nursery.start(once, 0)
            async with linked(wired(port, key_file)) as changes:
                assert await until(changes, State, lambda one: one.state == "seen")
                scope.cancel()
                blind = await until(changes, State, lambda one: one.state != "seen")
                assert blind.state == "blind"
                assert "ended the connection" in blind.detail["why"]
                scope = trio.CancelScope()
                await nursery.start(once, port)
                back = await until(changes, State, lambda one: True)
                assert (back.state, back.detail["enumerations"]) == ("seen", 1)
            nursery.cancel_scope.cancel()

    run(main)


def test_an_unreachable_stand_in_stops_before_the_soak(key_file):
    """One sentence with the address, and what to do."""

    async def main() -> None:
        listener = (await trio.open_tcp_listeners(0, host="127.0.0.1"))[0]
        port = listener.socket.getsockname()[1]
        await listener.aclose()
        with pytest.raises(BenchFault, match=rf"link: 127\.0\.0\.1:{port} cannot be reached"):
            async with linked(wired(port, key_file)):
                pass

    run(main)


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"stand_in": "", "key_file": ""}, "stand_in (and key_file), or image"),
        ({"image": "stick.img"}, "give one of them"),
        ({"key_file": ""}, "needs key_file"),
        ({"stand_in": "10.0.0.7:http"}, "is no ADDRESS or ADDRESS:PORT"),
        ({"port": ""}, "port"),
    ],
)
def test_a_fixture_that_contradicts_itself_is_told(key_file, given, says):
    """Which key of the fixture file, and what to write."""
    with pytest.raises(FixtureError) as caught:
        wired(1, key_file, **given)
    assert says in str(caught.value)


def test_a_key_is_made_for_its_owner_only(tmp_path):
    """32 random bytes, not readable by others, never written over."""
    file = tmp_path / "new.key"
    new_key(file)
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert len(read_key(file)) == 32
    with pytest.raises(Unfit, match="is there already"):
        new_key(file)


def test_a_key_that_others_may_read_is_refused(key_file):
    """A key everybody has proves nothing."""
    key_file.chmod(0o644)
    with pytest.raises(Unfit, match="chmod 600"):
        read_key(key_file)


@pytest.mark.parametrize("text", ["", "not a key", "AB" * 32, "ab" * 31])
def test_what_is_no_key_is_told(key_file, text):
    """Empty, other text, capitals or too short."""
    key_file.write_text(text)
    with pytest.raises(Unfit, match="is no key"):
        read_key(key_file)


@pytest.mark.parametrize(
    ("address", "says"),
    [
        ("0.0.0.0", "every network"),
        ("::", "every network"),
        ("203.0.113.5.9", "no address"),
        ("8.8.8.8", "public address"),
        ("pi.local", "no address"),
    ],
)
def test_listening_beyond_the_benchs_network_is_refused(address, says):
    """Ranges of RFC 1918 and RFC 4193, loop-back and link-local are the bench's own."""
    with pytest.raises(Unfit, match=says):
        fit_to_bind(address, anywhere=False)


@pytest.mark.parametrize("address", ["127.0.0.1", "192.168.7.20", "10.1.2.3", "fd00::7", "::1"])
def test_an_address_of_the_benchs_network_is_taken(address):
    """Private addresses need no word more; with --any others are taken, too."""
    fit_to_bind(address, anywhere=False)
    fit_to_bind("0.0.0.0", anywhere=True)


GOOD = {
    "at": "seen",
    "udc": "configured",
    "speed_mbps": 480,
    "enumerations": 2,
    "resets": 1,
    "read_bytes": None,
    "written_bytes": 512,
    "read_here_bytes": None,
    "ago_s": 1.5,
}


def test_a_status_is_placed_by_its_age():
    """The clocks of bench and stand-in need not agree."""
    found = status_from(GOOD, 100.0)
    assert (found.since_s, found.read_bytes, found.written_bytes) == (98.5, None, 512)


@pytest.mark.parametrize(
    "wrong",
    [
        {"at": "there"},
        {"ago_s": -1},
        {"ago_s": float("nan")},
        {"speed_mbps": 0},
        {"speed_mbps": "fast"},
        {"resets": -1},
        {"resets": True},
        {"enumerations": 1.5},
        {"read_bytes": 2**60},
    ],
)
def test_an_impossible_status_is_not_believed(wrong):
    """One bad field spoils the line; nothing of it is put on record."""
    with pytest.raises(Unfit):
        status_from({**GOOD, **wrong}, 100.0)
    for name in GOOD:
        with pytest.raises(Unfit):
            status_from({key: value for key, value in GOOD.items() if key != name}, 100.0)
