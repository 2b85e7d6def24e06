"""Jobs made up so that reports say much: good, failing, disturbed, cut off, moved, hardly wired."""

import dataclasses
from dataclasses import asdict

from made_up_report import context, sheet_of
from made_up_soak import STARTS_S, clean_night, fail_start

from soak.judge.grade import judge
from soak.records import Seal, Session
from soak.report.contents.context import SafetyTest
from soak.report.contents.sheet import Sheet, gather
from soak.rules.answered import ANSWERED, USUAL, AnsweredTerms
from soak.rules.core.hourly import HourlyTerms
from soak.rules.limits import AT_LEAST, AT_MOST, NO_TRIP, TripTerms
from soak.rules.picture import DROPOUTS_PER_HOUR, NO_DROPOUT, NO_RESTART
from soak.rules.rise import RISE_AT_MOST
from soak.rules.starts import OFF_PROVED, STARTS
from soak.rules.stick import STICK_STAYED
from soak.rules.tail import FAILURE_FREE
from soak.rules.transfer import NO_STALL, NO_WRONG_DATA, SPEED_KEPT
from soak.rules.wiggle import NO_EPISODE_WHEN_MOVED
from soak.terms import LossTerms, MovedTerms, SpotTerms, StartTerms

WHERE = {"check": "picture", "stretch": "hot run"}
TESTED = SafetyTest("B. Dunlin", "2026-03-02", "own tester", "passed")


def demands():
    """Return what a night is asked, by rules of every section of a page."""
    lost = LossTerms(bad=("black", "no signal"), usual_start_s=20.0)
    heat = {"check": "spots", "stretch": "hot run", "unit": "degC"}
    probe = {"quantity": "probe.outside", **heat}
    data = {"check": "transfer", "stretch": "hot run", "limit": 0.0}
    picture = {"quantity": "capture", "limit": 0.0, "confidence": 0.95, **WHERE}
    starts = {"check": "power_cycles", "stretch": "starts", "limit": 0.0, "confidence": 0.95}
    asked = {"check": "look", "stretch": "starts"}
    stick = "transfer.stick"
    return [
        STARTS.demand(StartTerms(), id="starts", shows_repair=frozenset({"start"}), **starts),
        OFF_PROVED.demand(OFF_PROVED.terms(), id="off", **{**starts, "confidence": None}),
        NO_DROPOUT.demand(lost, id="dropout", shows_repair=frozenset({"video"}), **picture),
        NO_RESTART.demand(lost, id="restart", **picture),
        DROPOUTS_PER_HOUR.demand(
            HourlyTerms(**asdict(lost)), id="short", **{**picture, "limit": 1.0}
        ),
        FAILURE_FREE.demand(lost, id="tail", quantity="capture", limit=7200.0, **WHERE),
        NO_WRONG_DATA.demand(
            NO_WRONG_DATA.terms(over="port"), id="data", quantity=f"{stick}.damaged", **data
        ),
        NO_STALL.demand(
            NO_STALL.terms(), id="stall", quantity=f"{stick}.chunk_s", **{**data, "limit": 5.0}
        ),
        SPEED_KEPT.demand(
            SPEED_KEPT.terms(), id="speed", quantity=f"{stick}.speed", **{**data, "limit": 0.6}
        ),
        STICK_STAYED.demand(
            STICK_STAYED.terms(), id="stick", quantity="stick", confidence=0.95, **data
        ),
        AT_MOST.demand(SpotTerms(spot="lid"), id="hot", limit=70.0, guarded=True, **probe),
        AT_LEAST.demand(SpotTerms(spot="lid"), id="cold", limit=12.5, **probe),
        RISE_AT_MOST.demand(
            RISE_AT_MOST.terms(spot="lid", ambient="probe.ambient"),
            id="rise",
            limit=40.0,
            **{**probe, "unit": "K"},
        ),
        NO_TRIP.demand(
            TripTerms(spot="lid", source="probe.outside", trip_degc=80.0),
            id="trip",
            quantity="probe.outside",
            limit=0.0,
            check="spots",
            stretch="hot run",
        ),
        *(
            ANSWERED.demand(
                AnsweredTerms(text=str(question)), id=name, quantity=f"starts/{name}", **asked
            )
            for name, question in USUAL.items()
        ),
    ]


SHEET = {
    "model": "Ferrow SP-40",
    "kind": "Abspieler",
    "picture_when_on": "moving",
    "start_s": 20.0,
    "mains": False,
    "disk": False,
    "lithium_cell": False,
    "holds_data": True,
    "functions": {
        "video": {"text": "zeigt Bilder", "key": True, "check": "picture"},
        "start": {"text": "startet", "key": True, "check": "power_cycles"},
        "sound": {"text": "macht Ton", "check": ""},
        "net": {"text": "geht ins Netz", "check": "link"},
    },
}
REPAIR = {"what": "Buchse", "function": "video", "kind": "Sturz", "on": "2026-01-03"}
WIPED = {"how": "Reset", "verified": "Menü", "by": "Ada", "on": "2026-01-04"}


def good(soak_id: str = "S1", utc: str = "2026-01-05T21:00:00Z", **changed):
    """Return a good unit's night with everything that a person adds to it."""
    soak = clean_night(soak_id, utc)
    unit = {"serial": "KY-1", "tag": "K1", "repairs": [REPAIR], "wiped": WIPED}
    known = {"model_sheet": SHEET, "unit": unit, **changed}
    soak = soak.with_header(requirements=tuple(demands()), **known)
    for at, (name, question) in enumerate(USUAL.items()):
        said = {"id": f"starts/{name}", "by": "Ada"}
        soak.mark(3.0 + at, "question", "starts", "look", text=str(question), **said)
        soak.mark(4.0 + at, "answer", "starts", "look", answer="yes", **said)
    soak.mark(20.0, "note", "starts", text="Licht an", by="Ada")
    return soak


