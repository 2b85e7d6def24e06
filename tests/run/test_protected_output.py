"""Protected output: no capture can see it, so nothing is said for the unit or against it."""

import pytest
from short_soak import soak

CAPTURE = """
[switch]
driver = "simulated"
[capture]
driver = "simulated"
port = "video"
every_s = 1.0
"""
PICTURE = {"picture": {"shortest_dropout_s": "0.2 s"}}


def scene_that_looks(looks):
    """Return a unit whose picture is replaced for ten minutes, about four times an hour."""
    opens = {"per_hour": 4, "lasts_s": [600, 601]}
    return {"contacts": {"video": {"looks": looks, "opens": opens}}}


@pytest.fixture(scope="module")
def protected(tmp_path_factory):
    """Soak it for two hours that are to be observed."""
    folder = tmp_path_factory.mktemp("protected")
    return soak(folder, CAPTURE, PICTURE, scene_that_looks("protected output"), lasts="2 h")


def test_protected_output_bars_the_requirement_and_is_no_dropout(protected):
    """What was not seen is not shown; the sentence says why and what to do."""
    for requirement in ("no dropout", "no restart"):
        assert protected.verdict(f"picture/{requirement}") == "not shown"
        because = protected.because(f"picture/{requirement}")
        assert "protected output, which no capture can see" in because
        assert "show something that is not protected" in because
    finding = protected.findings["it/picture/no dropout"]
    assert finding.detail["count"] == 0
    assert finding.covered[0].blind_s > 600


def test_the_time_of_protected_output_is_not_counted_as_observed(protected):
    """The stretch is made longer by it, as by blindness: two hours are seen in all."""
    covered = protected.findings["it/picture/no dropout"].covered[0]
    assert covered.observed_s == pytest.approx(7200, abs=5)


def test_the_same_unit_with_black_in_its_place_has_dropouts(tmp_path):
    """The scene is not harmless: only what is shown in its place excuses it."""
    found = soak(tmp_path, CAPTURE, PICTURE, scene_that_looks("black"), lasts="2 h")
    assert found.verdict("picture/no dropout") == "not met"
