"""A bench in one file, and back from it: the same words from every verb, wherever it lies then."""

import fcntl
import hashlib
import io
import json
import os
import random
import re
import shutil
import signal
import sqlite3
import stat
import subprocess
import sys
import time
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from patience import LIMIT_S
from small_disk import read_only, small_disk, why_not
from typed_bench import Said, TypedBench, typed

from soak.errors import ExitCode
from soak.journal.ownership import Ownership

NEEDS_DISK = pytest.mark.skipif(why_not() != "", reason=why_not() or "possible")
MANIFEST = "manifest.json"
ABOUT = "ABOUT-THIS-BACKUP.txt"


def say(bench: TypedBench, *words: str) -> Said:
    return typed("--bench", str(bench.path), *words)


def soak_of(bench: TypedBench, tag: str) -> str:
    return next(soak for soak in bench.soaks() if soak.startswith(tag))


@pytest.fixture
def full(bench):
    """Give a bench with a key, a card of its own, a report, details and a photograph's folder."""
    bench.write("bench.toml", 'name = "Kittiwake Yard"\n')
    bench.write("details/K1-1.toml", "")
    bench.write("packs/large.bin", random.Random(1).randbytes(1_500_000))
    for words in (("key",), ("report", soak_of(bench, "K1"))):
        assert say(bench, *words).code == 0
    bench.write("reports/.in-use/0123456789abcdef.lock", "{}")
    return bench


@pytest.fixture
def kept(full, tmp_path) -> Path:
    """Give a backup of it."""
    file = tmp_path / "kept.zip"
    said = say(full, "backup", str(file))
    assert said.code == ExitCode.DONE, said
    return file


def answers(bench: TypedBench) -> list[Said]:
    """Return what the verbs say of a bench, with its place taken out of it."""
    soak = soak_of(bench, "K1")
    asked = [
        ("show",),
        ("show", soak),
        ("show", "last"),
        ("judge", soak, "--whole"),
        ("judge", soak, "--json"),
        ("verify", str(bench.path / "reports" / soak)),
        ("verify", str(bench.path / "reports" / soak / "report.html"), "--unit", "K1"),
        ("verify", str(bench.path / "reports" / soak / "report.pdf")),
        ("unit", "show", "K1"),
        ("unit", "show", "K2"),
        ("key",),
        ("report", soak),
    ]
    said = []
    for words in asked:
        came = say(bench, *words)
        out, err = (text.replace(str(bench.path), "BENCH") for text in (came.out, came.err))
        said.append(Said(came.code, out, err))
    return said


def files_of(folder: Path) -> dict[str, str]:
    return {
        file.relative_to(folder).as_posix(): hashlib.sha256(file.read_bytes()).hexdigest()
        for file in folder.rglob("*")
        if file.is_file()
    }


def refused(bench: TypedBench, file: Path, into: Path, *parts: str) -> None:
    """Read a file back: one sentence with these words in it, and nothing is left."""
    before = set(into.parent.iterdir())
    said = say(bench, "restore", str(file), str(into))
    assert said.code == ExitCode.USAGE, said
    assert said.out == ""
    assert len(said.err.strip().splitlines()) == 1, said.err
    assert all(part in said.err for part in parts), said.err
    assert set(into.parent.iterdir()) == before


def sealed(data: bytes) -> bytes:
    """Give a tampered file the digest that it then has, as whoever tampers would."""
    return data[:-64] + hashlib.sha256(data[:-64]).hexdigest().encode()


