"""The link driver on a list of devices as the kernel gives it, with and without its events."""

import json
import shutil
import socket
from collections.abc import Callable
from contextlib import aclosing
from pathlib import Path

import pytest
import trio
from bench_tools import run_real, wired
from usb_backend import Device, ModelBackend, Port

from soak.bench.drivers import usb_link
from soak.bench.registry import Tools
from soak.bench.usb.sysfs import SysfsDevices
from soak.errors import BenchFault
from soak.records import Reading, State

SAID = json.loads((Path(__file__).parents[1] / "data" / "usb" / "kernel_events.json").read_text())[
    "events"
]
TREES = [entry["tree"] for entry in SAID if "tree" in entry]
UEVENTS = [entry["uevent"].encode("latin-1") for entry in SAID if "uevent" in entry]
STICK = "1209:0002/ST0001"


def write(root: Path, tree: dict) -> SysfsDevices:
    """Make the folder look as a real one did."""
    for gone in root.iterdir() if root.exists() else ():
        if gone.name not in tree:
            shutil.rmtree(gone)
    for name, entry in tree.items():
        folder = root / name
        (folder / "port").mkdir(parents=True, exist_ok=True)
        for attribute in ("speed", "idVendor", "idProduct", "serial", "devnum", "bDeviceClass"):
            if attribute in entry:
                (folder / attribute).write_text(entry[attribute] + "\n")
        (folder / "port" / "over_current_count").write_text("0\n")
    return SysfsDevices(root)


def test_a_real_kernels_list_is_read(tmp_path):
    """Speeds, names and places as the kernel gave them for a stick in a SuperSpeed port."""
    devices = write(tmp_path, TREES[0]).read()
    stick = devices["2-2"]
    assert (stick.best_name, stick.speed_mbps) == (STICK, 5000.0)
    assert {path for path, device in devices.items() if device.is_root} == {
        "usb1",
        "usb2",
        "usb3",
        "usb4",
    }


def test_what_hangs_on_a_hub_that_went_is_not_there(tmp_path):
    """A folder read while a hub goes may still list its children."""
    tree = {**TREES[0], "3-1.2": dict(TREES[0]["2-2"])}
    assert "3-1.2" not in write(tmp_path, tree).read()


Told = Callable[[list], bool]
"""Whether what was said so far is enough to go on."""


def seen_by(
    tmp_path: Path,
    moves: list[tuple[Callable[[], None], Told]],
    *,
    first: Told = lambda found: len(told(found)) == 2,
    backend=None,
    way="poll",
    **given,
) -> list:
    """Watch the stick while things are moved, each once the one before was told; return it all."""
    found: list = []
    sysfs = SysfsDevices(tmp_path)
    entry = {"driver": "usb_link", "device": STICK, "way": way, "every_s": 0.1, **given}

    async def main(tools: Tools) -> None:
        link = await usb_link.open_link("link", wired("link", entry), tools, sysfs, backend)
        assert link.identity["way"] == way

        async def watch() -> None:
            async with aclosing(link.changes()) as records:
                async for record in records:
                    found.append(record)

        async with trio.open_nursery() as nursery:
            nursery.start_soon(watch)
            for move, enough in [(lambda: None, first), *moves]:
                move()
                while not enough(found):
                    await trio.sleep(0.02)
            nursery.cancel_scope.cancel()
        await link.aclose()
        await link.aclose()

    run_real(main)
    return found


def told(found: list) -> list:
    """Return the states, and speeds in between."""
    speeds = [r for r in found if isinstance(r, State) or r.quantity == "link.speed"]
    return [r.state if isinstance(r, State) else r.value for r in speeds]


def is_last(word: str | float) -> Told:
    """Wait for a state or speed."""
    return lambda found: told(found)[-1:] == [word]


def read(found: list, words: str) -> list[float]:
    """Return the readings whose quantity has these words."""
    return [r.value for r in found if isinstance(r, Reading) and words in r.quantity]


def test_a_stick_that_goes_and_comes_back_slower_is_told(tmp_path):
    """Gone, then seen at high speed, by the list alone."""
    write(tmp_path, TREES[0])
    moves = [
        (lambda: write(tmp_path, TREES[1]), is_last("gone")),
        (lambda: write(tmp_path, TREES[2]), is_last(480.0)),
    ]
    found = seen_by(tmp_path, moves, backend=ModelBackend())
    assert told(found) == ["seen", 5000.0, "gone", "seen", 480.0]
    gone = next(r for r in found if isinstance(r, State) and r.state == "gone")
    assert gone.within_s > 0.0


