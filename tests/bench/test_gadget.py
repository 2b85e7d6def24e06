"""A stick played through configfs, on a folder that behaves as the kernel does."""

import errno

import pytest
from fake_gadgets import FakeKernel

from soak.bench.stand_in.gadget import GadgetFault


@pytest.fixture
def kernel(tmp_path) -> FakeKernel:
    return FakeKernel(tmp_path)


def refusal(gadget) -> str:
    """Return the one sentence with which a gadget is refused."""
    with pytest.raises(GadgetFault) as caught:
        gadget.plug()
    assert "\n" not in str(caught.value)
    return str(caught.value)


def test_a_stick_is_plugged_as_the_kernel_wants_it(kernel):
    """Folder, settings, link and port, as Documentation/usb/gadget_configfs.rst tells."""
    kernel.gadget().plug()
    folder = kernel.configfs / "soak-stand-in"
    lun = folder / "functions" / "mass_storage.0" / "lun.0"
    assert (folder / "UDC").read_text() == "fake.0\n"
    assert (folder / "strings" / "0x409" / "serialnumber").read_text() == "KY0001\n"
    assert (lun / "file").read_text() == f"{kernel.image}\n"
    assert (lun / "removable").read_text() == "1\n"
    linked = folder / "configs" / "c.1" / "mass_storage.0"
    assert linked.resolve() == lun.parent


def test_an_unplugged_stick_leaves_nothing_behind(kernel):
    """Twice is safe, and the port is free for the next."""
    gadget = kernel.gadget()
    gadget.plug()
    gadget.close()
    gadget.close()
    assert list(kernel.configfs.iterdir()) == []


def test_what_a_killed_stand_in_left_is_taken_over(kernel):
    """A gadget of the same name from before is taken apart first."""
    kernel.gadget().plug()
    again = kernel.gadget(serial="KY0002")
    again.plug()
    strings = kernel.configfs / "soak-stand-in" / "strings" / "0x409"
    assert (strings / "serialnumber").read_text() == "KY0002\n"


@pytest.mark.parametrize(
    ("number", "says"),
    [(errno.EBUSY, "plays another gadget already"), (errno.EACCES, "only root may play a stick")],
)
def test_a_port_that_cannot_be_had_is_told_and_left_clean(kernel, number, says):
    """Busy, or not root: one sentence, and no half gadget stays."""
    kernel.refuses = number
    assert says in refusal(kernel.gadget())
    kernel.refuses = 0
    assert list(kernel.configfs.iterdir()) == []


def test_a_computer_without_a_device_mode_port_is_told(tmp_path):
    """Most computers' ports can only be hosts."""
    assert "no USB port that can be a device" in refusal(FakeKernel(tmp_path, ports=()).gadget())


def test_of_several_ports_one_must_be_named(tmp_path):
    """The program does not guess which port the cable is in; a wrong name is told with the list."""
    kernel = FakeKernel(tmp_path, ports=("left.0", "right.0"))
    assert "name one of left.0, right.0" in refusal(kernel.gadget())
    assert "no device-mode port middle" in refusal(kernel.gadget(udc="middle"))
    kernel.gadget(udc="right.0").plug()


def test_a_kernel_without_gadgets_is_told(kernel):
    """It says which module to load."""
    kernel.configfs.rmdir()
    assert "load libcomposite" in refusal(kernel.gadget())


@pytest.mark.parametrize("size_bytes", [0, 511, 513])
def test_an_image_of_broken_sectors_is_told(kernel, size_bytes):
    """The kernel would cut it off in silence."""
    kernel.image.write_bytes(bytes(size_bytes))
    assert "whole sectors of 512 B" in refusal(kernel.gadget())


def test_an_image_that_is_not_there_is_told(kernel):
    """A wrong path is found before anything is plugged."""
    kernel.image.unlink()
    assert "cannot be read" in refusal(kernel.gadget())


def test_what_the_unit_moved_counts_from_the_plugging_on(kernel):
    """The serving thread's own start-up reads are not the unit's."""
    port = kernel.port()
    assert (port.look().read_bytes, port.look().written_bytes) == (0, 0)
    kernel.moved(1000 + 4096, 500 + 512)
    assert (port.look().read_bytes, port.look().written_bytes) == (4096, 512)


def test_a_kernel_that_does_not_count_gives_no_number(kernel):
    """Unknown is not zero."""
    (kernel.proc / "7" / "io").unlink()
    assert kernel.port().look().read_bytes is None


@pytest.mark.parametrize(
    ("word", "mbps"),
    [
        ("low-speed", 1.5),
        ("full-speed", 12),
        ("high-speed", 480),
        ("super-speed", 5000),
        ("super-speed-plus", 10000),
        ("UNKNOWN", None),
    ],
)
def test_each_speed_is_the_one_of_the_standard(kernel, word, mbps):
    """USB 2.0, 4.2.1 and USB 3.2, 3.1; words from Linux, drivers/usb/common/common.c."""
    kernel.enumerate_at(word)
    assert kernel.port().look().speed_mbps == mbps
