"""What the check `picture` demands of which model."""

import pytest
from headers import placed

from soak.checks.base import all_checks
from soak.checks.picture import PictureCheck, PictureSettings


def check_for(picture_when_on="moving", **settings):
    model_sheet = {
        "picture_when_on": picture_when_on,
        "start_s": 12.0,
        "functions": {
            "shows": {"text": "shows a picture", "check": "picture", "port": "hdmi"},
            "reads": {"text": "reads a stick", "check": "transfer", "port": "usb"},
        },
    }
    place = placed("hot", {"capture": {}}, model_sheet, confidence=0.9, blind_allowed=0.05)
    return PictureCheck(PictureSettings(**settings), place)


@pytest.mark.parametrize(
    ("picture_when_on", "frozen_is_bad", "black_is_bad"),
    [("moving", True, True), ("still", False, True), ("may blank", False, False)],
)
def test_what_is_a_dropout_follows_the_model_sheet(picture_when_on, frozen_is_bad, black_is_bad):
    """A still picture is a fault only where motion is promised, a black one not where it may be."""
    bad = check_for(picture_when_on).requirements()[0].params["bad"]
    assert ("frozen" in bad) == frozen_is_bad
    assert ("black" in bad) == black_is_bad
    assert {"no signal", "stalled", "other size"} <= set(bad)
    assert "blind" not in bad


def test_the_defaults_demand_three_things():
    """No long dropout, at most one shorter an hour, no restart."""
    found = {one.rule: one for one in check_for().requirements()}
    assert set(found) == {"no dropout", "dropouts per hour", "no restart"}
    assert found["no dropout"].limit == 0
    assert found["no dropout"].params["at_least_s"] == 0.2
    assert found["dropouts per hour"].limit == 1
    assert all(one.needs == {"capture"} for one in found.values())
    assert all(one.shows_repair == {"shows"} for one in found.values())
    assert all(one.blind_allowed == 0.05 for one in found.values())


def test_what_is_set_to_none_is_not_demanded():
    """An operator can leave out what does not matter."""
    found = check_for(shorter_per_h=None, restarts=None).requirements()
    assert [one.rule for one in found] == ["no dropout"]


def test_a_failure_free_end_is_demanded_on_request():
    """Its limit is the length in s."""
    found = check_for(failure_free_s="2 h").requirements()
    (end,) = [one for one in found if one.rule == "failure free"]
    assert (end.limit, end.unit, end.quantity) == (7200, "s", "")


def test_ids_are_unique_and_name_stretch_and_check():
    """The report and the journal find a demand again by its id."""
    ids = [one.id for one in check_for(failure_free_s=60).requirements()]
    assert len(set(ids)) == len(ids) == 4
    assert all(one.startswith("hot/picture/") for one in ids)


def test_the_check_is_found_by_its_file():
    """It needs no list to stand in."""
    assert all_checks()["picture"] is PictureCheck


def test_a_fault_seen_before_is_demanded_to_be_gone():
    """With a count and its time in the script the soak must show that the fault is gone."""
    own = PictureCheck.settings(seen_before=3, seen_before_in_s="4 h")
    place = placed("hot run", {}, {"picture_when_on": "moving"})
    [gone] = [one for one in PictureCheck(own, place).requirements() if one.rule == "fault gone"]
    assert (gone.limit, gone.params["seen"], gone.params["seen_in_s"]) == (0.05, 3, 14400.0)
    assert "frozen" in gone.params["bad"]


def test_a_count_without_its_time_is_refused():
    """Three losses say nothing unless it is known in how many hours."""
    with pytest.raises(ValueError, match="belong together"):
        PictureCheck.settings(seen_before=3)
