"""The terminal of a running soak: in a pipe, on a screen, and on a very bad night."""

import io
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from recorded import header

from soak.live.against import Against
from soak.live.terminal import Terminal
from soak.records import Mark, Reading, State

HEADER = header(
    model_sheet={"picture_when_on": "moving", "start_s": 5.0},
    fixture={
        "capture": {"port": "video"},
        "link": {"port": "usb1"},
        "stick": {"port": "usb1", "path": "through"},
    },
)


class Screen(io.StringIO):
    """Text that a terminal was sent."""

    def isatty(self) -> bool:
        return True


def terminal(out: io.StringIO, **expected_s: float) -> Terminal:
    return Terminal(
        unit="K1",
        units={"probe.heatsink": "degC"},
        expected_s=expected_s or {"run": 600.0},
        utc_now=lambda: datetime(2026, 1, 5, 21, 0, tzinfo=UTC),
        against=Against(HEADER),
        out=out,
    )


def begun(out: io.StringIO, t_s: float = 0.0) -> Terminal:
    """Return a terminal with the unit on and its picture seen."""
    found = terminal(out)
    found.watch(Mark(t_s, "stretch begins", "run"))
    found.watch(Mark(t_s, "power", detail={"on": True}))
    found.watch(State(t_s, "capture", "picture"))
    return found


def dropouts(screen: Terminal, number: int, from_s: float = 10.0) -> None:
    for index in range(number):
        screen.watch(State(from_s + index, "capture", "no signal"))
        screen.watch(State(from_s + index + 0.5, "capture", "picture"))


def test_a_pipe_gets_plain_lines_seldom():
    """Ten minutes of readings into a pipe: whole lines, no control codes, two of them."""
    out = io.StringIO()
    screen = begun(out)
    for t_s in range(600):
        screen.watch(Reading(float(t_s), "probe.heatsink", 41.5))
    lines = out.getvalue().splitlines()
    assert "\r" not in out.getvalue()
    assert "\x1b" not in out.getvalue()
    assert sum("left" in line for line in lines) == 2
    assert all(line.startswith("K1  ") for line in lines)


def test_a_screen_keeps_one_line_up_to_date():
    """On a terminal the line is written over, at most every two seconds."""
    out = Screen()
    screen = begun(out)
    for t_s in range(20):
        screen.watch(Reading(float(t_s), "probe.heatsink", 40.0 + t_s))
    written = out.getvalue()
    assert 9 <= written.count("\r\x1b[K") <= 12
    assert written.count("\n") == 1  # that the stretch begins stays
    assert "heatsink 58.0 °C" in written.rpartition("\r")[2]


def test_time_left_counts_down_to_nothing():
    """With 600 s expected, 150 s in, 7.5 min are left; later never less than none."""
    out = Screen()
    screen = begun(out)
    screen.watch(Reading(150.0, "probe.heatsink", 40.0))
    assert "7.5 min left" in out.getvalue() or "7 min 30 s left" in out.getvalue()
    screen.watch(Reading(1000.0, "probe.heatsink", 40.0))
    assert "-" not in out.getvalue().rpartition("\r")[2].replace("\x1b[K", "")


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
    lines = [line for line in out.getvalue().splitlines() if "was lost" in line]
    assert len(lines) == 6
    assert "soak show" in lines[-1]
    assert "100 against it so far" in out.getvalue()


def test_the_next_stretch_speaks_again():
    """What was held back in one stretch is said anew in the next."""
    out = io.StringIO()
    screen = begun(out)
    dropouts(screen, 10)
    screen.watch(Mark(300.0, "stretch begins", "second"))
    dropouts(screen, 1, from_s=310.0)
    assert out.getvalue().splitlines()[-1].endswith("was lost (no signal)")


def test_one_kind_does_not_silence_another():
    """After many dropouts a wrong byte is still said."""
    out = io.StringIO()
    screen = begun(out)
    dropouts(screen, 50)
    screen.watch(Reading(200.0, "transfer.stick.damaged", 12.0))
    assert out.getvalue().splitlines()[-1].endswith("12 wrong bytes")


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


