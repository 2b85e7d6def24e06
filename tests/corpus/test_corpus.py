"""What the judge makes of the stored journals is what it made of them when they were frozen."""

import json
from collections import Counter
from dataclasses import replace

import freeze
import numpy as np
import pytest
import stored
from adapter import rule_names
from stored import EXPECTED, Job, dumped, families, jobs_of

from soak.checks.base import all_checks
from soak.journal import MemoryJournal
from soak.marks import MARKS
from soak.records import Reading
from soak.sim.scene import scene_names
from soak.states import UNSEEN

MOST_TOLD = 60
VERDICTS = ("met", "not met", "not shown")
NEVER_AGAINST = {"heat cycles", "off proved"}
"""Rules about the bench, which never speak against a unit."""


def every_result():
    """Return all expected grades and findings."""
    return [one for family in families() for one in freeze.expected(family).items()]


def every_header():
    """Return the headers of all stored journals, as plain data."""
    jobs = [job for family in families() for job in jobs_of(family)]
    return [json.loads(next(iter(lines))) for job in jobs for lines in job.journals.values()]


@pytest.mark.parametrize("family", families())
def test_what_the_judge_makes_of_it_is_unchanged(family):
    """Grade, verdict, figures and places of each finding are those that are written down."""
    told = list(freeze.differences(freeze.expected(family), freeze.found(jobs_of(family))))
    lines = [str(one) for one in told[:MOST_TOLD]]
    assert not told, "\n".join([f"{len(told)} differences", *lines, freeze.HOW])


def test_a_margin_is_that_of_the_criterion_that_decides():
    """Nothing that is met lies over its limit, and nothing that is not met has any to spare."""
    told = [(one["verdict"], one["margin"]) for _, one in every_result() if "margin" in one]
    assert [margin for verdict, margin in told if verdict == "met" and margin < 0] == []
    assert [margin for verdict, margin in told if verdict == "not met" and margin > 0] == []


def test_each_expected_file_belongs_to_a_family():
    """No expectation is left behind that nothing is compared with."""
    assert sorted(path.stem for path in EXPECTED.glob("*.jsonl")) == families()


def test_every_judging_rule_is_judged_both_ways():
    """Each rule there is has findings for and against a unit, and some that show nothing."""
    seen = Counter((one["rule"], one["verdict"]) for _, one in every_result() if "verdict" in one)
    bare = {(name, what) for name in rule_names() for what in VERDICTS if not seen[name, what]}
    assert {name for name, what in bare if what == "not met"} <= NEVER_AGAINST
    assert [pair for pair in sorted(bare) if pair[1] != "not met"] == []


def test_every_check_and_every_scene_is_in_the_corpus():
    """A walk over both finds each in the header of a stored journal."""
    headers = every_header()
    stretches = [part for one in headers for part in one["script"].get("stretches", ())]
    assert set(all_checks()) <= {check for part in stretches for check in part["checks"]}
    assert set(scene_names()) <= {one["fixture"].get("simulated") for one in headers}


def as_read(line):
    """Return a stored record as today's program reads it, as plain data."""
    data = json.loads(line)
    return stored.converted(data.pop("kind"), data)[1]


def test_every_mark_and_every_kind_of_hole_is_in_the_corpus():
    """A walk over the marks that the program makes finds each; so for odd states and sessions."""
    lines = [
        as_read(line)
        for family in families()
        for job in jobs_of(family)
        for stored_lines in job.journals.values()
        for line in stored_lines
        if line.startswith(('{"kind":"mark"', '{"kind":"state"', '{"kind":"session"'))
    ]
    assert set(MARKS) <= {one.get("what") for one in lines}
    looks = {"picture", "black", "no signal", "frozen", "stalled", "other size", "seen", "gone"}
    assert looks | UNSEEN <= {one.get("state") for one in lines}
    known = {"first start", "boot clock", "wall clock", "unknown"}
    assert {one.get("gap_from") for one in lines} >= known


def test_the_corpus_is_as_large_as_was_promised():
    """At least 300 different journals, some of them in jobs of several soaks, some real."""
    jobs = [job for family in families() for job in jobs_of(family)]
    assert len({tuple(lines) for job in jobs for lines in job.journals.values()}) > 200
    assert sum(len(job.journals) > 1 for job in jobs) >= 50
    assert sum(not one["simulated"] for one in every_header()) >= 30


def test_nothing_that_is_made_for_reading_is_frozen():
    """Beside ids and the few words of a grade, all that is expected are figures."""
    named = ("id", "rule", "verdict", "because", "crash")

    def texts(value):
        if isinstance(value, dict | list):
            parts = value.items() if isinstance(value, dict) else enumerate(value)
            return [text for key, part in parts if key not in named for text in texts(part)]
        return [value] if isinstance(value, str) else []

    assert [one for _, one in every_result() if texts(one)] == []


def warmer_by_one(job):
    """Return a job whose last temperature column has one value that is 1 K higher."""

    def changed(line):
        data = json.loads(line)
        if data.get("kind") == "readings" and data["quantity"] == "probe.outside":
            hottest = int(np.argmax(data["value"]))
            data["value"][hottest] += 1.0
        return dumped(data)

    soaks = {name: list(map(changed, lines)) for name, lines in job.journals.items()}
    return replace(job, journals=soaks)


