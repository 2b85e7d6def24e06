"""What the kernel said while a stick was plugged about, as a real one said it."""

import json
import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soak.bench.usb.events import KernelLog, parse_event, parse_record

SAID = json.loads((Path(__file__).parents[1] / "data" / "usb" / "kernel_events.json").read_text())[
    "events"
]


def told(kind: str, parse) -> list[tuple[str, str]]:
    """Return kind and place of all that is told."""
    found = (parse(entry[kind].encode("latin-1")) for entry in SAID if kind in entry)
    return [(event.kind, event.path) for event in found if event is not None]


def test_arrivals_and_leavings_are_read_from_a_real_kernels_messages():
    """Of some two hundred messages six are about the device itself, in the order it was moved."""
    assert told("uevent", parse_event) == [
        ("leaving", "2-2"),
        ("arrival", "3-1"),
        ("leaving", "3-1"),
        ("arrival", "4-1"),
        ("leaving", "4-1"),
        ("arrival", "2-5"),
    ]


def test_a_reset_is_read_from_a_real_kernels_log():
    """A reset makes no device event; the log has it, once."""
    assert told("kmsg", parse_record) == [("reset", "2-5")]


@pytest.mark.parametrize(
    ("text", "kind", "path"),
    [
        # Texts of drivers/usb/core/hub.c.
        ("usb 1-2: device descriptor read/64, error -71", "descriptor failure", "1-2"),
        ("usb 1-1.4: device not accepting address 9, error -71", "descriptor failure", "1-1.4"),
        ("usb usb1-port2: unable to enumerate USB device", "descriptor failure", "1-2"),
        ("usb 2-1-port3: unable to enumerate USB device", "descriptor failure", "2-1.3"),
        ("usb usb2-port5: over-current condition", "over-current", "2-5"),
        ("usb 1-2: reset high-speed USB device number 5 using xhci_hcd", "reset", "1-2"),
        (
            "usb 2-1: reset SuperSpeed Plus Gen 2x1 USB device number 3 using xhci_hcd",
            "reset",
            "2-1",
        ),
    ],
)
def test_each_trouble_is_told_from_its_text(text, kind, path):
    """The kernel has several sentences for one trouble, and two ways to name a port."""
    found = parse_record(f"3,512,1234567,-;{text}\n SUBSYSTEM=usb\n".encode())
    assert (found.kind, found.path) == (kind, path)


@pytest.mark.parametrize("text", ["hub 1-1:1.0: USB hub found", "eth0: reset link", "usb 1-2: ok"])
def test_other_lines_of_the_log_are_left_alone(text):
    """Only what befell a device is of interest."""
    assert parse_record(f"6,1,1,-;{text}".encode()) is None


def test_an_over_current_is_told_of_the_hubs_interface():
    """Documentation/ABI/testing/sysfs-bus-usb: a change event with OVER_CURRENT_PORT."""
    port = "/devices/pci0000:00/0000:00:14.0/usb1/1-0:1.0/usb1-port3"
    keys = ["ACTION=change", "SUBSYSTEM=usb", "DEVTYPE=usb_interface"]
    keys += [f"OVER_CURRENT_PORT={port}", "OVER_CURRENT_COUNT=2", ""]
    message = "\0".join(["change@/devices/pci0000:00/usb1/1-0:1.0", *keys])
    found = parse_event(message.encode())
    assert (found.kind, found.path) == ("over-current", "1-3")


@given(st.binary(max_size=300))
def test_garbage_on_the_socket_is_no_event(data):
    """Anybody may write to a socket: no message breaks the reader."""
    assert parse_event(data) is None or b"usb" in data
    assert parse_record(data) is None or b"usb" in data or b"hub" in data


def test_the_log_is_read_from_now_on_and_closed_twice(tmp_path):
    """What stood in it before is of no interest."""
    file = tmp_path / "kmsg"
    line = b"6,1,1,-;usb 1-2: reset high-speed USB device number 5 using xhci_hcd\n"
    file.write_bytes(line)
    log = KernelLog(file)
    assert log.read() == []
    with file.open("ab") as more:
        more.write(line)
    assert [event.kind for event in log.read()] == ["reset"]
    log.close()
    log.close()


def test_a_log_that_may_not_be_read_is_an_error_at_once(tmp_path):
    """The link then says that it does not see resets."""
    with pytest.raises(OSError, match=os.strerror(2)):
        KernelLog(tmp_path / "none")
