"""Why an instrument saw nothing is said in the reader's language, long after it was recorded."""

import json
import subprocess

import pytest
from marked_language import speaking
from one_unit_bench import bench_with_k1
from soak_process import SOAK
from typed_bench import typed

from soak.marks import said_by, state_of
from soak.marks.details import StateSaid
from soak.reader import spoken
from soak.records import State, from_json, to_json
from soak.sim.samples import fixture_text
from soak.states import BLIND
from soak.words import Amount, msg

WHY = msg("no reading for {time}", time=Amount(330.0, "s"))


def test_a_reason_is_said_in_german_after_it_was_written_and_read():
    """A journal holds its English, and beside it the phrase with its values."""
    written = json.loads(json.dumps(to_json(state_of(5.0, "probe.x", BLIND, StateSaid(why=WHY)))))
    assert written["detail"]["why"] == "no reading for 5 min 30 s"
    read = from_json("state", written)
    assert isinstance(read, State)
    with speaking("de"):
        assert spoken(said_by(read).why) == "kein Messwert seit 5 min 30 s"


def test_a_reason_of_an_older_journal_stays_in_english():
    """It held a plain text, which no catalogue knows."""
    with speaking("de"):
        assert spoken(said_by(State(5.0, "link", BLIND, detail={"why": "gone"})).why) == "gone"


@pytest.mark.parametrize(
    ("code", "why"),
    [
        ("en", "no reading came; look at its cable"),
        ("de", "kein Messwert kam; sehen Sie nach dem Kabel"),
    ],
)
def test_a_soak_is_shown_in_the_morning_with_why_a_probe_was_silent(tmp_path, code, why):
    """The whole way: an instrument's word, the journal, `soak show`."""
    bench = bench_with_k1(tmp_path / "bench", fixture_text("probe_falls_silent"))
    words = ("run", "overnight", "--unit", "K1@left", "--as-it-is", "--may-sleep")
    subprocess.run([*SOAK, "--bench", str(bench), *words], capture_output=True, check=False)
    (bench / "bench.toml").write_text(f'name = "x"\nlanguage = "{code}"\n')
    assert why in typed("--bench", str(bench), "show", "last").out
