"""The rules on a link, on plug-ins and on a port's voltage: met, not met, not shown, not tested."""

from dataclasses import replace

import numpy as np
import pytest
from made_up_soak import FIXTURE, HOT_S, QUANTITIES, STARTS_S, MadeUpSoak, clean_night, demand

from soak.judge.judging import judge_requirement
from soak.language import language
from soak.quantities import Quantity
from soak.records import Requirement, State
from soak.rules.core.finding import Finding
from soak.rules.core.verdict import Verdict
from soak.rules.port_power import PORT_VOLTAGE
from soak.rules.reseat import RESEATS

ENDS_S = STARTS_S + HOT_S
LATER_S = STARTS_S + 6000.0
VOLTS = Quantity("probe.usb5v", "V", "probe.usb5v", 0.001, 0.02)
WIRED = {
    **FIXTURE,
    "link": {"driver": "usb_link", "port": "usb1", "identity": {"cannot": {}}},
    "load": {"driver": "serial_text", "at_port": "usb1", "current_a": 0.5},
    "probe": {
        **FIXTURE["probe"],
        "usb5v": {"driver": "x", "unit": "V", "spot": "", "at_port": "usb1"},
    },
}
LINKED = frozenset({"link"})
LOADED = {"settles_s": 1.0, "promised": 3}
BETWEEN = {**LOADED, "low_v": 4.75, "high_v": 5.25}
DEMANDS = {
    "link stayed": demand("link stayed", "link", 0.0, needs=LINKED),
    "at least speed": demand(
        "at least speed", "link.speed", 5000.0, unit="Mb/s", needs=LINKED, params={"settles_s": 2.0}
    ),
    "link events": demand("link events", "link.resets", 0.0, needs=LINKED),
    "reseats": demand(
        "reseats",
        "link",
        0.0,
        needs=LINKED,
        params={"plug": "usual", "side": "", "promised": 5, "seen_within_s": 10.0, "dwell_s": 5.0},
    ),
    "port voltage": demand(
        "port voltage", VOLTS.name, 4.75, unit="V", guarded=True, params=BETWEEN
    ),
    "port droop": demand("port droop", VOLTS.name, 0.33, unit="V", guarded=True, params=LOADED),
}


def night() -> MadeUpSoak:
    """Return a night with a link that stays, five good plug-ins and three loads of a good port."""
    soak = clean_night().with_header(fixture=WIRED, quantities=(*QUANTITIES, VOLTS))
    soak.state_list.append(State(0.0, "link", "seen"))
    soak.state_list.append(State(0.0, VOLTS.name, "seen"))
    t_s = np.arange(1.0, ENDS_S, 60.0)
    soak.readings["link.speed"] = (t_s, np.full_like(t_s, 5000.0))
    soak.readings["link.resets"] = (np.array([0.5]), np.array([0.0]))
    for number in range(5):
        plug_in(soak, LATER_S + 100 + 60 * number, number=number + 1)
    volts(soak, 5.05, 4.95)
    return soak


def plug_in(soak: MadeUpSoak, t_s: float, **given: object) -> None:
    good = {"plug": "usual", "side": "", "pulled": True, "seen": True, "held": True}
    good |= {"blind": False, "took_s": 1.0, "speed_mbps": 480.0, "from_s": t_s - 10}
    soak.mark(t_s, "plugged in", "hot run", "reseat", **{**good, **given})


def volts(soak: MadeUpSoak, open_v: float, loaded_v: float) -> None:
    """Put the load on three times for a minute; the port gives these voltages."""
    soak.mark_list = [mark for mark in soak.mark_list if mark.what != "load"]
    t_s = np.arange(0.0, ENDS_S, 1.0)
    value = np.full_like(t_s, open_v)
    for number in range(3):
        on_s = STARTS_S + 1000.0 + 200 * number
        soak.mark(on_s, "load", "hot run", "port_power", on=True)
        soak.mark(on_s + 60, "load", "hot run", "port_power", on=False)
        value[(t_s >= on_s) & (t_s < on_s + 60)] = loaded_v
    soak.readings[VOLTS.name] = (t_s, value)


