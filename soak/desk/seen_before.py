"""What an intake saw of the fault, frozen into the header of each soak after the repair."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from soak.checks.picture import PictureSettings
from soak.derive.course import course_of
from soak.desk.bench_folder import JOURNAL, BenchFolder
from soak.errors import JournalError
from soak.journal import open_evidence
from soak.judge.intake import seen_at_intake
from soak.ledger.jobs import INTAKE
from soak.ledger.ledger import Ledger
from soak.records import Json
from soak.run.script import Script


def seen_before(
    bench: BenchFolder, ledger: Ledger, unit: Json, job_id: str
) -> dict[str, Mapping[str, Any]]:
    """Return the entry `seen_before` of a header's references; empty without an intake.

    The newest intake of an earlier job counts, unless the unit came back since: then it has
    another complaint.
    """
    lines = [
        line
        for line in ledger.soaks(unit["tag"], since_back=True)
        if line.script == INTAKE and line.job_id != job_id
    ]
    if not lines:
        return {}
    folder = bench.reports / lines[-1].soak_id
    if not (folder / JOURNAL).is_file():
        return {}
    try:
        return {"seen_before": seen_at_intake(course_of(open_evidence(folder)))}
    except JournalError:
        return {}  # `soak judge` says what is wrong with it; a reference may lack it


def demanding_it_gone(script: Script, references: Mapping[str, Any]) -> Script:
    """Return the script demanding, in its longest stretch with a picture, that the fault is gone.

    Where the script says itself how often it was seen, that stands.
    """
    before = references.get("seen_before") or {}
    events, hours = int(before.get("events") or 0), float(before.get("hours") or 0.0)
    watching = [stretch for stretch in script.stretches if "picture" in stretch.checks]
    if not events or hours <= 0 or not watching or script.head.name == INTAKE:
        return script
    stated = [stretch.checks["picture"] for stretch in watching]
    if any(isinstance(one, PictureSettings) and one.seen_before is not None for one in stated):
        return script
    longest = max(watching, key=lambda stretch: stretch.lasts_s)
    seen = {"seen_before": events, "seen_before_in_s": hours * 3600}
    picture = longest.checks["picture"].model_copy(update=seen)
    stretches = [
        replace(one, checks={**one.checks, "picture": picture}) if one is longest else one
        for one in script.stretches
    ]
    return replace(script, stretches=stretches)
