"""What the report says about a night with one break, a hole and a repair that was not shown."""

from dataclasses import replace

import numpy as np
import pytest
from made_up_soak import clean_night

from soak.derive.course import course_of
from soak.judge.judging import judge_requirement
from soak.language import language
from soak.records import Mark, State
from soak.report.contents.context import SafetyTest
from soak.report.contents.sheet import gather
from soak.report.output.html import page
from soak.report.output.privacy import for_buyer
from soak.rules.capacity import HOLDS
from soak.rules.core.port import PortTerms
from soak.rules.core.verdict import Verdict


def test_the_grade_and_its_reason_are_the_judgements(sheet, make_judgement):
    """Nothing on the report's way changes grade, reason or open points."""
    judgement, said = make_judgement(), sheet.report.grade
    assert (said.ready, said.words) == (judgement.ready, judgement.grade)
    assert said.reason == f"{judgement.reason} {judgement.aside}"
    assert said.open_points == judgement.open_points


LYING_STICK = {"claims_bytes": 64e9, "tried_bytes": 16e9, "holds_bytes": 8e9, "wraps_bytes": 8e9}


def test_the_bench_reads_that_its_own_stick_lies(make_night, make_judgement, make_context):
    """A stick in the bench's computer tests no unit, yet what it lacks and what to do is told."""
    need = HOLDS.demand(
        PortTerms(path="bench_only"),
        id="run/transfer/holds",
        check="transfer",
        stretch="run",
        quantity="stick",
        limit=0.0,
    )
    mark = Mark(9000.0, "capacity", "run", "transfer", LYING_STICK)
    soak = make_night(requirements=(need,))
    soak.marked.append(mark)
    finding = judge_requirement(need, [soak])
    assert finding.verdict is Verdict.NOT_TESTED
    sheet = gather(make_judgement(findings=(finding,)), [soak], make_context())
    assert "The stick claims 64 GB, holds 8 GB" in page(sheet)
    assert "Take another stick." in page(sheet)
    assert "Take another stick." not in page(for_buyer(sheet))


def test_every_finding_stands_either_under_tested_or_under_not_tested(sheet, make_judgement):
    """No requirement disappears; what was not shown stands in both lists."""
    findings = make_judgement().findings
    tested = {one.id: one.verdict for one in sheet.report.tested}
    missing = {one.what for one in sheet.report.not_tested}
    for finding in findings:
        if finding.verdict is Verdict.NOT_TESTED:
            assert finding.requirement.id not in tested
        else:
            assert tested[finding.requirement.id] == finding.verdict.value
        shown = finding.verdict in (Verdict.MET, Verdict.NOT_MET)
        assert shown != (finding.requirement.text in missing)


def test_functions_that_nothing_exercises_are_listed_key_functions_first(sheet):
    """Sound has no check at all, the service port's evidence had holes: both are said."""
    listed = [one.what for one in sheet.report.not_tested]
    assert listed[0] == "plays sound"
    assert sheet.report.not_tested[0].key
    assert "reads its service port" in listed
    assert "shows its picture" not in listed


def test_why_something_was_not_tested_is_said_once(sheet):
    """The reason stands behind `not tested`, not behind `not tested: Not tested`."""
    link = next(one for one in sheet.report.not_tested if "device at the port" in one.what)
    assert link.why == "no link is wired"


def test_a_repair_is_shown_only_by_a_requirement_that_was_met(
    make_night, make_context, make_judgement, sheet
):
    """The video repair is not shown by its failed requirement, and is by one that was met."""
    assert [one.shown_by for one in sheet.report.repairs] == [(), ()]
    better = [replace(one, verdict=Verdict.MET) for one in make_judgement().findings]
    shown = gather(make_judgement(findings=better), [make_night()], make_context()).report
    assert shown.repairs[0].shown_by == (better[1].requirement.text,)


def test_counts_stand_large_and_their_bound_small_without_a_forecast(sheet):
    """63 of 63 is the large text; 4.6 % is the small one, as a bound on what was counted."""
    starts = sheet.report.counts[0]
    assert starts.large == "63 of 63 starts worked"
    # 1 - 0.05**(1/63) = 4.64 %: success-run theorem, 1 - C = R^n.
    assert "below 4.6 %" in starts.small
    assert "95 % confidence" in starts.small
    assert "forecast" not in starts.small  # the page says it once, under all counts
    assert page(sheet).count("not a forecast") == 1
    assert "%" not in starts.large


