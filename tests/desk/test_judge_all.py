"""The whole history judged again: which grades would change, which come-backs would be caught."""

import json
import shutil
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from multiprocessing import get_context
from pathlib import Path

import pytest
from typed_bench import BRIEF, SHEET, SIMULATED, TypedBench, soak_brief, typed

from soak.desk.bench_folder import BenchFolder
from soak.desk.morning.comparing import history_again, judge_all
from soak.desk.morning.judging import judge_soak
from soak.journal import open_evidence
from soak.judge.grade import judge
from soak.ledger.ledger import Ledger

DEAD = """\
truth = "never starts"
truth_grade = "not ready: failed"
fault = "start"
[start]
fails_warm = 1.0
fails_cold = 1.0
"""
UNITS = [f"K{number}" for number in range(1, 13)]


def graded_then(ledger: Ledger, folder: Path, *, ready: bool) -> None:
    """Enter a soak with the grade that some earlier rules gave it."""
    evidence = open_evidence(folder)
    because = "all met" if ready else "failed"
    ledger.ingest(evidence, replace(judge([evidence]), ready=ready, because=because, rules="0"))


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    """Make a history of twelve units; K1 and K2 were graded otherwise then, K2 and K3 came back."""
    path = tmp_path_factory.mktemp("history")
    bench = TypedBench(path)
    sheet = SHEET.read_text().replace("holds_data = true", "holds_data = false")
    before, usb, after = sheet.partition("[functions.service_usb]")  # not in the brief script
    sheet = before + usb + after.replace("key = true", "key = false", 1)
    bench.write("fixtures/models/ferrow-sp-40.toml", sheet)
    bench.write("scripts/brief.toml", BRIEF)
    bench.write("dead.toml", DEAD)
    ledger = Ledger(path / "ledger.sqlite")
    for tag in UNITS:
        scene = str(path / "dead.toml") if tag == "K2" else "good"
        bench.write("fixtures/sim.toml", SIMULATED.replace('"good"', f'"{scene}"', 1))
        ledger.add_unit(model="ferrow-sp-40", tag=tag, serial=f"SP40-{tag}")
        soak_brief(path, tag, 1e9)
        folder = BenchFolder(path).find_soak(tag)
        now = judge([open_evidence(folder)]).ready
        graded_then(ledger, folder, ready={"K1": False, "K2": True}.get(tag, now))
    for tag in ("K2", "K3"):
        ledger.sold(tag, where="own shop", anyway=True)
        ledger.back(tag, complaint="does not start")
    return path


def test_the_grades_that_would_change_are_named(bench):
    """K1 was held back by earlier rules and K2 let pass; the other ten stay as they are."""
    found = {one.job_id: one for one in judge_all(bench)}
    assert {job for job, one in found.items() if one.changed} == {"K1-1", "K2-1"}
    assert len(found) == len(UNITS)
    told = history_again(bench, as_json=False)
    assert "12 jobs judged again by rules 5; 2 grades would change" in told
    assert "K2-1: ready would be not ready: failed" in told


def test_a_come_back_that_todays_rules_catch_is_told_from_one_they_do_not(bench):
    """K2 failed its starts and was sold all the same; K3 was good on the bench and still is."""
    told = history_again(bench, as_json=False)
    assert "K2 came back (does not start): would be caught by today's rules" in told
    assert "K3 came back (does not start): would NOT have been caught by today's rules" in told
    data = json.loads(history_again(bench, as_json=True))
    assert [(one["unit"], one["now"]) for one in data["came_back"]] == [
        ("K2", "not ready: failed"), ("K3", "ready"),
    ]  # fmt: skip


def test_what_the_ledger_says_stays_as_it_is(bench):
    """Judging again changes no grade on record."""
    before = [(line.soak_id, line.grade) for line in Ledger(bench / "ledger.sqlite").soaks()]
    judge_all(bench)
    after = [(line.soak_id, line.grade) for line in Ledger(bench / "ledger.sqlite").soaks()]
    assert before == after


def test_any_map_will_do(bench):
    """A process pool's gives the same as the plain one; one job is one piece of work."""
    plain, pieces = judge_all(bench), []

    def counting(function, jobs):
        for job in jobs:
            pieces.append(job.job_id)
            yield function(job)

    assert judge_all(bench, counting) == plain
    assert len(pieces) == len(UNITS)
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        assert judge_all(bench, pool.map) == plain


def test_the_verb_takes_several_processes(bench):
    """The command line says the same with one and with two."""
    one = typed("--bench", str(bench), "judge", "--all")
    two = typed("--bench", str(bench), "judge", "--all", "--processes", "2")
    assert one.out == two.out
    assert one.code == two.code == 0


def test_a_journal_that_is_gone_or_damaged_is_said(bench, tmp_path):
    """Neither stops the others, and neither is passed over."""
    copy = tmp_path / "copy"
    shutil.copytree(bench, copy)
    soaks = {folder.name.split("-")[0]: folder for folder in (copy / "reports").iterdir()}
    shutil.rmtree(soaks["K4"])
    damaged = soaks["K5"] / "journal.sqlite"
    damaged.chmod(0o600)
    damaged.write_bytes(damaged.read_bytes()[:3000])
    told = history_again(copy, as_json=False)
    assert "K4-1: could not be judged: its journals are gone" in told
    assert "K5-1: could not be judged: " in told
    assert "12 jobs judged again" in told


def test_each_place_where_a_demand_broke_is_listed(bench):
    """Under the failed starts of K2 stands each of them, with its time."""
    text, _ = judge_soak(bench, "K2", "", whole=True, as_json=False)
    judgement = judge([open_evidence(BenchFolder(bench).find_soak("K2"))])
    failed = next(one for one in judgement.findings if one.requirement.rule == "starts")
    assert len(failed.pointers) > 1
    for at in failed.pointers:
        assert f"  {at.what}  ({at.soak_id})" in text
