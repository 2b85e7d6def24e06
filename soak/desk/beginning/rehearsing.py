"""All that a beginning writes: tried on a copy first, then written at once."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory

from soak.desk.bench_folder import BenchFolder
from soak.desk.places import LEDGER
from soak.desk.units import insisting, open_ledger
from soak.journal.copying import as_it_stands
from soak.journal.durable import write_durable
from soak.ledger.ledger import Ledger
from soak.outside import is_file, read_bytes
from soak.words import Message, msg


@dataclass(frozen=True, slots=True)
class NewUnit:
    """A unit that the ledger does not have yet; an empty tag becomes the next free one."""

    serial: str
    tag: str


@dataclass(frozen=True, slots=True)
class ToWrite:
    """What a bench gets.

    Attributes
    ----------
    unit : NewUnit or str
        A new one, or the tag of one that is there.
    model : str
        By the name of its sheet's file.
    repaired, function : str
        A repair to be recorded; empty: none.
    files : mapping of path below the bench to text
    """

    unit: NewUnit | str
    model: str
    by: str = ""
    repaired: str = ""
    function: str = ""
    files: Mapping[Path, str] = field(default_factory=dict)

    def record(self, ledger: Ledger) -> str:
        """Put unit and repair into a ledger; return the unit's tag.

        Raises
        ------
        LedgerError
            If one of them cannot be recorded.
        """
        tag = self.unit if isinstance(self.unit, str) else ""
        if isinstance(self.unit, NewUnit):
            with insisting():
                new = ledger.add_unit(
                    model=self.model, serial=self.unit.serial, tag=self.unit.tag, by=self.by
                )
                tag = new.tag
        if self.repaired:
            ledger.record_repair(tag, what=self.repaired, function=self.function, by=self.by)
        return tag

    def write(self, bench: BenchFolder) -> str:
        """Write the files, each whole, and record the rest; return the unit's tag.

        Raises
        ------
        LedgerError, OSError
        """
        for name, text in self.files.items():
            file = bench.path / name
            file.parent.mkdir(parents=True, exist_ok=True)
            write_durable(file, text.encode())
        return self.record(open_ledger(bench.path))

    def told(self, bench: BenchFolder) -> list[Message]:
        """Say what will be written."""
        lines = []
        if isinstance(self.unit, NewUnit):
            unit = self.unit.tag or self.unit.serial
            lines.append(msg("the ledger: {unit} is added, {model}", unit=unit, model=self.model))
        if self.repaired:
            lines.append(
                msg(
                    "the ledger: repaired, {what} ({function})",
                    what=self.repaired,
                    function=self.function,
                )
            )
        for name in self.files:
            there = is_file(bench.path / name)
            changed = msg("{file}: changed, your remarks stay", file=name.as_posix())
            lines.append(changed if there else msg("{file}: new", file=name.as_posix()))
        return lines


@dataclass(frozen=True, slots=True)
class _Beside(BenchFolder):
    """A bench whose ledger and model sheets are copies; all else is the bench's own."""

    aside: Path

    @property
    def ledger(self) -> Path:
        return self.aside / LEDGER

    @property
    def models(self) -> Path:
        return self.aside


@contextmanager
def rehearsed(bench: BenchFolder, write: ToWrite) -> Iterator[tuple[BenchFolder, Ledger, str]]:
    """Record everything on a copy; give bench, ledger and tag as they would stand then.

    Raises
    ------
    LedgerError, JournalError
        If it could not be recorded: then nothing is written to the bench either.
    """
    with TemporaryDirectory(prefix="soak-") as folder:
        beside = _Beside(bench.path, Path(folder))
        if is_file(bench.ledger):
            beside.ledger.write_bytes(as_it_stands(bench.ledger))
        for file in bench.models.glob("*.toml"):
            (beside.models / file.name).write_bytes(read_bytes(file))
        for name, text in write.files.items():
            if name.parent == Path("fixtures/models"):
                (beside.models / name.name).write_text(text, encoding="utf-8")
        ledger = Ledger(beside.ledger)
        yield beside, ledger, write.record(ledger)
