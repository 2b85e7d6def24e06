"""The bench's computer as it is now, and its own troubles: sleep, power, clock."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from soak.bench.host.access import Person, this_person
from soak.bench.host.clock_source import is_set_by_a_server, keeps_time_without_power
from soak.bench.host.power import runs_on_battery
from soak.bench.rtnetlink import interfaces
from soak.bench.serial.names import Adapter, plugged_in
from soak.bench.usb.device import Devices
from soak.bench.usb.sysfs import SysfsDevices
from soak.desk.bench_folder import BenchFolder
from soak.desk.soaking.awake import (
    SCHEDULED,
    can_sleep,
    kept_or_why_not,
    pending_restart,
    puts_to_sleep,
)
from soak.desk.trouble.found import Finding, Trouble, Unseen, command
from soak.errors import SoakError
from soak.ledger.ledger import Ledger
from soak.outside import is_file
from soak.words import NOTHING_SAID, Message, msg, paragraph, sentence

ROOT = Path("/")
"""Where the system's files are; tests put a folder in its place."""


@dataclass(frozen=True, slots=True)
class Host:
    """The bench's computer, as it is now.

    Attributes
    ----------
    networks : frozenset of str or None
        Its network ports; None where the system does not tell.
    devices : Devices or None
        Its USB devices; None where the system does not list them in files.
    """

    root: Path
    person: Person
    adapters: Sequence[Adapter]
    devices: Devices | None
    networks: frozenset[str] | None

    def at(self, path: str) -> Path:
        """Return where a path of the system's is."""
        return self.root / path.lstrip("/")

    def real(self, path: str) -> str:
        """Return what a path leads to over all links, as the system names it; empty if gone."""
        file = self.at(path)
        try:
            if not file.exists():
                return ""
        except (OSError, ValueError):  # a name that no file can have
            return ""
        real = file.resolve()
        root = self.root.resolve()
        return f"/{real.relative_to(root)}" if real.is_relative_to(root) else str(real)

    def lasting_name(self, node: str, folder: str) -> str:
        """Return a link that udev keeps to a node in a folder; empty if there is none."""
        there = self.at(folder)
        links = sorted(there.iterdir()) if there.is_dir() else []
        names = (f"{folder}/{link.name}" for link in links)
        return next((name for name in names if self.real(name) == node), "")


def this_host() -> Host:
    """Look at this computer."""
    listed = SysfsDevices(ROOT / "sys/bus/usb/devices")
    try:
        networks: frozenset[str] | None = frozenset(interfaces())
    except OSError:
        networks = None
    return Host(
        ROOT, this_person(), plugged_in(), listed.read() if listed.there else None, networks
    )


def of_sleep(root: Path) -> Iterator[Finding]:
    """Tell whether this computer may sleep, stop or restart under a soak."""
    refused = kept_or_why_not()
    if refused:
        if can_sleep(root):
            trouble = paragraph(
                msg("This computer may sleep in the night: {why}.", why=refused),
                *puts_to_sleep(root),
            )
            yield Trouble(trouble, [*_no_sleep(root), msg("then begin a soak with --may-sleep")])
        else:
            trouble = msg(
                "This computer cannot sleep, but a soak that runs alone wants to be told so: "
                "{why}.",
                why=refused,
            )
            yield Trouble(trouble, [msg("begin a soak with --may-sleep")], in_the_way=False)
    if restart := pending_restart(root):
        is_planned = (root / SCHEDULED).exists()
        mend = command("sudo shutdown -c" if is_planned else "sudo systemctl reboot")
        yield Trouble(sentence(restart), [mend], in_the_way=False)
    if runs_on_battery(root):
        trouble = msg("This computer runs on its battery; when that is empty, the soak ends.")
        yield Trouble(trouble, [msg("plug its power supply in")], in_the_way=False)


def _no_sleep(root: Path) -> Sequence[Message]:
    if not (root / "run/systemd/system").exists():
        return [msg("turn sleep off in the system's settings")]
    targets = "sleep.target suspend.target hibernate.target hybrid-sleep.target"
    return [command(f"sudo systemctl mask {targets}")]


def of_the_clock(root: Path, bench: BenchFolder) -> Iterator[Finding]:
    """Tell whether the hours that a soak notes can be believed."""
    is_set = is_set_by_a_server()
    if is_set is None:
        yield Unseen(msg("whether somebody sets this computer's clock: look at its settings"))
    elif not is_set:
        lost = NOTHING_SAID
        if not keeps_time_without_power(root):
            lost = msg("It has no clock that goes on without power.")
        trouble = msg("Nobody sets this computer's clock, so the hours of a soak may be wrong.")
        mend = command("sudo timedatectl set-ntp true")
        yield Trouble(paragraph(trouble, lost), [mend], in_the_way=False)
    if is_file(bench.ledger):
        try:
            set_back = Ledger(bench.ledger).clock_set_back()
        except SoakError as fault:
            yield Trouble(fault.told, [msg("mend or restore the ledger's file")])
            return
        if set_back:
            by_hand = command('sudo timedatectl set-time "YYYY-MM-DD HH:MM:SS"')
            yield Trouble(sentence(set_back), [command("sudo timedatectl set-ntp true"), by_hand])
