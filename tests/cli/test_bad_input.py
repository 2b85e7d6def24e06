"""What operators mistype: one sentence with what, where and what to do; nothing started or lost."""

import shutil
import sqlite3
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest
from patience import LIMIT_S
from plain_user import open_folder, plain_user
from soak_process import started
from typed_bench import BRIEF, REAL, SIMULATED, Said, TypedBench, typed

from soak.errors import ExitCode

Prepare = Callable[[TypedBench], Sequence[str]]
USAGE, BENCH = ExitCode.USAGE, ExitCode.BENCH_FAULT
ONE_PROBE = """\
name = "thermometer"
[probe.outside]
driver = "serial_lines"
port = "/dev/there-is-no-thermometer"
pattern = 'T=([0-9.]+)'
spot = "outside"
"""
GUARDING_FILE = """\
name = "file"
[probe.heatsink]
driver = "number_file"
file = "/nowhere/heat"
spot = "heatsink"
guards = true
"""
CAMERA = 'name = "card"\n[capture]\ndriver = "opencv"\nport = "video"\nsource = "{}"\n'
STICK = 'name = "stick"\n[stick]\ndriver = "folder"\nfolder = "{}"\n'
QUICK = "quick"


def run(fixture: str, script: str = QUICK, unit: str = "K4") -> list[str]:
    return ["run", script, "--unit", f"{unit}@{fixture}"]


def simulated(old: str, new: str) -> Prepare:
    """Change one thing in a simulated fixture and run on it."""
    return lambda bench: run(bench.edit("fixtures/wrong.toml", old, new, SIMULATED))


def real(old: str, new: str) -> Prepare:
    """Change one thing in a real fixture and run on it."""
    return lambda bench: run(bench.edit("fixtures/wrong.toml", old, new, REAL))


def fixture(text: str | bytes) -> Prepare:
    return lambda bench: run(bench.write("fixtures/wrong.toml", text))


def script(old: str, new: str) -> Prepare:
    """Change one thing in a script and run it."""
    return lambda bench: run("sim", bench.edit("scripts/wrong.toml", old, new, BRIEF))


def sheet(old: str, new: str) -> Prepare:
    """Change one thing in the model sheet and run on it."""

    def prepare(bench: TypedBench) -> list[str]:
        bench.edit("fixtures/models/ferrow-sp-40.toml", old, new)
        return run("sim")

    return prepare


def argv(*words: str) -> Prepare:
    return lambda bench: words


def a_folder(bench: TypedBench) -> list[str]:
    (bench.path / "fixtures" / "folder.toml").mkdir()
    return run(str(bench.path / "fixtures" / "folder.toml"))


def camera_is_a_text(bench: TypedBench) -> list[str]:
    return run(bench.write("fixtures/c.toml", CAMERA.format(bench.write("clip.mp4", "no video"))))


def stick_is_a_file(bench: TypedBench) -> list[str]:
    return run(bench.write("fixtures/s.toml", STICK.format(bench.write("stick", "a file"))))


def both_benches(bench: TypedBench) -> list[str]:
    return [*run("sim"), "--unit", "K3@real"]


def same_channel_twice(bench: TypedBench) -> list[str]:
    one = REAL.split("[probe")[0]
    bench.write("fixtures/left.toml", one)
    bench.write("fixtures/right.toml", one)
    return [*run("left"), "--unit", "K3@right"]


def model_without_sheet(bench: TypedBench) -> list[str]:
    (bench.path / "fixtures" / "models" / "ferrow-sp-40.toml").unlink()
    return run("sim")


def no_soak_yet(bench: TypedBench) -> list[str]:
    (bench.path / "reports").rename(bench.path / "elsewhere")
    return ["show", "last"]


def journal_of(bench: TypedBench, tag: str) -> str:
    return next(name for name in bench.soaks() if name.startswith(tag))


def ended(*verb: str) -> Prepare:
    """Give a verb the soak that has ended."""
    return lambda bench: [verb[0], journal_of(bench, "K1"), *verb[1:]]


def finished(bench: TypedBench) -> list[str]:
    """Finish the soak that has ended, which has no report yet, and finish it again."""
    soak = journal_of(bench, "K1")
    typed("--bench", str(bench.path), "resume", soak)
    return ["resume", soak]