def made_anew(
    file: Path,
    manifest: Callable[[dict], None] = lambda told: None,
    entry: Callable[[zipfile.ZipInfo], None] = lambda info: None,
    *,
    kind: int = zipfile.ZIP_STORED,
    more: tuple[str, ...] = (),
) -> bytes:
    """Write a backup anew with its manifest and entries changed, by any zip program."""
    out = io.BytesIO()
    with zipfile.ZipFile(file) as old, zipfile.ZipFile(out, "w") as new:
        told = json.loads(old.read(MANIFEST))
        manifest(told)
        for info in old.infolist():
            data = json.dumps(told).encode() if info.filename == MANIFEST else old.read(info)
            again = zipfile.ZipInfo(info.filename)
            again.external_attr = info.external_attr
            again.compress_type = kind
            entry(again)
            new.writestr(again, data)
        for name in more:
            new.writestr(name, b"more")
        new.comment = old.comment
    return sealed(out.getvalue())


def test_a_bench_read_back_elsewhere_says_the_same(full, kept, tmp_path):
    """Grade, reasons, checks of what went out, cards, the key's fingerprint, the newest soak."""
    before = answers(full)
    fingerprint = say(full, "key").out.splitlines()[0]
    elsewhere = TypedBench(tmp_path / "another" / "machine")
    elsewhere.path.parent.mkdir()
    full.path.rename(tmp_path / "gone")
    said = say(elsewhere, "restore", str(kept), str(elsewhere.path))
    assert said.code == ExitCode.DONE, said
    assert fingerprint.removeprefix("fingerprint: ") in said.out
    assert answers(elsewhere) == before
    resumed = say(elsewhere, "resume", soak_of(elsewhere, "K3"), "--fast")
    assert resumed.code != ExitCode.BROKE


def test_all_of_it_comes_back_to_the_byte_but_locks(full, kept, tmp_path):
    """Only what belongs to a running program stays behind; modes and times come along."""
    into = tmp_path / "back"
    before = files_of(full.path)
    assert say(full, "restore", str(kept), str(into)).code == 0
    after = files_of(into)
    left = {name for name in before if name not in after}
    passing = ("/.in-use/", "-shm", "ledger.sqlite-wal")  # the last is folded into the copy
    assert all(any(part in name for part in passing) for name in left), left
    changed = {name for name in after if after[name] != before.get(name)}
    assert changed <= {"ledger.sqlite"}
    for name in after:
        was = (full.path / name).stat()
        now = (into / name).stat()
        assert stat.S_IMODE(now.st_mode) == stat.S_IMODE(was.st_mode), name
        if name != "ledger.sqlite":
            assert now.st_mtime_ns == was.st_mtime_ns, name
    assert stat.S_IMODE((into / "key").stat().st_mode) == 0o700
    assert stat.S_IMODE((into / "key" / "bench.key").stat().st_mode) == 0o600


def test_the_file_is_plain_and_lists_what_it_holds(full, kept):
    """Any zip program opens it, and the manifest's SHA-256 are those of the files in it."""
    assert stat.S_IMODE(kept.stat().st_mode) == 0o600
    with zipfile.ZipFile(kept) as archive:
        assert archive.testzip() is None
        names = archive.namelist()
        told = json.loads(archive.read(MANIFEST))
        assert sorted(names) == sorted([*told["files"], MANIFEST, ABOUT])
        for name, entry in told["files"].items():
            data = archive.read(name)
            assert hashlib.sha256(data).hexdigest() == entry["sha256"]
            assert len(data) == entry["length_bytes"]
    data = kept.read_bytes()
    assert hashlib.sha256(data[:-64]).hexdigest().encode() == data[-64:]


def test_the_key_is_said_with_a_caution_and_can_stay(full, tmp_path):
    """Who finds the file can sign as this bench: that is said, and there is a way without."""
    said = say(full, "backup", str(tmp_path / "a.zip"))
    assert "private key" in said.out
    said = say(full, "backup", str(tmp_path / "b.zip"), "--without-key")
    assert said.code == 0
    assert "without the bench's private key" in said.out
    with zipfile.ZipFile(tmp_path / "b.zip") as archive:
        assert "key/bench.key" not in archive.namelist()
        assert "key/bench.pub" in archive.namelist()


