"""The table of interruptions: what is done when, and what is to be found. `interrupted_soak` plays.

The script has one warm start (on for 3 s) and then `run`, 20 s observed, with picture, data over
the unit's port and a guarding probe, which is silent after 4 s; the guard cuts the power when it
has not heard the runner for 5 s. A capture that delivers nothing for 6 s is opened again; a
transfer to the stick is given up after 8 s and is a stall of the unit after 3 s. What got hot stays
so to the end: no body cools within seconds, and a probe that says so came off.
"""

from interrupted_soak import FAILED, INCOMPLETE, LOST, NOT_FAILED, READY, Row, Step
from interruptions_of_killing import ROWS as KILLED
from interruptions_of_stopping import ROWS as STOPPED

ROWS: tuple[Row, ...] = (
    *STOPPED,
    *KILLED,
    # What the unit does by itself.
    Row("nothing", (), READY),
    Row("black", (Step("show black", "run", 6, 1),), FAILED, LOST, (("picture lost", 0),)),
    Row("frozen", (Step("show frozen", "run", 6, 2),), FAILED, LOST, (("picture lost", 0),)),
    Row("no pictures", (Step("show nothing", "run", 6, 1),), FAILED, LOST, (("picture lost", 0),)),
    Row("over its limit", (Step("heat 65", "run", 6, 90),), FAILED, "limit|outside"),
    Row("trip", (Step("heat 75", "run", 6, 30),), FAILED, "trip|guard|limit", (("trip", 0),)),
    Row("stick gone", (Step("stick gone", "run", 6, 4),), FAILED, "stick", (("stick gone", 0),)),
    Row("stick stalls", (Step("stick stalls 5", "run", 6, 5),), FAILED, "chunk|stall"),
    Row(
        "stick stalls over the stretch's end",
        (Step("stick stalls 7", "run", 15.5, 7),),
        FAILED,
        "chunk|stall",
    ),
    Row("stick hangs to the end", (Step("stick stalls 60", "run", 6, 60),), FAILED, "chunk|stall"),
    Row(
        "stick stalls until somebody ends the soak",
        (Step("stick stalls 60", "run", 6, 60), Step("end runner", "run", 10.5)),
        FAILED,
        "chunk|stall",
    ),
    # Mute, garbled and late.
    Row("probe mute, short", (Step("say nothing", "run", 6, 2),), READY),
    Row(
        "probe mute",
        (Step("say nothing", "run", 6, 7),),
        NOT_FAILED,
        holes=(("probe.outside", "0<", "0>"),),
        may=(("all", "0<", "end"),),
    ),
    Row("probe garbled, short", (Step("say garbage", "run", 6, 2.5),), READY),
    Row(
        "probe late in a burst",
        (Step("say late", "run", 6, 2.5),),
        READY,
    ),
    Row("one garbled reading over the limit", (Step("once 62", "run", 6),), READY),
    Row(
        "one garbled reading over the trip",
        (Step("once 85", "run", 6),),
        INCOMPLETE,
        may=(("all", "0<", "end"),),
    ),
    Row(
        "probe mute, over its limit at once after",
        (Step("say nothing", "run", 5, 2), Step("heat 65", "run", 6.5, 90)),
        FAILED,
        "limit|outside",
    ),
    # The switch.
    Row(
        "relay does not answer at the stretch's end",
        (Step("board deaf", "run", 18.5, 6),),
        NOT_FAILED,
        may=(("all", "0<", "end"),),
    ),
    Row(
        "relay answers and stays open from the start on",
        (Step("board open", "opened", 0, 60),),
        INCOMPLETE,
        may=(("all", "0<", "end"),),
    ),
    Row(
        "relay's adapter away for 3 s",
        (Step("board unplugged", "run", 6, 3),),
        READY,
        holes=(("capture", "0< + 2", "0> + 58"),),  # a minute of good readings, then on again
        may=(("all", "0<", "end"),),
        blind_allowed=0.95,
    ),
    Row(
        "relay's adapter away for 3 s, black before and after",
        (
            Step("show black", "run", 3, 1.5),
            Step("board unplugged", "run", 8, 3),
            Step("show black", "1", 68, 1.5),
        ),
        FAILED,
        LOST,
        (("picture lost", 2),),
        listed=(0, 2),
        either=(0,),
        may=(("all", "1<", "1> + 62"),),
        blind_allowed=0.95,
    ),
    Row(
        "guarding thermometer unplugged for 3 s",
        (Step("probe unplugged", "run", 6, 3),),
        READY,
        holes=(("probe.outside", "0< + 1", "0>"),),
        may=(("all", "0<", "end"),),
        blind_allowed=0.95,
    ),
    # The disk.
    Row(
        "disk full for a while",
        (Step("disk full", "run", 6, 8), Step("resume", "0", 1)),
        READY,
        may=(("all", "0<", "on"),),
    ),
    Row(
        "disk full at the end",
        (Step("disk full", "run", 18, 12), Step("resume", "0", 1)),
        READY,
        may=(("all", "0<", "on"),),
    ),
    # The stream breaks off and is opened again.
    Row(
        "capture away",
        (Step("show away", "run", 6, 3),),
        READY,
        holes=(("capture", "0<", "0>"),),
        may=(("capture", "0<", "0> + 4"),),
    ),
    Row(
        "capture away, black 2 s after, longer than a reopening explains",
        (Step("show away", "run", 4, 1), Step("show black", "0", 4, 12)),
        FAILED,
        LOST,
        (("picture lost", 1),),
        listed=(1,),
        holes=(("capture", "0<", "0>"),),
        may=(("capture", "0<", "0> + 3"),),
    ),
    Row(
        "black, then capture away at once",
        (Step("show black", "run", 6, 1), Step("show away", "0", 0, 3)),
        ("ready", "incomplete", "failed"),
        either=(0,),
        listed=(0,),
        holes=(("capture", "1<", "1>"),),
        may=(("capture", "1<", "1> + 4"),),
    ),
)
