"""Write the report's files: each appears whole or not at all, the same bytes for the same input."""

import csv
import io
import json
import os
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from soak.errors import UsageError
from soak.report.contents.sheet import Sheet
from soak.report.model import Report
from soak.report.output.html import page
from soak.report.output.listing import (
    MOST_BYTES,
    SIZES,
    Proof,
    Prove,
    listing_text,
    picture,
    plain_proof,
)
from soak.report.output.paper import Paper, pdf
from soak.report.output.privacy import for_buyer
from soak.report.output.slips import record
from soak.report.output.typeset import NotSet
from soak.report.signing.sign import HOLE, BenchKey, sign_data, sign_file
from soak.visible import harmless, visible
from soak.words import Message, joined, msg

BENCH_PAGE = "report.html"
BUYER_PAGE = "report-buyer.html"
DATA = "report.json"
BUYER_DATA = "report-buyer.json"
TABLE = "report.csv"
BUYER_PAPER = "report-buyer.pdf"
LISTING_TEXT = "listing.txt"
RECORD = "record"
PHOTOGRAPH = "listing-photograph"
"""How the names of the listing's photographs begin."""
USUAL = (BENCH_PAGE, BUYER_PAGE, DATA, BUYER_DATA, TABLE)
"""What every soak leaves behind; the rest is made on demand."""