def failing():
    """Return a night with losses, restarts, a failed start, wrong data and too much heat."""
    soak = good()
    fail_start(soak, 7)
    for at in range(4):
        from_s = STARTS_S + 1800 * (at + 1)
        soak.spell("capture", from_s, from_s + 2.5, "black")
    soak.spell("capture", STARTS_S + 12_000, STARTS_S + 12_025, "no signal")
    soak.spell("stick", STARTS_S + 9000, STARTS_S + 9010, "gone")
    t_s, degc = soak.readings["probe.outside"]
    soak.readings["probe.outside"] = (t_s, degc + 30.5)
    t_s, damaged = soak.readings["transfer.stick.damaged"]
    damaged[500] = 4096.0
    return soak


def disturbed():
    """Return a night in which the bench was blind, resumed, and the operator had a hand in it."""
    soak = good(simulated=False)
    soak.spell("capture", STARTS_S + 2000, STARTS_S + 4000, "blind")
    soak.spell("capture", STARTS_S + 5000, STARTS_S + 5600, "protected output")
    soak.fault(STARTS_S + 2000, "capture", "/dev/video2")
    soak.fault(STARTS_S + 6000, "switch", "stumm")
    soak.mark(STARTS_S + 6100, "power", on=True, channel="1", why="")
    soak.mark(STARTS_S + 7000, "note", "hot run", text="Stecker gezogen", by="Ada", was_me=True)
    soak.mark(STARTS_S + 7500, "clock stepped", by_s=3600.0)
    soak.session_list.append(
        Session(2, "0", "b", "2026-01-06T01:00:00Z", STARTS_S + 8000.0, None, "unknown")
    )
    soak.seal = Seal(soak.ends_s, "stopped")
    soak.mark_list = [
        dataclasses.replace(mark, detail={"because": "stopped"})
        if mark.what == "stretch ends" and mark.stretch == "hot run"
        else mark
        for mark in soak.mark_list
    ]
    return soak


def moved():
    """Return a night in which the video plug was moved by a servo and let go twice."""
    ways = ("up", "down", "left", "right", "in", "out", "twist")
    terms = MovedTerms(
        port="video",
        heat="hot",
        sources=("capture",),
        bad=("black", "no signal"),
        movements=ways,
        repeats=1,
        dwell_s=10.0,
        rest_s=60.0,
        moved_by="servo",
        force_n=5.0,
    )
    soak = good()
    wiggle = {"check": "wiggle", "stretch": "hot run"}
    demand = NO_EPISODE_WHEN_MOVED.demand(terms, id="moved", limit=0.0, confidence=0.95, **wiggle)
    soak = soak.with_header(requirements=(*soak.header.requirements, demand))
    at_s = STARTS_S + 600.0
    for way, lasts_s in (("rest", 60.0), *((way, 10.0) for way in ways)):
        told = {"port": "video", "movement": way, "repeat": 1, "by": "servo"}
        soak.mark(at_s, "movement begins", cue=way, lasts_s=lasts_s, **wiggle, **told)
        soak.mark(at_s + lasts_s, "movement ends", **wiggle, **told)
        if way in ("left", "twist"):
            soak.spell("capture", at_s + 2, at_s + 3.5, "black")
        at_s += lasts_s + 3
    return soak


def cut_off():
    """Return a night without a seal, of a model of another kind, its stick on the bench."""
    sheet = {**SHEET, "picture_when_on": "still", "holds_data": False, "functions": {}}
    soak = good(model_sheet=sheet)
    fixture = {**soak.header.fixture.as_json(), "stick": {"driver": "folder", "path": "bench_only"}}
    soak = soak.with_header(fixture=fixture, unit={"serial": "", "repairs": [], "wiped": None})
    soak.seal = None
    return soak


def narrowed(*left_out):
    """Return a night by a claim that may leave the sound out, though it is a key function."""
    sound = {**SHEET["functions"]["sound"], "key": True}
    sheet = {**SHEET, "functions": {**SHEET["functions"], "sound": sound}}
    return good(model_sheet=sheet, references={"left_out": left_out})


DETAILS = {
    "deviations": ("Deckel offen",),
    "known_defects": ("Kratzer am Deckel",),
    "condition": "gut",
    "address": "Hafen 4",
    "authorised_by": "A. Fulmar",
}


def told_of(*soaks, **more) -> Sheet:
    """Judge soaks and gather their sheet."""
    return gather(judge(list(soaks)), list(soaks), context(**{**DETAILS, **more}))


def watched_by_nobody() -> Sheet:
    """Return the sheet of a soak with a thermometer alone."""
    fixture = {"name": "eins", "probe": {"case": {"driver": "by_hand", "spot": "ambient"}}}
    return told_of(good(fixture=fixture), challenges=(), earlier_soaks=(), recall_checked_on="")


JOBS = {
    "everything": lambda: sheet_of(safety_test=TESTED),
    "ready": lambda: told_of(good(), safety_test=TESTED, recall_checked_on="2026-01-03"),
    "narrowed": lambda: told_of(narrowed("sound")),
    "narrowed late": lambda: told_of(narrowed(), left_out=("sound", "net", "video")),
    "failed": lambda: told_of(failing(), claim="tested"),
    "disturbed": lambda: told_of(disturbed(), grade_keeps_days=1),
    "moved": lambda: told_of(moved()),
    "cut off": lambda: told_of(cut_off(), bench="", address="", authorised_by=""),
    "second": lambda: told_of(good("S1"), good("S2", "2026-01-07T21:00:00Z"), earlier_soaks=()),
    "one instrument": watched_by_nobody,
}
