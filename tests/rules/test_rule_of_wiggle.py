"""The rule on moved plugs, on evidence made up for it: what counts, and what the bench missed."""

import numpy as np
import pytest
from made_up_soak import FIXTURE, STARTS_S, MadeUpSoak, clean_night, demand

from soak.derive.course import course_of
from soak.errors import JournalError
from soak.judge.before.saw import Measures, saw
from soak.judge.judging import judge_requirement
from soak.language import language
from soak.records import State
from soak.rules.core.verdict import Finding
from soak.rules.wiggle import NO_EPISODE_WHEN_MOVED
from soak.words import Message

MOVEMENTS = ["up", "down", "left", "right", "in", "out", "twist"]
BEGIN_S = STARTS_S + 600.0
REST_S, DWELL_S, PAUSE_S = 60.0, 10.0, 3.0
PARAMS = {
    "port": "power",
    "heat": "cold",
    "sources": ["capture", "probe.supply"],
    "bad": ["black", "no signal", "frozen", "stalled", "other size"],
    "movements": MOVEMENTS,
    "repeats": 1,
    "dwell_s": DWELL_S,
    "pause_s": PAUSE_S,
    "rest_s": REST_S,
    "moved_by": "hand",
    "force_n": 8.0,
    "episode_gap_s": 2.0,
    "usual_start_s": 20.0,
}


def begins_s(movement: str) -> float:
    """Return when a movement of the round begins."""
    return BEGIN_S + REST_S + PAUSE_S + MOVEMENTS.index(movement) * (DWELL_S + PAUSE_S)


def wiggled(port: str = "power", leave_out: str = "") -> MadeUpSoak:
    """Return a clean night in which a plug was moved once round, supply current 0.85 A."""
    probe = {**FIXTURE["probe"], "supply": {"unit": "A"}}
    soak = clean_night()
    soak = soak.with_header(fixture={**FIXTURE, "probe": probe, "link": {"port": "usb1"}})
    cues = [("rest", BEGIN_S, REST_S), *((m, begins_s(m), DWELL_S) for m in MOVEMENTS)]
    for movement, at_s, lasts_s in cues:
        if movement != leave_out:
            what = {"port": port, "movement": movement, "repeat": 1}
            told = {"cue": movement, "lasts_s": lasts_s}
            soak.mark(at_s, "movement begins", "hot run", "wiggle", **what, **told)
            soak.mark(at_s + lasts_s, "movement ends", "hot run", "wiggle", **what)
    t_s = np.arange(0.0, soak.ends_s, 1.0)
    soak.readings["probe.supply"] = (t_s, np.full(len(t_s), 0.85))
    soak.state_list.append(State(0.0, "probe.supply", "seen"))
    soak.state_list.append(State(0.0, "link", "seen"))
    return soak


def judged(soak: MadeUpSoak, **params: object) -> Finding:
    wanted = demand(
        "no episode when moved", check="wiggle", confidence=0.95, params={**PARAMS, **params}
    )
    return judge_requirement(wanted, [soak.demanding(wanted)])


def test_a_clean_round_is_met():
    """Seven movements and a quiet rest: nothing against the port."""
    finding = judged(wiggled())
    assert finding.verdict.value == "met", finding.because
    assert finding.detail["moved_s"] == pytest.approx(70.0)


def test_a_restart_while_the_power_plug_is_moved_counts():
    """The picture goes and is back after the time of a start: the plug let go of the power."""
    soak = wiggled()
    at_s = begins_s("twist") + 2
    soak.spell("capture", at_s, at_s + 22, "no signal")
    soak.spell("stick", at_s, at_s + 22, "gone")  # data that went on crossing would disprove it
    finding = judged(soak)
    assert finding.verdict.value == "not met"
    assert finding.detail["by_movement"]["twist"] == 1
    assert "restarted" in finding.pointers[0].what


def test_a_current_below_half_counts_and_one_above_does_not():
    """Half, as IEC 60512-2-5 takes half of the voltage for a break."""
    soak = wiggled()
    t_s, ampere = soak.readings["probe.supply"]
    ampere[(t_s >= begins_s("left") + 3) & (t_s < begins_s("left") + 4)] = 0.40
    ampere[(t_s >= begins_s("up") + 3) & (t_s < begins_s("up") + 4)] = 0.45
    finding = judged(soak)
    counts = {name: n for name, n in finding.detail["by_movement"].items() if n}
    assert counts == {"left": 1}


