"""How the bench stands: every unit, who is wanted first, and commands that do what they say."""

import json
import re
from contextlib import closing

import pytest
from typed_bench import typed

from soak.desk.morning.overview import Stage, Standing, wanted_first
from soak.errors import ExitCode
from soak.journal.ownership import Ownership
from soak.run.asking import ASKED


def stands(bench, *more: str) -> str:
    """Return what `soak show` says."""
    said = typed("--bench", str(bench.path), "show", *more)
    assert said.code == 0, said.err
    return said.out


def of(tag: str, text: str) -> str:
    """Return the paragraph of a unit; empty if it has none."""
    parts = [part for part in text.split("\n\n") if re.match(rf"{tag}  ", part)]
    return parts[0] if parts else ""


def cut_off(bench):
    """Return the folder of the soak that was cut off."""
    return next((bench.path / "reports").glob("K3-*"))


def test_a_soak_that_was_cut_off_is_told_with_its_time_and_what_goes_on_with_it(bench):
    """The night that died is in the morning's view, and the command under it works."""
    part = of("K3", stands(bench))
    assert part.startswith("K3  was cut off, at 0:0"), part
    [step] = re.findall(r"next: soak (resume \S+)", part)
    assert typed(*step.split(), within=bench.path).code != ExitCode.USAGE
    assert not of("K3", stands(bench)).startswith("K3  was cut off")


def test_every_unit_stands_there_and_the_sold_ones_by_their_tags(bench):
    """K1 soaked, K2 sold, K3 cut off, K4 never soaked."""
    text = stands(bench)
    head = text.partition("\n")[0]
    assert head.startswith("3 units on the bench; ")
    assert head.endswith("sold: K2")
    assert all(of(tag, text) for tag in ("K1", "K3", "K4"))
    assert not of("K2", text)
    assert "next: soak run SCRIPT --unit K4@FIXTURE" in of("K4", text)


def test_a_unit_that_came_back_with_a_hazard_is_told_with_what_settles_it(bench):
    """It is sold no more; the hazard stands in its paragraph, not a soak."""
    back = ("unit", "back", "K2", "smoke from the vent", "--hazard", "smoke")
    assert typed("--bench", str(bench.path), *back).code == 0
    part = of("K2", stands(bench))
    assert part.startswith("K2  came back")
    assert "HAZARD OPEN, SMOKE" in part
    assert "next: soak unit settle K2" in part


@pytest.mark.parametrize(
    "spoil", [lambda file: file.write_bytes(b""), lambda file: (file.unlink(), file.mkdir())]
)
def test_a_journal_that_cannot_be_read_hides_no_other_unit(bench, spoil):
    """It says which file, and the others stand there as before."""
    before = stands(bench)
    spoil(cut_off(bench) / "journal.sqlite")
    text = stands(bench)
    assert of("K1", text) == of("K1", before)
    assert of("K3", text).startswith("K3  cannot be read")
    assert "next: soak verify" in of("K3", text)


def test_a_soak_that_runs_is_not_cut_off_and_one_that_asks_comes_first(bench):
    """Another process holds the folder; then a question is open that nobody has answered."""
    folder = cut_off(bench)
    with closing(_Held(folder)):
        part = of("K3", stands(bench))
        assert part.startswith("K3  runs, since ")
        assert "until about " in part
        assert f"next: soak join {folder.name}" in part
        question = {"id": "look/closed", "expects": "yes/no", "text": "Is it closed?"}
        (folder / ASKED).write_text(json.dumps(question))
        text = stands(bench)
        assert text.split("\n\n")[1].startswith("K3  waits for an answer")
        assert "Is it closed?" in of("K3", text)
        assert f"next: soak answer {folder.name} look/closed yes|no" in of("K3", text)


class _Held(Ownership):
    """A folder held as a running soak holds it."""

    def close(self) -> None:
        """Let go."""
        self.release()


@pytest.mark.parametrize("columns", [40, 60, 120])
def test_it_fits_the_window_but_for_what_is_copied(bench, monkeypatch, columns):
    """Sentences are wrapped whole; a command stays on one line."""
    monkeypatch.setenv("COLUMNS", str(columns))
    text = stands(bench)
    lines = [line for line in text.splitlines() if "next: " not in line]
    assert max(map(len, lines)) <= min(columns, 100)
    assert "…" not in text


def test_soak_alone_shows_how_the_bench_stands_and_helps_where_there_is_none(bench, tmp_path):
    """The shortest thing to type is the morning's view."""
    assert typed("--bench", str(bench.path)).out == stands(bench)
    said = typed("--bench", str(tmp_path / "nothing"))
    assert said.code == 0
    assert said.out.startswith("Usage: soak")
    assert not (tmp_path / "nothing").exists()


def test_programs_get_the_same(bench):
    """Tag, stage, soak, grade, reason, what is open and what to do."""
    rows = {row["tag"]: row for row in json.loads(stands(bench, "--json"))}
    assert rows["K3"]["stage"] == "cut off"
    assert rows["K2"]["stage"] == "sold"
    assert rows["K3"]["next"] == [f"soak resume {cut_off(bench).name}"]
    assert {"model", "soak", "grade", "reason", "open", "next"} <= rows["K1"].keys()


def test_it_is_said_in_the_bench_s_language(bench):
    """German on a bench that speaks it."""
    bench.write("bench.toml", 'name = "x"\nlanguage = "de"\n')
    part = of("K3", stands(bench))
    assert "wurde unterbrochen" in part
    assert "weiter: soak resume" in part


def test_who_is_wanted_comes_first_and_the_worst_failure_before_the_rest():
    """Order is by what somebody has to do, not by tags."""
    given = [
        Standing("K1", "m", Stage.REPORTED),
        Standing("K2", "m", Stage.FAILED, worst=1),
        Standing("K3", "m", Stage.RUNS),
        Standing("K4", "m", Stage.FAILED, worst=4),
        Standing("K5", "m", Stage.CUT_OFF),
        Standing("K6", "m", Stage.ASKS),
        Standing("K7", "m", Stage.INCOMPLETE),
    ]
    order = [standing.tag for standing in wanted_first(given)]
    assert order == ["K6", "K5", "K4", "K2", "K7", "K3", "K1"]