def test_the_kernels_own_messages_wake_it(tmp_path, monkeypatch):
    """The very bytes of a real kernel, on a socket: told at once, though looks are far apart."""
    ours, kernels = socket.socketpair(socket.AF_UNIX, socket.SOCK_DGRAM)
    monkeypatch.setattr(usb_link, "open_events", lambda: ours)
    write(tmp_path, TREES[0])

    def unplug() -> None:
        write(tmp_path, TREES[1])
        leaving = [message for message in UEVENTS if message.startswith(b"remove@")]
        for message in leaving[:14]:
            kernels.send(message)

    found = seen_by(
        tmp_path, [(unplug, is_last("gone"))], backend=ModelBackend(), way="kernel", every_s=60.0
    )
    kernels.close()
    assert told(found) == ["seen", 5000.0, "gone"]
    assert found[-1].within_s == 0.0


def test_libusb_alone_sees_it_too(tmp_path):
    """Where there is no list of the kernel's, that of libusb is asked again and again."""
    hub = Device(1, (), 1, 0x1D6B, 2, hub_ports=[Port(connected=True), Port()])
    stick = Device(1, (1,), 4, 0x1209, 2, "ST0001", 480.0)
    backend = ModelBackend(hub, stick)

    def unplug() -> None:
        hub.hub_ports[0] = Port(powered=False, over_current=True)
        backend.devices.remove(stick)

    found = seen_by(tmp_path / "none", [(unplug, is_last("gone"))], backend=backend, way="libusb")
    assert told(found) == ["seen", 480.0, "gone"]
    assert found[-1].detail["port"] == ["over-current"]


def test_over_currents_are_counted_from_the_kernels_count(tmp_path):
    """The count stands beside the port since the host started; only what is new is told."""
    write(tmp_path, TREES[0])
    file = tmp_path / "2-2" / "port" / "over_current_count"
    file.write_text("3\n")
    told_both = lambda found: len(read(found, "over_current")) == 2  # noqa: E731 - one use
    grows = (lambda: file.write_text("5\n"), told_both)
    first = lambda found: read(found, "over_current") == [0.0]  # noqa: E731 - one use
    found = seen_by(tmp_path, [grows], first=first, backend=ModelBackend())
    assert read(found, "over_current") == [0.0, 2.0]


def test_a_device_that_no_longer_answers_is_told(tmp_path):
    """It is asked for its descriptor over the wire; silence of one that is there is a failure."""
    write(tmp_path, TREES[0])
    stick = Device(2, (2,), 2, 0x1209, 2, "ST0001", 5000.0)

    def fall_silent() -> None:
        stick.trouble = 110  # ETIMEDOUT

    moves = [(fall_silent, lambda found: len(read(found, "descriptor")) > 2)]
    first = lambda found: read(found, "descriptor") == [0.0]  # noqa: E731 - one use
    backend = ModelBackend(stick)
    found = seen_by(tmp_path, moves, first=first, backend=backend, ask_every_s=0.2)
    failures = read(found, "descriptor")
    assert failures[0] == 0.0
    assert failures[1:]
    assert set(failures[1:]) == {1.0}


def opened(tmp_path: Path, **given) -> str:
    """Return the sentence with which opening is refused."""

    async def main(tools: Tools) -> None:
        entry = {"driver": "usb_link", "device": STICK, "way": "poll", **given}
        sysfs = SysfsDevices(tmp_path)
        await usb_link.open_link("link", wired("link", entry), tools, sysfs, ModelBackend())

    with pytest.raises(BenchFault) as fault:
        run_real(main)
    return str(fault.value)


def test_two_of_one_name_without_serial_are_refused(tmp_path):
    """Only the path tells them apart, and the sentence gives both."""
    twin = {**TREES[0]["2-2"], "devnum": "9"}
    write(tmp_path, {**TREES[0], "2-7": twin})
    said = opened(tmp_path, device="1209:0002")
    assert said == (
        "link: 2 devices call themselves 1209:0002 (at 2-2 and 2-7); "
        "give the path of the one that is meant, or one with a serial number"
    )


def test_a_bus_that_is_not_there_is_refused(tmp_path):
    """A device may be off; a bus may not."""
    write(tmp_path, TREES[0])
    assert "there is no bus 9 for 9-1" in opened(tmp_path, device="9-1")


def test_a_host_without_a_list_says_what_to_write(tmp_path):
    """`kernel` and `poll` need Linux."""
    assert "way = 'libusb'" in opened(tmp_path / "none")


@pytest.mark.parametrize("name", ["stick", "1209", "1209:2", "2-", "usb"])
def test_what_names_no_device_is_refused(name):
    """A typing mistake is found before anything is opened."""
    with pytest.raises(ValueError, match="VID:PID"):
        wired("link", {"driver": "usb_link", "device": name})