def judged(rule: str, soak: MadeUpSoak) -> Finding:
    need: Requirement = DEMANDS[rule]
    return judge_requirement(need, [soak.demanding(need)])


def slow(soak: MadeUpSoak) -> None:
    t_s, value = soak.readings["link.speed"]
    soak.readings["link.speed"] = (t_s, np.where(t_s > LATER_S, 480.0, value))


def reset(soak: MadeUpSoak) -> None:
    soak.readings["link.resets"] = (np.array([0.5, LATER_S]), np.array([0.0, 1.0]))


SPOILT = {
    "link stayed": lambda soak: soak.spell("link", LATER_S, LATER_S + 5, "gone"),
    "at least speed": slow,
    "link events": reset,
    "reseats": lambda soak: plug_in(soak, LATER_S + 900, number=6, seen=False, held=False),
    "port voltage": lambda soak: volts(soak, 5.0, 4.6),
    "port droop": lambda soak: volts(soak, 5.2, 4.8),
}
TOO_FEW = {
    "link stayed": lambda soak: soak.spell("link", LATER_S, LATER_S + 3000, "blind"),
    "at least speed": lambda soak: soak.readings.pop("link.speed"),
    "link events": lambda soak: soak.spell("link", LATER_S, LATER_S + 3000, "blind"),
    "reseats": lambda soak: soak.mark_list.remove(soak.marks("plugged in")[0]),
    "port voltage": lambda soak: volts(soak, 5.0, 4.76),
    "port droop": lambda soak: soak.mark_list.remove(soak.marks("load")[0]),
}
every_rule = pytest.mark.parametrize("rule", sorted(DEMANDS))


@every_rule
def test_a_good_port_meets_each_demand(rule):
    """The finding says why in a sentence, and how it was found."""
    finding = judged(rule, night())
    assert finding.verdict == Verdict.MET, finding.because
    assert finding.because.endswith(".")
    assert finding.method


@every_rule
def test_its_fault_is_not_met_with_a_place_to_look(rule):
    """What the rule is for makes it not met, by a margin below 0."""
    soak = night()
    SPOILT[rule](soak)
    finding = judged(rule, soak)
    assert finding.verdict == Verdict.NOT_MET, finding.because
    assert finding.pointers
    assert finding.margin < 0


def test_plug_ins_read_as_so_many_of_so_many():
    """A bare "1" and "at most 0" say neither what was counted nor out of how many."""
    soak = night()
    SPOILT["reseats"](soak)
    finding, need = judged("reseats", soak), DEMANDS["reseats"]
    assert RESEATS.reads.found(finding) == "5 of 6 worked"
    assert RESEATS.reads.limit(need, RESEATS.terms_of(need)) == "none may fail"


@every_rule
def test_too_little_evidence_is_not_shown(rule):
    """Blindness, missing plug-ins, or a value inside the meter's accuracy: neither way."""
    soak = night()
    TOO_FEW[rule](soak)
    assert judged(rule, soak).verdict == Verdict.NOT_SHOWN


@pytest.mark.parametrize("rule", ["link stayed", "at least speed", "link events", "reseats"])
def test_without_a_link_it_is_not_tested(rule):
    """No instrument, no finding against anybody."""
    bare = night().with_header(fixture=FIXTURE)
    assert judged(rule, bare).verdict == Verdict.NOT_TESTED


def test_what_the_host_does_not_see_is_not_tested():
    """A log that may not be read tells of no resets: that is not the same as none."""
    link = {**WIRED["link"], "identity": {"cannot": {"resets": "the log is closed"}}}
    finding = judged("link events", night().with_header(fixture={**WIRED, "link": link}))
    assert finding.verdict == Verdict.NOT_TESTED
    assert "the log is closed" in finding.because


