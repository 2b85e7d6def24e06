"""The terminal of a running soak: in a pipe, on a screen, and on a very bad night."""

import io
import itertools
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime

import pyte
import pytest
from headers import header_with
from made_up_soak import demand
from recorded import header

from soak.derive.events.faults import UnitFault
from soak.live.against import SELDOM_S, Against
from soak.live.terminal import Terminal
from soak.live.window import Window
from soak.quantities import Quantity
from soak.records import Header, Mark, Observed, Reading, State
from soak.run.so_far import SoFar

ON_PORT = {"stretch": "run", "check": "transfer", "params": {"port": "usb1", "path": "through"}}

HEADER = header(
    model_sheet={"picture_when_on": "moving", "start_s": 5.0},
    fixture={
        "switch": {"driver": "played", "channel": "1"},
        "capture": {"port": "video"},
        "link": {"port": "usb1"},
        "stick": {"port": "usb1", "path": "through"},
        "probe": {"heatsink": {"spot": "heatsink", "unit": "degC"}},
    },
    simulated=False,
    quantities=(
        Quantity("probe.heatsink", "degC", "probe.heatsink", 0.1, 0.5),
        Quantity("transfer.stick.damaged", "B", "stick"),
        Quantity("transfer.stick.chunk_s", "s", "stick"),
        Quantity("link.speed", "Mb/s", "link"),
    ),
    requirements=(
        demand("no wrong data", "transfer.stick.damaged", 0.0, **ON_PORT),
        demand("no stall", "transfer.stick.chunk_s", 5.0, unit="s", **ON_PORT),
        demand("at least speed", "link.speed", 480.0, unit="Mb/s", stretch="run", check="link"),
        demand("at most", "probe.heatsink", 80.0, unit="degC", stretch="run", check="spots"),
    ),
)


class Screen(io.StringIO):
    """Text that a terminal was sent."""

    def isatty(self) -> bool:
        return True


class Fed:
    """A screen that gets the records of a soak, as the evidence does."""

    def __init__(self, out: io.StringIO, known: Header = HEADER, **expected_s: float) -> None:
        self._so_far = SoFar(known)
        self.against = Against(known, self._so_far.up_to)
        self._screen = Terminal(
            unit="K1",
            units={"probe.heatsink": "degC"},
            expected_s=expected_s or {"run": 600.0},
            utc_now=lambda: datetime(2026, 1, 5, 21, 0, tzinfo=UTC),
            against=self.against,
            window=Window(out),
        )

    def watch(self, *records: Observed) -> None:
        for record in records:
            self._screen.watch(record)
            self._so_far.keep(record)

    def waits(self, t_s: float) -> None:
        """Let two seconds of readings pass in which nothing is wrong."""
        for tenths in range(1, 25):
            self.watch(Reading(t_s + tenths / 10, "probe.heatsink", 40.0))


def begun(out: io.StringIO, t_s: float = 0.0, known: Header = HEADER) -> Fed:
    """Return a screen of a unit that is on and up."""
    found = Fed(out, known)
    found.watch(
        Mark(t_s, "stretch begins", "run"),
        Mark(t_s, "power", detail={"on": True, "channel": "1", "why": ""}),
        State(t_s, "capture", "no signal"),
        State(t_s, "stick", "seen"),
        State(t_s, "link", "seen"),
        State(t_s, "probe.heatsink", "seen"),
        State(t_s + 4.0, "capture", "picture"),
    )
    return found


def dropouts(screen: Fed, number: int, from_s: float = 10.0) -> None:
    """Let the picture go for half a second every four seconds."""
    for index in range(number):
        begin_s = from_s + 4 * index
        screen.watch(State(begin_s, "capture", "no signal"))
        screen.watch(State(begin_s + 0.5, "capture", "picture"))
        screen.waits(begin_s + 1.0)


def lines(out: io.StringIO, words: str) -> Sequence[str]:
    return [line for line in out.getvalue().splitlines() if words in line]


