"""The check `reseat`: a hand that does as it is asked, one that does not, and plugs that fail."""

import trio
from short_soak import soak

from soak.judge.explain.timeline import events

SWITCH = '[switch]\ndriver = "simulated"\n'
LINK = '[link]\ndriver = "simulated"\nport = "usb1"\ncable = "lead 3"\n'


async def hand(unit, question):
    """Pull the plug, count to three, put it back, confirm."""
    unit.pull("usb1")
    await trio.sleep(3.0)
    unit.plug("usb1")
    await trio.sleep(1.0)
    return "done"


async def lazy_hand(unit, question):
    """Confirm without moving anything."""
    await trio.sleep(4.0)
    return "done"


async def no_hand(unit, question):
    """Never answer."""
    await trio.sleep(question.wait_s)
    return


def plugged(found) -> list:
    return [mark.detail for mark in found.marks if mark.what == "plugged in"]


def test_each_plug_in_of_a_good_port_works(tmp_path):
    """Twenty with the usual plug and five with a new one, counted apart."""
    found = soak(tmp_path, SWITCH + LINK, {"reseat": {}}, answer=hand)
    assert found.verdict("reseat/usual plug") == "met"
    assert found.verdict("reseat/new plug") == "met"
    assert found.because("reseat/usual plug") == "20 of 20 plug-ins worked."
    assert len(plugged(found)) == 25


def test_the_share_that_may_still_fail_stands_beside_the_count(tmp_path):
    """0 of 20 at 95 %: below 13.91 % (Clopper-Pearson, 1 - 0.05^(1/20))."""
    found = soak(tmp_path, SWITCH + LINK, {"reseat": {"new_plug_times": 0}}, answer=hand)
    finding = found.findings["it/reseat/usual plug"]
    assert finding.value == 0
    assert round(finding.bound_high, 4) in (0.1391, 0.1684)  # one-sided; two-sided 1 - 0.025^(1/20)


def test_both_ways_up_of_a_type_c_plug_are_counted_apart(tmp_path):
    """Each way up has contacts of its own."""
    settings = {"type_c": True, "times": 4, "new_plug_times": 2}
    found = soak(tmp_path, SWITCH + LINK, {"reseat": settings}, answer=hand)
    ids = [name for name in found.findings if "/reseat/" in name]
    assert ids == [
        "it/reseat/usual plug one way up",
        "it/reseat/usual plug the other way up",
        "it/reseat/new plug one way up",
        "it/reseat/new plug the other way up",
    ]
    assert [detail["side"] for detail in plugged(found)].count("one way up") == 6


def test_a_port_that_fails_some_plug_ins_is_found(tmp_path):
    """What does not come within the limit has failed."""
    scene = {"link": {"plug_fails": 0.3}}
    found = soak(tmp_path, SWITCH + LINK, {"reseat": {}}, scene, answer=hand)
    assert found.verdict("reseat/usual plug") == "not met"
    assert "nothing came within 10 s" in found.because("reseat/usual plug")
    failed = [one for one in plugged(found) if one["plug"] == "usual" and not one["seen"]]
    told = [one for one in events(found.evidence) if one.kind == "plug-in"]
    assert len(failed) > 1
    assert [str(one.text)[:-26] for one in told] == [f"plug-in {one['number']}" for one in failed]


def test_a_port_that_comes_up_slower_is_found_where_speed_is_demanded(tmp_path):
    """It works each time, and at full speed it does not."""
    scene = {"link": {"plug_falls": 0.4}}
    slow = soak(tmp_path, SWITCH + LINK, {"reseat": {}}, scene, answer=hand)
    assert slow.verdict("reseat/usual plug") == "met"
    settings = {"at_least_speed_mbps": 480.0}
    found = soak(tmp_path, SWITCH + LINK, {"reseat": settings}, scene, answer=hand)
    assert found.verdict("reseat/usual plug") == "not met"
    assert "came up at 12 Mb/s" in found.because("reseat/usual plug")


def test_a_contact_that_opens_with_hands_off_did_not_hold(tmp_path):
    """Seen and lost again within the dwell is no working plug-in."""
    scene = {"contacts": {"usb1": {"opens": {"per_hour": 60, "lasts_s": [1.0, 2.0]}}}}
    settings = {"dwell_s": 60, "times": 10, "new_plug_times": 0}
    found = soak(tmp_path, SWITCH + LINK, {"reseat": settings}, scene, answer=hand)
    assert found.verdict("reseat/usual plug") == "not met"
    assert "hands off" in found.because("reseat/usual plug")


def test_a_plug_that_nobody_pulled_counts_for_nothing(tmp_path):
    """Neither for the unit nor against it: not shown."""
    found = soak(tmp_path, SWITCH + LINK, {"reseat": {"times": 3}}, answer=lazy_hand)
    assert found.verdict("reseat/usual plug") == "not shown"
    assert not any(detail["pulled"] for detail in plugged(found))


def test_an_operator_who_went_away_ends_it(tmp_path):
    """Nobody answers: it ends at once, and what is missing is not shown."""
    found = soak(tmp_path, SWITCH + LINK, {"reseat": {}}, answer=no_hand)
    assert found.verdict("reseat/usual plug") == "not shown"
    assert plugged(found) == []


def test_plugging_on_cue_is_no_leaving(tmp_path):
    """A link check beside it does not charge the unit for the hand."""
    checks = {"reseat": {"times": 6, "new_plug_times": 0}, "link": {}}
    found = soak(tmp_path, SWITCH + LINK, checks, answer=hand)
    assert found.verdict("link/stays") != "not met"


def test_a_new_plug_does_not_wear_the_usual_one(tmp_path):
    """The bench's cable is named in each mark, a second plug as what it is."""
    settings = {"times": 2, "new_plug_times": 1}
    found = soak(tmp_path, SWITCH + LINK, {"reseat": settings}, answer=hand)
    assert [detail["cable"] for detail in plugged(found)] == ["lead 3", "lead 3", "new plug"]


def test_a_port_that_nothing_watches_is_not_tested(tmp_path):
    """A link at another port says nothing of this one."""
    found = soak(tmp_path, SWITCH + LINK, {"reseat": {"port": "usb2"}}, answer=hand)
    assert found.verdict("reseat/usual plug") == "not tested"


def test_the_card_says_force_dwell_and_static(tmp_path):
    """What the hand must know stands on the card itself."""
    cards = []

    async def reading_hand(unit, question):
        cards.append(question.text)
        return await hand(unit, question)

    settings = {"times": 2, "new_plug_times": 0, "force": "about 15 N"}
    soak(tmp_path, SWITCH + LINK, {"reseat": settings}, answer=reading_hand)
    assert "bare metal" in cards[0]
    assert "static" in cards[0]
    assert all("about 15 N" in card and "Hands off for 5 s" in card for card in cards)