def test_one_changed_number_of_a_journal_is_told():
    """A highest temperature that is 1 K higher shows as the finding's value, old and new."""
    name = "judge/grade/clean_night_is_ready"
    [job] = [one for one in jobs_of("made-up") if one.name == name]
    old, new = freeze.found([job]), freeze.found([warmer_by_one(job)])
    told = list(freeze.differences(old, new))
    assert list(freeze.differences(old, old)) == []
    [value] = [
        one for one in told if "at most probe.outside" in one.requirement and one.field == "value"
    ]
    assert value.new - value.old == pytest.approx(1.0)
    assert str(value).startswith(f"{name}: hot run/spots/at most probe.outside: value: was ")


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ({"value": 1}, {"value": 2}, ["value"]),
        ({"value": 1.0}, {"value": 1.0 + 1e-9}, []),
        (
            {"pointers": [[0, 1.0, 2.0]]},
            {"pointers": []},
            ["pointers.0.0", "pointers.0.1", "pointers.0.2"],
        ),
        ({"verdict": "met"}, {"crash": "KeyError"}, ["crash", "verdict"]),
        ({"ready": True}, {"ready": False}, ["ready"]),
    ],
)
def test_each_field_that_differs_is_told_by_its_name(old, new, told):
    """Only rounding is forgiven."""
    found = freeze.differences({("job", "need"): old}, {("job", "need"): new})
    assert [one.field for one in found] == told


def test_a_finding_that_is_new_or_gone_is_told():
    """Both a demand that is no longer judged and one that nobody expected."""
    old, new = {("job", "gone"): {}}, {("job", "new"): {}}
    told = [(one.requirement, one.old, one.new) for one in freeze.differences(old, new)]
    assert told == [("gone", True, False), ("new", False, True)]


def rewritten(soak):
    """Write the records of a stored soak into a journal in memory; return its evidence."""
    first, *later = soak.sessions()
    journal = MemoryJournal(soak.header, first)
    ends = [*(session.begins_at_s for session in later), np.inf]
    names = [quantity.name for quantity in soak.header.quantities]
    series = {name: list(zip(*soak.series(name), strict=True)) for name in names}
    begins_s = -np.inf
    for place, end_s in enumerate(ends):
        if place:
            journal.begin_session(later[place - 1])
        for name, pairs in series.items():
            for t_s, value in pairs:
                if begins_s <= t_s < end_s:
                    journal.append(Reading(float(t_s), name, float(value)))
        for record in [*soak.state_list, *soak.mark_lists[place]]:
            if begins_s <= record.t_s < end_s:
                journal.append(record)
        begins_s = end_s
    return journal.evidence


def test_a_renamed_kind_of_record_is_carried_by_the_converter(monkeypatch):
    """Journals whose marks go by another name are judged the same once `converted` says so."""
    [job] = [one for one in jobs_of("quick") if one.name == "good/quick/4"]
    [(name, lines)] = job.journals.items()
    renamed = [line.replace('"kind":"mark"', '"kind":"remark"') for line in lines]
    assert renamed != list(lines)
    now = stored.converted
    kinds = {"remark": "mark"}
    monkeypatch.setattr(
        stored, "converted", lambda kind, record: now(kinds.get(kind, kind), record)
    )
    old, new = freeze.found([job]), freeze.found([replace(job, journals={name: renamed})])
    assert list(freeze.differences(old, new)) == []


@pytest.mark.parametrize("name", ["resumed/good/1500", "cut off/good/1500", "stopped/good"])
def test_stored_evidence_answers_as_a_journal_does(name):
    """Series, pieces of stretches, states, marks and end are those of the same records written."""
    [job] = [one for one in jobs_of("cut") if one.name == name]
    [soak] = job.soaks()
    written = rewritten(soak)
    assert written.marks() == soak.marks()
    assert written.sessions() == soak.sessions()
    for source in written.sources():
        assert written.states(source) == soak.states(source)
    for stretch in ("starts", "hot run", "never"):
        assert written.windows(stretch) == soak.windows(stretch)
        for quantity in soak.header.quantities:
            for one, other in zip(
                written.series(quantity.name, stretch),
                soak.series(quantity.name, stretch),
                strict=True,
            ):
                np.testing.assert_array_equal(one, other)


def test_a_journal_that_crashes_the_judge_is_expected_to(monkeypatch):
    """The grade says by which exception, and the finding of that demand alone says so as well."""
    import adapter

    [job] = [one for one in jobs_of("quick") if one.name == "good/quick/4"]
    real = adapter.judge

    def judge(soaks, script=None):
        demanded = script["requirements"] if script else [{"rule": "starts"}]
        if any(one["rule"] == "starts" for one in demanded):
            raise ZeroDivisionError
        return real(soaks, script)

    monkeypatch.setattr(adapter, "judge", judge)
    results = freeze.found([Job(job.name, job.journals, None)])
    assert results[job.name, ""] == {"crash": "ZeroDivisionError"}
    crashed = {one["rule"] for (_, key), one in results.items() if key and "crash" in one}
    assert crashed == {"starts"}
