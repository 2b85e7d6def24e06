"""Lies on real drivers and in real time: instruments that are none, questions nobody answers."""

import contextlib
from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np
from soak_process import RELAY, THERMOMETER, Relay, thermometer
from terminal_bench import Terminal

from lying.bench import Bench, Ending
from lying.ways import way

SHEET = """\
model = "clip player"
picture_when_on = "moving"
start_s = "2 s"
mains = false
disk = false
lithium_cell = false
holds_data = false
[ports.video]
text = "video output"
kind = "video"
[ports.usb]
text = "USB port"
kind = "usb"
"""
FUNCTIONS = {
    "video": '[functions.video]\ntext = "plays clips"\nkey = true\ncheck = "picture"\n'
    'port = "video"\n',
    "storage": '[functions.storage]\ntext = "reads sticks"\nkey = true\ncheck = "transfer"\n'
    'port = "usb"\n',
    "cooling": '[functions.cooling]\ntext = "stays cool"\nkey = true\ncheck = "spots"\n',
}
SPOT = '[spots.outside]\ntext = "top of the case"\nlimit_degc = 60\ntrip_degc = 70\n'
CHECKS = {
    "video": "[stretch.picture]\n",
    "storage": '[stretch.transfer]\nchunk_bytes = 1_048_576\nwrite_budget_bytes = "8 MB"\n'
    "write_every_s = 4\npause_s = 0.2\nstall_s = 30\nfirst_s = 2\nkeep_speed = 0.01\n",
    "cooling": "[stretch.spots]\n",
}
SCRIPT = """\
name = "a moment"
not_after = "10 min"
blind_allowed = 0.9
longest_blind = "1 min"
[[stretch]]
name = "run"
lasts = "20 s"
attended = true
"""
CAPTURE = '[capture]\ndriver = "opencv"\nsource = "{clip}"\nport = "video"\n'
STICK = '[stick]\ndriver = "folder"\nfolder = "{stick}"\npath = "{path}"\nsize = "4 MB"\n'
TEXT_FILE = """\
[probe.outside]
driver = "number_file"
file = "{text}"
spot = "outside"
accuracy = 0.5
"""
HAND = '[switch]\ndriver = "by_hand"\ntext = "the wall socket"\nwait_s = {wait_s}\n'
NOT_AN_INSTRUMENT = (
    r"recording|video file|pseudo|text file|ordinary file|never proved|not proved|no instrument"
)
RUN = ("run", "moment", "--unit", "R1@real", "--may-sleep")
OVER = ("R1  report", "R1  not soaked", "soak: ")
RATE_HZ = 25.0
TAIL = 625
"""From this frame on it is dark, as of a unit that was switched off: off is proved by it."""
DARK = ((200, 20), (325, 20))
"""First frame and number of frames of each loss in the clip that loses its picture."""


@way("a recording as the capture", says=NOT_AN_INSTRUMENT, real=True)
def recording(bench: Bench) -> Ending:
    with wired(bench, "video", CAPTURE + RELAY):
        return soaked(bench)


@way("a text file as the probe", says=NOT_AN_INSTRUMENT, real=True)
def text_file(bench: Bench) -> Ending:
    with wired(bench, "cooling", TEXT_FILE + RELAY):
        return soaked(bench)


@way("a program on a pseudo-terminal as switch and thermometer", says=NOT_AN_INSTRUMENT, real=True)
def pseudo_terminal(bench: Bench) -> Ending:
    with wired(bench, "cooling", RELAY + THERMOMETER):
        return soaked(bench)


@way("a probe that touches nothing, no switch, nobody answers", never=True, real=True)
def nobody(bench: Bench) -> Ending:
    with wired(bench, "cooling", TEXT_FILE):
        return soaked(bench)


@way("a probe that touches nothing, a switch by hand, nobody there", never=True, real=True)
def nobody_at_the_switch(bench: Bench) -> Ending:
    with wired(bench, "cooling", HAND.format(wait_s=1) + TEXT_FILE):
        bench.edits("scripts/moment.toml", ("^not_after = .*", 'not_after = "1 min"'))
        return soaked(bench)


