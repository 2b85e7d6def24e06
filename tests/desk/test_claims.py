"""A key function untested is not ready, unless the claim was narrowed before; and pages say so."""

import json
from pathlib import Path

import pytest
from one_unit_bench import bench_with_k1
from typed_bench import typed

from soak.desk.bench_folder import BenchFolder
from soak.errors import ExitCode
from soak.journal import open_evidence

PARTS = {
    "switch": '[switch]\ndriver = "simulated"\n',
    "capture": '[capture]\ndriver = "simulated"\nport = "video"\n',
    "stick": '[stick]\ndriver = "simulated"\nport = "usb1"\npath = "through"\n',
    "own stick": '[stick]\ndriver = "simulated"\nport = "usb1"\npath = "bench_only"\n',
    "probe": '[probe.outside]\ndriver = "simulated"\nspot = "outside"\naccuracy = 1.0\n',
}
ALL = ("switch", "capture", "stick", "probe")
USB, COOL = "takes clips over the service port", "stays cool enough for a closed cabinet"
VIDEO, START = "plays clips on the video output", "starts by itself when it gets power"
SO_FAR = "ready, as far as tested"


def bench_of(folder: Path, *wired: str) -> Path:
    """Make a bench whose fixture has only these instruments; the model has four key functions."""
    parts = "".join(PARTS[name] for name in wired)
    return bench_with_k1(folder, f'name = "few"\nsimulated = "good"\n{parts}')


def narrow(bench: Path, *left_out: str) -> None:
    """Write into the details which functions the claim leaves out."""
    said = typed("--bench", str(bench), "unit", "details", "K1")
    assert said.code == 0, said.err
    file = bench / "details" / "K1-1.toml"
    assert str(file) in said.out
    file.write_text(file.read_text() + f"\nleft_out = {json.dumps(left_out)}\n")


def soaked(bench: Path, script: str = "evening"):
    """Soak K1 through the command line."""
    return typed("--bench", str(bench), "run", script, "--unit", "K1@left.toml", "--seed", "3")


def judged(bench: Path):
    """Judge it again; return the code and the data."""
    said = typed("--bench", str(bench), "judge", "last", "--json")
    return said.code, json.loads(said.out)


def page(bench: Path, name: str) -> str:
    """Read a file of the newest soak's report."""
    return (BenchFolder(bench).find_soak("last") / name).read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("wired", "untested", "why"),
    [
        (("switch", "capture", "probe"), USB, "no stick was wired"),
        (("switch", "capture", "own stick", "probe"), USB, "the bench's own computer"),
        (("switch", "stick", "capture"), COOL, "finds nothing wired"),
    ],
)
def test_a_key_function_untested_is_not_ready(tmp_path, wired, untested, why):
    """Nothing against the unit, yet not ready: the function, why, and what to do are named."""
    bench = bench_of(tmp_path, *wired)
    said = soaked(bench)
    assert said.code == ExitCode.INCOMPLETE, said.err
    code, data = judged(bench)
    assert code == ExitCode.INCOMPLETE
    assert untested in data["reason"]
    assert why in data["reason"]
    assert "left_out" in data["reason"]
    assert untested in page(bench, "report.html")


def test_all_key_functions_tested_are_ready_without_a_word_of_how_far(tmp_path):
    """The usual path stays as it was: exit code 0, grade `ready`."""
    bench = bench_of(tmp_path, *ALL)
    said = soaked(bench)
    assert said.code == ExitCode.DONE, said.err
    assert judged(bench)[1]["grade"] == "ready"
    assert "as far as" not in page(bench, "report-buyer.html")


def test_a_claim_narrowed_before_the_soak_is_ready_as_far_as_tested_and_all_say_so(tmp_path):
    """Exit code, grade, headline, both pages, listing, paper's data, label's record and ledger."""
    bench = bench_of(tmp_path, "switch", "capture")
    narrow(bench, "service_usb", "cooling")
    said = soaked(bench)
    assert said.code == ExitCode.AS_FAR_AS_TESTED == 6, said.err
    assert SO_FAR in said.err
    code, data = judged(bench)
    assert (code, data["grade"], data["ready"]) == (6, SO_FAR, True)
    assert data["as_far_as"] == f"as far as tested: {START} and {VIDEO}"
    assert USB in data["reason"]
    assert COOL in data["reason"]
    assert typed("--bench", str(bench), "report", "last", "--record").code == 0
    headline = f"Ready for sale, as far as tested: {START} and {VIDEO}"
    for name in ("report.html", "report-buyer.html", "listing.txt"):
        assert headline in page(bench, name), name
    report = json.loads(page(bench, "report-buyer.json"))["grade"]
    assert report["words"] == SO_FAR
    assert report["as_far_as"] == data["as_far_as"]
    assert SO_FAR in typed("--bench", str(bench), "show").out
    assert SO_FAR in typed("--bench", str(bench), "unit", "list").out