def test_what_is_written_while_it_is_copied_is_not_torn(full, tmp_path):
    """A ledger whose last entries stand in its log alone, its file held open by a writer."""
    held = sqlite3.connect(full.path / "ledger.sqlite", isolation_level=None)
    held.execute("PRAGMA wal_autocheckpoint = 0")
    held.execute("SELECT count(*) FROM units").fetchone()
    assert say(full, "unit", "add", "SP40-5001", "--model", "ferrow-sp-40", "--tag", "K5").code == 0
    assert (full.path / "ledger.sqlite-wal").stat().st_size > 0
    held.execute("BEGIN IMMEDIATE")
    held.execute("UPDATE units SET serial = 'half' WHERE tag = 'K4'")
    said = say(full, "backup", str(tmp_path / "a.zip"))
    assert said.code == 0, said
    held.execute("ROLLBACK")
    held.close()
    again = TypedBench(tmp_path / "back")
    assert say(full, "restore", str(tmp_path / "a.zip"), str(again.path)).code == 0
    assert again.units() == full.units()
    assert len(again.units()) == 5


def test_a_running_soak_is_said_and_copied_as_it_stands(full, tmp_path):
    """Its journal is whole up to then: on the other bench it is a soak that was cut off."""
    soak = soak_of(full, "K3")
    writer = sqlite3.connect(full.path / "reports" / soak / "journal.sqlite", isolation_level=None)
    writer.execute("PRAGMA wal_autocheckpoint = 0")
    writer.execute("SELECT count(*) FROM rows").fetchone()
    running = Ownership(full.path / "reports" / soak)
    try:
        said = say(full, "backup", str(tmp_path / "a.zip"))
    finally:
        running.release()
    assert said.code == 0, said
    assert f"{soak} runs" in said.out
    writer.close()
    again = TypedBench(tmp_path / "back")
    said = say(full, "restore", str(tmp_path / "a.zip"), str(again.path))
    assert f"{soak} ran" in said.out
    before, after = (say(one, "show", soak) for one in (full, again))
    assert (before.code, before.out) == (after.code, after.out)


def test_a_journal_that_cannot_be_read_is_told_and_kept_as_it_is(full, tmp_path):
    """Somebody may save what is left of it: it is not lost by being damaged."""
    soak = soak_of(full, "K1")
    file = full.path / "reports" / soak / "journal.sqlite"
    file.chmod(0o644)
    file.write_bytes(b"rubbish" + file.read_bytes()[7:])
    said = say(full, "backup", str(tmp_path / "a.zip"))
    assert said.code == ExitCode.INCOMPLETE, said
    assert "MIND" in said.out
    assert soak in said.out
    said = say(full, "restore", str(tmp_path / "a.zip"), str(tmp_path / "back"))
    assert said.code == ExitCode.DONE
    assert f"MIND: reports/{soak}/journal.sqlite: was copied as the file is" in said.out
    copied = tmp_path / "back" / "reports" / soak / "journal.sqlite"
    assert copied.read_bytes() == file.read_bytes()


def test_what_is_no_plain_file_is_left_out_and_told(full, tmp_path):
    """A link in a folder of the bench, a pipe, a name that no other system has."""
    (full.path / "fixtures" / "linked.toml").symlink_to("/etc/hostname")
    os.mkfifo(full.path / "fixtures" / "pipe.toml")
    (full.path / "fixtures" / "back\\slash.toml").write_text("")
    (full.path / "notes.txt").write_text("mine")
    said = say(full, "backup", str(tmp_path / "a.zip"))
    assert said.code == ExitCode.INCOMPLETE
    for name in ("linked.toml", "pipe.toml", "slash.toml"):
        assert f"MIND: fixtures/{name}" in said.out or name in said.out
    assert "notes.txt" in said.out
    with zipfile.ZipFile(tmp_path / "a.zip") as archive:
        assert "notes.txt" not in archive.namelist()
    said = say(full, "backup", str(tmp_path / "b.zip"), "--also", "notes.txt")
    with zipfile.ZipFile(tmp_path / "b.zip") as archive:
        assert archive.read("notes.txt") == b"mine"


