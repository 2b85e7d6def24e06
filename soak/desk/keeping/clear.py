"""`soak clear`: remove journals that a backup has to the byte, of jobs that are over."""

import hashlib
import sys
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from soak.desk.bench_folder import JOURNAL, BenchFolder
from soak.desk.from_before.jobs_before import soaks_beside_the_ledger
from soak.desk.keeping.archive import Backup, opened_backup
from soak.desk.keeping.medium import SAME_DISK
from soak.desk.places import REPORTS
from soak.desk.trust.belongings import soak_faults
from soak.desk.units import open_ledger
from soak.errors import JournalError, UsageError
from soak.journal import open_evidence
from soak.journal.cleared import Cleared, cleared
from soak.journal.copying import unwritten
from soak.journal.durable import sync_folder
from soak.journal.sealing import FILE as SEAL
from soak.journal.store import KEPT
from soak.ledger.entries import SoakLine
from soak.ledger.ledger import Ledger
from soak.live.prompt import yes_or_no
from soak.outside import opened
from soak.words import NOTHING_SAID, Amount, Message, Tell, counted, indented, joined, msg


@dataclass(frozen=True, slots=True)
class Clearable:
    """A soak whose journal may be cleared.

    Attributes
    ----------
    files : sequence of str
        What would go, by its name in the soak's folder.
    here : str
        Tag of its unit where that is not sold; else empty.
    """

    soak_id: str
    files: Sequence[str]
    size_bytes: int
    here: str


@dataclass(slots=True)
class Plan:
    """What may go; beside it what is to be minded, and why the rest stays."""

    backup: str
    sha256: str
    soaks: list[Clearable] = field(default_factory=list)
    beside: list[Message] = field(default_factory=list)

    @property
    def told(self) -> Message:
        """List what may go, then what is said beside it."""
        size = Amount(sum(soak.size_bytes for soak in self.soaks), "B")
        lines = [
            indented(joined("  ", [soak.soak_id, Amount(soak.size_bytes, "B")]))
            for soak in self.soaks
        ]
        lines += [
            msg(
                "MIND: {unit} is here and not sold: before the journal of {soak} is put back, its "
                "next soak cannot count what that one saw",
                unit=soak.here,
                soak=soak.soak_id,
            )
            for soak in self.soaks
            if soak.here
        ]
        head = counted(
            len(self.soaks),
            "{backup} has the journal and kept files of 1 soak to the byte, {size}:",
            "{backup} has the journals and kept files of {count} soaks to the byte, {size}:",
            none=msg("nothing to clear"),
            backup=self.backup,
            size=size,
        )
        return joined("\n", [head, *lines, *self.beside])


def plan(bench_path: Path, file: Path, *, closed: bool, progress: Tell) -> Plan:
    """Find the soaks whose journals may go: their jobs over, and all of them in the backup.

    Parameters
    ----------
    closed : bool
        Also of jobs that are over of units that are not sold.

    Raises
    ------
    UsageError
        If the backup cannot be read or lies among what would be cleared.
    """
    bench = BenchFolder(bench_path)
    if file.resolve().is_relative_to(bench_path.resolve()):
        raise UsageError(
            msg(
                "{file}: lies in the bench's own folder, where it is no safer than the journals; "
                "move it to another disk first",
                file=str(file),
            )
        )
    with opened_backup(file) as backup:
        ledger = open_ledger(bench_path)
        made = Plan(file.name, backup.sha256)
        if file.stat().st_dev == bench_path.stat().st_dev:
            made.beside.append(SAME_DISK)
        left = 0
        for line, here in _over(bench, ledger):
            if here and not closed:
                left += 1
                continue
            progress(msg("comparing {soak}", soak=line.soak_id))
            _look(bench, backup, line, here, made)
        for unit in ledger.list_units():
            if unit.state == "sold":
                made.beside += [
                    msg("{soak} stays: {why}", soak=fault.name, why=fault.what)
                    for fault in soaks_beside_the_ledger(bench, ledger, unit.tag)
                ]
    if left:
        made.beside.append(
            counted(
                left,
                "1 soak of a closed job stays, for its unit is here; --closed lists it as well",
                "{count} soaks of closed jobs stay, for their units are here; --closed lists them "
                "as well",
            )
        )
    return made


