"""Look through what came back of a pack, put it on record, judge it: `soak carry unpack`."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, get_args

from soak.derive.events.wrong_data import carried_words
from soak.desk.bench_folder import BenchFolder
from soak.desk.carrying.journal import CHECK, STRETCH, Carried, file_of, write
from soak.desk.carrying.manifest import FILE, Manifest, known_here, read_manifest
from soak.desk.carrying.pack import usb_port
from soak.desk.carrying.place import (
    FOLDER,
    file_system_id,
    in_one_sentence,
    is_there,
    reading_fault,
)
from soak.desk.carrying.search import Came, Comes, Seen, find_all, look_around
from soak.desk.soaking.grading import grade_job
from soak.desk.units import open_ledger
from soak.errors import ExitCode, UsageError
from soak.marks import as_json
from soak.measure.stick.carried import Pack
from soak.names import named
from soak.outside import is_folder, read_bytes
from soak.report.contents.wording import VERDICTS
from soak.rules.core.verdict import Finding, Verdict
from soak.words import (
    Amount,
    Data,
    Message,
    Output,
    Tell,
    indented,
    joined,
    lines_of,
    msg,
    sentence,
)

_CODES: Mapping[Verdict, ExitCode] = {
    Verdict.MET: ExitCode.DONE,
    Verdict.NOT_MET: ExitCode.FAILED,
    Verdict.NOT_SHOWN: ExitCode.INCOMPLETE,
    Verdict.NOT_TESTED: ExitCode.INCOMPLETE,
}
_MOST_LINES = 12
_ELSEWHERE: Mapping[Comes, Message] = {
    "in place": msg("only where it was packed"),
    "missing": msg("nowhere"),
}


@dataclass(frozen=True, slots=True)
class Given:
    """What else may be asked of unpacking.

    Attributes
    ----------
    port : str
        The unit's port, where nobody knows it any more.
    through_folder : bool
        Whether the folder is the unit's own storage, read otherwise than by the stick.
    progress : callable
        Told in words how far it is.
    """

    port: str = ""
    through_folder: bool = False
    as_json: bool = False
    progress: Tell = lambda _: None


def unpack(bench_path: Path, folder: Path, unit: str, given: Given) -> tuple[Output, int]:
    """Look through what came back, put it on record; return what to tell, and the exit code.

    Raises
    ------
    UsageError, BenchFault, LedgerError, JournalError
        One sentence each; nothing is changed on the stick, ever.
    """
    bench = BenchFolder(bench_path)
    ledger = open_ledger(bench_path)
    entry = ledger.find_unit(unit)
    ledger_says = ledger.for_header(entry.tag)
    sheet = bench.model_sheet(entry.model)
    with in_one_sentence(folder, reading_fault):
        carried, minds = _look(bench, folder, (entry.tag, ledger_says[0]), given)
    port = carried.port
    usb_port(sheet, port)
    soak_id = _new_id(bench, entry.tag)
    write(bench.reports / soak_id, soak_id, ledger_says, sheet=sheet, of=carried)
    graded = grade_job(bench, ledger, bench.reports / soak_id)
    finding = next(
        judged
        for judged in graded.judgement.findings
        if judged.requirement.id == f"{STRETCH}/{CHECK}/{port}"
    )
    code = int(_CODES[finding.verdict])
    if given.as_json:
        return _as_json(soak_id, carried, finding), code
    judged = sentence(finding.why) if finding.why else finding.because
    verdict = joined(": ", [VERDICTS[finding.verdict.value], judged])
    record = msg(
        "on record as {soak}; the job is {grade}: {reason}",
        soak=soak_id,
        grade=named(graded.judgement.grade),
        reason=graded.judgement.reason,
    )
    return lines_of([*minds, *_lines(carried.pack, carried.came), verdict, record]), code


def _look(
    bench: BenchFolder, folder: Path, whose: tuple[str, str], given: Given
) -> tuple[Carried, Sequence[Message]]:
    """Return what came back of a pack of this unit and job, and what to mind."""
    if not is_folder(folder):
        raise UsageError(
            msg(
                "{folder}: there is no such folder; give the one the copies are below",
                folder=str(folder),
            )
        )
    seen = look_around(folder)
    pack, manifest, minds = _whose(bench, seen, *whose)
    minds = [
        *minds,
        *(
            msg(
                "MIND: {path} cannot be listed, a bad place of the stick; what lies there is not "
                "seen",
                path=str(path),
            )
            for path in seen.unread
        ),
    ]
    port = _port(folder, pack, manifest, given.port)
    if given.through_folder:
        _not_the_stick(folder, manifest)
    came = find_all(seen, pack, manifest, through_folder=given.through_folder, told=given.progress)
    if not any(arrival.carried or arrival.unreadable for arrival in came):
        raise UsageError(
            msg(
                "{folder}: pack {name} lies where it was packed and nowhere else; let the unit "
                "copy it (for a folder of the unit's storage add --through-folder)",
                folder=str(folder),
                name=pack.name,
            )
        )
    way = "through a folder" if given.through_folder else "by the stick"
    packed = manifest.packed_utc if manifest else ""
    file_system = manifest.file_system if manifest else ""
    return Carried(
        pack, port, str(folder), packed_utc=packed, way=way, file_system=file_system, came=came
    ), minds


def _port(folder: Path, pack: Pack, manifest: Manifest | None, given: str) -> str:
    """Return the unit's port; the manifest knows it better than who types it afterwards."""
    if manifest is None and not given:
        raise UsageError(
            msg(
                "{folder}: nobody knows any more which port pack {name} was made for; add "
                "--port, by its name in the model sheet",
                folder=str(folder),
                name=pack.name,
            )
        )
    if manifest is not None and given not in ("", manifest.port):
        raise UsageError(
            msg(
                "{folder}: pack {name} was made for port {port}, not for {given}; leave --port "
                "out, or pack again",
                folder=str(folder),
                name=pack.name,
                port=manifest.port,
                given=given,
            )
        )
    return manifest.port if manifest else given


