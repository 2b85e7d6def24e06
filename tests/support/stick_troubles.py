"""What can be wrong with a stick, put into a real soak of a folder and of a whole disk.

The soak is the program itself in a process of its own, in real time; the stick is a file system
that is told what to do wrong (`fuse_stick`), as a folder, as a whole disk (a loop device over a
file of it), or as an ext4 on such a disk.
"""

import errno
import os
import subprocess
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from threading import Lock
from typing import Any

import patience
from as_recorded import judged_as_recorded
from fuse_stick import FuseStick
from soak_process import RELAY, Relay, started

from soak.bench.stick.device_medium import LABEL_BYTES, DeviceOrder
from soak.clock import boot_time_s
from soak.derive.course import Course
from soak.derive.events.gone_dead import OFF_SETTLED_S
from soak.derive.seeing.holes import REOPENING_S
from soak.desk import units
from soak.errors import JournalError
from soak.evidence import Evidence
from soak.journal import open_evidence
from soak.rules.core.verdict import Finding

STALL_S, NO_STALL_S = 3, 10
"""What is allowed where a stall is put in, and elsewhere: this computer plays the stick as well."""
LATE_S = 0.25
"""A stick whose own process was later than this at any time was not played as it was told."""
_STARTING = Lock()
"""Soaks side by side start one after the other: a start takes seconds of processor."""
TRIES = 3
"""A row that could not be played as it was told is played again."""
PLACE_BYTES = 300 * 1024 + 1024
"""Where in soak's data the bad sector lies: in the middle of the second chunk."""
IMAGE_BYTES = 160 << 20
OPENED_S = REOPENING_S + 0.5
"""What a stick does so soon after it was opened may be the bench's own doing."""
ALL_READ_BYTES = 3 << 20
"""Of a soak that has read so much, every chunk was written and read back; it writes on."""
SHEET = """\
model = "hub"
picture_when_on = "moving"
start_s = "1 s"
mains = false
disk = false
lithium_cell = false
holds_data = false
[ports.usb]
text = "USB port"
kind = "usb"
[functions.storage]
text = "passes data on"
key = true
check = "transfer"
port = "usb"
"""
SCRIPT = """\
name = "short"
not_after = "3 min"
blind_allowed = 0.9
longest_blind = "3 min"
[[stretch]]
name = "run"
lasts = "18 s"
attended = true
[stretch.transfer]
size_bytes = "1 MiB"
chunk_bytes = 262_144
write_budget_bytes = "64 MiB"
write_every_s = 1
pause_s = 0.05
stall_s = {stall_s}
first_s = 1
keep_speed = 0
late_per_h = 100_000
drift = 0.99
"""
MEDIA: Mapping[str, str] = {
    "folder": """\
[stick]
driver = "folder"
folder = "{where}"
port = "usb"
path = "through"
size = "2 MB"
limit_s = 20
reads_medium = ["fuse"]
""",
    "whole disk": """\
[stick]
driver = "device"
device = "{where}"
serial = "{image}"
port = "usb"
path = "through"
limit_s = 20
""",
    "ext4": """\
[stick]
driver = "folder"
folder = "{where}"
port = "usb"
path = "through"
size = "2 MB"
limit_s = 20
""",
}


@dataclass(frozen=True, slots=True)
class Trouble:
    """One thing that a stick does wrong, and what is to be found.

    Attributes
    ----------
    does : str
        `read` or `write`: what it spoils.
    faults : mapping
        As `FuseStick.be` takes them; places are those of soak's data.
    rule, verdict : str
        Of which demand something is found, and what (one of these); of all other demands nothing.
    kinds : mapping of str to int, or None
        Which kind of wrong data at how many places; None: it hangs on the moment.
    says : str
        What stands in the finding.
    until : str
        It does so until the soak has seen the stick in this state; empty: to the end.
    """

    name: str
    does: str
    faults: Mapping[str, Any]
    rule: str = "no wrong data"
    verdict: str = "not met"
    kinds: Mapping[str, int] | None = field(default_factory=dict)
    says: str = ""
    until: str = ""
    media: tuple[str, ...] = ("folder", "whole disk")


