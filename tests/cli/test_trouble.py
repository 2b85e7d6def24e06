"""`soak trouble` as it is typed: this bench's troubles on one page, each with what mends it."""

import json
import os
import shutil
import sqlite3
import subprocess
import threading
from dataclasses import replace
from pathlib import Path

import pytest
import small_disk
from made_up_host import (
    ISOCHRONOUS_IN_BYTES_3072,
    LINK,
    RELAY,
    STICK,
    in_a_line,
    trouble,
    trouble_of_a_plain_user,
)
from typed_bench import SIMULATED, TypedBench, typed

from soak.bench.host.access import Person
from soak.desk.trouble import host as host_file
from soak.desk.trouble import page as page_file

needs_root = pytest.mark.skipif(os.geteuid() != 0, reason="device nodes are made by root")


def test_a_bench_without_trouble_says_so_in_one_line(made_up, wired):
    """Nothing wrong is one line and code 0."""
    wired.write("fixtures/sim.toml", SIMULATED)
    said = trouble(wired)
    assert said.out == "No trouble found at this bench.\n"
    assert said.code == 0


@needs_root
def test_a_port_that_may_not_be_opened_names_the_group_and_the_command(made_up, wired, monkeypatch):
    """The kernel refuses a plain user; the node's group is told, and how to join it."""
    adapter = made_up.adapter(0, group=20)
    monkeypatch.setattr(host_file, "plugged_in", lambda: [adapter])
    wired.write("fixtures/left.toml", RELAY.format(port="1a86:7523/RELAY1"))
    said = trouble_of_a_plain_user(wired)
    assert said.code == 3
    assert "fixtures/left.toml, switch: you may not open /dev/ttyUSB0" in in_a_line(said.out)
    assert "\n    sudo usermod -aG dialout nobody\n" in said.out


@needs_root
def test_a_node_of_no_group_gets_a_rule_with_its_own_numbers(made_up, wired, monkeypatch):
    """Nobody is told to join root: the rule is whole, and of the very device."""
    adapter = made_up.adapter(0, group=0)
    monkeypatch.setattr(host_file, "plugged_in", lambda: [adapter])
    wired.write("fixtures/left.toml", RELAY.format(port="1a86:7523/RELAY1"))
    said = trouble_of_a_plain_user(wired)
    rule = (
        'SUBSYSTEM=="tty", ATTRS{idVendor}=="1a86", ATTRS{idProduct}=="7523", '
        'MODE="0660", GROUP="dialout"'
    )
    assert f"    echo '{rule}' | sudo tee -a /etc/udev/rules.d/70-soak.rules\n" in said.out
    assert "sudo udevadm control --reload" in said.out


@needs_root
def test_two_cards_of_one_controller_that_cannot_fit_are_told(made_up, wired):
    """Two that may reserve 3072 B each of the 6000 B a microframe (USB 2.0, 5.6.4) do not fit."""
    for number in (0, 1):
        made_up.camera(number, f"1-{number + 1}", ISOCHRONOUS_IN_BYTES_3072)
        wired.write(
            f"fixtures/f{number}.toml",
            f'name = "f"\n[capture]\ndriver = "opencv"\n'
            f'source = "/dev/v4l/by-id/usb-card-{number}"\n',
        )
    said = trouble(wired)
    assert "may take 6144 B of each microframe" in in_a_line(said.out)
    assert "6000 B" in in_a_line(said.out)
    assert said.code == 0


def test_all_files_that_cannot_be_read_are_told_at_once(made_up, wired):
    """A fixture, a sheet, a script and the bench's own file: each in its own sentence."""
    wired.write("fixtures/left.toml", 'name = "left"\n[switch]\ndriver = "serial_tex"\n')
    wired.write("fixtures/models/m.toml", "model = 3\n")
    wired.write("scripts/night.toml", "[[stretch]]\n")
    wired.write("bench.toml", 'name = "Hall"\ngrade_keeps_days = 0\n')
    said = trouble(wired)
    assert said.code == 3
    for file in ("left.toml", "m.toml", "night.toml", "bench.toml"):
        assert f"{file}: " in said.out
    assert "did you mean serial_text?" in said.out


