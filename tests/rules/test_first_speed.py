"""Which speed a transfer's later speed is held against."""

import numpy as np
import pytest
from made_up_soak import clean_night, demand

from soak.judge.grade import judge
from soak.rules.core.verdict import Verdict


def test_speed_is_held_against_the_first_stretch_with_a_transfer():
    """A link that fell back before the hot run began is not compared with itself."""
    soak = clean_night()
    soak = soak.demanding(
        *(
            demand("speed kept", "transfer.stick.speed", 0.6, check="transfer", stretch=stretch)
            for stretch in ("starts", "hot run")
        )
    )
    first_s = np.arange(20.0, 140.0, 2.0)
    t_s, value = soak.readings["transfer.stick.speed"]
    soak.readings["transfer.stick.speed"] = (
        np.concatenate([first_s, t_s]),
        np.concatenate([np.full(len(first_s), 2.0 * value[0]), value]),
    )
    found = {one.requirement.stretch: one for one in judge([soak]).findings}
    assert found["hot run"].verdict == Verdict.NOT_MET, found["hot run"].because
    assert found["hot run"].value == pytest.approx(0.5, rel=0.1)