P = PLACE_BYTES
_READ_ONLY = "the stick became read-only while it was in use"
TROUBLES: tuple[Trouble, ...] = (
    Trouble("one bit flipped", "read", {"flips": {P + 5: 16}}, kinds={"flipped": 1}),
    Trouble("a sector of zeros", "read", {"zeros": [P]}, kinds={"zeros": 1}),
    Trouble("zeros but for two bits", "read", {"near_zeros": [P]}, kinds={"zeros": 1}),
    Trouble("a sector as it was before", "read", {"stale": [P]}, kinds={"earlier pass": 1}),
    Trouble("a sector of elsewhere", "read", {"elsewhere": [P]}, kinds={"wrong address": 1}),
    Trouble(
        "two sectors of two kinds",
        "read",
        {"zeros": [P], "elsewhere": [P + 8192]},
        kinds={"zeros": 1, "wrong address": 1},
    ),
    Trouble(
        "a sector that cannot be read",
        "read",
        {"unreadable": [P]},
        kinds={"unreadable": 1},
        says=f"(errno {errno.EIO})",
    ),
    Trouble("one read fails", "read", {"fails_once": 1}, kinds={"failed once": 1}),
    Trouble("a read takes 5 s", "read", {"stall_s": 5}, rule="no stall"),
    Trouble("gone and back", "read", {"gone": errno.ENODEV}, rule="stick stayed", until="gone"),
    Trouble("one bit kept wrong", "write", {"write_flips": {P + 5: 16}}, kinds={"flipped": 1}),
    Trouble("zeros kept", "write", {"write_zeros": [P]}, kinds={"zeros": 1}),
    Trouble(
        "a sector kept elsewhere",
        "write",
        {"write_elsewhere": [P]},
        kinds={"earlier pass": 1, "wrong address": 1},
    ),
    Trouble("one write fails", "write", {"write_fails_once": 1}, kinds={"failed once": 1}),
    Trouble(
        "a sector that cannot be written",
        "write",
        {"unwritable": [P]},
        kinds={"not written": 1},
        says=f"(errno {errno.EIO})",
    ),
    Trouble("a write lost without a word", "write", {"loses": [P]}, kinds={"earlier pass": 1}),
    Trouble("a write takes 5 s", "write", {"write_stall_s": 5}, rule="no stall"),
    Trouble("read-only", "write", {"refuses": errno.EROFS}, verdict="not shown", says=_READ_ONLY),
    Trouble(
        "full",
        "write",
        {"refuses": errno.ENOSPC},
        verdict="not shown",
        says="the stick was full and took no more data",
        media=("folder",),
    ),
    Trouble(
        "a sector that cannot be read, then read-only",
        "write",
        {"unreadable": [P], "refuses": errno.EROFS},
        kinds={"unreadable": 1},
        says="The stick became read-only while it was in use",
    ),
    Trouble(
        "a medium that takes nothing, so that its file system shuts itself",
        "write",
        {"refuses": errno.EIO},
        verdict="not met, not shown",  # by whether data or the file system's own comes first
        kinds=None,
        says="stick became read-only while it was in use",
        media=("ext4",),
    ),
)


@dataclass(slots=True)
class Found:
    """What came of a soak with a stick in trouble.

    Attributes
    ----------
    said : str
        What the program printed.
    wrong : list of str
        What is not as it was to be.
    as_told : bool
        Whether the process that plays the stick was never late, nor the first power-on: this stick
        is seen without power too, and one that is seen in a long off proves no power.
    """

    findings: Mapping[str, Finding]
    evidence: Evidence
    said: str
    wrong: list[str]
    as_told: bool


class TroubledStick:
    """A stick that is told what to do wrong at places of soak's data."""

    def __init__(self, medium: str, served: FuseStick, device: str, point: str) -> None:
        self.medium, self.served, self.device = medium, served, device
        self.image = served.folder / "disk.img"
        self.where = {"folder": str(served.folder), "whole disk": device}.get(medium, point)
        self._base_bytes = LABEL_BYTES if medium == "whole disk" else 0

    def be(self, faults: Mapping[str, Any]) -> None:
        """Do this from now on."""
        if self.medium == "whole disk" and "refuses" in faults:  # it is protected from writing
            subprocess.run(["blockdev", "--setro", self.device], check=True)
            faults = {name: what for name, what in faults.items() if name != "refuses"}
        if "stale" in faults:
            self.served.keep()
        self.served.be(**{name: self._moved(what) for name, what in faults.items()})
        if self.medium == "ext4":  # have the file system write something of its own
            with suppress(OSError):
                Path(self.where, "something").touch()
            subprocess.run(["sync", "-f", self.where], check=False, capture_output=True)

    def _moved(self, what: Any) -> Any:
        if isinstance(what, list):
            return [self._base_bytes + place for place in what]
        if isinstance(what, dict):
            return {self._base_bytes + place: mask for place, mask in what.items()}
        return what


@contextmanager
def stick_in_trouble(medium: str, beside: Path) -> Iterator[TroubledStick]:
    """Make a stick that is well to begin with; a disk already bears soak's label."""
    with ExitStack() as stack:
        served = stack.enter_context(FuseStick(beside))
        device, point = "", beside / "mounted"
        if medium != "folder":
            image = served.folder / "disk.img"
            with image.open("wb") as file:
                file.truncate(IMAGE_BYTES)
            device = loop_on(image)
            for command in (["losetup", "-d", device], ["blockdev", "--setrw", device]):
                stack.callback(subprocess.run, command, check=False)
        if medium == "whole disk":
            DeviceOrder(device, str(image), may_label=True).open()[0].close()
        elif medium == "ext4":
            point.mkdir()
            subprocess.run(["mkfs.ext4", "-q", "-m", "0", device], check=True)
            subprocess.run(["mount", "-o", "errors=remount-ro", device, str(point)], check=True)
            stack.callback(subprocess.run, ["umount", "-l", str(point)], check=False)
        stack.callback(served.be)
        yield TroubledStick(medium, served, device, str(point))


