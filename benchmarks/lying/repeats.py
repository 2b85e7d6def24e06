"""Lies by doing it again: once more, another fixture, job, tag or serial, another day."""

from lying.bench import FAILS, LUCKY, Bench, Ending
from lying.ways import FAILED_BEFORE, way


@way("soaks again until one is quiet", never=True, truth="flickers")
def again(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    bench.soaks(seed=4)
    bench.soaks(seed=LUCKY)
    return bench.ends()


@way("after it failed, a fixture without a capture card", never=True)
def no_capture_after(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    bench.wires("drops", "left", *NO_CAPTURE)
    bench.soaks(seed=FAILS)
    return bench.ends()


@way("after it failed, another fixture file of another name", never=True, truth="flickers")
def another_fixture(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    bench.wires("flickers", "right", ("^name = .*", 'name = "the other bench"'))
    bench.soaks(seed=LUCKY, fixture="right")
    return bench.ends()


@way(
    "never wires the capture card; the repair is said to be another", never=True, function="cooling"
)
def no_capture_ever(bench: Bench) -> Ending:
    bench.wires("drops", "left", *NO_CAPTURE)
    bench.soaks(seed=FAILS)
    return bench.ends()


@way("opens it after it failed, repairs what failed, is lucky", truth="flickers")
def opened_and_repaired(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    reopened(bench, "video")
    bench.soaks(seed=LUCKY)
    return bench.ends()


@way("opens it after it failed, repairs another function, is lucky", never=True, truth="flickers")
def another_function(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    reopened(bench, "start")
    bench.soaks(seed=LUCKY)
    return bench.ends()


@way(
    "opens it after it failed, repairs nothing, is lucky", never=True, truth="flickers", quick=True
)
def opened_only(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    bench.must("unit", "opened", "K1", "looked inside")
    bench.soaks(seed=LUCKY)
    return bench.ends()


@way("opens it after each of three failures, then is lucky", never=True, truth="flickers")
def opened_thrice(bench: Bench) -> Ending:
    for seed in (FAILS, 4, 5):
        bench.soaks(seed=seed)
        reopened(bench, "start")
    bench.soaks(seed=LUCKY)
    return bench.ends()


@way("opens it on a day before it failed", never=True, truth="flickers")
def opened_before(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    bench.must("unit", "opened", "K1", "looked inside", "--on", "2026-01-02")
    bench.soaks(seed=LUCKY)
    return bench.ends()


@way("after it failed, sells it anyway, takes it back, is lucky", never=True, truth="flickers")
def sold_and_back(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    bench.must("unit", "sold", "K1", "--where", "own shop", "--anyway")
    bench.must("unit", "back", "K1", "changed my mind")
    bench.must("unit", "wiped", "K1", "--how", "reset", "--verified", "read back", "--by", "KY")
    bench.soaks(seed=LUCKY)
    return bench.ends()


@way(
    "shows the page of the quiet job before it was opened and failed",
    truth="flickers",
    says=FAILED_BEFORE + "|opened|newer|no longer",
)
def page_of_an_earlier_job(bench: Bench) -> Ending:
    bench.soaks(seed=LUCKY)
    reopened(bench, "start")
    bench.soaks(seed=FAILS)
    return bench.ends(bench.reports()[0].name)


@way(
    "soaks quietly first, then it fails; shows the first soak's page", never=True, truth="flickers"
)
def page_of_the_first(bench: Bench) -> Ending:
    bench.soaks(seed=LUCKY)
    bench.types("report", "last")
    bench.soaks(seed=FAILS)
    return bench.ends(bench.reports()[0].name)


@way(
    "after it failed, another tag for the same serial",
    says=FAILED_BEFORE + "|K1",
    truth="flickers",
)
def another_tag(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    bench.types("unit", "add", "SP40-1017", "--model", "ferrow-sp-40", "--tag", "K9", "--anyway")
    return renamed(bench)


@way(
    "after it failed, the same model under another name",
    says=FAILED_BEFORE + "|K1",
    truth="flickers",
)
def another_model(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    sheet = bench.path / "fixtures" / "models" / "ferrow-sp-40.toml"
    bench.edits(
        "fixtures/models/ferrow-sp-41.toml", ("^model = .*", 'model = "Ferrow SP-41"'), source=sheet
    )
    bench.types("unit", "add", "SP40-1017", "--model", "ferrow-sp-41", "--tag", "K9", "--anyway")
    return renamed(bench)


@way(
    "after it failed, a serial that reads like its own",
    says=FAILED_BEFORE + "|K1|alike",
    truth="flickers",
)
def like_serial(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    bench.types("unit", "add", "SP4O-1O17", "--model", "ferrow-sp-40", "--tag", "K9", "--anyway")
    return renamed(bench)


@way("after it failed, an invented serial", leaves=r"[Ss]erial|label", truth="flickers")
def invented_serial(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    bench.types("unit", "add", "XB12-88", "--model", "ferrow-sp-40", "--tag", "K9")
    ending = renamed(bench)
    return Ending(ending.ready, ending.grade, ending.code, ending.page)


@way("the clock set a year back for a quiet soak after it failed", never=True, truth="flickers")
def clock_back(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    bench.soaks(seed=LUCKY, days=-365)
    return bench.ends(bench.reports()[-1].name)


@way("the clock set ahead while it fails, then right", never=True, truth="flickers")
def clock_ahead(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS, days=30)
    bench.soaks(seed=LUCKY)
    return bench.ends(bench.reports()[-1].name)


@way("opens it with the clock set back to before it failed", never=True, truth="flickers")
def opened_in_the_past(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    bench.types("unit", "opened", "K1", "looked inside", days=-20)
    bench.soaks(seed=LUCKY)
    return bench.ends(bench.reports()[-1].name)


@way("tests a good unit in place of the bad one", leaves="[Ss]erial|label", truth="good")
def good_in_place(bench: Bench) -> Ending:
    bench.soaks(seed=LUCKY)  # the bad one lies in the drawer; its label was shown
    ending = bench.ends()
    return Ending(ending.ready, ending.grade, ending.code, ending.page)


NO_CAPTURE = ((r'^\[capture\]\ndriver = "simulated"\nport = "video"\n', ""),)


def reopened(bench: Bench, function: str) -> None:
    """Open the unit and record a repair."""
    bench.must("unit", "opened", "K1", "looked inside")
    bench.must("unit", "repair", "K1", "re-soldered", "--function", function, "--by", "KY")


def renamed(bench: Bench) -> Ending:
    """Soak the unit as K9, which a mended program may not even have let in."""
    bench.must("unit", "repair", "K9", "mended", "--function", "video", "--by", "KY")
    bench.must("unit", "wiped", "K9", "--how", "reset", "--verified", "read back", "--by", "KY")
    bench.soaks(seed=LUCKY, unit="K9")
    return bench.ends(bench.reports("K9")[-1].name)