def test_nothing_is_written_over_and_no_place_of_the_bench_is_taken(full, kept, tmp_path):
    """The same name again, a folder that is not there, one of the bench's own, no bench."""
    data = kept.read_bytes()
    said = say(full, "backup", str(kept))
    assert said.code == ExitCode.USAGE
    assert "there already" in said.err
    assert kept.read_bytes() == data
    said = say(full, "backup", str(tmp_path / "no" / "a.zip"))
    assert said.code == ExitCode.USAGE
    said = say(full, "backup", str(full.path / "reports" / "a.zip"))
    assert said.code == ExitCode.USAGE
    assert "the bench's own" in said.err
    said = say(TypedBench(tmp_path), "backup", str(tmp_path / "a.zip"))
    assert said.code == ExitCode.USAGE
    assert "no bench" in said.err
    said = say(full, "backup", str(full.path / "a.zip"))
    assert said.code == ExitCode.DONE
    assert "in the bench's own folder" in said.out


@NEEDS_DISK
def test_a_disk_that_takes_nothing_any_more_is_still_copied(full, tmp_path):
    """After errors of its medium Linux mounts a disk read-only: the moment for a backup."""
    held = sqlite3.connect(full.path / "ledger.sqlite", isolation_level=None)
    held.execute("PRAGMA wal_autocheckpoint = 0")
    held.execute("SELECT count(*) FROM units").fetchone()
    assert say(full, "unit", "add", "SP40-5001", "--model", "ferrow-sp-40", "--tag", "K5").code == 0
    with small_disk(tmp_path, 20) as disk:
        shutil.copytree(full.path, disk / "bench", ignore=shutil.ignore_patterns("*-shm"))
        held.close()
        units = full.units()
        read_only(disk)
        said = say(TypedBench(disk / "bench"), "backup", str(tmp_path / "a.zip"))
        assert said.code == ExitCode.DONE, said
    again = TypedBench(tmp_path / "back")
    assert say(full, "restore", str(tmp_path / "a.zip"), str(again.path)).code == 0
    assert again.units() == units
    assert len(units) == 5


@NEEDS_DISK
def test_room_is_asked_for_before_and_a_full_disk_leaves_nothing(full, kept, tmp_path):
    """Neither a backup nor a bench is begun where it cannot end."""
    with small_disk(tmp_path, 1) as disk:
        said = say(full, "backup", str(disk / "a.zip"))
        assert said.code == ExitCode.USAGE
        assert "free" in said.err
        assert not list(disk.iterdir())
        shutil.copy(kept, tmp_path / "b.zip")
        said = say(full, "restore", str(tmp_path / "b.zip"), str(disk / "bench"))
        assert said.code == ExitCode.USAGE
        assert "free" in said.err
        assert not list(disk.iterdir())


FULL_LATER = """
from soak.desk.keeping import medium
medium.free_bytes = lambda folder: 1 << 40
from soak.cli.main import main
main()
"""


