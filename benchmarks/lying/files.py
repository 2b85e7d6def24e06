"""Lies by the files: deleted, restored, copied, edited."""

import shutil
import sqlite3
from pathlib import Path

from lying.bench import FAILS, LUCKY, Bench, Ending, plain
from lying.ways import FAILED_BEFORE, way

GONE = FAILED_BEFORE + r"|\b(gone|missing|lost|deleted|removed|not (known|in) to? ?the ledger)\b"


@way(
    "deletes the journal that shows the failure, is lucky", says=GONE, truth="flickers", quick=True
)
def journal_deleted(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    bench.removes(bench.reports()[0] / "journal.sqlite")
    bench.soaks(seed=LUCKY)
    return bench.ends(bench.reports()[-1].name)


@way("deletes the whole folder of the failed soak, is lucky", says=GONE, truth="flickers")
def folder_deleted(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    bench.removes(bench.reports()[0])
    bench.soaks(seed=LUCKY, days=1)
    return bench.ends()


@way("deletes the folder of the failed soak, opens the unit, is lucky", says=GONE, truth="flickers")
def folder_deleted_and_opened(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    bench.removes(bench.reports()[0])
    bench.must("unit", "opened", "K1", "looked inside")
    bench.soaks(seed=LUCKY, days=1)
    return bench.ends()


@way("deletes the ledger and adds the unit anew, is lucky", says=GONE, truth="flickers")
def ledger_deleted(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    for file in bench.path.glob("ledger.sqlite*"):
        file.unlink()
    bench.adds("K1", "SP40-1017")
    bench.soaks(seed=LUCKY)
    return bench.ends(bench.reports()[-1].name)


@way("puts an older copy of the ledger back, is lucky", says=GONE, truth="flickers")
def ledger_restored(bench: Bench) -> Ending:
    copy = bench.path / "copy.sqlite"
    shutil.copyfile(bench.path / "ledger.sqlite", copy)
    bench.soaks(seed=FAILS)
    shutil.copyfile(copy, bench.path / "ledger.sqlite")
    bench.soaks(seed=LUCKY)
    return bench.ends(bench.reports()[-1].name)


@way(
    "puts a copy of the whole folder back, from before it failed",
    leaves="First and only soak",
    truth="flickers",
)
def folder_restored(bench: Bench) -> Ending:
    copy = bench.path.with_name(bench.path.name + "-copy")
    shutil.copytree(bench.path, copy)
    bench.soaks(seed=FAILS)
    shutil.rmtree(
        bench.path, onerror=lambda remove, name, _: (Path(name).chmod(0o700), remove(name))
    )
    shutil.copytree(copy, bench.path)
    bench.soaks(seed=LUCKY)
    return bench.ends()


@way("deletes the intake that found the fault", says=GONE, truth="flickers")
def intake_deleted(bench: Bench) -> Ending:
    bench.must("unit", "add", "SP40-2", "--model", "ferrow-sp-40", "--tag", "K2")
    bench.types(
        "intake", "K2@left", "--complaint", "picture goes", "--seed", str(FAILS), "--hours", "4"
    )
    bench.must("unit", "repair", "K2", "mended", "--function", "video")
    bench.must("unit", "wiped", "K2", "--how", "reset", "--verified", "read back", "--by", "KY")
    bench.removes(bench.reports("K2")[0])
    bench.soaks(seed=LUCKY, days=1, unit="K2")
    return bench.ends(bench.reports("K2")[-1].name)


@way("takes the intake for the soak", never=True, truth="good")
def intake_for_soak(bench: Bench) -> Ending:
    bench.must("unit", "add", "SP40-2", "--model", "ferrow-sp-40", "--tag", "K2")
    bench.must("unit", "wiped", "K2", "--how", "reset", "--verified", "read back", "--by", "KY")
    bench.types("intake", "K2@left", "--complaint", "none", "--seed", str(LUCKY))
    return bench.ends(bench.reports("K2")[-1].name)


@way("copies a good unit's soak under this unit's tag", never=True)
def soak_copied(bench: Bench) -> Ending:
    bench.adds("K2", "SP40-2")
    bench.soaks(seed=LUCKY, unit="K2", fixture="good")
    [good] = bench.reports("K2")
    copy = good.with_name(good.name.replace("K2", "K1"))
    shutil.copytree(good, copy)
    return of_this_unit(bench.ends(copy.name))


@way("a good unit's journal in place of this unit's", never=True)
def journal_swapped(bench: Bench) -> Ending:
    bench.adds("K2", "SP40-2")
    bench.soaks(seed=FAILS)
    bench.soaks(seed=LUCKY, unit="K2", fixture="good")
    bad, good = bench.reports("K1")[0], bench.reports("K2")[0]
    for name in ("journal.sqlite", "seal.json"):
        (bad / name).chmod(0o600)
        shutil.copyfile(good / name, bad / name)
    return of_this_unit(bench.ends(bad.name))


@way("edits the losses out of the journal", never=True, quick=True)
def journal_edited(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    file = bench.reports()[0] / "journal.sqlite"
    file.chmod(0o600)
    with sqlite3.connect(file) as journal:
        edited = journal.execute(
            "UPDATE rows SET body = CAST(replace(CAST(body AS TEXT), '\"no signal\"',"
            " '\"picture\"') AS BLOB)"
            " WHERE kind = 'state' AND CAST(body AS TEXT) LIKE '%no signal%'"
        )
        assert edited.rowcount > 0
    journal.close()
    return bench.ends()


@way("edits single bytes of the journal", never=True)
def journal_bytes(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    file = bench.reports()[0] / "journal.sqlite"
    file.chmod(0o600)
    whole = bytearray(file.read_bytes())
    whole[len(whole) // 2] ^= 1
    file.write_bytes(whole)
    return bench.ends()


@way("deletes the record of data that came back wrong by hand", says=GONE, truth="good")
def carried_deleted(bench: Bench) -> Ending:
    stick = bench.path.with_name(bench.path.name + "-stick")
    stick.mkdir()
    bench.must(
        "carry", "pack", str(stick), "--unit", "K1", "--port", "usb2", "--size", "4MB", "--own-disk"
    )
    shutil.copytree(stick / "SOAKPACK", stick / "BACK")
    largest = max((stick / "BACK").iterdir(), key=lambda file: file.stat().st_size)
    largest.write_bytes(b"spoilt" + largest.read_bytes()[6:])
    for file in (stick / "BACK").iterdir():
        file.touch()
    if bench.types("carry", "unpack", str(stick), "--unit", "K1").code != 1:
        raise RuntimeError("the spoilt file was not found")
    bench.removes(bench.reports()[0])
    bench.soaks(seed=LUCKY, days=1)
    return bench.ends(bench.reports()[-1].name)


@way("edits the grade in the ledger", never=True)
def ledger_edited(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    with sqlite3.connect(bench.path / "ledger.sqlite") as ledger:
        ledger.execute("UPDATE grades SET grade = 'ready'")
    ledger.close()
    return bench.ends()


@way("takes the failed job's soaks out of the ledger, is lucky", says=GONE, truth="flickers")
def ledger_thinned(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    with sqlite3.connect(bench.path / "ledger.sqlite") as ledger:
        ledger.execute("PRAGMA foreign_keys = OFF")
        ledger.execute("DELETE FROM grades")
        ledger.execute("DELETE FROM soaks")
    ledger.close()
    bench.soaks(seed=LUCKY)
    return bench.ends(bench.reports()[-1].name)


@way("edits a signed page from not ready to ready", says="CHANGED")
def page_edited(bench: Bench) -> Ending:
    return forged(bench, "report-buyer.html", ("[Nn]ot ready: failed", "Ready for sale"), key=True)


@way("edits signed data from not ready to ready", says="CHANGED")
def data_edited(bench: Bench) -> Ending:
    return forged(bench, "report-buyer.json", ('"ready": ?false', '"ready": true'), key=True)


@way("edits a page nobody signed", leaves="not signed|no signature")
def unsigned_page_edited(bench: Bench) -> Ending:
    return forged(bench, "report-buyer.html", ("[Nn]ot ready: failed", "Ready for sale"), key=False)


@way("a good unit's signed page with this unit's tag", says="CHANGED")
def page_copied(bench: Bench) -> Ending:
    bench.must("key")
    bench.adds("K2", "SP40-2")
    bench.soaks(seed=LUCKY, unit="K2", fixture="good")
    page = bench.reports("K2")[0] / "report-buyer.html"
    copy = page.with_name("report-K1.html")
    copy.write_text(page.read_text(encoding="utf-8").replace("K2", "K1"), encoding="utf-8")
    return shown(bench, copy)


@way("writes Ready for sale into the listing's text", leaves="Report, edition")
def listing_edited(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    bench.types("report", "last", "--anyway")
    text = (bench.reports()[0] / "listing.txt").read_text(encoding="utf-8")
    forged_text = text.replace("Not ready: failed", "Ready for sale")
    return Ending(ready=True, grade="Ready for sale", code=0, text=forged_text)


def of_this_unit(ending: Ending) -> Ending:
    """Take a page that names another unit for what it is: no page of this one."""
    if not ending.ready or "(K1)" in ending.text:
        return ending
    return Ending(False, "a page that names another unit", ending.code, ending.text)


def forged(bench: Bench, name: str, change: tuple[str, str], *, key: bool) -> Ending:
    """Edit a report and show it to a buyer, who verifies it."""
    if key:
        bench.must("key")
    bench.soaks(seed=FAILS)
    file = bench.reports()[0] / name
    file.chmod(0o600)
    bench.edits(str(file.relative_to(bench.path)), change)
    return shown(bench, file)


def shown(bench: Bench, file: Path) -> Ending:
    """Say what a buyer reads on a file, and what verifying it says."""
    said = bench.types("verify", str(file))
    return Ending(True, "as forged", said.code, said.out + said.err, plain(file))