def _whose(
    bench: BenchFolder, seen: Seen, tag: str, job_id: str
) -> tuple[Pack, Manifest | None, Sequence[Message]]:
    """Return which pack of this unit's job came back, whose manifest, and what to mind."""
    kept = known_here(bench)
    beside, minds = _manifest_there(seen, kept)
    known = {**({beside.number: beside} if beside else {}), **kept}
    packs = sorted(seen.packs, key=lambda pack: pack.number)
    if not packs and beside is not None:
        packs = [beside.pack]
    if not packs:
        raise UsageError(
            msg(
                "{folder}: no file here is of any pack; is this the right stick and folder?",
                folder=str(seen.folder),
            )
        )
    mine = [known[pack.number] for pack in packs if pack.number in known]
    fitting = [pack for pack in mine if pack.unit == tag and pack.job_id == job_id]
    if fitting:
        newest = max(fitting, key=lambda one: (one.packed_utc, one.number))
        return newest.pack, newest, minds
    for manifest in mine:
        _refuse(seen.folder, manifest, tag)
    if len(packs) > 1:
        names = ", ".join(pack.name for pack in packs)
        raise UsageError(
            msg(
                "{folder}: {packs} unknown packs lie here ({names}); name the folder of one",
                folder=str(seen.folder),
                packs=len(packs),
                names=names,
            )
        )
    lost = msg(
        "MIND: the manifest of pack {name} is lost; its data tells the rest", name=packs[0].name
    )
    return packs[0], None, [*minds, lost]


def _refuse(folder: Path, one: Manifest, tag: str) -> None:
    if one.unit != tag:
        raise UsageError(
            msg(
                "{folder}: pack {name} was made for unit {unit}, not for {tag}; unpack it with "
                "--unit {unit}",
                folder=str(folder),
                name=one.pack.name,
                unit=one.unit,
                tag=tag,
            )
        )
    raise UsageError(
        msg(
            "{folder}: pack {name} was made for job {job_id}, and {tag} was opened since; "
            "pack again, because it says nothing of the unit as it is now",
            folder=str(folder),
            name=one.pack.name,
            job_id=one.job_id,
            tag=tag,
        )
    )


