"""What comes after a seal: grade, ledger, report; also where a kill or a full disk cut it off."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from soak.desk.bench_folder import JOURNAL, BenchFolder
from soak.desk.paper.reporting import write_reports
from soak.desk.soaking.grading import exit_code, grade_job
from soak.errors import ExitCode, SoakError, UsageError
from soak.journal import JournalEvidence
from soak.ledger.ledger import Ledger
from soak.report.output.files import USUAL
from soak.run.soak import Ended

NOT_BEGUN = Ended("stopped", "Ctrl-C by the operator", "", asked=True)


@dataclass(frozen=True, slots=True)
class Concluding:
    """Grades one soak and writes its report, saying what came of it.

    Attributes
    ----------
    tag : str
        The unit's.
    say : callable
        Prints a line.
    """

    bench: BenchFolder
    ledger: Ledger
    folder: Path
    tag: str
    say: Callable[[str], None]

    def conclude(self, how: Ended) -> ExitCode:
        """Conclude a soak that has just ended so; return the exit code."""
        if not (self.folder / JOURNAL).is_file():
            self.say(f"{self.tag}  not soaked: {how.why}")
            return ExitCode.STOPPED if how.asked else ExitCode.BENCH_FAULT
        told = f" ({how.how}: {how.why})" if how.why else ""
        code = self._graded(told)
        if code is ExitCode.BENCH_FAULT or not how.written:
            return ExitCode.BENCH_FAULT
        return ExitCode.STOPPED if how.asked else code

    def finish(self, evidence: JournalEvidence) -> ExitCode:
        """Do what a kill or a full disk left undone after a seal.

        Raises
        ------
        UsageError
            If nothing is.
        """
        name = self.folder.name
        if self._is_finished(evidence):
            raise UsageError(f"{name}: has ended; begin a new one with `soak run`")
        self.say(f"{self.tag}  {name} was sealed and cut off before its report: that is made now")
        return self._graded("")

    def _is_finished(self, evidence: JournalEvidence) -> bool:
        soak_id = evidence.header.soak_id
        lines = [line for line in self.ledger.soaks() if line.soak_id == soak_id]
        graded = bool(lines and lines[0].grade and lines[0].seal == evidence.file_sha256)
        return graded and all((self.folder / name).is_file() for name in USUAL)

    def _graded(self, told: str) -> ExitCode:
        tag = self.tag
        again = f"`soak resume {self.folder.name}` tries again"
        try:
            graded = grade_job(self.bench, self.ledger, self.folder)
            self.say(f"{tag}  {graded.judgement.grade}: {graded.judgement.reason}{told}")
            if graded.unkept:
                self.say(f"{tag}  MIND: the grade was not recorded. {graded.unkept}; {again}")
            files = write_reports(self.bench, self.ledger, graded, self.folder)
        except SoakError as fault:
            self.say(f"{tag}  {fault}; {again}{told}")
            return ExitCode.BENCH_FAULT
        except Exception as bug:  # the night's evidence is whole, and the next unit wants its grade
            self.say(f"{tag}  sealed in {self.folder}, but grading broke: {bug!r}; {again}")
            return ExitCode.BENCH_FAULT
        self.say(f"{tag}  report {files.bench_page}")
        return ExitCode.BENCH_FAULT if graded.unkept else exit_code(graded.judgement)