@pytest.mark.parametrize("what", ["trip", "alarm", "off not proved"])
def test_an_event_is_said_once(what):
    """What is both spoken and against the unit makes one line and one count."""
    out = io.StringIO()
    screen = begun(out)
    before = len(out.getvalue().splitlines())
    screen.watch(Mark(10.0, what, "run", detail={"why": "because"}))
    after = [line for line in out.getvalue().splitlines()[before:] if "left" not in line]
    assert len(after) == 1
    assert len(screen.against.said) == 1


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
    assert screen.against.said == []


def test_alarms_are_never_held_back():
    """The twentieth alarm is as loud as the first."""
    out = io.StringIO()
    screen = begun(out)
    for index in range(20):
        screen.watch(Mark(float(index), "alarm", detail={"why": "pull its plug"}))
    assert out.getvalue().count("ALARM: pull its plug") == 20


def test_a_picture_that_goes_with_the_power_is_no_event():
    """Switched off, or not yet started, the missing picture says nothing against the unit."""
    out = io.StringIO()
    screen = terminal(out)
    screen.watch(Mark(0.0, "power", detail={"on": True}))
    screen.watch(State(0.1, "capture", "no signal"))
    screen.watch(State(20.0, "capture", "picture"))
    screen.watch(Mark(60.0, "power", detail={"on": False}))
    screen.watch(State(60.1, "capture", "no signal"))
    assert screen.against.said == []


def test_a_picture_that_goes_because_the_unit_is_pressed_off_is_nothing_against_it():
    """A soft stop is the script's doing; one that does not end is said."""
    against = Against(HEADER)
    power = {"on": True, "channel": "1", "why": ""}
    stop = {"does": "stop", "held_s": 0.5, "from_s": 30.0, "why": "", "doubtful": False}
    against.notice(Mark(0.0, "power", detail=power))
    against.notice(State(20.0, "capture", "picture"))
    against.notice(Mark(30.0, "button", detail=stop))
    assert against.notice(State(31.0, "capture", "no signal")) == ""
    ended = {"ended": False, "by": "", "after_s": 30.0, "limit_s": 30.0, "why": ""}
    assert "did not go off" in against.notice(Mark(60.0, "soft stop", detail=ended))


def on_since(t_s: float = 0.0, **wired: object) -> Against:
    """Return what is gathered of a unit that has power and has just shown its picture."""
    against = Against(replace(HEADER, fixture={**HEADER.fixture, **wired}))
    against.notice(Mark(t_s, "power", detail={"on": True}))
    against.notice(State(t_s + 1.0, "capture", "picture"))
    return against


def test_a_makers_sign_that_goes_before_the_unit_is_up_is_part_of_the_start():
    """Until the usual time from power to picture nothing is charged, on the screen as later."""
    against = on_since()
    assert against.notice(State(3.0, "capture", "black")) == ""
    against.notice(State(6.0, "capture", "picture"))
    assert "was lost" in against.notice(State(9.0, "capture", "black"))


@pytest.mark.parametrize(
    ("source", "elsewhere"),
    [("stick", {"port": "usb1", "path": "bench_only"}), ("link", {"port": ""})],
)
def test_a_device_that_goes_speaks_against_the_unit_only_at_its_port(source, elsewhere):
    """In the bench's own computer it says nothing of the unit."""
    gone = State(9.0, source, "gone")
    assert "port" in on_since().notice(gone)
    assert on_since(**{source: elsewhere}).notice(gone) == ""


def test_a_plug_that_is_pulled_on_cue_is_nothing_against_the_unit():
    """From the question on, until the plug-in is on record, a hand is at it."""
    against = on_since()
    against.notice(Mark(8.0, "question", "ports", "reseat", {"id": "1", "text": "", "expects": ""}))
    assert against.notice(State(9.0, "link", "gone")) == ""
    against.notice(Mark(20.0, "plugged in", "ports", "reseat", {"from_s": 8.0}))
    assert "port" in against.notice(State(30.0, "link", "gone"))


def test_a_stretch_that_its_plan_ended_says_so_and_no_other_does():
    """The night is shorter than foretold: the operator hears why."""
    out = io.StringIO()
    screen = terminal(out)
    for stretch, because in (("starts", "accepted by plan"), ("run", "done")):
        screen.watch(Mark(0.0, "stretch begins", stretch))
        screen.watch(Mark(60.0, "stretch ends", stretch, detail={"because": because}))
    assert "stretch 'starts' ends: accepted by plan" in out.getvalue()
    assert "'run' ends" not in out.getvalue()
