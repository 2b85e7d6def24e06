"""The check `wiggle` and its rule: which movement opens a contact, cold and hot."""

import trio
from short_soak import soak

SWITCH = '[switch]\ndriver = "simulated"\n'
VIDEO = '[capture]\ndriver = "simulated"\nport = "video"\n'
USB = '[link]\ndriver = "simulated"\nport = "usb1"\n'
CURRENT = '[probe.supply]\ndriver = "simulated"\nunit = "A"\n'
HOT = {"spot": "heatsink", "above_degc": 40.0, "per_hour": 0}
LEFT_WHEN_HOT = {
    "contacts": {"video": {"moved_hot": 1.0, "moved_to": ["left"], "opens": HOT}},
}
COLD = {"port": "video", "repeats": 3}
WARM = {**COLD, "heat": "hot", "warm_up_s": 3600}
COUNTED = "wiggle/video cold"


def by_movement(found, requirement="wiggle/video cold") -> dict:
    return found.findings[f"it/{requirement}"].detail["by_movement"]


def test_a_contact_that_opens_to_the_left_when_hot_is_found_there_and_then(tmp_path):
    """Cold it is clean; hot only the left movement shows episodes, each of its three times."""
    cold = soak(tmp_path, SWITCH + VIDEO, {"wiggle": COLD}, LEFT_WHEN_HOT)
    assert cold.verdict("wiggle/video cold") == "met"
    hot = soak(tmp_path, SWITCH + VIDEO, {"wiggle": WARM}, LEFT_WHEN_HOT)
    assert hot.verdict("wiggle/video hot") == "not met"
    counts = by_movement(hot, "wiggle/video hot")
    assert counts["left"] >= 3
    assert {name for name, number in counts.items() if number} == {"left"}


def test_a_good_port_is_met_with_its_bound(tmp_path):
    """None in 21 movements of 10 s: below 3 / 210 s, that is 51.4 an hour, at 95 %.

    Expected: the one-sided bound -ln(0.05) / T of NIST/SEMATECH e-Handbook 8.4.5.1.
    """
    found = soak(tmp_path, SWITCH + VIDEO, {"wiggle": COLD})
    finding = found.findings["it/wiggle/video cold"]
    assert finding.verdict.value == "met"
    assert abs(finding.bound_high - 2.9957 / (210 / 3600)) < 0.5
    assert "one frame (17 ms)" in finding.because


def test_every_movement_comes_in_every_round_and_in_another_order(tmp_path):
    """Shuffled, so that neither hand nor unit keeps step with the list."""
    found = soak(tmp_path, SWITCH + VIDEO, {"wiggle": COLD})
    begun = [mark.detail for mark in found.marks if mark.what == "movement begins"]
    assert begun[0]["movement"] == "rest"
    rounds = [[one["movement"] for one in begun if one["repeat"] == n] for n in (1, 2, 3)]
    assert all(sorted(one) == sorted(rounds[0]) and len(set(one)) == 7 for one in rounds)
    assert len({tuple(one) for one in rounds}) > 1


def test_a_port_that_loses_it_at_rest_says_so(tmp_path):
    """With hands off it must be clean before moving means anything."""
    opens = {"per_hour": 60, "lasts_s": [1.0, 2.0]}
    scene = {"contacts": {"video": {"opens": opens}}}
    settings = {**COLD, "rest_s": 900}
    found = soak(tmp_path, SWITCH + VIDEO, {"wiggle": settings}, scene)
    assert found.verdict(COUNTED) == "not met"
    assert found.because(COUNTED).startswith("It loses it even at rest")


def test_moving_is_set_against_rest_by_the_exact_conditional_test(tmp_path):
    """With n in 210 s of moving, none in 60 s of rest: chance (210/270)^n.

    Expected: Przyborowski and Wilenski 1940, the binomial split of a sum of two Poisson counts.
    """
    scene = {"contacts": {"video": {"moved_cold": 1.0, "moved_hot": 1.0}}}
    found = soak(tmp_path, SWITCH + VIDEO, {"wiggle": COLD}, scene)
    finding = found.findings[f"it/{COUNTED}"]
    detail = finding.detail
    share = detail["moved_s"] / (detail["moved_s"] + detail["rest_s"])
    assert finding.value >= 21
    assert abs(detail["rest_against_moving"]["chance"] - share**finding.value) < 1e-9
    assert "conditional" in detail["rest_against_moving"]["method"]


def test_a_link_that_leaves_when_moved_is_found(tmp_path):
    """A USB port is watched by its link."""
    scene = {"contacts": {"usb1": {"moved_cold": 1.0, "moved_hot": 1.0, "moved_to": ["twist"]}}}
    settings = {"port": "usb1"}
    found = soak(tmp_path, SWITCH + USB, {"wiggle": settings}, scene)
    assert found.verdict("wiggle/usb1 cold") == "not met"
    assert "twist" in found.because("wiggle/usb1 cold")
    assert "left" not in found.because("wiggle/usb1 cold")


def test_a_power_inlet_is_watched_by_picture_and_current(tmp_path):
    """Nothing is plugged there but power: restarts and drops of the current tell."""
    found = soak(tmp_path, SWITCH + VIDEO + CURRENT, {"wiggle": {"port": "power"}})
    assert found.verdict("wiggle/power cold") == "met"
    (finding,) = found.findings.values()
    assert finding.requirement.params["sources"] == ["capture", "probe.supply"]
    assert finding.requirement.shows_repair == {"start"}


def test_a_port_that_nothing_watches_is_not_tested(tmp_path):
    """Nobody is asked to move a plug that nobody looks at."""
    found = soak(tmp_path, SWITCH + VIDEO, {"wiggle": {"port": "usb2"}})
    assert found.verdict("wiggle/usb2 cold") == "not tested"


def test_an_operator_who_went_away_after_a_round_leaves_it_not_shown(tmp_path):
    """Seven of 21 movements are no proof, and nobody waits for ever."""

    async def one_round(unit, question):
        if question.id.endswith("round 2"):
            await trio.sleep(question.wait_s)
            return None
        await trio.sleep(1.0)
        return "done"

    found = soak(tmp_path, SWITCH + VIDEO, {"wiggle": COLD}, answer=one_round)
    assert found.verdict(COUNTED) == "not shown"
    assert "only 7 of 21 movements" in found.because(COUNTED)


def test_the_card_says_force_static_and_type_c(tmp_path):
    """What the hand must know stands on the card, and the force on the record."""
    cards = []

    async def reading(unit, question):
        cards.append(question.text)
        await trio.sleep(1.0)
        return "done"

    settings = {**COLD, "force_n": 5.0, "repeats": 1}
    found = soak(tmp_path, SWITCH + VIDEO, {"wiggle": settings}, answer=reading)
    assert all(word in cards[0] for word in ("bare metal", "hand, about 5 N", "Type-C"))
    ends = [mark.detail["force"] for mark in found.marks if mark.what == "movement ends"]
    assert set(ends) == {"hand, about 5 N"}


def test_a_soak_stopped_at_a_question_ends_off_and_not_shown(tmp_path):
    """Ctrl-C while the operator is asked: power off, and nothing is claimed of the port."""

    async def thinking(unit, question):
        await trio.sleep(question.wait_s)

    found = soak(tmp_path, SWITCH + VIDEO, {"wiggle": COLD}, answer=thinking, stop_at_s=60.0)
    assert found.verdict(COUNTED) == "not shown"
    assert not found.unit.powered