def test_wear_is_what_the_journal_shows(sheet):
    """63 starts; 60 of 60 s, two of 100 s and the last until 28795 s; 600 chunks of 4 MB."""
    wear = sheet.report.soaks[0].wear
    assert wear.starts == 63
    last_on_s = 60 * 90 + 3 * 700 + 2 * 100
    assert wear.powered_s == pytest.approx(60 * 60 + 2 * 100 + 28795 - last_on_s)
    assert wear.written_bytes == 600 * 4e6


def test_what_the_bench_did_not_see_is_listed_once_with_its_cause(sheet):
    """State and mark of the same fault are one line, with both causes."""
    holes = sheet.report.soaks[0].holes
    assert len(holes) == 1
    assert (holes[0].source, holes[0].from_s, holes[0].lasts) == ("capture", 17999.0, "10 min 01 s")
    assert "/dev/video2 vanished" in holes[0].why


def test_all_charts_that_have_data_are_drawn_in_both_widths(sheet):
    """Temperature, starts, states and speed: each chart of the content has its two drawings."""
    names = [chart.name for chart in sheet.report.soaks[0].charts]
    assert names == ["s1-degc", "s1-starts", "s1-states", "s1-speed"]
    for name in names:
        assert 'width="720"' in sheet.drawings[name].wide(language("en"))
        assert 'width="360"' in sheet.drawings[name].narrow(language("en"))


def test_the_words_of_a_chart_tell_its_figures(sheet):
    """Who cannot see the charts reads the highest temperature and the break."""
    about = {chart.name: chart.about for chart in sheet.report.soaks[0].charts}
    assert "outside, warmest spot: highest 5" in about["s1-degc"]
    assert "63 starts, 0 of them without a picture" in about["s1-starts"]
    assert "black 1 time, 0.35 s in all" in about["s1-states"]


def test_without_a_record_the_safety_test_is_not_done(sheet, make_sheet):
    """Blank is NOT DONE; done names who, when, how and the result."""
    assert sheet.report.safety.words == "Electrical safety test: NOT DONE"
    test = SafetyTest("B. Dunlin", "2026-03-02", "IEC 62911:2016", "passed")
    done = make_sheet(safety_test=test).report.safety
    assert done.done
    for words in ("B. Dunlin", "2026-03-02", "IEC 62911:2016", "passed"):
        assert words in done.words


def test_the_smallest_break_is_unknown_where_nobody_proved_it(sheet):
    """The capture was challenged, the stick was not: both are said."""
    said = {one.source: one.smallest for one in sheet.report.smallest_breaks}
    assert said == {"capture": "0.10 s", "stick": "unknown"}


def test_unwiped_data_is_said(sheet):
    """A model that holds data and has no record of removal says so."""
    assert sheet.report.unit.wiped == "no record that data was removed"


def test_a_missing_picture_is_named_and_not_an_error(make_night, make_judgement, make_context):
    """A picture that is gone, or is none, keeps its line with the reason."""
    night = make_night()
    night.files = [(night.files[0][0], b""), (night.files[1][0], b"<svg onload=alert(1)>")]
    frames = gather(make_judgement(), [night], make_context()).report.soaks[0].frames
    assert "missing" in frames[0].problem
    assert "not a JPEG or PNG" in frames[1].problem


def test_one_instrument_only_gives_a_report_that_says_what_is_missing(
    make_night, make_judgement, make_context
):
    """With a thermometer alone there is a report, and it says that nobody watched the picture."""
    fixture = {"name": "one", "probe": {"case": {"driver": "number_file", "spot": "outside"}}}
    night = make_night(fixture=fixture)
    night.said, night.marked, night.files = [], [], []
    said = gather(make_judgement(findings=()), [night], make_context()).report
    assert any("nobody watched the picture" in one for one in said.known_limits)
    assert said.tested == ()