def damaged(change: Callable[[bytes], bytes], *verb: str) -> Prepare:
    """Damage the journal of the soak that has ended, then give a verb."""

    def prepare(bench: TypedBench) -> list[str]:
        soak = journal_of(bench, "K1")
        file = bench.path / "reports" / soak / "journal.sqlite"
        file.chmod(0o600)
        file.write_bytes(change(file.read_bytes()))
        return [verb[0], soak, *verb[1:]]

    return prepare


def flipped(data: bytes) -> bytes:
    """Flip one bit in the middle of what was measured."""
    at = data.rindex(b"capture")
    return data[:at] + bytes([data[at] ^ 1]) + data[at + 1 :]


def newer_journal(bench: TypedBench) -> list[str]:
    soak = journal_of(bench, "K3")
    with sqlite3.connect(bench.path / "reports" / soak / "journal.sqlite") as connection:
        connection.execute("PRAGMA user_version = 99")
    connection.close()
    return ["judge", soak]


def changed_fixture(bench: TypedBench) -> list[str]:
    bench.edit("fixtures/sim.toml", "accuracy = 1.0", "accuracy = 2.0")
    return ["resume", journal_of(bench, "K3")]


def gone_fixture(bench: TypedBench) -> list[str]:
    (bench.path / "fixtures" / "sim.toml").unlink()
    return ["resume", journal_of(bench, "K3")]


def export_into_a_file(bench: TypedBench) -> list[str]:
    return ["export", journal_of(bench, "K1"), bench.write("out", "a file")]


def ledger_is_text(bench: TypedBench) -> list[str]:
    bench.write("ledger.sqlite", "these are my units: K1, K2, K3, and so on, as long as a page")
    return ["unit", "list"]


def newer_ledger(bench: TypedBench) -> list[str]:
    with sqlite3.connect(bench.path / "ledger.sqlite") as connection:
        connection.execute("INSERT INTO ledger_version VALUES (99, '2030-01-01', '9.0')")
    connection.close()
    return ["unit", "list"]


def bench_card_typo(bench: TypedBench) -> list[str]:
    bench.write("bench.toml", 'name = "Kittiwake Yard"\nadress = "The Yard 3"\n')
    return ["report", journal_of(bench, "K1")]