def test_a_port_that_is_gone_says_what_is_there(made_up, wired):
    """A name in a fixture that nothing answers to stands in the way of a soak."""
    wired.write("fixtures/left.toml", RELAY.format(port="/dev/ttyUSB7"))
    said = trouble(wired)
    assert said.code == 3
    sentence = "fixtures/left.toml, switch: nothing is plugged in that is called /dev/ttyUSB7"
    assert sentence in in_a_line(said.out)


@needs_root
def test_a_path_that_changes_is_mended_by_the_name_that_stays(made_up, wired, monkeypatch):
    """`/dev/ttyUSB0` works today and may be another adapter tomorrow: not in the way."""
    adapter = made_up.adapter(0)
    monkeypatch.setattr(host_file, "plugged_in", lambda: [adapter])
    wired.write("fixtures/left.toml", RELAY.format(port="/dev/ttyUSB0"))
    said = trouble(wired)
    assert said.code == 0
    assert '\n    port = "1a86:7523/RELAY1"\n' in said.out


@needs_root
def test_one_adapter_under_two_names_in_two_fixtures_is_told(made_up, wired, monkeypatch):
    """By its path and by its serial number it is one relay, and its channel 1 is taken twice."""
    adapter = made_up.adapter(0)
    monkeypatch.setattr(host_file, "plugged_in", lambda: [adapter])
    wired.write("fixtures/left.toml", RELAY.format(port="/dev/ttyUSB0"))
    wired.write("fixtures/right.toml", RELAY.format(port="1a86:7523/RELAY1"))
    said = trouble(wired)
    assert "/dev/ttyUSB0, channel 1, which switch of " in in_a_line(said.out)


def test_each_thing_that_two_fixtures_take_is_a_trouble_of_its_own(made_up, wired):
    """A switch and a thermometer, each in a sentence with its own mend."""
    for name in ("relay-and-card", "button-and-servo"):
        shipped = Path(__file__).parents[2] / "fixtures" / f"{name}.toml"
        wired.write(f"fixtures/{name}.toml", shipped.read_text("utf-8"))
    said = in_a_line(trouble(wired).out)
    for role in ("switch", "probe.heatsink"):
        assert f"mind: fixtures/relay-and-card.toml: {role}: takes " in said
    assert "mistakes" not in said


@needs_root
def test_who_holds_a_device_is_said_with_the_command_that_ends_it(made_up, wired, monkeypatch):
    """A service that grabbed the adapter is named, and stopped by its unit."""
    adapter = made_up.adapter(0)
    made_up.holds(812, "/dev/ttyUSB0", "ModemHelper", "modem-helper.service")
    monkeypatch.setattr(host_file, "plugged_in", lambda: [adapter])
    wired.write("fixtures/left.toml", RELAY.format(port="1a86:7523/RELAY1"))
    said = trouble(wired)
    assert said.code == 3
    assert "process 812 (ModemHelper) holds /dev/ttyUSB0" in in_a_line(said.out)
    assert "\n    sudo systemctl stop modem-helper.service\n" in said.out


def test_a_host_whose_sleep_cannot_be_held_off_is_told(made_up, wired, monkeypatch):
    """What the run itself would be refused is told the evening before."""
    made_up.write("sys/power/state", "freeze mem disk\n")
    made_up.write("etc/systemd/logind.conf", "[Login]\nIdleAction=suspend\n")
    made_up.link("run/systemd/system", "/")
    monkeypatch.setattr(host_file, "kept_or_why_not", lambda: "the system refused")
    said = trouble(wired)
    assert said.code == 3
    assert "IdleAction=suspend" in said.out
    assert "    sudo systemctl mask sleep.target suspend.target" in said.out


def test_a_clock_that_nobody_sets_is_told(made_up, wired, monkeypatch):
    """It may be wrong in the morning; a soak goes on all the same."""
    monkeypatch.setattr(host_file, "is_set_by_a_server", lambda: False)
    said = trouble(wired)
    assert said.code == 0
    assert "    sudo timedatectl set-ntp true\n" in said.out


def test_a_folder_that_takes_no_file_is_told(made_up, wired):
    """A plain user who may not write there gets no soak."""
    wired.path.chmod(0o755)
    said = trouble_of_a_plain_user(wired)
    assert said.code == 3
    assert f"sudo chown -R nobody {wired.path}" in said.out


def test_programs_read_the_same_page(made_up, wired):
    """What stands, where, and what mends it."""
    wired.write("fixtures/left.toml", RELAY.format(port="/dev/ttyUSB7"))
    page = json.loads(trouble(wired, "--json").out)
    (only,) = page["troubles"]
    assert only["in_the_way"] is True
    assert "/dev/ttyUSB7" in only["told"]
    assert only["mend"]