def test_a_speed_for_a_moment_after_an_arrival_is_part_of_it():
    """Devices may come up slowly first and then take the faster pairs."""
    soak = night()
    soak.spell("link", LATER_S, LATER_S + 5, "gone")
    t_s = np.array([1.0, LATER_S + 5.1, LATER_S + 5.6])
    soak.readings["link.speed"] = (t_s, np.array([5000.0, 480.0, 5000.0]))
    assert judged("at least speed", soak).verdict == Verdict.MET


def test_a_reset_while_a_hand_is_at_the_plug_is_not_charged():
    """Plugging on cue makes the host reset: that is the hand's."""
    soak = night()
    when_s = soak.marks("plugged in")[0].t_s - 5
    soak.readings["link.resets"] = (np.array([0.5, when_s]), np.array([0.0, 1.0]))
    assert judged("link events", soak).verdict == Verdict.MET


@pytest.mark.parametrize("given", [{"pulled": False}, {"blind": True}])
def test_a_plug_in_that_could_not_be_followed_counts_for_nothing(given):
    """It replaces none of the promised ones and is no failure."""
    soak = night()
    plug_in(soak, LATER_S + 900, number=6, seen=False, held=False, **given)
    finding = judged("reseats", soak)
    assert finding.verdict == Verdict.MET
    assert finding.detail["unclear"] == 1


def test_the_limit_of_a_ports_voltage_is_two():
    """A page that printed the lower one alone called 5.4 V good."""
    terms = PORT_VOLTAGE.terms_of(DEMANDS["port voltage"])
    limit = PORT_VOLTAGE.reads.limit(DEMANDS["port voltage"], terms)
    assert limit == "between 4.75 V and 5.25 V"
    assert language("de").say(limit) == "zwischen 4,75 V und 5,25 V"


@pytest.mark.parametrize(
    ("open_v", "loaded_v", "margin"), [(5.0, 4.6, "0.15 V short"), (5.4, 5.0, "0.15 V over")]
)
def test_a_voltage_outside_its_limits_says_on_which_side(open_v, loaded_v, margin):
    """4.6 V is 0.15 V short of 4.75 V, and 5.4 V is 0.15 V over 5.25 V (by hand)."""
    soak = night()
    volts(soak, open_v, loaded_v)
    finding = judged("port voltage", soak)
    assert finding.verdict == Verdict.NOT_MET
    assert PORT_VOLTAGE.reads.margin(finding) == margin


@pytest.mark.parametrize(
    ("stated", "text"),
    [
        ({"current_a": 0.5}, "The port gives 4.75 to 5.25 V with 0.5 A drawn and with none"),
        ({}, "The port gives 4.75 to 5.25 V with its load and with none"),
    ],
)
def test_the_demand_on_a_ports_voltage_names_the_current_where_it_is_stated(stated, text):
    """It names no current that nobody stated."""
    need = replace(DEMANDS["port voltage"], params={**BETWEEN, **stated})
    assert PORT_VOLTAGE.demands(need, PORT_VOLTAGE.terms_of(need)) == text


@pytest.mark.parametrize(
    ("quantity", "counted", "said"),
    [
        ("link.resets", 2.0, "2 resets by the host."),
        ("link.descriptor_failures", 3.0, "3 failed readings of the descriptor."),
        ("link.over_current", 1.0, "1 over-current at the port."),
    ],
)
def test_events_are_counted_in_their_plural(quantity, counted, said):
    """Two resets are not "2 reset by the hosts"."""
    soak = night()
    soak.readings[quantity] = (np.array([0.5, LATER_S]), np.array([0.0, counted]))
    need = demand("link events", quantity, 0.0, needs=LINKED)
    assert judge_requirement(need, [soak.demanding(need)]).because == said


def test_why_a_link_cannot_count_is_told_though_a_later_soak_gives_no_reason():
    """An earlier soak's reason outlasts one that only lacks the readings."""
    need = demand("link events", "link.over_current", 0.0, needs=LINKED)
    later = night().demanding(need)
    link = {**WIRED["link"], "identity": {"cannot": {"over_current": "this hub hides it"}}}
    first = later.with_header(soak_id="S0", fixture={**WIRED, "link": link})
    assert judge_requirement(need, [first, later]).why == "this hub hides it"
