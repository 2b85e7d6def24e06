"""One verb from a repaired unit on the bench to its soak."""

from collections.abc import Mapping
from contextlib import ExitStack
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from soak.bench.fixture import check_claims
from soak.desk.beginning.answers import time_of
from soak.desk.beginning.asking import Asking, broken_off, say
from soak.desk.beginning.describing import (
    Described,
    described,
    file_name,
    left_open,
    port_kinds,
    remarks_of,
    with_port,
)
from soak.desk.beginning.fitting import Fitted, after_repair, kind_of, that_comes_with
from soak.desk.beginning.kept_file import Remarks, new_text, with_values
from soak.desk.beginning.rehearsing import NewUnit, ToWrite, rehearsed
from soak.desk.beginning.telling import tell
from soak.desk.beginning.which import Model, Repaired, fixture, model, repaired, unit
from soak.desk.bench_folder import BenchFolder
from soak.desk.forecast.explaining import planned_on
from soak.desk.orders import Order, Prepared, prepare, read_any_fixture
from soak.desk.soaking.before_night import looked_ahead
from soak.desk.soaking.restraints import restrained
from soak.desk.soaking.run import run_script, taken
from soak.errors import ExitCode, ScriptError, UsageError, told_of
from soak.frozen.fixture import Fixture
from soak.frozen.references import Stated
from soak.frozen.sheet import ModelSheet
from soak.ledger.ledger import Ledger
from soak.live.prompt import yes_or_no
from soak.outside import is_file, read_text
from soak.run.script import find_script, read_script
from soak.settings import read_toml
from soak.words import NOTHING_SAID, Message, joined, just, msg

_WHY: Mapping[str, Message] = {
    "look-over": msg("Somebody looks it over before anything else."),
    "reseat": msg("The plug is pulled and put in again: a joint that was mended has to bear it."),
    "wiggle": msg("The plug is moved as its cable moves it."),
    "by hand": msg("A person judges it, no instrument."),
    "warm starts": msg("Finds what fails to start now and then."),
    "heat cycles": msg("Heat and cold move joints: finds what opens by that."),
    "night": msg("Long and quiet, and last: a time free of faults stands at the end."),
}
"""What each stretch of a proposal is for, by the beginning of its name."""


_NOTHING_STATED = Stated()


@dataclass(frozen=True, slots=True)
class Wishes:
    """What is said beside the answers: as for `soak run`, and for a new unit.

    Attributes
    ----------
    tag, by : str
        Of a new unit; who says so.
    script : str
        A script at hand instead of a proposed one; empty: none.
    """

    tag: str = ""
    by: str = ""
    script: str = ""
    seed: int | None = None
    may_sleep: bool = False
    stated: Stated = _NOTHING_STATED
    as_it_is: bool = False


@dataclass(frozen=True, slots=True)
class Answers:
    """All that was asked, nothing of it written."""

    write: ToWrite
    fixture: Path
    wired: Fixture
    sheet: ModelSheet
    fitted: Fitted
    new_sheet: Described | None = None


def begin(bench_path: Path, asking: Asking, wishes: Wishes) -> int:
    """Ask for what is not known, propose a script, say what it shows, write it, soak.

    Returns
    -------
    int
        Exit code of the soak, or of nothing that was begun.

    Raises
    ------
    SoakError
        Before anything is written: what is wrong with an answer, a file or the bench.
    """
    bench = BenchFolder(bench_path)
    with broken_off():
        answers = _answers(bench, asking, wishes)
        stated = _agreed(bench, asking, answers, wishes)
    if stated is None:
        say(msg("nothing was begun and nothing was written"))
        return int(ExitCode.STOPPED)
    tag = answers.write.write(bench)
    file = next((bench.path / file for file in answers.write.files if _is_script(file)), None)
    return run_script(
        bench_path,
        answers.fitted.script if file is None else read_script(file),
        [f"{tag}@{answers.fixture}"],
        seed=wishes.seed,
        may_sleep=wishes.may_sleep,
        stated=stated,
        begins=lambda *_: True,  # said and agreed already
    )


def _answers(bench: BenchFolder, asking: Asking, wishes: Wishes) -> Answers:
    """Ask for what is not known."""
    ledger = Ledger(bench.ledger) if is_file(bench.ledger) else None
    typed, known = unit(asking, ledger)
    files: dict[Path, str] = {}
    new_sheet: Described | None = None
    of = Model(known.model, known.model) if known else model(asking, bench)
    on = fixture(asking, bench, known.tag if known else "")
    if of.is_new:
        wired = read_any_fixture(on, None)
        new_sheet = described(asking, bench, of.called, of.like, wired)
        sheet = new_sheet.sheet
    else:
        sheet = bench.model_sheet(of.name)
    wired = read_any_fixture(on, sheet)
    done, to_record = _what_was_repaired(
        asking, ledger, known.tag if known else "", sheet=sheet, is_new=of.is_new
    )
    if new_sheet is not None:
        if done is not None and done.function not in sheet.functions:
            new_sheet = with_port(new_sheet, bench, done.function, of.like)
        sheet = new_sheet.sheet
        files[Path("fixtures/models") / f"{new_sheet.name}.toml"] = new_sheet.text
    fitted = _script(asking, bench, done, sheet=sheet, wired=wired, wishes=wishes)
    if fitted.data and done is not None:
        file = Path("scripts") / Path(fitted.script.file).name
        files[file] = _script_text(bench.path / file, fitted)
    new = done if to_record else None
    write = ToWrite(
        known.tag if known else NewUnit(typed, wishes.tag),
        of.name,
        by=wishes.by,
        repaired=new.what if new else "",
        function=new.function if new else "",
        files=files,
    )
    return Answers(write, on, wired, sheet, fitted, new_sheet)


