"""`soak stand-in`: what keeps it from starting is one sentence, and it unplugs whatever happens."""

import os
import signal
import socket
import threading
from pathlib import Path

import pytest
from fake_gadgets import FakeKernel

from soak.bench.stand_in.gadget import StickPlayed
from soak.desk.hands import stand_in as desk
from soak.errors import BenchFault, SoakError, UsageError


@pytest.fixture
def kernel(tmp_path, monkeypatch) -> FakeKernel:
    kernel = FakeKernel(tmp_path)
    places = desk.Kernel(kernel.configfs, kernel.udcs, kernel.proc)
    monkeypatch.setattr(desk, "Kernel", lambda: places)
    return kernel


@pytest.fixture
def key(tmp_path) -> Path:
    file = tmp_path / "bench.key"
    assert "copy it to the bench" in desk.make_key(file)
    return file


def wanted(kernel, key, address: str = "127.0.0.1", port: int = 0) -> desk.Wanted:
    """Return an order to play the stick."""
    return desk.Wanted(StickPlayed(kernel.image, "KY0001"), address, port, key)


def test_it_plays_and_listens_until_it_is_stopped(kernel, key):
    """It says where it listens; a signal ends it, and the stick is unplugged."""
    said: list[str] = []

    def hear(text: str) -> None:
        said.append(text)
        if "listens at" in text:
            threading.Timer(0.1, os.kill, (os.getpid(), signal.SIGTERM)).start()

    desk.stand_in(wanted(kernel, key), hear, kernel.gadget())
    assert any("plays a stick at fake.0, listens at 127.0.0.1:" in text for text in said)
    assert said[-1] == "the stick is unplugged"
    assert list(kernel.configfs.iterdir()) == []


def test_an_address_in_use_is_told_and_the_stick_unplugged(kernel, key):
    """Another stand-in has the port: one sentence, no half gadget left."""
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        with pytest.raises(BenchFault, match="already in use") as caught:
            desk.stand_in(wanted(kernel, key, port=port), lambda _: None, kernel.gadget())
    assert "\n" not in str(caught.value)
    assert list(kernel.configfs.iterdir()) == []


def test_every_network_is_refused_before_anything_is_plugged(kernel, key):
    """0.0.0.0 needs --any."""
    with pytest.raises(UsageError, match="every network"):
        desk.stand_in(wanted(kernel, key, "0.0.0.0"), lambda _: None, kernel.gadget())
    assert list(kernel.configfs.iterdir()) == []


def test_without_a_key_nothing_is_plugged(kernel, tmp_path):
    """A stand-in that anybody may ask is not started."""
    with pytest.raises(UsageError, match="the key cannot be read"):
        desk.stand_in(wanted(kernel, tmp_path / "no.key"), lambda _: None, kernel.gadget())


def test_a_kernel_without_a_port_is_told(tmp_path, key):
    """From `soak stand-in` on a computer that can only be a host."""
    (tmp_path / "other").mkdir()
    kernel = FakeKernel(tmp_path / "other", ports=())
    with pytest.raises(SoakError, match="no USB port that can be a device"):
        desk.stand_in(wanted(kernel, key), lambda _: None, kernel.gadget())


def test_a_port_that_vanishes_ends_it_in_one_sentence(kernel, key):
    """The kernel took the port away: told, and the exit does not hang."""

    def hear(text: str) -> None:
        if "listens at" in text:
            (kernel.udcs / "fake.0" / "state").unlink()

    with pytest.raises(BenchFault, match="No such file") as caught:
        desk.stand_in(wanted(kernel, key), hear, kernel.gadget())
    assert "\n" not in str(caught.value)