def test_a_pipe_gets_plain_lines_seldom():
    """Ten minutes of readings into a pipe: whole lines, no control codes, two of them."""
    out = io.StringIO()
    screen = begun(out)
    for t_s in range(600):
        screen.watch(Reading(float(t_s), "probe.heatsink", 41.5))
    printed = out.getvalue().splitlines()
    assert "\r" not in out.getvalue()
    assert "\x1b" not in out.getvalue()
    assert sum("left" in line for line in printed) == 2
    assert all(line.startswith("K1  ") for line in printed)


def seen_on(out: io.StringIO) -> str:
    """Return what stands on a screen that was sent this."""
    screen = pyte.Screen(80, 24)
    pyte.Stream(screen).feed(out.getvalue().replace("\n", "\r\n"))
    return " ".join(" ".join(screen.display).split())


@pytest.fixture
def screen_out(monkeypatch):
    """Return a terminal that can be written over, on a computer that takes its time."""
    monkeypatch.setenv("TERM", "xterm")
    clock = itertools.count(1)
    monkeypatch.setattr("soak.live.window.time.monotonic", lambda: float(next(clock)))
    return Screen()


def test_a_screen_keeps_what_is_true_now_at_its_foot(screen_out):
    """Readings replace one another; that the stretch begins stays above."""
    screen = begun(screen_out)
    for t_s in range(20):
        screen.watch(Reading(float(t_s), "probe.heatsink", 40.0 + t_s))
    text = seen_on(screen_out)
    assert text.count("heatsink") == 1
    assert "picture stick seen · link seen · heatsink 59.0 °C" in text
    assert "power on" in text
    assert text.index("stretch 'run' begins") < text.index("---") < text.index("K1 run")


def test_what_goes_on_stands_there_while_it_does(screen_out):
    """A loss of the picture, and a fault of the bench, until they are over."""
    screen = begun(screen_out)
    away = {"instrument": "servo", "what": "the servo does not answer"}
    screen.waits(98.0)
    screen.watch(State(100.0, "capture", "black"))
    screen.waits(100.0)
    screen.watch(Mark(102.5, "bench fault", "run", detail=away))
    foot = seen_on(screen_out).rpartition("---")[2]
    assert "picture lost (black)" in foot
    assert "and goes on" in foot
    assert "the servo does not answer" in foot
    assert "1 against it so far" in foot
    well = Mark(103.0, "bench well", "run", detail={"instrument": "servo"})
    screen.watch(State(103.0, "capture", "picture"), well, Reading(104.0, "probe.heatsink", 40.0))
    foot = seen_on(screen_out).rpartition("---")[2]
    assert "goes on" not in foot
    assert "does not answer" not in foot
    assert "1 against it so far" in foot


def test_a_bench_without_a_camera_speaks_of_no_picture(screen_out):
    """What is not wired sees nothing, and waits for nothing."""
    probe = {"probe": {"heatsink": {"spot": "heatsink", "unit": "degC"}}}
    screen = Fed(screen_out, header_with(HEADER, fixture=probe))
    screen.watch(Mark(0.0, "stretch begins", "run"), State(0.0, "probe.heatsink", "seen"))
    assert "picture" not in seen_on(screen_out)
    assert "heatsink: no reading yet" in seen_on(screen_out)


def test_time_left_counts_down_to_nothing(screen_out):
    """With 600 s expected, 150 s in, 7.5 min are left; later never less than none."""
    screen = begun(screen_out)
    screen.watch(Reading(150.0, "probe.heatsink", 40.0))
    assert "7.5 min left" in seen_on(screen_out) or "7 min 30 s left" in seen_on(screen_out)
    screen.watch(Reading(1000.0, "probe.heatsink", 40.0))
    assert " 0 s left" in seen_on(screen_out)


@pytest.mark.parametrize("out", [io.StringIO(), Screen()])
def test_the_word_ready_is_never_said_early(out):
    """Whatever arrives, the screen says what is against the unit, never that it is ready."""
    screen = begun(out)
    dropouts(screen, 3)
    for what in ("trip", "alarm", "off not proved", "operator left", "stretch ends", "rearmed"):
        detail = {"why": "why", "source": "x", "value": 1.0, "limit": 1.0}
        screen.watch(Mark(400.0, what, "run", detail=detail))
    screen.watch(Reading(900.0, "probe.heatsink", 40.0))
    assert "ready" not in out.getvalue().lower()


