"""Soaks of a played unit that are killed at random, once or twice, and resumed.

What is wrong with the unit goes on all the time, so that its grade does not hang on when the kill
came: it is good, its picture goes for 1 s in 6, or it is always over its limit.
"""

import random

from interrupted_soak import FAILED, READY, Row, Step

KILLED = "kills "
"""What the name of such a row begins with; its number follows."""
STARTS_OVER = ("failure free",)
"""Rules of demands that a kill may leave not shown: they hold for one unbroken run."""
WHO = ("runner", "all", "group", "capture", "stick")
"""Who is killed. Without a guard the runner ends the soak by itself, for good: see the table."""
TRUTHS = ("good", "blinks", "hot")
ENDS_AT_S = 22.0
"""The soak is not over so long after the first on, s, nor a little after a resume."""
REST_S = 2.5
TAIL_S = 8.0
GOES_ON_S = 240.0


def drawn(number: int) -> Row:
    """Draw a soak with its kills, by its number."""
    chance = random.Random(20261129 + number)
    truth = TRUTHS[number % 4 % len(TRUTHS)]  # every other unit is good
    always = {"blinks": "show blinks", "hot": "heat 65"}.get(truth)
    steps = [Step(always, "opened", 0, GOES_ON_S)] if always else []
    left_s = ENDS_AT_S
    for kill in range(chance.choice((1, 1, 2))):
        at_s = chance.uniform(0.0, left_s)
        after = f"off again {kill}" if kill else "start"
        left_s = left_s - at_s + REST_S
        # An instrument's own process is not what a soak is resumed for: then the runner dies, too.
        who = chance.choice(WHO)
        steps.append(Step(f"kill {who}", after, at_s))
        if who in ("capture", "stick"):
            steps.append(Step("kill runner", str(len(steps) - 1), chance.uniform(0.0, 1.0)))
        steps.append(Step("resume", str(len(steps) - 1), chance.uniform(0.2, 4.0)))
    return Row(
        f"{KILLED}{number}",
        tuple(steps),
        (*READY, "incomplete") if truth == "good" else FAILED,
        charged=() if truth == "good" else None,
        may=(("all", "opened", "end"),),
        tail_s=TAIL_S if number % 3 == 0 else 0.0,
    )
