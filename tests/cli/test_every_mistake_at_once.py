"""A file full of mistakes: all are told in one go, each with its place and what is allowed."""

from collections.abc import Callable, Mapping, Sequence

import pytest
from typed_bench import BRIEF, SHEET, SIMULATED, TypedBench, typed

from soak.errors import ExitCode
from soak.ledger.ledger import Ledger

FIXTURE = """\
name = ""
adress = "here"
[swich]
driver = "by_hand"
[switch]
driver = "serial_text"
port = "/dev/relay"
chanel = "1"
on = "ON"
off = "ON"
baud = 30
beat_within_s = "2 min"
[capture]
driver = "opencw"
port = "vidoe"
[stick]
driver = "folder"
port = "usb1"
path = "throgh"
[probe.heatsink]
driver = "serial_lines"
port = "/dev/relay"
pattern = 'T=([0-9.+'
spot = "heatsnik"
unit = "degF"
accuracy = "one"
[probe.outside]
driver = "number_file"
file = "/nowhere"
spot = "outsied"
every_s = "20 s"
colour = true
[probe.ambient]
driver = "number_file"
fiel = "/nowhere"
spot = "ambient"
[probe."left side"]
driver = "number_file"
file = "/nowhere"
spot = "outside"
colour = true
"""
SCRIPT = """\
name = "mine"
not_after = "1 h"
confidence = 95
abuot = "x"
[[stretch]]
name = "Starts"
lasts = "2 moons"
[stretch.power_cycels]
[stretch.power_cycles]
warm = "two"
cold = 2000
off_s = 0.0
quick_off_low_s = 20
quick_off_high_s = 10
[[stretch]]
name = "run"
attended = "yes"
lasts = "2 h"
[stretch.supply_margin]
breaks_s = ["1 s", "3 s"]
[stretch.picture]
seen_before = 3
tints = 0.5
[stretch.by_hand.cards.sound]
function = "sound"
question = ""
wanted = "maybe"
[stretch.by_hand.cards.fan]
qestion = "Does it turn?"
[[stretch]]
name = "run"
lasts = "1 h"
[stretch.plan]
of = "warm start"
good = 0.01
[stretch.spots]
"""
MISFIT = """\
name = "misfit"
not_after = "9 h"
[[stretch]]
name = "by hand"
attended = true
[stretch.by_hand.cards.sound]
function = "sond"
question = "Does it sound?"
[stretch.by_hand.cards.fan]
function = "fan"
question = "Does it turn?"
[[stretch]]
name = "starts"
[stretch.power_cycles]
by_eye = true
warm = 2
[[stretch]]
name = "margin"
[stretch.supply_margin]
breaks_s = ["2 s"]
[[stretch]]
name = "run"
lasts = "1 h"
[stretch.picture]
by_eye = true
"""
BENCH = """\
adress = "The Yard 3"
operator = "a name that is much too long for initials"
grade_keeps_days = "ninety"
location = 3
[calibrations]
heatsink = 2026-01-05
"""
DETAILS = """\
claim = 3
left_out = ["vidoe", "uzb2", "usb2"]
year_made = 1066
known_defect = ["no remote control"]
deviations = "the lid was off"
show_serial = "no"
[safety_test]
by = ""
method = "x"
on = "2026-01-04"
reslt = "passed"
"""
SCENE = """\
truth = "a play"
truth_grade = "redy"
fault = "video"
rom = { mean_degc = 20 }
[start]
warm_s = "soon"
fails_warm = 1.5
[contacts.video]
looks = "blak"
opens = { per_hour = 2.0, spot = "heatsnik", lasts_s = ["8 s", "1 s"] }
[data]
falls_spot = "outsied"
[fan]
factor = 2
[bench]
relay = { fault = "stuck" }
"""
Told = Mapping[str, Sequence[str]]
KINDS: dict[str, tuple[Callable[[TypedBench], tuple[str, Sequence[str]]], Told]] = {}


def full_of_mistakes(told: Told) -> Callable[[Callable[..., object]], Callable[..., object]]:
    """Register a way to meet a file full of mistakes: by key what its line says."""

    def register(prepare):
        KINDS[prepare.__name__] = (prepare, told)
        return prepare

    return register


def run(fixture: str, script: str = "quick") -> list[str]:
    return ["run", script, "--unit", f"K4@{fixture}"]