def test_nothing_against_it_is_said_as_so_far():
    """Without any event the preview promises nothing beyond now."""
    out = io.StringIO()
    begun(out).watch(Reading(1.0, "probe.heatsink", 40.0))
    assert "nothing against it so far" in out.getvalue()


def test_a_bad_night_does_not_bury_the_rest():
    """Of a hundred dropouts five are said, then once that there are more; all are counted."""
    out = io.StringIO()
    screen = begun(out)
    dropouts(screen, 100)
    screen.watch(Reading(700.0, "probe.heatsink", 40.0))
    printed = lines(out, "picture lost")
    assert len(printed) == 6
    assert "soak show" in printed[-1]
    assert "100 against it so far" in out.getvalue()


def test_the_next_stretch_speaks_again():
    """What was held back in one stretch is said anew in the next."""
    out = io.StringIO()
    screen = begun(out)
    dropouts(screen, 10)
    screen.watch(Mark(300.0, "stretch begins", "second"))
    dropouts(screen, 1, from_s=310.0)
    assert lines(out, "0:05:10  picture lost (no signal) for 0.50 s")


def test_one_kind_does_not_silence_another():
    """After many dropouts a wrong byte is still said."""
    out = io.StringIO()
    screen = begun(out)
    dropouts(screen, 50)
    screen.watch(Reading(230.0, "transfer.stick.damaged", 12.0))
    screen.waits(230.0)
    assert out.getvalue().splitlines()[-1].endswith("12 B came back wrong")


@pytest.mark.parametrize(
    ("record", "words"),
    [
        (State(100.0, "capture", "black"), "picture lost (black) for "),
        (State(100.0, "stick", "gone"), "stick gone from the port for "),
        (State(100.0, "link", "gone"), "the device left the port for "),
        (State(100.0, "stick", "stalled"), "the stick stalls"),
        (Reading(100.0, "transfer.stick.chunk_s", 6.5), "took 6.50 s, limit 5 s"),
        (Reading(100.0, "link.speed", 12.0), "the link is slow: full speed (12 Mb/s)"),
        (Reading(100.0, "transfer.stick.damaged", 3.0), "3 B came back wrong"),
    ],
)
def test_the_screen_knows_what_the_judgement_knows(record, words):
    """Whatever source saw it: within two seconds where it is one event, else within a minute."""
    out = io.StringIO()
    screen = begun(out)
    screen.watch(Reading(5.0, "link.speed", 480.0))
    screen.waits(98.0)
    before = out.getvalue()
    assert "nothing against" in before or "against" not in before
    screen.watch(record)
    if isinstance(record, Reading):
        screen.waits(100.0 + SELDOM_S)
    else:
        screen.waits(100.0)
    assert words in out.getvalue()


def test_readings_over_a_limit_are_told_within_a_minute():
    """Two in a row, as one alone may be garbled."""
    out = io.StringIO()
    screen = begun(out)
    for t_s in range(10, 10 + int(SELDOM_S) + 60):
        screen.watch(Reading(float(t_s), "probe.heatsink", 85.0 if t_s >= 40 else 70.0))
    assert lines(out, "heatsink read 85.0 °C, limit 80.0 °C")


def test_a_loss_that_lasts_is_told_while_it_does():
    """Nobody has to wait for its end, and it is one event still."""
    out = io.StringIO()
    screen = begun(out)
    screen.watch(State(100.0, "capture", "black"))
    for t_s in range(100, 400):
        screen.watch(Reading(float(t_s), "probe.heatsink", 40.0))
    assert len(lines(out, "picture lost (black)")) == 1
    assert lines(out, "and goes on")
    assert len(screen.against.faults) == 1


