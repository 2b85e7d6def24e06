"""From lists of devices to seen, gone and blind: whose fault a leaving is."""

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from soak.bench.usb.device import UsbDevice, fits, hub_and_port, hubs_above, named, path_of_port
from soak.bench.usb.watch import BACK_FOR_S, TOGETHER_S, LinkWatch, Named
from soak.records import Reading, State

ROOT = UsbDevice("usb2", 1, 0x1D6B, 3, speed_mbps=5000.0, device_class=9)
HUB = UsbDevice("2-1", 2, 0x1D6B, 0x10, speed_mbps=5000.0, device_class=9)
OURS = UsbDevice("2-1.4", 5, 0x1209, 2, "ST0001", 5000.0, peer="1-1.4")
CARD = UsbDevice("2-3", 4, 0x1209, 0x0003, "CC0001", 480.0)
NEXT = UsbDevice("2-4", 6, 0x1209, 0x0D01, "N1", 480.0)
ALL = (ROOT, HUB, OURS, CARD, NEXT)


def there(*devices: UsbDevice) -> dict[str, UsbDevice]:
    return {device.path: device for device in devices}


def watch(device: str = "1209:0002/ST0001", *apart: str) -> LinkWatch:
    return LinkWatch(Named("link", device, apart))


def states(records) -> list[str]:
    return [record.state for record in records if isinstance(record, State)]


def play(watching: LinkWatch, *looks) -> list:
    found = []
    for t_s, devices in looks:
        found += watching.take(t_s, there(*devices))
    return found


def test_a_device_that_leaves_alone_left_its_port():
    """All other devices stayed, so the host is well: gone, from when it left."""
    found = play(watch(), (1, ALL), (9, (ROOT, HUB, CARD, NEXT)), (9.6, (ROOT, HUB, CARD, NEXT)))
    gone = found[-1]
    assert states(found) == ["seen", "gone"]
    assert (gone.t_s, gone.detail["at"]) == (9, "2-1.4")


def test_a_device_that_leaves_with_the_benchs_hub_makes_the_bench_blind():
    """The hub of the bench went: nothing is known of the unit."""
    found = play(watch(), (1, ALL), (9, (ROOT, CARD, NEXT)), (9.6, (ROOT, CARD, NEXT)))
    assert states(found) == ["seen", "blind"]
    assert "2-1 of the bench went with it" in found[-1].detail["why"]


def test_a_hub_that_goes_a_moment_later_makes_it_blind_too():
    """The kernel takes away what hangs on a hub before the hub itself."""
    looks = ((1, ALL), (9, (ROOT, HUB, CARD, NEXT)), (9.2, (ROOT, CARD, NEXT)), (9.6, (ROOT,)))
    assert states(play(watch(), *looks)) == ["seen", "blind"]


def test_another_device_that_leaves_in_the_same_moment_makes_the_bench_blind():
    """Something of the bench happened, and nobody can say what."""
    found = play(watch(), (1, ALL), (9, (ROOT, HUB, NEXT)), (9.6, (ROOT, HUB, NEXT)))
    assert states(found) == ["seen", "blind"]


def test_what_is_set_apart_is_no_witness():
    """A second unit that is switched off in the same moment says nothing of the bench."""
    looks = ((1, ALL), (9, (ROOT, HUB, NEXT)), (9.6, (ROOT, HUB, NEXT)))
    assert states(play(watch("1209:0002", "1209:0003"), *looks)) == ["seen", "gone"]


def test_the_units_own_hub_may_go_with_what_hangs_on_it():
    """A dock is the unit: its hub, set apart, is no part of the bench, nor what hangs on it."""
    behind = UsbDevice("2-1.2", 9, 0x1111, 1)
    looks = ((1, (*ALL, behind)), (9, (ROOT, CARD, NEXT)), (9.6, (ROOT, CARD, NEXT)))
    assert states(play(watch("1209:0002", "2-1"), *looks)) == ["seen", "gone"]