@needs_root
def test_a_narrow_screen_shows_whole_sentences(made_up, wired, monkeypatch):
    """At 60 columns sentences are wrapped; a command stays on one line to be copied."""
    monkeypatch.setattr(shutil, "get_terminal_size", lambda: os.terminal_size((60, 24)))
    adapter = made_up.adapter(0)
    monkeypatch.setattr(host_file, "plugged_in", lambda: [adapter])
    wired.write("fixtures/left.toml", RELAY.format(port="/dev/ttyUSB7"))
    wired.write("fixtures/right.toml", RELAY.format(port="1a86:7523/RELAY1"))
    lines = trouble_of_a_plain_user(wired).out.splitlines()
    (command,) = [line for line in lines if len(line) > 60]
    assert command.startswith("    echo 'SUBSYSTEM")
    assert command.endswith(" | sudo tee -a /etc/udev/rules.d/70-soak.rules")


def test_this_host_and_its_kernel_are_asked_without_a_fault(wired):
    """On the real computer, whatever it has: a page, and no program that broke."""
    wired.write("fixtures/left.toml", RELAY.format(port="/dev/there-is-no-relay"))
    said = trouble(wired)
    assert said.code == 3
    assert said.err == ""
    assert "/dev/there-is-no-relay" in said.out


@needs_root
def test_a_real_port_that_another_process_holds_is_told(wired):
    """A pseudo-terminal, held by a child: the kernel's own `/proc` names it."""
    ours, theirs = os.openpty()
    port = os.ttyname(theirs)
    with subprocess.Popen(["sleep", "60"], stdin=theirs) as child:
        wired.write("fixtures/left.toml", RELAY.format(port=port))
        said = trouble(wired)
        child.kill()
    os.close(ours)
    os.close(theirs)
    assert f"process {child.pid} (sleep) holds {port}" in in_a_line(said.out)
    assert f"    kill {child.pid}\n" in said.out


@needs_root
def test_a_real_port_that_is_closed_to_this_user_is_told(wired):
    """A pseudo-terminal of root's, not on USB: the rule is by the name that the kernel gives."""
    ours, theirs = os.openpty()
    port = os.ttyname(theirs)
    Path(port).chmod(0o600)
    wired.write("fixtures/left.toml", RELAY.format(port=port))
    said = trouble_of_a_plain_user(wired)
    os.close(ours)
    os.close(theirs)
    assert f"you may not open {port}, nor may any group" in in_a_line(said.out)
    assert f'SUBSYSTEM=="tty", KERNEL=="{port.rpartition("/")[2]}", MODE="0660"' in said.out


@needs_root
def test_who_has_joined_and_not_logged_in_anew_is_not_told_to_join(made_up, wired, monkeypatch):
    """The list of groups says he is a member; his own login does not know it yet."""
    adapter = made_up.adapter(0, group=20)
    monkeypatch.setattr(host_file, "plugged_in", lambda: [adapter])
    person = Person("nobody", frozenset({65534}), frozenset({20}))
    monkeypatch.setattr(host_file, "this_person", lambda: person)
    wired.write("fixtures/left.toml", RELAY.format(port="1a86:7523/RELAY1"))
    said = trouble_of_a_plain_user(wired)
    assert "joined the group dialout and not logged in anew" in in_a_line(said.out)
    assert "usermod" not in said.out


@needs_root
def test_a_stick_gets_a_rule_of_its_own_and_not_every_disk(made_up, wired):
    """Who joins the group of disks may write over the computer's own."""
    folder = made_up.usb("1-3", "0781:5581")
    made_up.link("sys/class/block/sdb/device", str(folder))
    made_up.node("/dev/sdb", group=6, block=True)
    made_up.link("/dev/disk/by-id/usb-stick-S1", "../../sdb")
    wired.write("fixtures/left.toml", STICK.format(device="/dev/sdb"))
    said = trouble_of_a_plain_user(wired)
    assert 'SUBSYSTEM=="block", ATTRS{idVendor}=="0781", ATTRS{idProduct}=="5581"' in said.out
    assert "usermod -aG disk" not in said.out
    assert '    device = "/dev/disk/by-id/usb-stick-S1"\n' in said.out


