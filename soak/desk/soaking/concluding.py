"""What comes after a seal: grade, ledger, report; also where a kill or a full disk cut it off."""

from dataclasses import dataclass
from pathlib import Path

from soak.desk.bench_folder import JOURNAL, BenchFolder
from soak.desk.paper.reporting import write_reports
from soak.desk.soaking.grading import exit_code, grade_job
from soak.errors import ExitCode, SoakError, UsageError
from soak.journal import JournalEvidence
from soak.ledger.ledger import Ledger
from soak.names import named
from soak.report.output.files import USUAL
from soak.run.soak import Ended
from soak.words import NOTHING_SAID, Message, Tell, joined, message_of, msg

NOT_BEGUN = Ended("stopped", msg("Ctrl-C by the operator"), "", asked=True)


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
    say: Tell

    def conclude(self, how: Ended) -> ExitCode:
        """Conclude a soak that has just ended so; return the exit code."""
        if not (self.folder / JOURNAL).is_file():
            self.say(msg("{tag}  not soaked: {why}", tag=self.tag, why=how.why))
            return ExitCode.STOPPED if how.asked else ExitCode.BENCH_FAULT
        told = NOTHING_SAID
        if how.why:
            told = msg("({how}: {why})", how=named(how.how), why=message_of(how.why))
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
            raise UsageError(msg("{name}: has ended; begin a new one with `soak run`", name=name))
        self.say(
            msg(
                "{tag}  {name} was sealed and cut off before its report: that is made now",
                tag=self.tag,
                name=name,
            )
        )
        return self._graded(NOTHING_SAID)

    def _is_finished(self, evidence: JournalEvidence) -> bool:
        soak_id = evidence.header.soak_id
        lines = [line for line in self.ledger.soaks() if line.soak_id == soak_id]
        graded = bool(lines and lines[0].grade and lines[0].seal == evidence.file_sha256)
        return graded and all((self.folder / name).is_file() for name in USUAL)

    def _graded(self, told: Message) -> ExitCode:
        tag = self.tag
        again = msg("`soak resume {name}` tries again", name=self.folder.name)
        try:
            graded = grade_job(self.bench, self.ledger, self.folder)
            grade = joined(": ", [named(graded.judgement.grade), graded.judgement.reason])
            self.say(joined("  ", [tag, joined(" ", [grade, told])]))
            if graded.unkept:
                self.say(
                    msg(
                        "{tag}  MIND: the grade was not recorded. {unkept}; {again}",
                        tag=tag,
                        unkept=graded.unkept,
                        again=again,
                    )
                )
            files = write_reports(self.bench, self.ledger, graded, self.folder)
        except SoakError as fault:
            failed = joined("; ", [fault.told, joined(" ", [again, told])])
            self.say(joined("  ", [tag, failed]))
            return ExitCode.BENCH_FAULT
        except Exception as bug:  # the night's evidence is whole, and the next unit wants its grade
            self.say(
                msg(
                    "{tag}  sealed in {folder}, but grading broke: {bug}; {again}",
                    tag=tag,
                    folder=str(self.folder),
                    bug=repr(bug),
                    again=again,
                )
            )
            return ExitCode.BENCH_FAULT
        self.say(msg("{tag}  report {bench_page}", tag=tag, bench_page=str(files.bench_page)))
        return ExitCode.BENCH_FAULT if graded.unkept else exit_code(graded.judgement)
