"""The bench's folder: where fixtures, soaks, reports and the ledger are."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from soak.bench.model_sheet import read_model_sheet
from soak.desk.places import LEDGER, REPORTS
from soak.errors import FixtureError, UsageError
from soak.frozen.sheet import ModelSheet
from soak.journal.cleared import FILE as CLEARED
from soak.journal.cleared import cleared
from soak.outside import is_file
from soak.settings import nearest_name
from soak.words import Message, joined, msg

JOURNAL = "journal.sqlite"


@dataclass(frozen=True, slots=True)
class BenchFolder:
    """One bench's files, under one folder."""

    path: Path

    @property
    def reports(self) -> Path:
        """Folder that holds a folder a soak: journal, evidence, report."""
        return self.path / REPORTS

    @property
    def ledger(self) -> Path:
        """The ledger's file."""
        return self.path / LEDGER

    @property
    def models(self) -> Path:
        """Folder of the model sheets."""
        return self.path / "fixtures" / "models"

    def soaks(self) -> Sequence[str]:
        """Return the ids of all soaks, the newest last."""
        paths = self.reports.glob(f"*/{JOURNAL}")
        return [file.parent.name for file in sorted(paths, key=lambda file: file.stat().st_mtime)]

    def find_soak(self, text: str) -> Path:
        """Return a soak's folder: by id, its unique beginning, a path, or `last`.

        Raises
        ------
        UsageError
            If there is none, or several begin so.
        """
        if text not in ("", "last") and is_file(Path(text) / JOURNAL):
            return Path(text)
        soaks = self.soaks()
        begins = "" if text == "last" else text
        if not any(soak.startswith(begins) for soak in soaks):
            self._refuse_cleared(begins)
        if not soaks:
            raise UsageError(self._none_yet())
        if text == "last":
            return self.reports / soaks[-1]
        if text in soaks:
            return self.reports / text
        self._refuse_cleared(text, whole=True)
        matches = [soak for soak in soaks if soak.startswith(text)]
        if len(matches) == 1:
            return self.reports / matches[0]
        if matches:
            raise UsageError(
                msg(
                    "{text}: {count} soaks begin so: {soaks}",
                    text=text,
                    count=len(matches),
                    soaks=joined(", ", matches[:5]),
                )
            )
        nearest = nearest_name(text, soaks)
        if nearest:
            sentence = msg(
                "{text}: there is no such soak in {folder}; did you mean {nearest}?",
                text=text,
                folder=str(self.reports),
                nearest=nearest,
            )
            raise UsageError(sentence)
        raise UsageError(
            msg(
                "{text}: there is no such soak in {folder}; the last one is {last}",
                text=text,
                folder=str(self.reports),
                last=soaks[-1],
            )
        )

    def _refuse_cleared(self, begins: str, *, whole: bool = False) -> None:
        """Say where the journal of a soak is that was cleared."""
        folders = [] if whole else [note.parent for note in self.reports.glob(f"*/{CLEARED}")]
        folders = [folder for folder in sorted(folders) if folder.name.startswith(begins)]
        notes = map(cleared, [self.reports / begins, Path(begins), *reversed(folders)])
        note = next(filter(None, notes), None)
        if note is not None:
            raise UsageError(note.told)

    def _none_yet(self) -> Message:
        return msg(
            "{folder}: holds no soak yet; begin one with `soak run`", folder=str(self.reports)
        )

    def model_sheet(self, model: str) -> ModelSheet:
        """Return the sheet of a model: `fixtures/models/<model>.toml`.

        Raises
        ------
        FixtureError
            If there is none (names the nearest), or it cannot be used.
        """
        file = self.models / f"{model}.toml"
        if not is_file(file):
            known = sorted(entry.stem for entry in self.models.glob("*.toml"))
            nearest = nearest_name(model, known)
            sentence = msg("there is no model sheet {model}", model=repr(model))
            if not nearest:
                sentence = msg(
                    "there is no model sheet {model}; there are {known}",
                    model=repr(model),
                    known=joined(", ", known) if known else msg("none yet"),
                )
            raise FixtureError(str(file), "", sentence, nearest)
        return read_model_sheet(file)
