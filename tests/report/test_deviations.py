"""What departed from the script is said."""

from soak.records import Mark, Seal, Session
from soak.report.contents.sheet import gather


def test_an_undisturbed_soak_has_no_deviation(sheet):
    """Complete, in one session, every stretch done: none."""
    assert sheet.report.deviations == ("none",)


def test_stops_resumes_and_the_operators_own_doing_are_deviations(
    make_night, make_judgement, make_context
):
    """Each departure is one line with the soak it belongs to."""
    night = make_night()
    night.seal = Seal(28800.0, "stopped")
    night.begun.append(
        Session(2, "soak 1", "boot", "2026-03-02T01:00:00Z", 19000.0, 120.0, "boot clock")
    )
    night.marked += [
        Mark(21000.0, "note", "run", "", {"text": "pulled the plug", "was_me": True}),
        Mark(22000.0, "clock stepped", "", "", {"by_s": 3600.0}),
    ]
    said = gather(make_judgement(), [night], make_context(deviations=("lid open",))).report
    told = "\n".join(said.deviations)
    for words in ("lid open", "stopped by the operator", "resumed 1 time", "own doing", "clock"):
        assert words in told
    gap = next(hole for hole in said.soaks[0].holes if "between two sessions" in hole.why)
    assert (gap.source, gap.lasts) == ("the whole bench", "2 min")


def test_a_gap_of_unknown_length_is_not_given_one(make_night, make_judgement, make_context):
    """Where the clock ran backwards the report says unknown, not a number."""
    night = make_night()
    night.begun.append(Session(2, "soak 1", "b", "2026-03-02T01:00:00Z", 19000.0, None, "unknown"))
    said = gather(make_judgement(), [night], make_context()).report
    gap = next(hole for hole in said.soaks[0].holes if "between two sessions" in hole.why)
    assert gap.lasts == "unknown time"


def test_a_soak_that_was_cut_off_says_so(make_night, make_judgement, make_context):
    """Without a seal the soak is told as cut off, and has no hash to vouch for."""
    night = make_night()
    night.seal, night.file_sha256 = None, ""
    said = gather(make_judgement(), [night], make_context()).report
    assert said.soaks[0].ended == "cut off, not sealed"
    assert "not sealed" in said.deviations[0]


def test_a_trip_without_a_confirmed_off_is_the_worst_on_the_page(
    make_night, make_judgement, make_context
):
    """It stands before all else that failed, and the soak is not said to be stopped by a person."""
    night = make_night()
    night.seal = Seal(28800.0, "stopped")
    detail = {"source": "probe.heatsink", "value": 95.0, "limit": 90.0}
    night.marked.append(Mark(28700.0, "trip", "run", "", detail))
    night.marked = [m for m in night.marked if m.what != "power" or m.t_s < 28700.0]
    said = gather(make_judgement(), [night], make_context()).report
    assert "the switch never confirmed it" in said.failed[0]
    assert said.soaks[0].ended == "ended by the guard, which cut the power"