def loop_on(image: Path) -> str:
    """Attach an image to a loop device that reads it past the cache."""
    asked = ["losetup", "--find", "--show", "--direct-io=on", str(image)]
    device = subprocess.run(asked, check=True, capture_output=True, text=True).stdout.strip()
    subprocess.run(["blockdev", "--setrw", device], check=True)
    return device


def soaked(trouble: Trouble, medium: str, folder: Path) -> Found:
    """Soak with a stick that gets into trouble once data crosses; hold what is found to it."""
    for number in range(TRIES):
        found = _soaked_once(trouble, medium, folder / str(number))
        if found.as_told or not found.wrong:
            break
    return found


def _soaked_once(trouble: Trouble, medium: str, folder: Path) -> Found:
    bench = folder / "bench"
    (bench / "fixtures" / "models").mkdir(parents=True)
    (bench / "scripts").mkdir()
    (bench / "fixtures" / "models" / "hub.toml").write_text(SHEET)
    stall_s = STALL_S if trouble.rule == "no stall" else NO_STALL_S
    (bench / "scripts" / "short.toml").write_text(SCRIPT.format(stall_s=stall_s))
    units.add(bench, "CP-1", model="hub", tag="K1")
    with Relay(folder / "relay") as relay, stick_in_trouble(medium, folder) as stick:
        wired = MEDIA[medium].format(where=stick.where, image=stick.image)
        text = 'name = "left"\n' + RELAY.format(relay=relay.link) + wired
        (bench / "fixtures" / "left.toml").write_text(text)
        with _STARTING:
            process = started(bench, "run", "short", "--unit", "K1@left", "--may-sleep")
            over = process.poll
            patience.until(lambda: over() is not None or bool(relay.on_at_s))
        patience.until(lambda: over() is not None or _opened_long_ago(relay))
        patience.until(lambda: over() is not None or stick.served.read_bytes() > ALL_READ_BYTES)
        stick.be(trouble.faults)
        if trouble.until:
            patience.until(lambda: over() is not None or _seen_as(trouble.until, bench))
            stick.served.be()
        out, err = process.communicate(timeout=patience.LIMIT_S)
        late_s = stick.served.late_s()
    assert any((bench / "reports").glob("*/journal.sqlite")), out + err
    evidence = open_evidence(_soak_of(bench))
    as_told = late_s <= LATE_S and Course(evidence).power[0][0] < OFF_SETTLED_S
    findings = {
        one.requirement.rule: one
        for one in judged_as_recorded(evidence).findings
        if one.requirement.stretch == "run"
    }
    return Found(findings, evidence, out + err, list(_not_as(trouble, medium, findings)), as_told)


def _not_as(trouble: Trouble, medium: str, findings: Mapping[str, Finding]) -> Iterator[str]:
    """Yield what is not as it was to be; for a drift a few seconds have too few readings."""
    for rule, one in findings.items():
        if rule == "no slow drift":
            continue
        wanted = trouble.verdict.split(", ") if rule == trouble.rule else ["met"]
        if one.verdict.value not in wanted:
            yield f"{rule}: {one.verdict.value}, not {wanted}: {one.because}"
    about = findings[trouble.rule]
    if trouble.kinds is not None and dict(about.detail.get("kinds", {})) != dict(trouble.kinds):
        yield f"kinds: {about.detail.get('kinds')}"
    if trouble.says not in f"{about.because} {about.aside}":
        yield f"it says: {about.because} {about.aside}"
    if trouble.kinds and set(trouble.kinds) != {"failed once"}:
        yield from _not_there(medium, about)


def _not_there(medium: str, about: Finding) -> Iterator[str]:
    on_disk = medium == "whole disk"
    key, base_bytes = ("disk_address_bytes", LABEL_BYTES) if on_disk else ("data_address_bytes", 0)
    if about.detail.get(key) != base_bytes + PLACE_BYTES:
        yield f"{key}: {about.detail.get(key)}, not {base_bytes + PLACE_BYTES}"


def _soak_of(bench: Path) -> Path:
    [journal] = (bench / "reports").glob("*/journal.sqlite")
    return journal.parent


def _opened_long_ago(relay: Relay) -> bool:
    return bool(relay.on_at_s) and boot_time_s() - relay.on_at_s[0] > OPENED_S


def _seen_as(state: str, bench: Path) -> bool:
    """Tell whether the stick was seen in a state so far; the records may not have been begun."""
    try:
        return any(one.state == state for one in open_evidence(_soak_of(bench)).states("stick"))
    except (OSError, ValueError, JournalError):
        return False


def why_not() -> str:
    """Return why no stick can be put into trouble here; empty if one can."""
    if os.geteuid() != 0:
        return "a file system of our own needs root"
    return "" if Path("/dev/fuse").exists() else "there is no /dev/fuse"