def test_a_sale_of_a_unit_ready_as_far_as_tested_asks_and_records_it(tmp_path):
    """It is sold when insisted, and how far it was tested stays beside the sale."""
    bench = bench_of(tmp_path, "switch", "capture")
    narrow(bench, "service_usb", "cooling")
    soaked(bench)
    sell = ("--bench", str(bench), "unit", "sold", "K1", "--where", "own shop")
    refused = typed(*sell)
    assert refused.code == ExitCode.USAGE
    assert SO_FAR in refused.err
    assert USB in refused.err
    sold = typed(*sell, "--anyway")
    assert sold.code == 0
    assert USB in sold.out
    assert USB in typed("--bench", str(bench), "unit", "show", "K1").out


def test_a_claim_narrowed_after_the_soak_does_nothing_for_it_and_the_page_says_so(tmp_path):
    """What was claimed stands in the header; the next soak takes the narrowed claim."""
    bench = bench_of(tmp_path, "switch", "capture", "probe")
    soaked(bench)
    narrow(bench, "service_usb")
    assert judged(bench)[0] == ExitCode.INCOMPLETE
    typed("--bench", str(bench), "report", "last")
    told = page(bench, "report.html")
    assert USB in told
    assert "since this soak began" in told
    assert soaked(bench, "quick").code == ExitCode.AS_FAR_AS_TESTED


def test_a_claim_widened_again_wants_the_function_shown(tmp_path):
    """The newest soak's claim counts; an earlier narrowing does not linger."""
    bench = bench_of(tmp_path, "switch", "capture", "probe")
    narrow(bench, "service_usb")
    assert soaked(bench).code == ExitCode.AS_FAR_AS_TESTED
    (bench / "details" / "K1-1.toml").unlink()
    assert soaked(bench, "quick").code == ExitCode.INCOMPLETE


def test_a_function_shown_in_an_earlier_soak_of_the_job_is_tested(tmp_path):
    """Two nights on two fixtures add up, and every page knows."""
    bench = bench_of(tmp_path, *ALL)
    soaked(bench)
    few = 'name = "few"\nsimulated = "good"\n' + PARTS["switch"] + PARTS["capture"]
    (bench / "fixtures" / "left.toml").write_text(few)
    assert soaked(bench).code == ExitCode.DONE
    report = json.loads(page(bench, "report.json"))
    assert USB in report["shown"]
    assert USB not in [one["what"] for one in report["not_tested"]]


def test_taking_the_key_mark_off_between_two_soaks_does_not_narrow_the_claim(tmp_path):
    """What a soak of the job called a key function stays one; `left_out` is the way."""
    bench = bench_of(tmp_path, "switch", "capture", "probe")
    soaked(bench)
    sheet = bench / "fixtures" / "models" / "ferrow-sp-40.toml"
    before, mark, after = sheet.read_text().partition("[functions.service_usb]")
    sheet.write_text(before + mark + after.replace("key = true", "key = false", 1))
    assert soaked(bench, "quick").code == ExitCode.INCOMPLETE
    assert USB in judged(bench)[1]["reason"]


def test_a_claim_that_leaves_out_all_that_was_tested_is_not_ready(tmp_path):
    """Somebody must have seen one function work."""
    sheet_less = bench_of(tmp_path, "switch", "capture")
    sheet = sheet_less / "fixtures" / "models" / "ferrow-sp-40.toml"
    text = sheet.read_text()
    for check in ("picture", "power_cycles"):
        text = text.replace(f'check = "{check}"', 'check = "transfer"')
    sheet.write_text(text)
    narrow(sheet_less, "video", "start", "service_usb", "cooling")
    assert soaked(sheet_less).code == ExitCode.INCOMPLETE
    assert "No function" in judged(sheet_less)[1]["reason"]


def test_a_left_out_function_that_the_model_has_not_is_refused_before_anything(tmp_path):
    """The nearest name is given, and nothing has begun."""
    bench = bench_of(tmp_path, "switch", "capture")
    narrow(bench, "service_ubs")
    said = soaked(bench)
    assert said.code == ExitCode.USAGE
    assert "left_out" in said.err
    assert "service_usb" in said.err
    assert not BenchFolder(bench).soaks()


def test_what_the_claim_leaves_out_is_frozen_in_the_header(tmp_path):
    """The journal alone says what was claimed before anything was measured."""
    bench = bench_of(tmp_path, "switch", "capture")
    narrow(bench, "cooling", "service_usb")
    soaked(bench, "quick")
    header = open_evidence(BenchFolder(bench).find_soak("last")).header
    assert header.references.left_out == ("cooling", "service_usb")