@pytest.mark.parametrize(
    ("what", "detail", "words"),
    [
        (
            "trip",
            {"source": "probe.heatsink", "value": 95.5, "limit": 90.0},
            "heatsink read 95.5 °C, its trip is 90.0 °C",
        ),
        ("silence", {"source": "probe.heatsink"}, "heatsink fell silent"),
        ("silence", {"source": "switch"}, "guard: the switch fell silent"),
        ("bench well", {"instrument": "switch"}, "bench: the switch works again"),
        ("rearmed", {"reason": "good readings for 60 s"}, "60 s; the power may come back"),
        ("host slept", {"for_s": 40.0}, "slept for 40 s"),
        ("clock stepped", {"by_s": -3600.0}, "set by -3600 s"),
    ],
)
def test_what_the_guard_did_says_which_probe_and_what_it_read(what, detail, words):
    """An operator who hears of it knows where to look, without a second command."""
    out = io.StringIO()
    begun(out).watch(Mark(10.0, what, "run", detail=detail))
    assert words in out.getvalue()


def test_a_trip_is_said_once():
    """What is both spoken and against the unit makes one line and one count."""
    out = io.StringIO()
    screen = begun(out)
    before = len(out.getvalue().splitlines())
    for t_s in (10.0, 10.5, 11.0):
        screen.watch(Reading(t_s, "probe.heatsink", 95.0))
    told = {"source": "probe.heatsink", "value": 95.0, "limit": 90.0}
    screen.watch(Mark(11.0, "trip", "run", detail=told))
    screen.waits(11.5)
    after = [line for line in out.getvalue().splitlines()[before:] if "trip is" in line]
    assert len(after) == 1
    assert [fault.kind for fault in screen.against.faults].count("trip") == 1


@pytest.mark.parametrize(
    ("what", "detail", "said"),
    [
        ("alarm", {"why": "because"}, ": because"),
        ("off not proved", {"by": "capture", "after_s": 10.0}, ": off not proved"),
    ],
)
def test_what_only_a_person_must_look_at_is_nothing_against_the_unit(what, detail, said):
    """It is said, and the judgement does not hold it against the unit."""
    out = io.StringIO()
    screen = begun(out)
    screen.watch(Mark(10.0, what, "run", detail=detail))
    screen.waits(10.0)
    assert len(lines(out, said)) == 1
    assert screen.against.faults == []


def test_the_return_of_a_silent_thermometer_is_said():
    """Whoever plugged it in again hears that it speaks, a minute before the power comes back."""
    out = io.StringIO()
    screen = begun(out)
    screen.watch(State(9.0, "probe.heatsink", "seen"))
    assert "speaks again" not in out.getvalue()
    screen.watch(State(10.0, "probe.heatsink", "blind"))
    screen.watch(Mark(10.0, "silence", "run", detail={"source": "probe.heatsink"}))
    screen.watch(State(13.0, "probe.heatsink", "seen"))
    assert out.getvalue().count("heatsink speaks again") == 1


def test_an_alarm_that_waits_for_the_bench_is_nothing_against_the_unit():
    """A relay that is away calls a person; the unit has done nothing."""
    out = io.StringIO()
    screen = begun(out)
    screen.watch(Mark(10.0, "alarm", "run", detail={"why": "plug it in", "waits": True}))
    screen.watch(Mark(99.0, "off not proved", "", detail={"by": "nothing", "after_s": 10.0}))
    assert "ALARM: plug it in" in out.getvalue()
    assert "not proved" not in out.getvalue()
    assert not screen.against.faults


def test_a_preview_that_breaks_ends_no_soak(monkeypatch):
    """It is said that it did, and all else goes on."""
    out = io.StringIO()
    screen = begun(out)

    def breaks(course):
        raise ZeroDivisionError("no such thing")

    monkeypatch.setattr("soak.live.against.all_events", breaks)
    screen.watch(State(100.0, "capture", "black"))
    screen.waits(100.0)
    assert lines(out, "MIND: what speaks against it cannot be told here (ZeroDivisionError")
    screen.watch(Mark(110.0, "alarm", "run", detail={"why": "pull its plug"}))
    assert lines(out, "ALARM: pull its plug")


def test_alarms_are_never_held_back():
    """The twentieth alarm is as loud as the first."""
    out = io.StringIO()
    screen = begun(out)
    for index in range(20):
        screen.watch(Mark(float(index), "alarm", detail={"why": "pull its plug"}))
    assert out.getvalue().count("ALARM: pull its plug") == 20


