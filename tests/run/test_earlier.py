"""What a resumed soak knows of its earlier sessions."""

import numpy as np
from made_up_soak import FIXTURE, clean_night

from soak.frozen.shape import as_json
from soak.run.earlier import earlier
from soak.run.script import find_script, read_script


def resumed(tmp_path, mark=""):
    """Return what the check `transfer` of a stretch `hot run` is told after an interruption."""
    script = read_script(find_script("overnight", tmp_path))
    soak = clean_night().with_header(script=as_json(script.planned()), fixture=FIXTURE)
    t_s = soak.pieces["hot run"][0][0] + np.array([10.0, 20.0, 30.0])
    before = np.array([1.0])
    soak.readings["transfer.stick.written"] = (
        np.concatenate((before, t_s)),
        np.array([999.0, 4e6, 4e6, 2e6]),
    )
    if mark:
        soak.mark(t_s[-1], mark, "hot run", "transfer", holds_bytes=1)
    return earlier(soak, script)["hot run"]["done"]["transfer"].note


def test_a_resumed_stretch_goes_on_with_what_is_left_of_its_write_budget(tmp_path):
    """What the stretch has written counts, what other stretches wrote does not."""
    assert resumed(tmp_path) == {"written_bytes": 10_000_000, "filled": False}


def test_a_stick_that_was_filled_is_known_to_be_filled(tmp_path):
    """Its mark says so, that it is not filled twice."""
    assert resumed(tmp_path, "capacity")["filled"] is True