def test_a_link_that_falls_to_a_lower_speed_counts():
    """It stays, and carries less: a contact of the fast pair opened."""
    soak = wiggled("usb1")
    at_s = begins_s("in") + 4
    soak.readings["link.speed"] = (np.array([100.0, at_s]), np.array([480.0, 12.0]))
    finding = judged(soak, port="usb1", sources=["link"])
    assert finding.verdict.value == "not met"
    assert "link fell to 12 Mb/s" in finding.pointers[0].what


def test_what_shows_as_the_hand_lets_go_belongs_to_the_movement():
    """A loss in the pause is charged to what came before it."""
    soak = wiggled()
    at_s = begins_s("right") + DWELL_S + 1
    soak.spell("capture", at_s, at_s + 0.3, "black")
    assert judged(soak).detail["by_movement"]["right"] == 1


def test_bounces_that_lie_close_together_are_one_episode():
    """A contact bounces: three breaks within two seconds are counted once."""
    soak = wiggled()
    for at in range(3):
        at_s = begins_s("down") + 2 + at
        soak.spell("capture", at_s, at_s + 0.2, "no signal")
    finding = judged(soak)
    assert finding.value == 1


def test_a_movement_in_which_the_bench_was_blind_counts_for_nothing():
    """Neither for the port nor against it."""
    soak = wiggled()
    soak.spell("capture", begins_s("left"), begins_s("left") + DWELL_S, "blind")
    finding = judged(soak)
    assert finding.verdict.value == "not shown"
    assert "left" in finding.because


def test_a_movement_that_was_not_made_is_missed():
    """Six of seven are no round."""
    finding = judged(wiggled(leave_out="twist"))
    assert finding.verdict.value == "not shown"
    assert "only 6 of 7 movements" in finding.because


def test_movements_of_another_port_do_not_count():
    """Two ports are wiggled in stretches that may bear one name."""
    finding = judged(wiggled("video"))
    assert finding.verdict.value == "not shown"
    assert "nobody moved the plug" in finding.because


def test_a_demand_that_cannot_be_read_is_passed_over_in_tables():
    """A table of moved plugs leaves out what another version demanded; its judgement says so."""
    good = demand("no episode when moved", check="wiggle", params=PARAMS)
    newer = demand("no episode when moved", check="wiggle", params={**PARAMS, "shaken": True})
    assert [need for need, _ in NO_EPISODE_WHEN_MOVED.legible([newer, good])] == [good]
    with pytest.raises(JournalError, match=r"no episode when moved .*shaken is unknown"):
        list(NO_EPISODE_WHEN_MOVED.among([newer, good]))
    finding = judge_requirement(newer, [wiggled().demanding(newer)])
    assert finding.verdict.value == "not shown"
    assert "shaken" in finding.because


def test_an_intake_whose_demand_cannot_be_read_is_refused():
    """Its movements would count as quiet time with hands off."""
    newer = demand("no episode when moved", check="wiggle", params={**PARAMS, "shaken": True})
    with pytest.raises(JournalError, match="shaken is unknown"):
        saw(course_of(wiggled().demanding(newer)), Measures())


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"shaken": True}, "(shaken ist unbekannt)"),
        ({"repeats": "often"}, "(der Wert von repeats ist unmöglich)"),
        ({"movements": None}, "(movements fehlt)"),
    ],
)
def test_what_cannot_be_read_of_a_demand_is_said_in_the_readers_language(changed, said):
    """Nothing but the key stands there as it is written."""
    params = {name: value for name, value in {**PARAMS, **changed}.items() if value is not None}
    newer = demand("no episode when moved", check="wiggle", params=params)
    finding = judge_requirement(newer, [wiggled().demanding(newer)])
    assert said in language("de").say(finding.because)


def test_figures_beside_a_finding_are_data_and_no_sentences():
    """They are written into records as they stand, in whatever language the page is."""
    assert not [one for one in judged(wiggled()).detail.values() if isinstance(one, Message)]


def test_quiet_says_its_bound_as_a_rate():
    """The bound beside the count is one per hour, and said as that."""
    finding = judged(wiggled())
    assert "less often than 1 bout in" in NO_EPISODE_WHEN_MOVED.reads.bound(finding)


def test_two_sights_of_one_loss_are_one_episode_that_names_both():
    """The picture goes and the link with it: one episode, each said once."""
    soak = wiggled("usb1")
    at_s = begins_s("up") + 2
    soak.spell("link", at_s, at_s + 0.5, "gone")
    soak.spell("capture", at_s, at_s + 0.5, "black")
    finding = judged(soak, port="usb1", sources=["capture", "link"])
    assert finding.value == 1
    assert finding.pointers[0].what == "up (1): picture lost (black); link gone"
