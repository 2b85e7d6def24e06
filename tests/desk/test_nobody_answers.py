"""Nobody's answer is no answer: what the operator did not confirm did not happen."""

import pytest
import trio
from typed_bench import SHEET, TypedBench, typed

import soak.desk.run
from soak.desk.bench_folder import BenchFolder
from soak.errors import ExitCode
from soak.journal import open_evidence
from soak.ledger.ledger import Ledger

BARE = """\
name = "thermometer only"
simulated = "good"
[probe.heatsink]
driver = "simulated"
spot = "heatsink"
accuracy = 1.0
"""
WARM = """\
name = "warm"
not_after = "2 h"
[[stretch]]
name = "run"
lasts = "10 min"
attended = true
[stretch.spots]
"""


@pytest.fixture
def bench(tmp_path):
    """Return a bench whose only instrument is a thermometer."""
    made = TypedBench(tmp_path)
    made.write("fixtures/models/ferrow-sp-40.toml", SHEET.read_text())
    made.write("fixtures/bare.toml", BARE)
    made.write("scripts/warm.toml", WARM)
    Ledger(tmp_path / "ledger.sqlite").add_unit(model="ferrow-sp-40", tag="K1", serial="SP40-1017")
    return made


def soaked(bench, monkeypatch, answer):
    """Soak K1 with an operator who answers as `answer` says; return what was said, the journal."""

    def operator(said):
        async def ask(question):
            if answer is None:
                await trio.sleep_forever()
            await trio.sleep(30)
            return answer

        return ask

    monkeypatch.setattr(soak.desk.run, "as_wanted", operator)
    said = typed("--bench", str(bench.path), "run", "warm", "--unit", "K1@fixtures/bare.toml")
    folder = BenchFolder(bench.path)
    assert folder.soaks(), said.err
    (name,) = folder.soaks()
    return said, open_evidence(folder.find_soak(name))


@pytest.mark.parametrize("answer", [None, "no", "yes please"])
def test_a_unit_that_nobody_switched_on_is_not_ready(bench, monkeypatch, answer):
    """No answer, or another than the one wanted, ends it before anything counts."""
    said, evidence = soaked(bench, monkeypatch, answer)
    assert said.code == ExitCode.INCOMPLETE, said.err
    assert "nobody confirmed that the unit was switched on" in said.err
    assert not evidence.marks("power")
    assert evidence.seal.ended == "bench fault"