ToJpeg = Callable[[bytes, int], bytes]
"""Makes a JPEG of at most so many bytes of a PNG; this package holds no encoder of its own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outputs:
    """What is made of a report, and how.

    Attributes
    ----------
    everything : bool
        PDF, listing picture and text too; else pages and data, as after each soak.
    language : str
        Of pages, picture and paper; the data stay English.
    qr : bool
        Print a QR code on the picture.
    anyway : bool
        Make the picture of a unit that is not fit for one; it says NOT READY.
    record : bool
        Make the removable record.
    key : BenchKey or None
        Signs pages, paper and data; without it they go unsigned.
    """

    everything: bool = False
    language: str = "en"
    paper: Paper = "a4"
    show_serial: bool = False
    qr: bool = True
    anyway: bool = False
    record: bool = False
    prove: Prove = plain_proof
    key: BenchKey | None = None
    to_jpeg: ToJpeg | None = None


@dataclass(frozen=True, slots=True)
class ReportFiles:
    """Where the files of a report lie.

    Attributes
    ----------
    others : mapping of name to path
        All files beside the pages and the bench's data.
    told : tuple of Message
        What the operator must know: why there is no picture, what a record lacks.
    whole : bool
        Whether all photographs that it should show are what was recorded.
    """

    bench_page: Path
    buyer_page: Path
    data: Path
    others: Mapping[str, Path]
    told: tuple[Message, ...] = ()
    whole: bool = True


def write_report(sheet: Sheet, folder: Path, how: Outputs | None = None) -> ReportFiles:
    """Write the files of a report into `folder`; a listing picture that no longer holds goes.

    Raises
    ------
    UsageError
        If the folder cannot be written to.
    NotSet
        If a page cannot be set.
    """
    how = how or Outputs()
    made, sentences = contents(sheet, how)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, content in made.items():
            _replace(folder / name, signed(name, content, how.key))
        if how.everything:
            stale = _picture_names() | {file.name for file in folder.glob(f"{PHOTOGRAPH}-*.jpg")}
            for name in stale - made.keys():
                (folder / name).unlink(missing_ok=True)
    except OSError as fault:
        raise UsageError(
            msg(
                "{folder}: the report cannot be written ({why}); free space there or choose "
                "another folder",
                folder=str(folder),
                why=str(fault.strerror),
            )
        ) from None
    others = {name: folder / name for name in made if name not in (BENCH_PAGE, BUYER_PAGE, DATA)}
    return ReportFiles(
        folder / BENCH_PAGE,
        folder / BUYER_PAGE,
        folder / DATA,
        others=others,
        told=tuple(sentences),
        whole=not any(photograph.problem for photograph in sheet.report.photographs),
    )


def contents(sheet: Sheet, how: Outputs) -> tuple[dict[str, bytes], list[Message]]:
    """Return the content of each file by its name, and what the operator must know."""
    buyer = for_buyer(sheet, show_serial=how.show_serial)
    made = {
        BENCH_PAGE: page(sheet, how.language).encode(),
        BUYER_PAGE: page(buyer, how.language).encode(),
        DATA: as_json(sheet.report).encode(),
        BUYER_DATA: as_json(buyer.report).encode(),
        TABLE: table(sheet.report).encode("utf-8-sig"),  # the mark tells spreadsheets it is UTF-8
    }
    sentences = [
        msg("MIND: not shown: {what}: {why}", what=one.what, why=one.problem)
        for one in sheet.report.photographs
        if one.problem
    ]
    if how.everything:
        proof = how.prove(buyer.report)
        made[BUYER_PAPER] = pdf(buyer, how.language, how.paper)
        made[LISTING_TEXT] = listing_text(
            buyer.report, language_code=how.language, proof=proof
        ).encode()
        masked = buyer if not how.show_serial else for_buyer(sheet)
        made |= _pictures(masked.report, how, proof, sentences)
        made |= _photographs(buyer)
    if how.record:
        slip, missing = record(sheet.report, how.prove(buyer.report).qr, how.language)
        made |= {f"{RECORD}.png": slip.png, f"{RECORD}.pdf": slip.pdf}
        if missing:
            names = joined(", ", missing)
            sentences.append(
                msg("the record lacks: {names}; see soak report --details", names=names)
            )
    return made, sentences


def signed(name: str, content: bytes, key: BenchKey | None) -> bytes:
    """Return a file signed in the way of its kind; pictures carry their proof in the QR code."""
    if key is None:
        return content
    if name.endswith((".html", ".pdf")) and HOLE.encode() in content:
        return sign_file(content, key)
    if name.endswith(".json"):
        return json_text(sign_data(json.loads(content), key)).encode()
    return content


def _pictures(report: Report, how: Outputs, proof: Proof, told: list[Message]) -> dict[str, bytes]:
    """Make the listing picture in all shapes and forms; refuse one of a unit that is not fit."""
    if report.no_picture and not how.anyway:
        told.append(
            msg(
                "no listing picture: {why}; --anyway makes one that says NOT READY",
                why=report.no_picture,
            )
        )
        return {}
    shown = proof if how.qr else Proof("", proof.short)
    made = {}
    for shape in SIZES:
        png = picture(
            report,
            shape,
            language_code=how.language,
            proof=shown,
            shown_ready=not report.no_picture,
        )
        if len(png) > MOST_BYTES:
            raise NotSet(
                msg(
                    "listing picture ({shape}): {png} bytes; more than {most_bytes}",
                    shape=shape,
                    png=len(png),
                    most_bytes=MOST_BYTES,
                )
            )
        made[f"listing-{shape}.png"] = png
        if how.to_jpeg:
            made[f"listing-{shape}.jpg"] = how.to_jpeg(png, MOST_BYTES)
    return made


def _photographs(sheet: Sheet) -> dict[str, bytes]:
    """Return the photographs of the page as they are kept, to be uploaded with the listing."""
    shown = [photograph for photograph in sheet.report.photographs if not photograph.problem]
    return {
        f"{PHOTOGRAPH}-{number}.jpg": sheet.pictures[photograph.name].data
        for number, photograph in enumerate(shown, start=1)
    }


def _picture_names() -> set[str]:
    return {f"listing-{shape}.{ending}" for shape in SIZES for ending in ("png", "jpg")}


def as_json(report: Report) -> str:
    """Return the report as JSON text, keys in the order of the schema."""
    return json_text(report.model_dump(mode="json"))


def json_text(data: Mapping[str, object]) -> str:
    """Return JSON data as the one text that stands in a file."""
    return visible(json.dumps(data, ensure_ascii=False, indent=1)) + "\n"


def _replace(path: Path, content: bytes) -> None:
    """Write beside, sync, rename, sync the folder: a crash leaves the old file or the new one."""
    handle, beside = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        Path(beside).chmod(0o644)
        Path(beside).replace(path)
    except BaseException:
        Path(beside).unlink(missing_ok=True)
        raise
    if hasattr(os, "O_DIRECTORY"):
        folder = os.open(path.parent, os.O_DIRECTORY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


COLUMNS = (
    "verdict", "demand", "found", "limit", "margin", "value", "limit_value", "margin_value",
    "bound_low", "bound_high", "confidence", "unit", "part_of_script", "check", "id",
)  # fmt: skip


def table(report: Report) -> str:
    """Return a line a finding, then a line for each function that was not tested."""
    made = io.StringIO()
    lines = csv.writer(made, lineterminator="\r\n")
    lines.writerow(COLUMNS)
    for tested in report.tested:
        bounds = (tested.bound_low, tested.bound_high, tested.confidence)
        numbers = (tested.value, tested.limit_value, tested.margin_value, *bounds)
        texts = (
            tested.verdict,
            *map(str, (tested.text, tested.found, tested.limit, tested.margin)),
        )
        rest = (tested.unit, str(tested.stretch), tested.check, tested.id)
        lines.writerow([*map(harmless, texts), *numbers, *map(harmless, rest)])
    for missing in report.not_tested:
        said = ("not tested", str(missing.what), str(missing.why))
        lines.writerow([*map(harmless, said), *[""] * (len(COLUMNS) - len(said))])
    return made.getvalue()