def against(*records: Observed, known: Header = HEADER) -> Sequence[UnitFault]:
    """Return what is known against a unit that was up after these records and a minute more."""
    screen = begun(io.StringIO(), known=known)
    screen.watch(*records)
    screen.waits(records[-1].t_s + SELDOM_S)
    return screen.against.faults


def power(t_s: float, *, on: bool) -> Mark:
    return Mark(t_s, "power", detail={"on": on, "channel": "1", "why": ""})


def test_a_picture_that_goes_with_the_power_is_no_event():
    """Switched off, or not yet started, the missing picture says nothing against the unit."""
    back = State(94.0, "capture", "picture")
    for gone_s in (59.7, 60.1):  # it may go before the switch has answered that it is off
        gone = State(gone_s, "capture", "no signal")
        off = sorted([power(60.0, on=False), gone], key=lambda one: one.t_s)
        assert against(*off, power(90.0, on=True), back) == []


def test_a_picture_that_goes_because_the_unit_is_pressed_off_is_nothing_against_it():
    """A soft stop is the script's doing; one that does not end is said."""
    stop = {"does": "stop", "held_s": 0.5, "from_s": 30.0, "why": "", "doubtful": False}
    ended = {"ended": True, "by": "capture", "after_s": 2.0, "limit_s": 30.0, "why": ""}
    gone = State(31.0, "capture", "no signal")
    pressed = Mark(30.0, "button", "run", detail=stop)
    off = Mark(32.0, "soft stop", "run", detail=ended)
    assert against(pressed, gone, off, power(33.0, on=False)) == []
    stuck = Mark(60.0, "soft stop", "run", detail={**ended, "ended": False, "after_s": 30.0})
    stops = demand("soft stops", stretch="run", params={"promised": 1, "stop_limit_s": 30.0})
    (fault,) = against(pressed, stuck, known=replace(HEADER, requirements=(stops,)))
    assert "its power was cut" in str(fault.text)


def test_a_makers_sign_that_goes_before_the_unit_is_up_is_part_of_the_start():
    """Until the usual time from power to picture nothing is charged, on the screen as later."""
    on, sign = power(90.0, on=True), State(91.0, "capture", "picture")
    off = [power(60.0, on=False), State(60.1, "capture", "no signal"), on, sign]
    dark, up = State(93.0, "capture", "black"), State(96.0, "capture", "picture")
    assert against(*off, dark, up) == []
    assert against(*off, dark, up, State(99.0, "capture", "black"))[0].from_s == 99.0


@pytest.mark.parametrize(
    ("source", "elsewhere"),
    [("stick", {"port": "usb1", "path": "bench_only"}), ("link", {"port": ""})],
)
def test_a_device_that_goes_speaks_against_the_unit_only_at_its_port(source, elsewhere):
    """In the bench's own computer it says nothing of the unit."""
    gone = State(9.0, source, "gone")
    apart = header_with(HEADER, fixture={**HEADER.fixture.as_json(), source: elsewhere})
    assert [fault.source for fault in against(gone)] == [source]
    assert against(gone, known=apart) == []


def test_a_plug_that_is_pulled_on_cue_is_nothing_against_the_unit():
    """From the question on, until the plug-in is on record, a hand is at it."""
    asked = Mark(8.0, "question", "run", "reseat", {"id": "1", "text": "", "expects": ""})
    pulled, back = State(9.0, "link", "gone"), State(19.0, "link", "seen")
    put = Mark(20.0, "plugged in", "run", "reseat", {"from_s": 8.0})
    assert against(asked, pulled, back, put) == []
    (fault,) = against(asked, pulled, back, put, State(30.0, "link", "gone"))
    assert fault.from_s == 30.0


def test_a_stretch_that_its_plan_ended_says_so_and_no_other_does():
    """The night is shorter than foretold: the operator hears why."""
    out = io.StringIO()
    screen = Fed(out)
    for stretch, because in (("starts", "accepted by plan"), ("run", "done")):
        screen.watch(Mark(0.0, "stretch begins", stretch))
        screen.watch(Mark(60.0, "stretch ends", stretch, detail={"because": because}))
    assert "stretch 'starts' ends: accepted by plan" in out.getvalue()
    assert "'run' ends" not in out.getvalue()