def test_a_device_that_came_back_at_once_had_left_all_the_same():
    """Its number on the bus has changed between two looks."""
    again = replace(OURS, number=7, speed_mbps=480.0)
    found = play(watch(), (1, ALL), (9, (ROOT, HUB, again, CARD, NEXT)))
    assert states(found) == ["seen", "gone", "seen"]
    assert [r.value for r in found if isinstance(r, Reading)] == [5000.0, 480.0]


def test_once_the_bench_is_back_and_the_device_is_not_it_is_gone():
    """Blind ends when the witnesses are back; what has not come by then has left."""
    back = (ROOT, HUB, CARD, NEXT)
    looks = ((1, ALL), (9, (ROOT,)), (9.6, (ROOT,)), (50, (ROOT,)), (60, back), (65, back))
    watching = watch()
    assert states(play(watching, *looks)) == ["seen", "blind"]
    found = watching.take(60 + BACK_FOR_S, there(*back))
    assert states(found) == ["gone"]
    assert found[0].t_s == 60 + BACK_FOR_S


def test_a_device_that_was_never_there_is_gone_and_the_others_are_named():
    """The operator sees at once what there is instead."""
    found = play(watch("1111:2222"), (1, ALL))
    assert states(found) == ["gone"]
    assert "no USB device 1111:2222" in found[0].detail["why"]
    assert "1209:0002/ST0001" in found[0].detail["why"]


def test_two_of_one_name_make_it_blind_until_one_is_left():
    """Which of them is at the unit's port nobody knows."""
    twin = replace(OURS, path="2-5", number=9)
    found = play(watch(), (1, ALL), (5, (*ALL, twin)), (8, ALL))
    assert states(found) == ["seen", "blind", "seen"]
    assert "give the path" in found[2].detail["why"]


def test_the_speed_of_a_link_that_stays_is_said_again():
    """A reading each minute: a gap in them is told from a link that stays."""
    found = play(watch(), *((t_s, ALL) for t_s in range(1, 200)))
    assert [r.t_s for r in found if isinstance(r, Reading)] == [1, 61, 121, 181]


def test_a_path_names_both_halves_of_its_connector():
    """A device that falls back turns up on the other bus, in the same connector."""
    assert fits(OURS, "1-1.4")
    assert fits(OURS, "2-1.4")
    assert not fits(OURS, "2-1")


def test_places_are_named_as_the_kernel_names_them():
    """Documentation/ABI/stable/sysfs-bus-usb: bus, dash, ports with dots between."""
    assert hubs_above("3-1.4.2") == ["3-1.4", "3-1", "usb3"]
    assert hub_and_port("3-2") == ("usb3", 2)
    assert path_of_port("3-1.4-port2") == "3-1.4.2"
    assert path_of_port("usb3-port2") == "3-2"
    assert named("2-9", ALL) is None


moves = st.lists(
    st.tuples(st.sampled_from([0.1, 0.4, 1.0, 20.0]), st.sets(st.sampled_from(range(1, 5)))),
    max_size=25,
)


@settings(max_examples=200)
@given(moves)
def test_it_is_never_charged_when_a_witness_left_with_it(steps):
    """Whatever comes and goes: gone is said only if no other device left in the same moment."""
    watching, t_s, before = watch(), 1.0, set(range(1, 5))
    found, left = watching.take(t_s, there(*ALL)), []
    for after_s, present in steps:
        t_s += after_s
        left += [(t_s, ALL[index]) for index in before - present]
        before = present
        found += watching.take(t_s, there(ROOT, *(ALL[index] for index in present)))
    for state in found:
        if isinstance(state, State) and state.state == "gone" and "at" in state.detail:
            along = [d for at_s, d in left if 0 <= state.t_s - at_s < TOGETHER_S and d is not OURS]
            assert along == []