def test_the_report_id_changes_with_what_is_said(sheet, make_sheet):
    """The same content has the same id; one changed word has another."""
    assert make_sheet().report.report_id == sheet.report.report_id
    assert make_sheet(condition="as found").report.report_id != sheet.report.report_id
    assert sheet.report.end.endswith(sheet.report.report_id)


def test_a_report_of_no_soak_is_refused(make_judgement, make_context):
    """Nothing soaked, nothing to report."""
    with pytest.raises(ValueError, match="at least one soak"):
        gather(make_judgement(), [], make_context())


def test_of_hundreds_of_pictures_those_of_the_failure_are_shown(
    make_night, make_judgement, make_context
):
    """Pictures of every start do not crowd out the first one and the one of the break."""
    night = make_night()
    (first, data), (broken, _) = night.files
    crowd = [(replace(broken, t_s=100.0 + at, name=f"n{at}.jpg"), data) for at in range(300)]
    night.files = [(first, data), *crowd, (broken, data)]
    frames = gather(make_judgement(), [night], make_context()).report.soaks[0].frames
    assert [frame.at for frame in frames] == ["0:01:00", "4:00:00"]


def test_the_pictures_of_a_fine_fault_that_counts_are_shown(
    make_night, make_judgement, make_context
):
    """Before, during and after a lost colour, named as what they are."""
    night = make_night()
    (first, data), (broken, _) = night.files
    fine = [
        replace(
            broken, t_s=14400.0 + at, name=f"f{at}.jpg", detail={"shows": shows, "state": "tint"}
        )
        for at, shows in enumerate(("before", "during", "after"))
    ]
    night.files = [(first, data), *((one, data) for one in fine)]
    frames = gather(make_judgement(), [night], make_context()).report.soaks[0].frames
    assert [frame.shows.split(" –")[0] for frame in frames[1:]] == [
        "before (tint)",
        "during (tint)",
        "after (tint)",
    ]


def test_the_benchs_page_tells_what_the_capture_delivered(make_night, make_judgement, make_context):
    """Counts are added up over the runs of the watcher; the buyer's page leaves them out."""
    night = make_night()
    told = [(60.0, 3596, 1, 1200), (120.0, 7192, 2, 2400), (3600.0, 3590, 4, 7)]
    for t_s, pictures, lost, repeated in told:
        about = {"pictures": pictures, "lost": lost, "repeated": repeated, "damaged": 0}
        detail = {**about, "period_s": 1001 / 60000}
        night.said.append(State(t_s, "capture.stream", "learned", 0.0, detail))
    night.readings["capture.unchanged"] = (np.array([300.0, 900.0]), np.array([20.0, 720.0]))
    sheet = gather(make_judgement(), [night], make_context())
    report = sheet.report
    assert for_buyer(sheet).report.soaks[0].stream == ""
    assert report.soaks[0].stream == (
        "59.940 (60000/1001) pictures a second, 6 lost of 10788, 2407 repeated exactly, 0 damaged, "
        "unchanged for up to 12 min"
    )
    assert language("de").say(report.soaks[0].stream) == (
        "59,940 (60000/1001) Bilder in der Sekunde, 6 verloren von 10788, 2407 genau wiederholt, "
        "0 beschädigt, bis zu 12 min lang unverändert"
    )


def test_what_presses_moves_and_draws_is_named_among_the_instruments():
    """Whoever reads how a port was moved finds what moved it."""
    from soak.report.contents.context import ReportContext
    from soak.report.contents.telling import instruments

    bench = {"bench": "B", "issued_utc": "2026-01-05T08:00:00Z", "version": "0"}
    context = ReportContext(**bench)
    fixture = {
        "load": {"driver": "serial_text", "current_a": 0.5},
        "button": {"driver": "serial_press", "identity": {"port": "/dev/ttyUSB1"}},
        "servo": {"driver": "serial_servo", "force_n": 5.0},
    }
    course = course_of(clean_night().with_header(fixture=fixture))
    found = {one.name: one for one in instruments([course], context)}
    assert list(found) == ["load", "button", "servo"]
    assert found["button"].identity == ("port: /dev/ttyUSB1",)
    assert "force_n: 5.0" in found["servo"].notes