@needs_root
def test_a_hub_that_may_not_be_asked_gets_a_rule(made_up, wired):
    """Usbfs gives its nodes to root alone: `/dev/bus/usb/BUS/NUMBER`."""
    made_up.usb("1-2", "1a40:0101")
    number = int((made_up.root / "sys/bus/usb/devices/1-2/devnum").read_text())
    made_up.node(f"/dev/bus/usb/001/{number:03}", mode=0o664)
    hub = 'name = "l"\n[switch]\ndriver = "hub_port"\nhub = "1a40:0101"\nchannel = "3"\n'
    wired.write("fixtures/left.toml", hub)
    said = trouble_of_a_plain_user(wired)
    rule = (
        'SUBSYSTEM=="usb", ENV{DEVTYPE}=="usb_device", ATTR{idVendor}=="1a40", '
        'ATTR{idProduct}=="0101", MODE="0660", GROUP="plugdev"'
    )
    assert rule in said.out


def test_one_device_as_the_link_of_two_fixtures_is_told(made_up, wired):
    """By its place and by its numbers it is one device, and at one unit."""
    made_up.usb("1-2", "0bda:8153")
    wired.write("fixtures/left.toml", LINK.format(device="1-2"))
    wired.write("fixtures/right.toml", LINK.format(device="0bda:8153"))
    sentence = "right.toml, link names 0bda:8153, which fixtures/left.toml, link names too"
    assert sentence in in_a_line(trouble(wired).out)


@needs_root
def test_a_unit_and_the_benchs_instruments_on_one_hub_are_told(made_up, wired, monkeypatch):
    """If the unit pulls the hub down the relay leaves as well: the bench is blind, not the unit."""
    made_up.usb("1-2.1", "0bda:8153")
    adapter = replace(made_up.adapter(0), socket="1-2.4:1.0")
    monkeypatch.setattr(host_file, "plugged_in", lambda: [adapter])
    relay = RELAY.format(port="1a86:7523/RELAY1")
    wired.write("fixtures/left.toml", relay + LINK.format(device="0bda:8153").partition("\n")[2])
    said = in_a_line(trouble(wired).out)
    assert "link hangs on the hub at 1-2 with fixtures/left.toml, switch" in said


@needs_root
def test_another_device_than_was_proved_is_told(made_up, wired, monkeypatch):
    """`/dev/ttyUSB0` is another adapter since the bench was proved: a wrong relay would click."""
    adapter = made_up.adapter(0, serial="RELAY2")
    monkeypatch.setattr(host_file, "plugged_in", lambda: [adapter])
    wired.write("fixtures/left.toml", RELAY.format(port="/dev/ttyUSB0"))
    proved = {"on": "2026-01-05", "proved": {"is": {"switch": {"adapter": "1a86:7523/RELAY1"}}}}
    wired.write("proved.json", json.dumps({"left.toml": proved}))
    said = trouble(wired)
    assert said.code == 3
    sentence = "is 1a86:7523/RELAY2, and was 1a86:7523/RELAY1 when it was proved on 2026-01-05"
    assert sentence in in_a_line(said.out)


@pytest.mark.skipif(bool(small_disk.why_not()), reason=small_disk.why_not())
def test_a_real_disk_that_is_too_small_for_a_night_is_told(made_up, tmp_path):
    """The room is what `soak run` asks for, and the disk a real one."""
    with small_disk.small_disk(tmp_path, 20) as disk:
        said = trouble(TypedBench(disk))
    assert said.code == 3
    assert f"The disk of {disk}" in in_a_line(said.out)


@pytest.mark.skipif(bool(small_disk.why_not()), reason=small_disk.why_not())
def test_a_real_disk_that_is_mounted_to_read_is_told(made_up, tmp_path):
    """Not even root can write there; the command mounts it anew."""
    with small_disk.small_disk(tmp_path, 200) as disk:
        small_disk.read_only(disk)
        said = trouble(TypedBench(disk))
    assert f"    sudo mount -o remount,rw {disk}\n" in said.out
    assert said.code == 3


def test_a_clock_before_the_ledgers_newest_entry_is_told(made_up, bench, monkeypatch):
    """By the ledger's own sentence; entries would take no hour from that clock."""
    file = sqlite3.connect(bench.path / "ledger.sqlite")
    with file:
        file.execute("UPDATE entries SET recorded_utc = '2099-01-05T20:00:00+00:00'")
    file.close()
    said = trouble(bench)
    assert "the ledger's newest entry is of 2099-01-05" in in_a_line(said.out)
    assert said.code == 3