@full_of_mistakes(
    {
        "name": ["is empty", "write text"],
        "adress": ["no such key", "name, simulated, switch, capture"],
        "swich": ["no such key", "did you mean switch?"],
        "switch.chanel": ["beat_within_s", "did you mean channel?"],
        "switch.baud": ["is 30", "whole number from 50 to 4000000"],
        "switch.beat_within_s": ['is "2 min"', "duration from 1 s to 1 min"],
        "switch": ["on and off are the same"],
        "capture.driver": ['"opencw"', "opencv", "did you mean opencv?"],
        "capture.port": ["'vidoe'", "its video ports: video", "did you mean video?"],
        "stick.path": ['is "throgh"', '"through", "played"', "did you mean through?"],
        "stick.folder": ["is missing", "write text"],
        "probe.heatsink.pattern": ["T=([0-9.+", "regular expression"],
        "probe.heatsink.unit": ['is "degF"', '"degC", "V", "A" or "W"', "did you mean degC?"],
        "probe.heatsink.accuracy": ['is "one"', "number of at least 0"],
        "probe.heatsink.spot": ["'heatsnik'", "did you mean heatsink?"],
        "probe.heatsink": ["/dev/relay", "switch"],
        "probe.outside.spot": ["'outsied'", "did you mean outside?"],
        "probe.outside.colour": ["no such key", "every_s"],
        "probe.outside": ["silent_after_s is shorter than every_s"],
        "probe.ambient.fiel": ["did you mean file?"],
        "probe.left side": ["is no name that can be given", "a letter or digit first"],
        "probe.left side.colour": ["no such key"],
    }
)
def fixture(bench):
    return (file := bench.write("fixtures/wrong.toml", FIXTURE)), run(file)


@full_of_mistakes(
    {
        "confidence": ["is 95", "number above 0, below 1"],
        "abuot": ["did you mean about?"],
        "stretch[1].name": ['is "Starts"'],
        "stretch[1].lasts": ["2 moons", "up to 7 d"],
        "stretch[1].power_cycels": ["no such check", "did you mean power_cycles?"],
        "stretch[1].power_cycles.warm": ['is "two"', "whole number from 0 to 10000"],
        "stretch[1].power_cycles.cold": ["is 2000", "whole number from 0 to 1000"],
        "stretch[1].power_cycles.off_s": ["is 0", "duration of at least 0.1 s"],
        "stretch[1].power_cycles": ["quick_off_high_s is shorter"],
        "stretch[2].attended": ['is "yes"', "true or false"],
        "stretch[2].supply_margin.breaks_s[2]": ['is "3 s"', "from 0.02 s to 2 s"],
        "stretch[2].picture": ["seen_before and seen_before_in_s belong together"],
        "stretch[2].picture.tints": ["is 0.5", "whole number of at least 0"],
        "stretch[2].by_hand.cards.sound.question": ["is empty"],
        "stretch[2].by_hand.cards.sound.wanted": ['is "maybe"', "yes", "no"],
        "stretch[2].by_hand.cards.fan.qestion": ["did you mean question?"],
        "stretch[2].by_hand.cards.fan.function": ["is missing"],
        "stretch[3].lasts": ["cannot stand beside a plan"],
        "stretch[3].name": ["'run' is there twice"],
        "stretch[3].plan.of": ['is "warm start"', '"cold starts"', "did you mean warm starts?"],
        "stretch[3].plan.bad": ["is missing"],
        "not_after": ["shorter than the stretches together"],
    }
)
def script(bench):
    return (file := bench.write("scripts/wrong.toml", SCRIPT)), run("sim", file)


@full_of_mistakes(
    {
        "picture_when_on": ['is "mooving"', '"may blank"', "did you mean moving?"],
        "start_s": ["is missing", "duration above 0 s, up to 1 h"],
        "hold_data": ["did you mean holds_data?"],
        "mains": ['is "no"', "true or false"],
        "year_made": ["is 1066", "whole number from 1950 to 2100"],
        "ports.video.kind": ['is "vidoe"', "did you mean video?"],
        "ports.usb2.colour": ["no such key", "text, kind"],
        "functions.usb2.port": ["'usb3'", "did you mean usb"],
        "functions.video.port": ["'vidoe'", "did you mean video?"],
        "spots.heatsink": ["trip_degc 50", "raise it"],
        "spots.outside.trip_degc": ["is 900", "number from 35 to 200", "°C"],
        "spots.outside.limits": ["no such key", "limit_degc"],
        "supply": ["not in this order"],
        "supply.draws_in": ['is "mA"', '"A" or "W"'],
    }
)
def model_sheet(bench):
    text = SHEET.read_text()
    for old, new in (
        ('picture_when_on = "moving"', 'picture_when_on = "mooving"'),
        ("year_made = 2019", "year_made = 1066"),
        ("start_s", "# start_s"),
        ("holds_data", "hold_data"),
        ("mains = false", 'mains = "no"'),
        ('kind = "video"', 'kind = "vidoe"'),
        ('port = "usb2"', 'port = "usb3"'),
        ('port = "video"', 'port = "vidoe"'),
        ("[ports.usb2]", "[ports.usb2]\ncolour = 1"),
        ("trip_degc = 90", "trip_degc = 50"),
        ("trip_degc = 70", "trip_degc = 900\nlimits = 1"),
        ("lowest_v = 10.8", 'draws_in = "mA"\nlowest_v = 12.8'),
    ):
        assert old in text, old
        text = text.replace(old, new, 1)
    return bench.write("fixtures/models/ferrow-sp-40.toml", text), run("sim")