@way(
    "a probe that touches nothing, a switch by hand, Enter pressed unread",
    real=True,
    says=NOT_AN_INSTRUMENT + r"|by hand|operator's word|only witness|operator said",
)
def enter_pressed(bench: Bench) -> Ending:
    with wired(bench, "cooling", HAND.format(wait_s=60) + TEXT_FILE):
        with Terminal(bench.path, *RUN) as terminal:
            while terminal.until("(Enter when done)", *OVER) not in OVER:
                terminal.type("")
            code = terminal.ended()
        return last(bench, code)


@way("the bench's own folder as the stick, said to be bench only", never=True, real=True)
def wrong_stick(bench: Bench) -> Ending:
    with wired(bench, "storage", STICK.replace("{path}", "bench_only") + RELAY):
        return soaked(bench)


@way(
    "the bench's own folder as the stick, said to be in the unit",
    real=True,
    says=NOT_AN_INSTRUMENT + "|own disk|ordinary folder|a folder",
)
def folder_as_stick(bench: Bench) -> Ending:
    stick = STICK.replace("{path}", "through") + 'port = "usb"\n'
    with wired(bench, "storage", stick + RELAY):
        return soaked(bench)


@way(
    "says 'that was me' of every dropout",
    real=True,
    says=r"that was me|by the operator|operator's|own doing|notes?\b|not seen|was blind",
)
def that_was_me(bench: Bench) -> Ending:
    with wired(bench, "video", CAPTURE + RELAY, dark=DARK):
        with Terminal(bench.path, *RUN) as terminal:
            for _ in DARK:
                terminal.until("was lost")
                bench.types("note", "last", "I moved the plug", "--was-me", "--minutes", "0.05")
            code = terminal.ended()
        return last(bench, code)


@contextlib.contextmanager
def wired(
    bench: Bench, function: str, fixture: str, dark: tuple[tuple[int, int], ...] = ()
) -> Iterator[None]:
    """Wire the unit R1, whose one key function is `function`, to things that play instruments."""
    place = bench.path / "pretend"
    place.mkdir()
    (place / "stick").mkdir()
    (place / "degc.txt").write_text("23.5\n")
    if "{clip}" in fixture:
        make_clip(place / "clip.avi", dark)
    bench.writes("fixtures/models/clip-player.toml", SHEET + SPOT + FUNCTIONS[function])
    bench.writes("scripts/moment.toml", SCRIPT + CHECKS[function])
    bench.adds("R1", "CP-1", function, model="clip-player")
    with Relay(place / "relay") as relay, thermometer(place / "thermometer"):
        places = {"clip": place / "clip.avi", "stick": place / "stick", "text": place / "degc.txt"}
        places |= {"relay": relay.link, "thermometer": place / "thermometer"}
        bench.writes("fixtures/real.toml", 'name = "real"\n' + fixture.format(**places))
        yield


def make_clip(path: Path, dark: tuple[tuple[int, int], ...]) -> None:
    """Write a clip of fifty seconds: moving shades, black at some frames and from its tail on."""
    writer = cv2.VideoWriter(str(path), cv2.VideoWriter.fourcc(*"MJPG"), RATE_HZ, (320, 180))
    rows, columns = np.mgrid[0:180, 0:320]
    lost = {first + n for first, number in dark for n in range(number)} | set(range(TAIL, 1250))
    for number in range(1250):
        wave = (
            128 + 60 * np.sin((columns + 3 * number) / 25) + 40 * np.cos((rows - 2 * number) / 18)
        )
        frame = np.repeat(wave[..., None], 3, axis=2).clip(0, 255).astype(np.uint8)
        frame[60:100, (5 * number) % 280 : (5 * number) % 280 + 40] = (30, 60, 220)
        writer.write(np.full_like(frame, 2) if number in lost else frame)
    writer.release()


def soaked(bench: Bench) -> Ending:
    """Soak the unit R1 with nobody at the terminal."""
    return last(bench, bench.types(*RUN).code)


def last(bench: Bench, code: int) -> Ending:
    """Say how it ended, which may be before any soak began."""
    made = bench.reports("R1")
    if not made:
        return Ending(ready=False, grade="refused before the soak", code=code, text="")
    ending = bench.ends(made[-1].name)
    sold = bench.types("unit", "sold", "R1", "--where", "own shop")
    bench.told.append(f"sale: {sold.last}")
    return ending
