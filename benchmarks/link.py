"""Measure what watching a USB link costs: processor time as a share of one core.

    python benchmarks/link.py [SECONDS]

A list of twenty devices as Linux gives it stands in a folder; events come over a socket. Beside
each figure stands a loop that only wakes as often. `real` is the list of this computer, if it has
one.
"""

import resource
import socket
import sys
import tempfile
import time
from contextlib import aclosing
from pathlib import Path

import trio

from soak.bench.drivers import usb_link
from soak.bench.off_loop import off_loop_for
from soak.bench.registry import Tools
from soak.bench.usb.sysfs import SysfsDevices
from soak.clock import BootClock

DEVICES = 20
BURST = 30
"""Messages that the kernel sends when one stick is plugged in, about."""


def make_tree(root: Path) -> SysfsDevices:
    """Write a root hub and devices on it."""
    for number in range(DEVICES):
        folder = root / ("usb1" if number == 0 else f"1-{number}")
        (folder / "port").mkdir(parents=True)
        (folder / "port" / "over_current_count").write_text("0\n")
        for name, text in (
            ("devnum", str(number + 1)),
            ("idVendor", "1d6b"),
            ("idProduct", f"{number:04x}"),
            ("serial", f"S{number}"),
            ("speed", "480"),
            ("bDeviceClass", "09" if number == 0 else "00"),
        ):
            (folder / name).write_text(f"{text}\n")
    return SysfsDevices(root)


def message(action: str, path: str) -> bytes:
    keys = (f"ACTION={action}", "SUBSYSTEM=usb", "DEVTYPE=usb_device", f"DEVPATH=/d/usb1/{path}")
    return "\0".join([f"{action}@/d/usb1/{path}", *keys, ""]).encode()


async def nobody(question: object) -> None:
    await trio.sleep_forever()


def watched(sysfs: SysfsDevices, lasts_s: float, every_burst_s: float, **given: object) -> float:
    """Watch one device for a while; return the share of a core that it took."""
    clock = BootClock()
    settings = {"driver": "usb_link", "device": "1d6b:0003/S3", **given}
    wired = usb_link.UsbLink.model_validate(settings)
    ours, kernels = socket.socketpair(socket.AF_UNIX, socket.SOCK_DGRAM)
    usb_link.open_events = lambda: ours

    async def bursts() -> None:
        while every_burst_s:
            await trio.sleep(every_burst_s)
            for _ in range(BURST):
                kernels.send(message("add", "1-7"))

    async def main() -> float:
        tools = Tools(off_loop_for(clock), nobody, clock)
        link = await usb_link.open_link("link", wired, tools, sysfs)
        async with trio.open_nursery() as nursery:
            nursery.start_soon(bursts)
            nursery.start_soon(drain, link)
            await trio.sleep(1.0)
            share = await share_of(lasts_s)
            nursery.cancel_scope.cancel()
        await link.aclose()
        return share

    try:
        return trio.run(main, clock=clock)
    finally:
        kernels.close()


async def drain(link: usb_link.LinkOnUsb) -> None:
    async with aclosing(link.changes()) as records:
        async for _ in records:
            pass


async def share_of(lasts_s: float) -> float:
    before, began = used_s(), time.monotonic()
    await trio.sleep(lasts_s)
    return (used_s() - before) / (time.monotonic() - began)


def used_s() -> float:
    used = resource.getrusage(resource.RUSAGE_SELF)
    return used.ru_utime + used.ru_stime


def idle(lasts_s: float, every_s: float) -> float:
    """Only wake as often, and go to a thread each time."""

    async def main() -> float:
        async def wake() -> None:
            while True:
                await trio.sleep(every_s)
                await trio.to_thread.run_sync(int)

        async with trio.open_nursery() as nursery:
            nursery.start_soon(wake)
            share = await share_of(lasts_s)
            nursery.cancel_scope.cancel()
        return share

    return trio.run(main)


def main() -> None:
    lasts_s = float(sys.argv[1]) if len(sys.argv) > 1 else 20.0
    with tempfile.TemporaryDirectory() as folder:
        sysfs = make_tree(Path(folder))
        rows = [
            ("kernel, nothing happens", watched(sysfs, lasts_s, 0, way="kernel"), 1.0),
            ("kernel, a stick a second", watched(sysfs, lasts_s, 1.0, way="kernel"), 1.0),
            ("poll, every 0.5 s", watched(sysfs, lasts_s, 0, way="poll"), 0.5),
            ("poll, every 0.1 s", watched(sysfs, lasts_s, 0, way="poll", every_s=0.1), 0.1),
        ]
    real = SysfsDevices()
    if real.there:
        rows.append(("real list, every 0.5 s", watched(real, lasts_s, 0, way="poll"), 0.5))
    print(f"{'way':<26} {'share of a core':>16} {'of a loop that only wakes':>27}")
    for name, share, every_s in rows:
        print(f"{name:<26} {share:>15.2%} {share / max(idle(lasts_s / 4, every_s), 1e-9):>26.1f}x")


if __name__ == "__main__":
    main()
