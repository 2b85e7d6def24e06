"""What a model sheet does not say claims nothing, and permits nothing."""

import json
import re

import pytest
from one_unit_bench import bench_with_k1, narrow
from pypdf import PdfReader
from typed_bench import BRIEF, TypedBench, typed, words

from soak.ledger.ledger import Ledger

SAID = ("mains", "disk", "lithium_cell", "holds_data")
SHEET = "fixtures/models/ferrow-sp-40.toml"


def silent_bench(path, *keys):
    """Make a bench whose model sheet says nothing of some keys; K1 is wiped, K2 is not."""
    bench = TypedBench(bench_with_k1(path))
    text = (path / SHEET).read_text()
    for key in keys:
        text = re.sub(rf"(?m)^{key} = .*$", "", text)
    bench.write(SHEET, text)
    bench.write("scripts/brief.toml", BRIEF)
    for unit in ("K1", "K2"):
        narrow(path, f"{unit}-1", "service_usb", "cooling", "video")
    Ledger(path / "ledger.sqlite").add_unit(model="ferrow-sp-40", tag="K2", serial="SP40-2")
    return bench


def soaked(bench, unit, *more):
    return typed(*words(bench, "run", "brief", "--unit", f"{unit}@left.toml", "--seed", "3", *more))


def test_a_silent_sheet_keeps_a_unit_from_running_alone(tmp_path):
    """One sentence names the file, every silent key, what to write, and the other way out."""
    bench = silent_bench(tmp_path, *SAID)
    said = soaked(bench, "K1")
    assert said.code == 2
    assert SHEET in said.sentence
    assert all(f"{key} (" in said.sentence for key in SAID)
    assert "true or false" in said.sentence
    assert "--attended" in said.sentence
    assert not bench.soaks()


def test_only_what_is_silent_is_asked_for(tmp_path):
    """A sheet that says false has said it."""
    said = soaked(silent_bench(tmp_path, "disk"), "K1")
    assert said.code == 2
    assert "disk (" in said.sentence
    assert "holds_data" not in said.sentence


def test_a_silent_sheet_is_not_stated_on_every_page(tmp_path):
    """Attended it runs; bench, buyer and listing say so in both languages, data says null."""
    bench = silent_bench(tmp_path, *SAID)
    assert "does not say mains (" in soaked(bench, "K2", "--attended").err
    told = typed(*words(bench, "report", "last"))
    folder = next((tmp_path / "reports").glob("K2-*"))
    data = json.loads((folder / "report.json").read_text())
    assert data["unit"]["holds_data"] is None
    for page in ("report.html", "report-buyer.html"):  # the listing names the report for it
        text = (folder / page).read_text()
        assert "holds no data" not in text, page
        assert "not stated whether this model holds data" in text, page
    paper = "".join(one.extract_text() for one in PdfReader(folder / "report-buyer.pdf").pages)
    assert "not stated" in paper
    assert told.code == 0
    assert typed(*words(bench, "report", "last", "--language", "de")).code == 0
    german = (folder / "report-buyer.html").read_text()
    assert "nicht angegeben, ob dieses Modell Daten hält" in german
    assert "Nicht angegeben: ob in diesem Modell eine Festplatte steckt." in german


def test_data_that_nobody_stated_keeps_a_unit_from_being_ready(tmp_path):
    """A wiping on record closes the point, and so does the sheet."""
    silent = silent_bench(tmp_path / "silent", "holds_data")
    said = soaked(silent, "K2", "--attended")
    assert said.code == 4
    assert "does not say whether this model holds data" in said.out + said.err
    assert soaked(silent, "K1", "--attended").code == 6
    silent.edit(SHEET, "[supply]", "holds_data = false\n[supply]")
    assert soaked(silent, "K2").code == 6


def test_a_disk_that_nobody_denied_is_cut_off_like_one(tmp_path):
    """Six hard cuts are one too many where nobody knows what is inside."""
    bench = silent_bench(tmp_path, "disk")
    bench.write("scripts/brief.toml", BRIEF.replace("warm = 2", "warm = 6"))
    said = soaked(bench, "K1", "--attended")
    assert said.code == 2
    assert "may hold a disk" in said.sentence
    assert "--hard-cuts" in said.sentence
    assert soaked(bench, "K1", "--attended", "--hard-cuts").code == 6


def test_find_writes_out_what_a_sheet_leaves_unsaid(tmp_path):
    """The lines to complete, each with what it asks."""
    bench = silent_bench(tmp_path, "mains", "holds_data")
    said = typed(*words(bench, "find"))
    assert SHEET in said.out
    assert re.search(r"(?m)^mains = +# true or false: whether", said.out)
    assert re.search(r"(?m)^holds_data = +# true or false: whether", said.out)
    assert not re.search(r"(?m)^disk = ", said.out)


@pytest.mark.parametrize("stops", ["", "stops = false\n"])
def test_a_button_that_is_not_said_to_stop_the_unit_stops_no_hard_cut(tmp_path, stops):
    """The sheet must say whether the button stops it; one that does not saves no disk."""
    bench = silent_bench(tmp_path)
    bench.edit(SHEET, "disk = false ", "disk = true ")
    bench.edit(SHEET, "[supply]", f"[button]\nstays_off = true\n{stops}\n[supply]")
    bench.write("scripts/brief.toml", BRIEF.replace("warm = 2", "warm = 6"))
    fixture = (tmp_path / "fixtures" / "left.toml").read_text()
    bench.write("fixtures/left.toml", fixture + '\n[button]\ndriver = "simulated"\n')
    said = soaked(bench, "K1")
    assert said.code == 2
    assert ("cuts the power 6 times" if stops else "button.stops") in said.sentence