def agreed() -> bool:
    """Ask whether what was listed may go; without a terminal say how to."""
    if sys.stdin.isatty():
        return yes_or_no(msg("Clear these?"))
    raise UsageError(msg("nothing was cleared: nobody can be asked here; add --yes"))


def clear(bench_path: Path, plan: Plan) -> Message:
    """Remove what was listed; the note that says where it is comes first.

    Raises
    ------
    OSError
        If something cannot be removed.
    """
    bench = BenchFolder(bench_path)
    done = []
    for soak in plan.soaks:
        folder = bench.reports / soak.soak_id
        with unwritten(folder) as alone:
            if not alone:
                continue  # somebody began with it since it was listed: it stays
            on = datetime.now(UTC).date().isoformat()
            Cleared(soak.soak_id, plan.backup, plan.sha256, on).write(folder)
            for name in soak.files:
                (folder / name).unlink()
            with suppress(OSError):
                (folder / KEPT).rmdir()
            sync_folder(folder)
        done.append(soak)
    size = Amount(sum(soak.size_bytes for soak in done), "B")
    return counted(
        len(done),
        "cleared 1 soak, {size} free; do not lose {backup}",
        "cleared {count} soaks, {size} free; do not lose {backup}",
        size=size,
        backup=plan.backup,
    )


def _over(bench: BenchFolder, ledger: Ledger) -> Iterator[tuple[SoakLine, str]]:
    """Yield sealed and graded soaks of jobs that are over, with the tag of a unit that is here."""
    for unit in ledger.list_units():
        current = ledger.current_job(unit.tag).job_id
        is_sold = unit.state == "sold"
        for line in ledger.soaks(unit.tag):
            ended = line.seal and line.ended and (bench.reports / line.soak_id / JOURNAL).is_file()
            if ended and (is_sold or line.job_id != current):
                yield line, "" if is_sold else unit.tag


def _look(bench: BenchFolder, backup: Backup, line: SoakLine, here: str, made: Plan) -> None:
    """Put a soak to what may go, or say why it stays."""
    folder = bench.reports / line.soak_id
    with unwritten(folder) as alone:
        why = NOTHING_SAID if alone else msg("a program is writing it")
        files = _files(folder)
        why = why or _not_as_graded(folder, line) or _not_in(backup, folder, files)
    if why:
        made.beside.append(msg("{soak} stays: {why}", soak=line.soak_id, why=why))
        return
    size = sum((folder / name).stat().st_size for name in files)
    made.soaks.append(Clearable(line.soak_id, files, size, here))


def _files(folder: Path) -> list[str]:
    """Return what would go, in that order: the journal after what it names."""
    kept = [f"{KEPT}/{file.name}" for file in sorted((folder / KEPT).glob("*"))]
    return [*kept, JOURNAL, *([SEAL] if (folder / SEAL).is_file() else [])]


def _not_as_graded(folder: Path, line: SoakLine) -> Message:
    """Say why a journal is not the one that was graded; nothing if it is."""
    try:
        evidence = open_evidence(folder)
        # What a clearing that was broken off has removed already is no fault.
        wrong = [] if cleared(folder) else soak_faults(evidence)
    except JournalError as fault:
        return fault.told
    if evidence.file_sha256 != line.seal:
        return msg("its journal is not the one that the ledger took in")
    return wrong[0].told if wrong else NOTHING_SAID


class _Nowhere:
    """Takes what is only looked at."""

    def write(self, data: bytes, /) -> int:
        return len(data)


def _not_in(backup: Backup, folder: Path, files: Sequence[str]) -> Message:
    """Say what of a soak the backup does not have to the byte; nothing if it has all."""
    for name in files:
        place = f"{REPORTS}/{folder.name}/{name}"
        listed = backup.files.get(place)
        if listed is None:
            return msg("{file} is not in the backup", file=name)
        with opened(folder / name, follow=False) as stream:
            same = hashlib.file_digest(stream, "sha256").hexdigest() == listed.sha256
        if not same:
            return msg("{file} is not as it is in the backup", file=name)
        backup.take(place, _Nowhere())
    return NOTHING_SAID