def _what_was_repaired(
    asking: Asking, ledger: Ledger | None, tag: str, *, sheet: ModelSheet, is_new: bool
) -> tuple[Repaired | None, bool]:
    """Return what was repaired, and whether that is still to be recorded."""
    if ledger is not None and tag and not asking.has("--repaired"):
        job, stated, _ = ledger.for_header(tag)
        of_job = [repair for repair in stated.repairs if repair.job_id == job]
        if of_job:
            return Repaired(of_job[-1].what, of_job[-1].function), False
    done = repaired(asking, sheet, port_kinds(sheet) if is_new else ())
    return done, done is not None


def _script(
    asking: Asking,
    bench: BenchFolder,
    done: Repaired | None,
    *,
    sheet: ModelSheet,
    wired: Fixture,
    wishes: Wishes,
) -> Fitted:
    """Ask how long there is; return the script that shows the repair within that."""
    if wishes.script:
        script = read_script(find_script(wishes.script, bench.path))
        return Fitted(script, planned_on(wired, script, sheet), {})
    question = msg("How long have you got?")
    time_s = asking.ask("TIME", question, msg("(such as 45 min, or 8 h)"), time_of)
    kind, port = kind_of(done.function, done.what, sheet) if done else ("", "")
    if not kind or done is None:
        return that_comes_with(time_s, sheet, wired, bench.path)
    file = bench.path / "scripts" / f"after-{file_name(port or kind)}.toml"
    return after_repair(kind, port, time_s, sheet=sheet, fixture=wired, file=str(file))


def _script_text(file: Path, fitted: Fitted) -> str:
    """Return the text of a script's file; one that is there keeps a person's remarks."""
    remarks = _remarks(fitted)
    if not is_file(file):
        return new_text(fitted.data, remarks)
    read_toml(file, ScriptError, msg("script"))  # says what is wrong with it
    return with_values(read_text(file), fitted.data, remarks, str(file))


def _remarks(fitted: Fitted) -> Remarks:
    head = msg("By soak begin: a time or repair told anew sets values anew and keeps remarks.")
    latest = msg("Latest end: the time that there was.")
    remarks: dict[tuple[str, ...], list[Message]] = {(): [head], ("not_after",): [latest]}
    for entry in fitted.data["stretch"]:
        why = next((why for name, why in _WHY.items() if entry["name"].startswith(name)), None)
        if why is not None:
            remarks["stretch", entry["name"]] = [why]
    return remarks_of(remarks)


def _agreed(bench: BenchFolder, asking: Asking, answers: Answers, wishes: Wishes) -> Stated | None:
    """Try it all on a copy, say what comes of it, ask; return what is stated, None for a no."""
    with ExitStack() as held:
        beside, ledger, tag = held.enter_context(rehearsed(bench, answers.write))
        order = Order(tag, answers.fixture)
        script = answers.fitted.script
        prepared = prepare(beside, ledger, script, order, datetime.now(UTC), wishes.seed)
        check_claims([prepared.fixture])
        if bench.reports.is_dir():  # where nothing ever ran, nothing runs, and no folder is made
            held.enter_context(taken(bench, prepared))
        ready, why_not_alone = _restrained(asking, prepared, wishes)
        tell(
            looked_ahead(beside, ledger, ready),
            answers.fitted.plan,
            answers.fitted.left_out,
            [*answers.write.told(bench), *_left_open(answers)],
            [just(warning) for warning in prepared.warnings],
        )
        stated = ready.wanted.references.stated
        if wishes.as_it_is or not asking.somebody:
            return stated
        say(NOTHING_SAID)
        question = msg("Begin?")
        if why_not_alone:
            say(why_not_alone)
            question = msg("Does somebody stay with it to the end? A yes begins.")
        return stated if yes_or_no(question) else None


def _restrained(asking: Asking, prepared: Prepared, wishes: Wishes) -> tuple[Prepared, Message]:
    """Return the soak with what is stated, and why it must not run alone; empty if it may.

    Where it must not, the last question asks whether somebody stays.
    """
    try:
        return restrained(prepared, wishes.stated), NOTHING_SAID
    except UsageError as fault:
        if wishes.as_it_is or not asking.somebody:
            raise
        return restrained(prepared, replace(wishes.stated, attended=True)), told_of(fault)


def _left_open(answers: Answers) -> list[Message]:
    """Say what a new sheet leaves open."""
    if answers.new_sheet is None:
        return []
    points = left_open(answers.sheet)
    if not points:
        return []
    return [msg("left open there: {points}", points=joined("; ", points))]


def _is_script(file: Path) -> bool:
    return file.parts[0] == "scripts"
