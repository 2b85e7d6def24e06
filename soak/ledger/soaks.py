"""Soaks, taken in from their journals: the same journal twice changes nothing."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Connection, Row, insert, select, update

from soak.errors import LedgerError
from soak.evidence import Evidence
from soak.ledger import bench_wear
from soak.ledger.amending.corrected import SOAK, Fact, UnitRow, facts
from soak.ledger.bench_wear import wear_of
from soak.ledger.days import When, minute_of
from soak.ledger.entries import SoakLine, Wear
from soak.ledger.schema import GRADES, SOAKS
from soak.ledger.store import now_utc
from soak.ledger.units import of_job, record
from soak.records import Json
from soak.rules.core.verdict import Judgement, Verdict
from soak.words import NOTHING_SAID, Message, msg
from soak.words_json import SAID, said_again, with_said


def take_in(
    connection: Connection, evidence: Evidence, judgement: Judgement | None, recorded_utc: str
) -> None:
    """Take in one soak with the judgement of its job; None while there is none yet.

    A journal taken in before is brought up to date (it was running, now it is sealed). A grade
    is added only where it differs from the last one of this soak.

    Raises
    ------
    LedgerError
        If the job is not in this ledger, or the journal is not the one taken in before.
    """
    header = evidence.header
    unit = _unit_of(connection, evidence)
    known = connection.execute(select(SOAKS).where(SOAKS.c.soak_id == header.soak_id)).one_or_none()
    began_utc = evidence.sessions()[0].utc
    values = _values(evidence, judgement, known)
    if known is None:
        at = minute_of(began_utc)
        entry = record(connection, unit.id, SOAK, when=When(at.date(), at, recorded_utc), by="")
        connection.execute(insert(SOAKS).values(entry=entry, began_utc=began_utc, **values))
    else:
        _refuse_other(evidence, known)
        connection.execute(update(SOAKS).where(SOAKS.c.entry == known.entry).values(**values))
    bench_wear.take_in(connection, evidence)
    if judgement is not None:
        _grade(connection, header.soak_id, judgement)


def is_taken_in(connection: Connection, evidence: Evidence, judgement: Judgement | None) -> bool:
    """Return whether taking a soak in would change nothing.

    Raises
    ------
    LedgerError
        If the job is not in this ledger, or the journal is not the one taken in before.
    """
    soak_id = evidence.header.soak_id
    _unit_of(connection, evidence)
    known = connection.execute(select(SOAKS).where(SOAKS.c.soak_id == soak_id)).one_or_none()
    if known is None:
        return False
    _refuse_other(evidence, known)
    stands = known._mapping
    values = _values(evidence, judgement, known)
    same = all(stands[key] == value for key, value in values.items())
    return same and (judgement is None or _is_graded_so(connection, soak_id, judgement))


def soaks(
    connection: Connection,
    *,
    job_id: str = "",
    unit: UnitRow | None = None,
) -> Sequence[SoakLine]:
    """Return the soaks of a job, of a unit, or all, in the order they were recorded."""
    return [
        _line(fact, _last_grade(connection, fact["soak_id"]))
        for fact in facts(connection, SOAK, unit=unit)
        if job_id in ("", fact["job_id"])
    ]


def gradings(connection: Connection, soak_id: str) -> Sequence[Json]:
    """Return every grade a soak was given, in order: grade, reason, rules, judged, recorded."""
    rows = connection.execute(
        select(GRADES).where(GRADES.c.soak_id == soak_id).order_by(GRADES.c.id)
    )
    return [
        {key: value for key, value in row._mapping.items() if key not in ("id", "soak_id")}
        for row in rows
    ]


def left_open(judgement: Judgement, verdict: Verdict) -> list[str]:
    """Return the demands, and the functions of the model sheet, with this verdict."""
    texts = [
        finding.requirement.text for finding in judgement.findings if finding.verdict is verdict
    ]
    texts += [function.text for function in judgement.functions if function.verdict is verdict]
    return list(dict.fromkeys(texts))


def _unit_of(connection: Connection, evidence: Evidence) -> UnitRow:
    header = evidence.header
    row = of_job(connection, header.job_id)
    if row is None:
        raise LedgerError(
            msg(
                "soak {soak} belongs to job {job_id}, which this ledger does not have; is it "
                "the ledger of another bench?",
                soak=header.soak_id,
                job_id=header.job_id,
            )
        )
    tag = header.unit.tag or row.tag
    if tag.lower() != row.tag.lower():
        raise LedgerError(
            msg(
                "soak {soak} is of unit {tag}, but job {job_id} of this ledger is of {other}; "
                "is it the ledger of another bench?",
                soak=header.soak_id,
                tag=tag,
                job_id=header.job_id,
                other=row.tag,
            )
        )
    return row


def _values(
    evidence: Evidence, judgement: Judgement | None, known: Row[Any] | None
) -> dict[str, Any]:
    header = evidence.header
    wear = wear_of(evidence)
    not_tested: list[str] = list(known.not_tested) if known else []
    not_shown: list[str] = list(known.not_shown) if known else []
    if judgement is not None:
        not_tested = left_open(judgement, Verdict.NOT_TESTED)
        not_shown = left_open(judgement, Verdict.NOT_SHOWN)
    return {
        "soak_id": header.soak_id,
        "job_id": header.job_id,
        "script": header.script.name,
        "ended": evidence.seal.ended if evidence.seal else "",
        "seal": evidence.file_sha256,
        "simulated": header.simulated,
        "starts": wear.starts,
        "powered_s": wear.powered_s,
        "written_bytes": wear.written_bytes,
        "not_tested": not_tested,
        "not_shown": not_shown,
        "ended_utc": _ended_utc(evidence),
    }


def _ended_utc(evidence: Evidence) -> str | None:
    """Return when it was sealed: the wall clock at its last beginning, and what passed since."""
    if evidence.seal is None:
        return None
    last = evidence.sessions()[-1]
    passed = timedelta(seconds=evidence.seal.t_s - last.begins_at_s)
    return (datetime.fromisoformat(last.utc) + passed).isoformat(timespec="seconds")


def _refuse_other(evidence: Evidence, known: Row[Any]) -> None:
    if known.job_id != evidence.header.job_id:
        raise LedgerError(
            msg(
                "soak {soak} was taken in for job {job_id}, and this journal says {other_job}; "
                "they cannot both be right",
                soak=known.soak_id,
                job_id=known.job_id,
                other_job=evidence.header.job_id,
            )
        )
    if known.seal and known.seal != evidence.file_sha256:
        raise LedgerError(
            msg(
                "the journal of soak {soak} is not the one that was taken in: its seal was "
                "{seal} and is now {value}",
                soak=known.soak_id,
                seal=known.seal[:12],
                value=evidence.file_sha256[:12] or "missing",
            )
        )


def _grade(connection: Connection, soak_id: str, judgement: Judgement) -> None:
    if not _is_graded_so(connection, soak_id, judgement):
        values = _graded(judgement)
        connection.execute(insert(GRADES).values(soak_id=soak_id, recorded_utc=now_utc(), **values))


def _is_graded_so(connection: Connection, soak_id: str, judgement: Judgement) -> bool:
    last = _last_grade(connection, soak_id)
    now = _graded(judgement).items()
    return last is not None and all(last._mapping[key] == value for key, value in now)


def _graded(judgement: Judgement) -> Mapping[str, Any]:
    reason = _reason(judgement.reason)
    rules = judgement.rules
    return {"grade": judgement.grade, "rules": rules, "judged": list(judgement.soaks), **reason}


def _reason(reason: Message) -> Mapping[str, Any]:
    told = with_said({"reason": reason})
    return {"reason": str(reason), "said": told.get(SAID)}


def _last_grade(connection: Connection, soak_id: str) -> Row[Any] | None:
    return connection.execute(
        select(GRADES).where(GRADES.c.soak_id == soak_id).order_by(GRADES.c.id.desc()).limit(1)
    ).one_or_none()


def not_judged_any_more(connection: Connection, soak_id: str, why: Message) -> None:
    """Take back a grade of ready: what it stood on was corrected, and it was not judged since."""
    last = _last_grade(connection, soak_id)
    if last is not None and last.grade and not last.grade.startswith("not ready"):
        values = {"grade": "", "rules": last.rules, "judged": last.judged, **_reason(why)}
        connection.execute(insert(GRADES).values(soak_id=soak_id, recorded_utc=now_utc(), **values))


def _reason_again(grade: Row[Any]) -> Message:
    """Return the reason; one of an older ledger, or that was changed, is its English alone."""
    told: Message = said_again({"reason": grade.reason, SAID: grade.said}, ["reason"])["reason"]
    return told


def _line(soak: Fact, grade: Row[Any] | None) -> SoakLine:
    return SoakLine(
        soak_id=soak["soak_id"],
        job_id=soak["job_id"],
        script=soak["script"],
        on=soak.when.day,
        began_utc=soak["began_utc"],
        ended=soak["ended"],
        grade=grade.grade if grade else "",
        reason=_reason_again(grade) if grade else NOTHING_SAID,
        rules=grade.rules if grade else "",
        seal=soak["seal"],
        simulated=soak["simulated"],
        wear=Wear(soak["starts"], soak["powered_s"], soak["written_bytes"]),
        not_tested=tuple(soak["not_tested"]),
        not_shown=tuple(soak["not_shown"]),
        ended_utc=soak["ended_utc"] or "",
        entry=soak.entry,
    )