def test_a_computer_on_its_battery_and_one_that_will_restart_are_told(made_up, wired):
    """The kernel says whether mains is connected; the updater leaves its file."""
    made_up.write("sys/class/power_supply/AC/type", "Mains\n")
    made_up.write("sys/class/power_supply/AC/online", "0\n")
    made_up.write("run/reboot-required")
    said = trouble(wired)
    assert "runs on its battery" in said.out
    assert "    sudo systemctl reboot\n" in said.out
    assert said.code == 0


def test_a_computer_whose_sleep_is_masked_only_has_to_be_told_so(made_up, wired, monkeypatch):
    """A masked unit is a link to `/dev/null`: it cannot sleep, and `--may-sleep` says so."""
    made_up.write("sys/power/state", "mem\n")
    made_up.link("etc/systemd/system/sleep.target", "/dev/null")
    monkeypatch.setattr(host_file, "kept_or_why_not", lambda: "the system refused")
    said = trouble(wired)
    assert said.code == 0
    assert "    begin a soak with --may-sleep\n" in said.out


def test_a_look_that_takes_for_ever_is_given_up_and_said(made_up, wired, monkeypatch):
    """A dead network folder never answers; the page comes all the same."""
    monkeypatch.setattr(page_file, "LOOK_LIMIT_S", 0.2)
    never = threading.Event()
    monkeypatch.setattr(host_file, "is_set_by_a_server", never.wait)
    said = trouble(wired)
    never.set()
    assert "Not looked at:\n  the clock: it does not answer\n" in said.out
    assert said.code == 0


def test_a_system_that_does_not_list_its_devices_is_said(made_up, wired):
    """Silence would read as if all were well."""
    wired.write("fixtures/left.toml", LINK.format(device="0bda:8153"))
    said = trouble(wired)
    assert "Not looked at:\n  the USB devices that fixtures name" in said.out


@needs_root
def test_several_devices_of_one_group_are_one_trouble(made_up, wired, monkeypatch):
    """One command mends them all, so it stands once; what no fixture names is only to mind."""
    adapters = [made_up.adapter(number, f"RELAY{number}", group=20) for number in range(3)]
    monkeypatch.setattr(host_file, "plugged_in", lambda: adapters)
    for number in (0, 1):
        text = RELAY.format(port=f"1a86:7523/RELAY{number}")
        wired.write(f"fixtures/f{number}.toml", text)
    said = trouble_of_a_plain_user(wired)
    line = in_a_line(said.out)
    assert "fixtures/f0.toml, switch; fixtures/f1.toml, switch: you may not open" in line
    assert "/dev/ttyUSB0 and /dev/ttyUSB1; only the group dialout may" in line
    assert "mind: plugged in, in no fixture yet: you may not open /dev/ttyUSB2" in line


@needs_root
def test_a_camera_that_may_not_be_opened_names_its_group(made_up, wired):
    """By its number, its path or a link: the group of its node is told."""
    made_up.camera(0, "1-1", ISOCHRONOUS_IN_BYTES_3072, group=44)
    wired.write("fixtures/f.toml", 'name = "f"\n[capture]\ndriver = "opencv"\nsource = "0"\n')
    said = trouble_of_a_plain_user(wired)
    assert "you may not open /dev/video0; only the group video may" in in_a_line(said.out)
    assert "    sudo usermod -aG video nobody\n" in said.out
    assert '    source = "/dev/v4l/by-id/usb-card-0"\n' in said.out


@pytest.mark.parametrize(("path", "told"), [("played", True), ("bench_only", False)])
def test_a_stick_that_is_not_mounted_is_told(made_up, wired, path, told):
    """Its folder lies on the computer's own disk then, and nothing would cross the unit's port."""
    (wired.path / "stick").mkdir()
    wired.write(
        "fixtures/f.toml",
        f'name = "f"\n[stick]\ndriver = "folder"\nfolder = "{wired.path}/stick"\n'
        f'path = "{path}"\nport = "usb1"\n',
    )
    said = trouble(wired)
    assert ("own disk; is the stick in, and mounted?" in in_a_line(said.out)) == told
    assert said.code == 3 * told


