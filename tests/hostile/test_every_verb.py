"""Hostile words and files through every verb, at a terminal: one sentence, and nothing hurt.

A verb or an option that is new is tried by itself. What is tried here is one case in `SHARE`,
spread over all; `benchmarks/hostile_verbs.py` tries all of them.
"""

import pytest
from hostile_bench import HostileBench
from hostile_verbs import cases, verbs

SHARE = 15
LEAST_OF_A_VERB = 12
LEAST = 400
VERBS = {verb.name: verb for verb in verbs()}


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    """Give a bench with soaks, and the program beside it."""
    with HostileBench(tmp_path_factory.mktemp("hostile")) as bench:
        yield bench


@pytest.mark.parametrize("name", VERBS)
def test_a_verb_takes_what_is_hostile_and_hurts_nothing(bench, name):
    """No traceback, no hang, a known exit code; screen and bench stay as they are."""
    tried = cases(VERBS[name], bench.files, SHARE, LEAST_OF_A_VERB)
    assert len(tried) >= LEAST_OF_A_VERB
    wrong = {case.what: wrong for case in tried if (wrong := bench.wrongs(case.words))}
    assert wrong == {}


def test_so_many_are_tried(bench):
    """All verbs together get hundreds."""
    each = [len(cases(verb, bench.files, SHARE, LEAST_OF_A_VERB)) for verb in VERBS.values()]
    assert sum(each) >= LEAST


ENDINGS = (".html", ".pdf", ".json", ".sqlite", ".png", ".jpg")


@pytest.mark.parametrize("ending", ENDINGS)
def test_verify_takes_any_content_under_any_ending(bench, ending):
    """What somebody sent may be anything; its ending says what it claims to be."""
    wrong = {}
    for name, file in bench.of_ending(ending).items():
        found = bench.wrongs(["verify", str(file)])
        if found:
            wrong[name] = found
    assert wrong == {}


ONE_IN = 4
LONGEST_NAME = 255
PLACES = (
    "bench.toml",
    "fixtures/sim.toml",
    "fixtures/models/ferrow-sp-40.toml",
    "scripts/brief.toml",
    "details/K1-1.toml",
    "reports/challenges.json",
    "key/bench.key",
    "key/known.keys",
    "lives.csv",
    "ledger.sqlite",
)
READ_BY = (
    ["unit", "list"],
    ["report", "K1"],
    ["run", "scripts/brief.toml", "--unit", "K4@fixtures/real.toml"],
    ["script", "explain", "scripts/brief.toml", "--fixture", "fixtures/sim.toml"],
    ["verify", "word.json"],
)


@pytest.mark.parametrize("place", PLACES)
def test_a_file_of_the_bench_may_hold_anything(bench, place):
    """A file that was damaged, swapped or made a pipe is told; no verb breaks over it."""
    wrong = {}
    begins = PLACES.index(place) % ONE_IN
    files = [item for item in bench.files.items() if len(str(item[1])) < LONGEST_NAME]
    for at, (name, file) in enumerate(files[begins::ONE_IN]):
        words = ["evidence", "lives", place] if place == "lives.csv" else READ_BY[at % len(READ_BY)]
        with bench.instead(place, file):
            found = bench.wrongs(words)
        if found:
            wrong[f"{name}: {' '.join(words)}"] = found
    assert wrong == {}