@NEEDS_DISK
@pytest.mark.parametrize("verb", ["backup", "restore"])
def test_a_disk_that_fills_meanwhile_leaves_nothing(full, kept, tmp_path, verb):
    """Somebody else took the room: one sentence, the code of a bench fault, no half file."""
    with small_disk(tmp_path, 1) as disk:
        words = [str(disk / "a.zip")] if verb == "backup" else [str(kept), str(disk / "bench")]
        done = subprocess.run(
            [sys.executable, "-c", FULL_LATER, "--bench", str(full.path), verb, *words],
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == ExitCode.BENCH_FAULT, done
        assert len(done.stderr.strip().splitlines()) == 1, done.stderr
        assert not list(disk.iterdir())


SLOW = """
import time
from pathlib import Path
from soak.desk.keeping import archive
usual = archive.copied

def copied(*given):
    Path({word!r}).touch()
    time.sleep(0.3)
    return usual(*given)

archive.copied = copied
from soak.cli.main import main
main()
"""


@pytest.mark.parametrize("verb", ["backup", "restore"])
def test_broken_off_nothing_is_left_half_written(full, kept, tmp_path, verb):
    """Ctrl-C in the middle: no file, no folder, one line."""
    place = tmp_path / "place"
    place.mkdir()
    word = tmp_path / "began"
    words = [str(place / "a.zip")] if verb == "backup" else [str(kept), str(place / "bench")]
    running = subprocess.Popen(
        [
            sys.executable,
            "-c",
            SLOW.format(word=str(word)),
            "--bench",
            str(full.path),
            verb,
            *words,
        ],
        stderr=subprocess.PIPE,
        text=True,
    )
    until = time.monotonic() + LIMIT_S
    while not word.exists() and time.monotonic() < until:
        time.sleep(0.05)
    running.send_signal(signal.SIGINT)
    _, err = running.communicate(timeout=LIMIT_S)
    assert running.returncode == ExitCode.STOPPED
    assert err.strip().endswith("stopped")
    assert not list(place.iterdir())


def test_what_a_killed_run_left_is_in_nobodys_way_and_a_running_one_is(full, tmp_path):
    """The same name: refused while another writes it, taken over from one that died."""
    part = tmp_path / ".a.zip.part"
    part.write_bytes(b"rubbish" * 1000)
    with part.open("r+b") as held:
        fcntl.flock(held, fcntl.LOCK_EX)
        said = say(full, "backup", str(tmp_path / "a.zip"))
        assert said.code == ExitCode.USAGE
        assert "another `soak backup` is writing it" in said.err
    assert part.read_bytes() == b"rubbish" * 1000
    assert say(full, "backup", str(tmp_path / "a.zip")).code == 0
    assert not part.exists()
    assert say(full, "restore", str(tmp_path / "a.zip"), str(tmp_path / "back")).code == 0


def test_a_file_that_can_be_read_only_so_far_is_kept_so_far_and_told(full, tmp_path):
    """A bad place of the disk under a report: what is before it is not lost with it."""
    whole = (full.path / "packs" / "large.bin").read_bytes()
    program = BAD_PLACE.format(word="large.bin")
    done = subprocess.run(
        [
            sys.executable,
            "-c",
            program,
            "--bench",
            str(full.path),
            "backup",
            str(tmp_path / "a.zip"),
        ],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == ExitCode.INCOMPLETE, done
    assert "packs/large.bin: could be read only so far" in done.stdout
    assert say(full, "restore", str(tmp_path / "a.zip"), str(tmp_path / "back")).code == 0
    copied = (tmp_path / "back" / "packs" / "large.bin").read_bytes()
    assert copied == whole[: len(copied)]
    assert len(copied) == 1 << 20


BAD_PLACE = """
import errno
from soak.desk.keeping import backup
usual = backup.opened

class BadPlace:
    def __init__(self, stream):
        self.stream = stream
    def read(self, most):
        if self.stream.tell() >= 1 << 20:
            raise OSError(errno.EIO, "Input/output error")
        return self.stream.read(most)
    def fileno(self):
        return self.stream.fileno()
    def __enter__(self):
        return self
    def __exit__(self, *what):
        self.stream.close()

backup.opened = lambda path: BadPlace(usual(path)) if path.name == {word!r} else usual(path)
from soak.cli.main import main
main()
"""


def test_a_folder_with_something_in_it_is_no_place_for_a_bench(full, kept, tmp_path):
    """Nothing is mixed and nothing overwritten; an empty folder will do."""
    refused(full, kept, full.path, "not empty")
    into = tmp_path / "empty"
    into.mkdir()
    assert say(full, "restore", str(kept), str(into)).code == 0
    assert (into / "ledger.sqlite").is_file()
    refused(full, kept, into, "not empty")
    refused(full, kept, into / "ledger.sqlite", "is a file")


def test_cut_short_or_changed_by_a_byte_nothing_is_restored(full, kept, tmp_path):
    """Wherever it is cut or changed."""
    data = kept.read_bytes()
    other = tmp_path / "other.zip"
    for length in (0, 1, 100, len(data) // 2, len(data) - 64, len(data) - 1):
        other.write_bytes(data[:length])
        refused(full, other, tmp_path / "into", "other.zip")
    for at in range(3, len(data), max(1, len(data) // 60)):
        other.write_bytes(data[:at] + bytes([data[at] ^ 1]) + data[at + 1 :])
        refused(full, other, tmp_path / "into", "other.zip", "changed or damaged")
    other.write_bytes(data + b"\n")
    refused(full, other, tmp_path / "into", "other.zip")


def test_what_is_no_backup_of_this_program_is_said_so(full, tmp_path):
    """Another program's archive, a page, a folder, a device, nothing at all."""
    other = tmp_path / "other.zip"
    with zipfile.ZipFile(other, "w") as archive:
        archive.writestr("letter.txt", "hello")
    refused(full, other, tmp_path / "into", "is no backup of soak's")
    other.write_text("hello" * 100)
    refused(full, other, tmp_path / "into", "is no backup of soak's")
    for no_file in ("/dev/zero", str(tmp_path), str(tmp_path / "nothing.zip")):
        refused(full, Path(no_file), tmp_path / "into", no_file)


def test_a_newer_programs_backup_is_left_alone(full, kept, tmp_path):
    """It says so, and which to use."""
    other = tmp_path / "other.zip"
    other.write_bytes(made_anew(kept, lambda told: told.update(soak_backup=2)))
    refused(full, other, tmp_path / "into", "newer soak")


def _renamed(name: str) -> Callable[[Path], bytes]:
    """Return what moves the ledger to another place in a backup."""

    def make(file: Path) -> bytes:
        def manifest(told: dict) -> None:
            told["files"][name] = told["files"].pop("ledger.sqlite")

        def entry(info: zipfile.ZipInfo) -> None:
            if info.filename == "ledger.sqlite":
                info.filename = name

        return made_anew(file, manifest, entry)

    return make


def _as_kind(kind: int) -> Callable[[Path], bytes]:
    def entry(info: zipfile.ZipInfo) -> None:
        if info.filename == "ledger.sqlite":
            info.external_attr = (kind | 0o644) << 16

    return lambda file: made_anew(file, entry=entry)


def _sized(told: dict) -> None:
    told["files"]["ledger.sqlite"]["length_bytes"] = 1 << 50


def _other_hash(told: dict) -> None:
    told["files"]["ledger.sqlite"]["sha256"] = "0" * 64


def _beneath(told: dict) -> None:
    told["files"]["ledger.sqlite/x"] = told["files"]["bench.toml"]


def _nameless(info: zipfile.ZipInfo) -> None:
    if info.filename == "bench.toml":
        info.filename = ""


def _begins_before(file: Path) -> bytes:
    """Move the place where the archive says that its table begins: APPNOTE, 4.3.16."""
    data = bytearray(file.read_bytes())
    at = data.rindex(b"PK\x05\x06") + 16
    begins = int.from_bytes(data[at : at + 4], "little")
    data[at : at + 4] = (begins + 10_000_000).to_bytes(4, "little")
    return sealed(bytes(data))


def _under_a_password(file: Path) -> bytes:
    """Set the bit of each entry that says so: APPNOTE, 4.4.4."""
    data = file.read_bytes()
    begins = data.index(b"PK\x01\x02")
    table = re.sub(rb"(?s)(PK\x01\x02.{4})\x00", lambda at: at[1] + b"\x01", data[begins:])
    return sealed(data[:begins] + table)


HOSTILE: dict[str, Callable[[Path], bytes]] = {
    "leads out": _renamed("../ledger.sqlite"),
    "leads out within": _renamed("reports/../../ledger.sqlite"),
    "absolute": _renamed("/tmp/ledger.sqlite"),
    "of a drive": _renamed("C:/ledger.sqlite"),
    "by backslashes": _renamed("..\\ledger.sqlite"),
    "no name": _renamed("reports//ledger.sqlite"),
    "a link": _as_kind(stat.S_IFLNK),
    "a device": _as_kind(stat.S_IFBLK),
    "a pipe": _as_kind(stat.S_IFIFO),
    "a huge size": lambda file: made_anew(file, _sized),
    "compressed": lambda file: made_anew(file, kind=zipfile.ZIP_DEFLATED),
    "another hash": lambda file: made_anew(file, _other_hash),
    "a file not listed": lambda file: made_anew(file, more=("listed.not",)),
    "a name twice": lambda file: made_anew(file, more=("bench.toml",)),
    "a file that is not there": lambda file: made_anew(file, _beneath),
    "no list": lambda file: made_anew(file, lambda told: told.update(files=3)),
    "a list of rubbish": lambda file: made_anew(file, lambda told: told.update(files={"a": 1})),
    "no mode": lambda file: made_anew(
        file, lambda told: told["files"]["bench.toml"].update(mode="x")
    ),
    "a time beyond all": lambda file: made_anew(
        file, lambda told: told["files"]["bench.toml"].update(modified_ns=10**40)
    ),
    "a folder that leads out": lambda file: made_anew(
        file, lambda told: told["folders"].update({"../out": 0o755})
    ),
    "an entry without a name": lambda file: made_anew(file, entry=_nameless),
    "a table that begins elsewhere": _begins_before,
    "a password": _under_a_password,
    "nothing behind the comment": lambda file: sealed(file.read_bytes()[-200:]),
}


@pytest.mark.filterwarnings("ignore:Duplicate name")
@pytest.mark.parametrize("how", HOSTILE)
def test_what_somebody_made_to_do_harm_does_none(full, kept, tmp_path, how):
    """One sentence, nothing written: neither in the folder nor beside it."""
    other = tmp_path / "deep" / "other.zip"
    other.parent.mkdir()
    other.write_bytes(HOSTILE[how](kept))
    refused(full, other, tmp_path / "deep" / "into", "other.zip")
    assert not Path("/tmp/ledger.sqlite").exists()


def test_a_table_changed_at_random_breaks_nothing(full, kept, tmp_path):
    """Whoever changes bytes of it and gives it its digest gets one sentence, or a whole bench."""
    data = kept.read_bytes()
    begins = data.index(b"PK\x01\x02")
    lot = random.Random(19)
    into = tmp_path / "into"
    for _ in range(150):
        changed = bytearray(data)
        for _ in range(lot.choice((1, 2, 5))):
            changed[lot.randrange(begins, len(data) - 64)] = lot.choice(
                (0, 255, lot.randrange(256))
            )
        other = tmp_path / "other.zip"
        other.write_bytes(sealed(bytes(changed)))
        said = say(full, "restore", str(other), str(into))
        if said.code == ExitCode.DONE:
            shutil.rmtree(into)
            continue
        assert said.code in (ExitCode.USAGE, ExitCode.BENCH_FAULT), said
        assert len(said.err.strip().splitlines()) == 1
        assert not into.exists()


def test_a_restored_bench_has_no_more_rights_than_it_had(full, kept, tmp_path):
    """Set-user-id and the like do not come out of a file."""
    other = tmp_path / "other.zip"
    other.write_bytes(made_anew(kept, lambda told: told["files"]["bench.toml"].update(mode=0o6777)))
    said = say(full, "restore", str(other), str(tmp_path / "into"))
    assert said.code == ExitCode.DONE
    assert stat.S_IMODE((tmp_path / "into" / "bench.toml").stat().st_mode) == 0o777


def test_the_manifest_says_when_and_by_what(kept):
    """So that two of them can be told apart in a year."""
    with zipfile.ZipFile(kept) as archive:
        told = json.loads(archive.read(MANIFEST))
    assert told["soak_backup"] == 1
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\+00:00", told["made_utc"])