@needs_root
def test_two_adapters_of_one_name_are_told_apart_by_their_sockets(made_up, wired, monkeypatch):
    """Without a serial number each could be the other: the fixture names a place."""
    twins = [replace(made_up.adapter(number), serial_number="") for number in (0, 1)]
    monkeypatch.setattr(host_file, "plugged_in", lambda: twins)
    made_up.link("/dev/serial/by-path/pci-0-usb-1", "../../ttyUSB0")
    wired.write("fixtures/left.toml", RELAY.format(port="1a86:7523"))
    wired.write("fixtures/right.toml", RELAY.format(port="/dev/ttyUSB0"))
    said = trouble(wired)
    sentence = "2 devices are called 1a86:7523: /dev/ttyUSB0, /dev/ttyUSB1; name it by its place"
    assert sentence in in_a_line(said.out)
    assert '    port = "/dev/serial/by-path/pci-0-usb-1"\n' in said.out


@pytest.mark.parametrize(
    "text",
    [
        RELAY.format(port="/dev/a\\u0000b"),
        RELAY.format(port="/dev/" + 5000 * "x"),
        LINK.format(device="9-9.9.9"),
        'name = "f"\n[capture]\ndriver = "opencv"\nsource = "/dev/\\u0000"\n',
        'name = "f"\n[capture]\ndriver = "opencv"\nsource = "99999999999999999999"\n',
        'name = "f"\n[stick]\ndriver = "folder"\nfolder = "a\\u0000"\n',
        'name = "f"\n[probe.a]\ndriver = "number_file"\nfile = "/a\\u0000*"\nspot = "ambient"\n',
        'name = "f"\n[probe.a]\ndriver = "number_file"\nfile = "/**x/*"\nspot = "ambient"\n',
        STICK.format(device="/dev/\\u202e"),
    ],
)
def test_a_name_that_no_device_can_have_breaks_nothing(made_up, wired, text):
    """It is told like any that is gone, on whatever system."""
    made_up.usb("1-2", "0bda:8153")
    wired.write("fixtures/left.toml", text)
    said = trouble(wired)
    assert said.code == 3
    assert said.err == ""


def test_a_bench_that_is_not_there_is_told(made_up, tmp_path):
    """A slip of the pen in `--bench` is not a bench without trouble."""
    said = typed("--bench", str(tmp_path / "nowhere"), "trouble")
    assert said.code == 3
    assert "nowhere: there is no such folder" in in_a_line(said.out)


def test_files_that_somebody_else_left_are_told(made_up, wired):
    """One soak begun with sudo leaves a ledger and a folder that a plain user may not write."""
    if os.geteuid() != 0:
        pytest.skip("only root can leave files behind")
    (wired.path / "reports" / ".in-use").mkdir(parents=True)
    (wired.path / "reports").chmod(0o777)
    said = trouble_of_a_plain_user(wired)
    assert said.code == 3
    assert "reports/.in-use: nothing can be written there" in in_a_line(said.out)


def test_fixtures_that_may_not_be_read_are_told(made_up, wired):
    """A folder that is closed looks empty: silence would read as if all were well."""
    wired.write("fixtures/left.toml", RELAY.format(port="/dev/ttyUSB7"))
    (wired.path / "fixtures").chmod(0o700)
    if os.geteuid() != 0:
        (wired.path / "fixtures").chmod(0)
    said = trouble_of_a_plain_user(wired)
    assert said.code == 3
    assert "fixtures: its files cannot be read" in in_a_line(said.out)


@needs_root
def test_a_camera_that_a_desktop_holds_open_is_only_to_mind(made_up, wired):
    """Several may hold a camera open; only who streams keeps others out, and that is not told."""
    made_up.camera(0, "1-1", ISOCHRONOUS_IN_BYTES_3072)
    made_up.holds(900, "/dev/video0", "desktop")
    text = 'name = "f"\n[capture]\ndriver = "opencv"\nsource = "/dev/v4l/by-id/usb-card-0"\n'
    wired.write("fixtures/f.toml", text)
    said = trouble(wired)
    assert "mind: fixtures/f.toml, capture: process 900 (desktop) holds" in in_a_line(said.out)
    assert said.code == 0


def test_the_bench_is_as_it_was(made_up, bench):
    """It only reads: no file comes, goes or changes; not even a ledger is begun."""

    def kept():
        return {file: file.read_bytes() for file in bench.path.rglob("*") if file.is_file()}

    before = kept()
    trouble(bench)
    assert kept() == before