@full_of_mistakes(
    {
        "name": ["is missing", "write text"],
        "adress": ["did you mean address?", "name, address, location"],
        "operator": ["much too long", "text of at most 20 characters"],
        "grade_keeps_days": ['is "ninety"', "whole number from 1 to 3650"],
        "location": ["is 3", "write text"],
        "calibrations.heatsink": ["2026-01-05", "write text"],
    }
)
def bench_file(bench):
    file = bench.write("bench.toml", BENCH)
    return file, ["report", next(one for one in bench.soaks() if one.startswith("K1"))]


@full_of_mistakes(
    {
        "claim": ["is 3", "write text"],
        "year_made": ["is 1066", "whole number from 1950 to 2100"],
        "known_defect": ["did you mean known_defects?"],
        "deviations": ["the lid was off", "list"],
        "show_serial": ['is "no"', "true or false"],
        "safety_test.by": ["is empty"],
        "safety_test.reslt": ["did you mean result?", "by, on, method, result"],
        "left_out[1]": ["'vidoe'", "did you mean video?"],
        "left_out[2]": ["'uzb2'", "did you mean usb2?"],
    }
)
def details(bench):
    job = Ledger(bench.path / "ledger.sqlite").current_job("K4").job_id
    return bench.write(f"details/{job}.toml", DETAILS), run("sim")


@full_of_mistakes(
    {
        "truth_grade": ['is "redy"', '"not ready: failed"', "did you mean ready?"],
        "rom": ["did you mean room?"],
        "start.warm_s": ["'soon'", "duration above 0 s"],
        "start.fails_warm": ["is 1.5", "number from 0 to 1"],
        "contacts.video.looks": ['is "blak"', "did you mean black?"],
        "contacts.video.opens.lasts_s": ["from 8 down to 1"],
        "contacts.video.opens.spot": ["'heatsnik'", "did you mean heatsink?"],
        "data.falls_spot": ["'outsied'", "did you mean outside?"],
        "fan.dies_after_s": ["is missing", "two durations"],
        "bench.relay.fault": ['is "stuck"', '"welded", "open" or "mute"'],
    }
)
def scene(bench):
    file = bench.write("wrong-scene.toml", SCENE)
    text = SIMULATED.replace('simulated = "good"', f'simulated = "{file}"')
    return file, run(bench.write("fixtures/wrong.toml", text))


@full_of_mistakes(
    {
        "by hand.by_hand.cards.sound.function": ["'sond'", "did you mean sound?"],
        "by hand.by_hand.cards.fan.function": ["'fan'", "it has video"],
        "starts.power_cycles.by_eye": ["attended = true"],
        "margin.supply_margin": ["sets no voltage"],
        "run.picture.by_eye": ["attended = true"],
    }
)
def script_on_a_unit(bench):
    file = bench.write("scripts/wrong.toml", MISFIT)
    return file, run("sim", file)


@pytest.mark.parametrize("kind", KINDS)
def test_all_mistakes_of_a_file_are_told_at_once(bench: TypedBench, kind: str) -> None:
    """One line each: file, key, what is there and what is allowed; nothing begun, exit code 2."""
    prepare, told = KINDS[kind]
    file, words = prepare(bench)
    before = bench.soaks()
    said = typed("--bench", str(bench.path), *words, within=bench.path)
    lines = said.err.strip().splitlines()
    assert "Traceback" not in said.err
    assert lines[0] == f"soak: {file}: {len(told)} mistakes", said.err
    found = dict(line.removeprefix(f"{file}: ").split(": ", 1) for line in lines[1:])
    assert set(found) == set(told), said.err
    for key, parts in told.items():
        assert [part for part in parts if part not in found[key]] == [], f"{key}: {found[key]}"
    assert (said.code, said.out, bench.soaks()) == (ExitCode.USAGE, "", before)


def test_one_mistake_stays_one_line(bench: TypedBench) -> None:
    """Where there is one mistake there is no list, and it is told with all that is allowed."""
    file = bench.edit("scripts/wrong.toml", "warm = 2", "wram = 2", BRIEF)
    said = typed("--bench", str(bench.path), *run("sim", file), within=bench.path)
    key = "stretch[1].power_cycles.wram"
    assert said.err.startswith(f"soak: {file}: {key}: there is no such key; the keys here are warm")
    assert said.err.count("\n") == 1


def test_what_is_no_toml_is_told_with_line_and_column(bench: TypedBench) -> None:
    """A file that cannot be parsed holds no keys yet: where it breaks is what helps."""
    file = bench.write("fixtures/wrong.toml", SIMULATED.replace('"good"', '"good'))
    said = typed("--bench", str(bench.path), *run(file), within=bench.path)
    assert said.code == ExitCode.USAGE
    assert "wrong.toml: is not valid TOML" in said.sentence
    assert "line 2, column 18" in said.sentence
