"""What is a loss of the picture is the same everywhere: to checks, screen, cues, judge and drawing.

Walks what model sheets may promise and what a capture may see. What is expected stands here in
words of its own, as the model sheet's key `picture_when_on` promises it.
"""

from io import StringIO

import pytest
from headers import placed, wanted_of
from made_up_soak import CYCLE_S, FIXTURE, OFF_S, SHEET, STARTS_S, TOOK_S, clean_night

from soak.checks.picture import PictureCheck, PictureSettings
from soak.checks.wiggle import Wiggle, WiggleSettings
from soak.derive.course import course_of
from soak.derive.events.faults import lost_by, unit_faults
from soak.live.against import Against
from soak.live.cues import Cues
from soak.live.window import Window
from soak.records import Mark, State
from soak.report.output.drawing import draw
from soak.run.plan import make_plan
from soak.run.script import Script, ScriptHead
from soak.run.so_far import SoFar

AT_S = STARTS_S + 3600.0
LASTS_S = 30.0
PROMISES = ("moving", "still", "may blank")
SEEN = ("picture", "frozen", "black", "no signal", "stalled", "other size", "blind")
SEEN = (*SEEN, "protected output")
NEVER = {"picture", "blind", "protected output"}
NOT_LOST = {
    "moving": NEVER,
    "still": NEVER | {"frozen"},
    "may blank": NEVER | {"frozen", "black"},
}
"""A picture that stands still is a fault where it should move, a black one where nothing blanks."""

walk = pytest.mark.parametrize(
    ("promise", "state"), [(promise, state) for promise in PROMISES for state in SEEN]
)


def sheet(promise: str) -> dict[str, object]:
    """Return a model sheet with this promise."""
    return {**SHEET, "picture_when_on": promise}


def night(promise: str, state: str, from_s: float = AT_S, lasts_s: float = LASTS_S):
    """Return a night in which the capture once saw this."""
    found = clean_night().with_header(model_sheet=sheet(promise))
    if state != "picture":
        found.spell("capture", from_s, from_s + lasts_s, state)
    return found


@walk
def test_the_judgement_holds_just_a_loss_against_the_unit(promise, state):
    """A spell of half a minute is a fault of the unit, or it is none."""
    found = unit_faults(course_of(night(promise, state)))
    assert bool(found) == (state not in NOT_LOST[promise])


@walk
def test_the_screen_says_the_same_at_once(promise, state):
    """Whoever looks at the screen is not told of a loss that the judgement does not find."""
    soak = night(promise, state)
    so_far = SoFar(soak.header)
    against = Against(soak.header, so_far.up_to)
    for record in sorted([*soak.mark_list, *soak.state_list], key=lambda one: one.t_s):
        against.notice(record)
        so_far.keep(record)
    assert bool(against.faults) == (state not in NOT_LOST[promise])


@walk
def test_the_cue_at_a_plug_says_the_same(promise, state):
    """Three bells for a loss, and for nothing else."""
    out, told = StringIO(), {"movement": "left", "cue": "left", "lasts_s": 10.0}
    cues = Cues(lost_by(night(promise, state).header), Window(out))
    cues.watch(Mark(10.0, "movement begins", "wiggle", "wiggle", told))
    cues.watch(State(12.0, "capture", state))
    assert ("LOST" in out.getvalue()) == (state not in NOT_LOST[promise])


@walk
def test_the_drawing_takes_the_same_for_a_part_of_the_start(promise, state):
    """Before the picture came a loss is drawn as starting; what is none is drawn as what it is."""
    on_s = 5 * CYCLE_S + OFF_S
    soak = night(promise, state, on_s + 1.0, TOOK_S - 2.0)
    (chart,) = [one.chart for one in draw(course_of(soak), 1) if one.chart.name == "s1-states"]
    drawn = state != "picture" and f" {state} " in f" {chart.about} "
    assert drawn == (state in NOT_LOST[promise] and state != "picture")


@walk
def test_what_a_check_demands_is_the_same(promise, state):
    """The states are frozen in the demand before anything is measured."""
    place = placed("run", FIXTURE, {**sheet(promise), "ports": {"video": {"kind": "video"}}})
    checks = (
        PictureCheck(PictureSettings(), place),
        Wiggle(WiggleSettings(port="video"), place),
    )
    for check in checks:
        bad = check.requirements()[0].params["bad"]
        assert (state in bad) == (state not in NOT_LOST[promise])


@walk
def test_a_plan_puts_the_same_into_the_header(promise, state):
    """Where no demand says what a loss is, the header does."""
    nothing = Script("", ScriptHead(name="nothing", not_after=60.0), ())
    unit = {"serial": "", "model": "x", "repairs": []}
    wanted = wanted_of("S", "J", unit, sheet(promise), FIXTURE, {}, 0, True)
    header = make_plan(nothing, wanted, {}).header
    assert (state in header.terms["bad"]) == (state not in NOT_LOST[promise])
    assert lost_by(header)["capture"] == frozenset(header.terms["bad"])