MISTAKES: dict[str, tuple[Prepare, ExitCode, Sequence[str]]] = {
    # --- what to run on
    "fixture missing": (argv(*run("lfet.toml")), USAGE, ["lfet.toml", "no such fixture", "find"]),
    "no fixture but everything": (argv(*run("/")), USAGE, ["/: there is no such fixture"]),
    "everything to teach": (argv("teach", "/"), USAGE, ["/: there is no such fixture"]),
    "a recording of the kernel's": (argv("picture", "/proc/kmsg"), USAGE, ["/proc/kmsg: "]),
    "unit without fixture": (
        argv("run", QUICK, "--unit", "K4"),
        USAGE,
        ["--unit K4", "UNIT@FIXTURE"],
    ),
    "no unit at all": (argv("run", QUICK), USAGE, ["--unit"]),
    "unknown unit": (argv(*run("sim", unit="K9")), USAGE, ["'K9'"]),
    "unit is sold": (argv(*run("sim", unit="K2")), USAGE, ["K2", "sold", "soak unit back K2"]),
    "unknown verb": (argv("rnu", QUICK), USAGE, ["rnu"]),
    "script with a typo": (
        argv(*run("sim", "overnigt")),
        USAGE,
        ["overnigt", "did you mean overnight?"],
    ),
    "script file missing": (argv(*run("sim", "my/own.toml")), USAGE, ["my/own.toml", "no such"]),
    "simulated and real": (both_benches, USAGE, ["simulated and real", "apart"]),
    "same port and channel": (same_channel_twice, USAGE, ["right.toml", "left.toml", "channel"]),
    "one fixture twice": (
        argv(*run("sim"), "--unit", "K3@sim"),
        USAGE,
        ["sim", "two units", "K4", "K3"],
    ),
    "one unit twice": (
        lambda bench: [*run("sim"), "--unit", f"K4@{bench.write('fixtures/b.toml', SIMULATED)}"],
        USAGE,
        ["K4", "twice"],
    ),
    # --- fixture files
    "fixture is a folder": (a_folder, USAGE, ["folder.toml"]),
    "half a TOML": (fixture(SIMULATED[:60]), USAGE, ["wrong.toml", "not valid TOML"]),
    "TOML not UTF-8": (
        fixture('name = "Prüfstand"\n'.encode("latin-1")),
        USAGE,
        ["wrong.toml", "UTF-8"],
    ),
    "empty fixture": (fixture(""), USAGE, ["wrong.toml", "name", "missing"]),
    "no instrument": (fixture('name = "x"\n'), USAGE, ["wires no instrument", "[switch]"]),
    "unknown driver": (
        real("serial_text", "serail_text"),
        USAGE,
        ["switch.driver", "serail_text", "did you mean serial_text?"],
    ),
    "unknown driver key": (
        real('channel = "1"', 'chanel = "1"'),
        USAGE,
        ["switch.chanel", "did you mean channel?"],
    ),
    "unknown role": (
        simulated("[switch]", "[swich]"),
        USAGE,
        ["wrong.toml: swich", "did you mean switch?"],
    ),
    "wrong type": (
        real('channel = "1"', "channel = 1"),
        USAGE,
        ["switch.channel", "is 1", "write text"],
    ),
    "impossible baud": (
        real('channel = "1"', 'channel = "1"\nbaud = -9600'),
        USAGE,
        ["switch.baud", "-9600"],
    ),
    "degF as unit": (
        simulated('spot = "heatsink"', 'spot = "heatsink"\nunit = "degF"'),
        USAGE,
        ["probe.heatsink.unit", "degC", "degF"],
    ),
    "volts at a spot": (
        simulated('spot = "heatsink"', 'spot = "heatsink"\nunit = "V"'),
        USAGE,
        ["probe.heatsink", "spot", "V"],
    ),
    "accuracy is negative": (
        simulated("accuracy = 1.0", "accuracy = -1.0"),
        USAGE,
        ["probe.heatsink.accuracy", "-1"],
    ),
    "spot not in the sheet": (
        simulated('spot = "heatsink"', 'spot = "heatsnik"'),
        USAGE,
        ["probe.heatsink.spot", "heatsnik", "did you mean heatsink?"],
    ),
    "wrong kind of port": (
        simulated('port = "usb1"', 'port = "video"'),
        USAGE,
        ["stick.port", "video", "usb1"],
    ),
    "data path without port": (
        simulated('port = "usb1"\n', ""),
        USAGE,
        ["stick.port", "is missing", "through"],
    ),
    "unknown scene": (
        simulated('simulated = "good"', 'simulated = "godo"'),
        USAGE,
        ["godo", "did you mean good?"],
    ),
    "real driver in simulated": (
        simulated('driver = "simulated"', 'driver = "by_hand"'),
        USAGE,
        ["switch.driver", "by_hand", "simulated"],
    ),
    "pattern is no pattern": (
        real("'T=([0-9.]+)'", "'T=([0-9.+'"),
        USAGE,
        ["probe.heatsink.pattern"],
    ),
    # --- instruments
    "guarding probe that may be silent for ever": (
        fixture(ONE_PROBE + 'guards = true\nsilent_after_s = "999999999999 h"\n'),
        USAGE,
        ["probe.outside", "silent_after_s is 999999999999 h", "guards it is at most 1 h"],
    ),
    "probe that may be silent for days": (
        fixture(ONE_PROBE + 'silent_after_s = "999 h"\n'),
        USAGE,
        ["probe.outside", "silent_after_s is 999 h", "at most 24 h"],
    ),
    "guarding probe missing": (
        fixture(ONE_PROBE + "guards = true\n"),
        BENCH,
        ["probe.outside", "there-is-no-thermometer", "plug it in"],
    ),
    "guarding file missing": (
        fixture(GUARDING_FILE),
        BENCH,
        ["probe.heatsink", "/nowhere/heat", "plug it in"],
    ),
    "wrong serial port": (fixture(ONE_PROBE), BENCH, ["there-is-no-thermometer", "plug it in"]),
    "camera missing": (fixture(CAMERA.format("77")), BENCH, ["camera 77", "plug it in"]),
    "clip missing": (fixture(CAMERA.format("nowhere.mp4")), BENCH, ["nowhere.mp4", "check"]),
    "clip is no video": (camera_is_a_text, BENCH, ["clip.mp4", "no video", "give"]),
    "stick folder missing": (fixture(STICK.format("/nowhere")), BENCH, ["/nowhere", "mount"]),
    "stick is a file": (stick_is_a_file, BENCH, ["stick", "not a folder", "give"]),
    # --- scripts
    "unknown check": (
        script("[stretch.picture]", "[stretch.pictrue]"),
        USAGE,
        ["stretch[2].pictrue", "did you mean picture?"],
    ),
    "unknown setting": (
        script("warm = 2", "wram = 2"),
        USAGE,
        ["stretch[1].power_cycles.wram", "did you mean warm?"],
    ),
    "words for a number": (
        script("warm = 2", 'warm = "two"'),
        USAGE,
        ["stretch[1].power_cycles.warm", "whole number", "two"],
    ),
    "no such duration": (
        script('lasts = "2 min"', 'lasts = "2 moons"'),
        USAGE,
        ["stretch[2].lasts", "2 moons"],
    ),
    "confidence in per cent": (
        script('not_after = "1 h"', 'not_after = "1 h"\nconfidence = 95'),
        USAGE,
        ["confidence", "below 1", "95"],
    ),
    "contradictory": (
        script('not_after = "1 h"', 'not_after = "1 min"'),
        USAGE,
        ["not_after", "shorter", "2 min"],
    ),
    "no stretch": (
        lambda bench: run("sim", bench.write("scripts/wrong.toml", BRIEF.split("[[")[0])),
        USAGE,
        ["stretch", "is missing", "[[stretch]]"],
    ),
    "same name twice": (
        script('name = "run"', 'name = "starts"'),
        USAGE,
        ["stretch[2].name", "twice", "another name"],
    ),
    "stretch without end": (
        script('lasts = "2 min"\n', ""),
        USAGE,
        ["stretch[2].lasts", "missing"],
    ),
    "lonely stretch table": (
        script('[[stretch]]\nname = "starts"\n', ""),
        USAGE,
        ["wrong.toml"],
    ),
    # --- model sheets
    "model sheet missing": (model_without_sheet, USAGE, ["ferrow-sp-40", "no model sheet"]),
    "sheet with unknown key": (
        sheet("holds_data", "hold_data"),
        USAGE,
        ["hold_data", "did you mean holds_data?"],
    ),
    "trip below limit": (
        sheet("trip_degc = 90", "trip_degc = 50"),
        USAGE,
        ["spots.heatsink", "trip_degc 50", "raise it"],
    ),
    "trip in any room": (
        sheet("trip_degc = 90", "trip_degc = 20"),
        USAGE,
        ["spots.heatsink.trip_degc", "number from 35 to 200"],
    ),
    "trip beyond sense": (
        sheet("trip_degc = 90", "trip_degc = 900"),
        USAGE,
        ["spots.heatsink.trip_degc", "number from 35 to 200"],
    ),
    "trip in letters": (
        sheet("trip_degc = 90", 'trip_degc = "ninety"'),
        USAGE,
        ["spots.heatsink.trip_degc", "number"],
    ),
    "trip with a decimal comma": (
        sheet("trip_degc = 90", "trip_degc = 90,5"),
        USAGE,
        ["ferrow-sp-40.toml", "not valid TOML", "line"],
    ),
    "rated voltages out of order": (
        sheet("lowest_v = 10.8", "lowest_v = 12.8"),
        USAGE,
        ["supply", "12.8", "not in this order", "type plate"],
    ),
    "rated for more than low voltage": (
        sheet("highest_v = 13.2", "highest_v = 230.0"),
        USAGE,
        ["supply.highest_v", "up to 60, in V"],
    ),
    "mains and low voltage": (
        sheet("mains = false", "mains = true"),
        USAGE,
        ["mains is true", "no mains voltage", "remove one"],
    ),
    "limits of a supply on a relay": (
        argv(*run("sim", "supply")),
        USAGE,
        ["supply_margin", "sets no voltage", "sets_voltage = true"],
    ),
    "supply set without its accuracy": (
        simulated(
            'driver = "simulated"\n[capture]',
            'driver = "simulated"\nsets_voltage = true\n[capture]',
        ),
        USAGE,
        ["switch", "accuracy_v is missing"],
    ),
    "rated voltages in the fixture": (
        simulated(
            'driver = "simulated"\n[capture]',
            'driver = "simulated"\n'
            "rated = { lowest_v = 1.0, nominal_v = 2.0, highest_v = 3.0 }\n[capture]",
        ),
        USAGE,
        ["switch.rated", "model sheet"],
    ),
    "function on unknown port": (
        sheet('port = "usb2"', 'port = "usb3"'),
        USAGE,
        ["functions.usb2.port", "usb3", "did you mean usb"],
    ),
    # --- soaks
    "soak unknown": (argv("show", "K1-2025"), USAGE, ["K1-2025", "no such soak"]),
    "soak ambiguous": (argv("show", "K"), USAGE, ["K:", "soaks begin so", "K1-", "K3-"]),
    "no soak yet": (no_soak_yet, USAGE, ["no soak yet", "soak run"]),
    "time beyond the end": (ended("show", "3:00:00"), USAGE, ["3:00:00", "long"]),
    "time is no time": (ended("show", "at three"), USAGE, ["'at three'", "3:12:00"]),
    "time is negative": (ended("show", "-3:00:00"), USAGE, ["-3"]),
    "journal truncated": (
        damaged(lambda data: data[: len(data) // 2], "judge"),
        USAGE,
        ["journal.sqlite"],
    ),
    "journal edited": (damaged(flipped, "judge"), USAGE, ["journal.sqlite"]),
    "journal is no database": (
        damaged(lambda _: b"a text of mine", "judge"),
        USAGE,
        ["journal.sqlite"],
    ),
    "journal empty": (damaged(lambda _: b"", "show"), USAGE, ["journal.sqlite"]),
    "journal of a newer soak": (newer_journal, USAGE, ["journal.sqlite", "format 99"]),
    "note to an ended soak": (ended("note", "moved it"), USAGE, ["ended already", "soak show"]),
    "stop of an ended soak": (ended("stop"), USAGE, ["ended already"]),
    "answer to an ended soak": (ended("answer", "x", "yes"), USAGE, ["ended already"]),
    "letters for a reading": (
        lambda bench: ["answer", journal_of(bench, "K3"), "probe.x.1", "41o5"],
        USAGE,
        ["'41o5'", "number"],
    ),
    "Fahrenheit for a reading": (
        lambda bench: ["answer", journal_of(bench, "K3"), "probe.x.1", "106 F"],
        USAGE,
        ["'106 F'", "41.1 degC"],
    ),
    "answer that is none": (
        lambda bench: ["answer", journal_of(bench, "K3"), "x", "perhaps"],
        USAGE,
        ["'perhaps'", "yes, no"],
    ),
    "note from the future": (
        ended("note", "moved it", "--minutes", "-5"),
        USAGE,
        ["--minutes -5", "0 to 1440"],
    ),
    "stop of one that does not run": (
        lambda bench: ["stop", journal_of(bench, "K3")],
        USAGE,
        ["K3", "not run"],
    ),
    "resume of an ended soak": (finished, USAGE, ["has ended", "soak run"]),
    "resume on a changed fixture": (changed_fixture, USAGE, ["sim.toml", "changed", "new one"]),
    "resume without fixture": (gone_fixture, USAGE, ["sim.toml", "no such fixture"]),
    "export in unknown form": (
        ended("export", "out", "--as", "xlsx"),
        USAGE,
        ["--as xlsx", "csv", "parquet"],
    ),
    "export into a file": (export_into_a_file, USAGE, ["out"]),
    "judged by no script": (ended("judge", "--script", "quikc"), USAGE, ["quikc", "quick"]),
    "claimed as new": (
        ended("report", "--claim", "as new"),
        USAGE,
        ["as new", "repaired and tested"],
    ),
    "bench card with a typo": (
        bench_card_typo,
        USAGE,
        ["bench.toml", "adress", "did you mean address?"],
    ),
    # --- units
    "serial in the ledger": (
        argv("unit", "add", "SP40-1017", "--model", "ferrow-sp-40"),
        USAGE,
        ["SP40-1017", "K1"],
    ),
    "serial nearly alike": (
        argv("unit", "add", "SP4O-1O17", "--model", "ferrow-sp-40"),
        USAGE,
        ["SP4O-1O17", "SP40-1017", "--anyway"],
    ),
    "unit of unknown model": (
        argv("unit", "add", "X1", "--model", "ferow-sp-40"),
        USAGE,
        ["ferow-sp-40", "did you mean ferrow-sp-40?"],
    ),
    "repair of no function": (
        argv("unit", "repair", "K4", "soldered", "--function", "vidoe"),
        USAGE,
        ["vidoe", "did you mean video?"],
    ),
    "kind of repair unknown": (
        argv("unit", "repair", "K4", "x", "--function", "video", "--kind", "magic"),
        USAGE,
        ["magic"],
    ),
    "repair of a sold unit": (
        argv("unit", "repair", "K2", "x", "--function", "video"),
        USAGE,
        ["K2", "sold", "unit back"],
    ),
    "price with letters": (
        argv("unit", "sold", "K4", "--where", "shop", "--price", "49 euro"),
        USAGE,
        ["49 euro", "49.90"],
    ),
    "date in the future": (
        argv("unit", "sold", "K4", "--where", "shop", "--on", "2999-01-01"),
        USAGE,
        ["2999-01-01", "future"],
    ),
    "date that there is not": (
        argv("unit", "opened", "K4", "x", "--on", "2026-02-30"),
        USAGE,
        ["2026-02-30"],
    ),
    "sold twice": (
        argv("unit", "sold", "K2", "--where", "shop"),
        USAGE,
        ["K2", "sold already", "unit back"],
    ),
    "back but never sold": (
        argv("unit", "back", "K4", "dead"),
        USAGE,
        ["K4", "not sold"],
    ),
    "ledger is a text": (ledger_is_text, USAGE, ["ledger.sqlite"]),
    "ledger of a newer soak": (newer_ledger, USAGE, ["ledger.sqlite", "newer"]),
    "bench folder missing": (
        argv("--bench", "/nowhere", "unit", "list"),
        USAGE,
        ["/nowhere", "no folder", "--bench"],
    ),
    # --- moving plugs
    "wiggle at a misspelt port": (
        argv("wiggle", "vidoe", "--unit", "K4@sim"),
        USAGE,
        ["'vidoe'", "did you mean video?"],
    ),
    "wiggle at a port nothing watches": (
        argv("wiggle", "usb2", "--unit", "K4@sim"),
        USAGE,
        ["nothing watches the port 'usb2'", "it watches video"],
    ),
    "letters for a force": (
        argv("wiggle", "video", "--unit", "K4@sim", "--newton", "hard"),
        USAGE,
        ["--newton", "number"],
    ),
    "decimal comma in a force": (
        argv("wiggle", "video", "--unit", "K4@sim", "--newton", "8,0"),
        USAGE,
        ["--newton", "number"],
    ),
    "more force than a hand should use": (
        argv("wiggle", "video", "--unit", "K4@sim", "--newton", "500"),
        USAGE,
        ["--newton", "less than or equal to 50"],
    ),
    "no rounds": (
        argv("wiggle", "video", "--unit", "K4@sim", "--repeats", "0"),
        USAGE,
        ["--repeats", "greater than or equal to 1"],
    ),
    "intake without a complaint": (
        argv("intake", "K4@sim", "--complaint", " "),
        USAGE,
        ["--complaint", "what the owner says"],
    ),
    "proposal for an unknown repair": (argv("propose", "fann"), USAGE, ["'fann'", "fan?"]),
    # --- proving
    "prove on unknown model": (argv("prove", "sim", "--model", "x"), USAGE, ["'x'", "ferrow"]),
    "prove without fixture": (
        argv("prove", "simm", "--model", "ferrow-sp-40"),
        USAGE,
        ["simm", "no such fixture"],
    ),
}


@pytest.mark.parametrize("name", MISTAKES)
def test_a_mistake_is_answered_by_one_sentence(bench, name):
    """What, where and what to do; the documented exit code; nothing begun and nothing lost."""
    prepare, code, parts = MISTAKES[name]
    words = prepare(bench)
    before = bench.soaks()
    said = typed("--bench", str(bench.path), *words, within=bench.path)
    assert "Traceback" not in said.err
    missing = [part for part in parts if part not in said.sentence]
    assert (missing, said.code) == ([], code), said.err
    assert len(said.sentence) < 500
    assert said.out == ""
    assert bench.soaks() == before


def test_a_relay_that_is_not_plugged_in_is_named(bench):
    """As a process of its own, with its guard: which port, what to do, nothing soaked."""
    before = bench.soaks()
    process = started(bench.path, *run("real"))
    out, err = process.communicate(timeout=LIMIT_S)
    said = Said(process.returncode, out, err)
    assert "there-is-no-relay" in said.sentence
    assert "plug it in" in said.sentence
    assert said.code == BENCH
    assert bench.soaks() == before


def test_there_are_fifty_mistakes():
    """The table holds what the promise of fifty says."""
    assert len(MISTAKES) >= 50


def open_to_all(folder: Path) -> None:
    """Let every user read and write all of it, but for sealed journals."""
    for path in folder.rglob("*"):
        path.chmod(0o777 if path.is_dir() else path.stat().st_mode | 0o066)


@pytest.mark.parametrize(
    ("shut", "words", "parts"),
    [
        ("reports", run("sim", "brief"), ["reports", "permission"]),
        ("", ["unit", "opened", "K4", "paste"], ["ledger.sqlite"]),
    ],
)
def test_a_folder_one_may_not_write_is_named(whole_bench, shut, words, parts):
    """Without permission nothing is soaked or entered, and the folder is named."""
    with open_folder() as folder:
        shutil.copytree(whole_bench.path, folder / "open")
        shutil.copytree(whole_bench.path, folder / "shut")
        bench = TypedBench(folder / "shut")
        before = bench.soaks()
        open_to_all(folder)
        (bench.path / shut).chmod(0o555)
        allowed = typed("--bench", str(folder / "open"), *words)
        with plain_user():
            said = typed("--bench", str(bench.path), *words)
        assert allowed.code in (ExitCode.DONE, ExitCode.INCOMPLETE), allowed.err
        assert "Traceback" not in said.err
        missing = [part for part in parts if part.lower() not in said.sentence.lower()]
        assert missing == [], said.err
        assert said.code in (USAGE, BENCH)
        assert bench.soaks() == before


def test_a_camera_one_may_not_read_is_named(whole_bench):
    """A clip or device without permission: which, and what to change."""
    with open_folder() as folder:
        shutil.copytree(whole_bench.path, folder / "bench")
        bench = TypedBench(folder / "bench")
        clip = bench.write("clip.mp4", "x")
        bench.write("fixtures/c.toml", CAMERA.format(clip))
        open_to_all(folder)
        (bench.path / "clip.mp4").chmod(0o200)
        with plain_user():
            said = typed("--bench", str(bench.path), *run("c"))
        assert "no permission to read" in said.sentence
        assert said.code == BENCH


def test_parquet_without_its_library_says_what_to_install(bench, monkeypatch):
    """Where pyarrow is missing the sentence names the extra."""
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    monkeypatch.setitem(sys.modules, "pyarrow.parquet", None)
    said = typed("--bench", str(bench.path), "export", "K1", str(bench.path), "--as", "parquet")
    assert "soak[parquet]" in said.sentence
    assert said.code == USAGE


def test_trace_shows_where_an_error_comes_from(bench):
    """With --trace the same mistake shows its traceback, and ends with the same code."""
    said = typed("--bench", str(bench.path), "--trace", *run("lfet.toml"))
    assert "Traceback" in said.err
    assert "FixtureError" in said.err
    assert said.code == USAGE