def _manifest_there(
    seen: Seen, kept: Mapping[int, Manifest]
) -> tuple[Manifest | None, Sequence[Message]]:
    """Return the manifest found beside the files, and what to say if it was changed."""
    files = [path for path, _ in seen.others if path.name.upper() == FILE]
    for file in files:
        try:
            manifest = read_manifest(read_bytes(file))
        except OSError as fault:
            if not is_there(seen.folder, fault):
                raise
            where = file.relative_to(seen.folder)
            unread = msg(
                "MIND: {file} cannot be read, a bad place of the stick; go by the data",
                file=str(where),
            )
            return None, [unread]
        if manifest is None or kept.get(manifest.number, manifest) != manifest:
            where = file.relative_to(seen.folder)
            changed = msg(
                "MIND: {file} was changed since it was packed; it is not believed", file=str(where)
            )
            return None, [changed]
        return manifest, []
    return None, []


def _not_the_stick(folder: Path, manifest: Manifest | None) -> None:
    """Refuse to take the packed stick itself for the unit's storage."""
    if manifest and manifest.file_system and file_system_id(folder) == manifest.file_system:
        raise UsageError(
            msg(
                "{folder}: is the stick itself (file system {file_system}), not the unit's "
                "storage; leave --through-folder out, and copies outside {own_folder} count",
                folder=str(folder),
                file_system=manifest.file_system,
                own_folder=FOLDER,
            )
        )


def _new_id(bench: BenchFolder, tag: str) -> str:
    base = f"{tag}-{datetime.now(UTC):%Y%m%d-%H%M}-carry"
    number = 1
    soak_id = base
    while (bench.reports / soak_id).exists():
        number += 1
        soak_id = f"{base}-{number}"
    return soak_id


def _lines(pack: Pack, came: Sequence[Came]) -> list[Message]:
    """Return what came of the pack in a few lines: what changed one by one, the rest counted."""
    by = {
        state: [arrival for arrival in came if arrival.came == state] for state in get_args(Comes)
    }
    whole = by["whole"]
    twice = sum(len(arrival.carried) > 1 for arrival in whole)
    copies = msg("{count} of them more than once", count=twice) if twice else None
    whole_ones = msg(
        "pack {name}: {whole} of {all} files came whole, {size}",
        name=pack.name,
        whole=len(whole),
        all=len(came),
        size=Amount(sum(arrival.length_bytes for arrival in whole), "B"),
    )
    lines = [joined(", ", [whole_ones, copies])]
    lines += [_changed(pack, arrival) for arrival in by["changed"][:_MOST_LINES]]
    if len(by["changed"]) > _MOST_LINES:
        lines.append(
            indented(msg("and {count} more changed", count=len(by["changed"]) - _MOST_LINES))
        )
    lines += [
        indented(
            msg(
                "a bad place of the stick: {file} cannot be read from byte {byte} on",
                file=str(copy.where),
                byte=copy.at_bytes,
            )
        )
        for arrival in came
        for copy in arrival.unreadable
    ]
    for state, words in _ELSEWHERE.items():
        names = [
            f"{pack.file_name(arrival.number)} ({arrival.length_bytes} B)" for arrival in by[state]
        ]
        if names:
            left = len(names) - _MOST_LINES
            more = msg("and {count} more", count=left) if left > 0 else None
            listed = joined(" ", [joined(", ", names[:_MOST_LINES]), more])
            lines.append(indented(joined(": ", [words, listed])))
    return lines


def _changed(pack: Pack, one: Came) -> Message:
    copy = next(copy for copy in one.carried if copy.found.came == "changed")
    line = msg(
        "changed: {name}, {length} B, as {file}: {damaged} wrong ({kinds})",
        name=pack.file_name(one.number),
        length=one.length_bytes,
        file=str(copy.where),
        damaged=Amount(copy.found.damaged_bytes, "B"),
        kinds=carried_words(copy.found.wrong),
    )
    return indented(line)


def _as_json(soak_id: str, carried: Carried, finding: Finding) -> Data:
    data: dict[str, Any] = {
        "soak_id": soak_id,
        "pack": carried.pack.name,
        "port": carried.port,
        "verdict": finding.verdict.value,
        "because": finding.because,
        "files": [as_json(file_of(came, carried.pack)) for came in carried.came],
    }
    return Data(json.dumps(data, indent=2))
