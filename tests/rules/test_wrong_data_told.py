"""What was wrong with data is told: kind, places, where and why; refused writing shows nothing.

Numbers of the system: `EIO` 5, `ENOSPC` 28, `EROFS` 30 (POSIX names, Linux numbers).
"""

import errno
from dataclasses import replace

import pytest
from made_up_soak import FIXTURE, HOT_S, STARTS_S, clean_night, demand

from soak.derive.course import course_of
from soak.derive.events.faults import wrong_data
from soak.derive.events.wrong_data import WrongTransfer, transfer_words
from soak.judge.explain.causes import probable_causes
from soak.judge.grade import judge
from soak.marks import WrongChunk

STICK = {"needs": frozenset({"stick"}), "check": "transfer"}
RIGHT = demand("no wrong data", "transfer.stick.damaged", unit="B", **STICK)
HOLDS = demand("holds what it claims", "stick", unit="B", **STICK)
LABEL = 1 << 20


def night(*demands):
    return clean_night().demanding(*(demands or (RIGHT,)))


def wrong(soak, number, kinds, where, **detail):
    """Let the reading of a number count wrong bytes, and a chunk be described with it."""
    t_s, damaged_bytes = soak.readings["transfer.stick.damaged"]
    size_bytes = sum(size for _, _, size in where)
    damaged_bytes[number] = size_bytes
    chunk = {"offset_bytes": 0, "length_bytes": 1 << 22, "damaged_bytes": size_bytes, **detail}
    chunk["where"] = [
        {"kind": kind, "offset_bytes": at, "damaged_bytes": size} for kind, at, size in where
    ]
    soak.mark(t_s[number] + 0.002, "chunk", "hot run", "transfer", kinds=kinds, **chunk)


def refuse(soak, number, at_s=STARTS_S + 3600):
    soak.mark(at_s, "writing refused", "hot run", "transfer", source="stick", errno=number, why="x")


def found(soak, rule="no wrong data"):
    """Return the finding by one rule, judged in a job as the program does."""
    return next(one for one in judge([soak]).findings if one.requirement.rule == rule)


def test_one_flipped_bit_that_is_read_again_and_again_is_one_place():
    """One byte at one place, seen 17 times, with its address on the disk: not 17 B."""
    soak = night()
    for number in range(17):
        place = [("flipped", 1536, 1)]
        wrong(soak, 100 + number, {"flipped": 1}, place, disk_address_bytes=LABEL + 1536)
    told = found(soak)
    assert told.verdict.value == "not met"
    assert told.value == 1.0
    assert told.because == "Bits flipped at 1 place; 5.76 GB were written."
    assert told.aside == "Seen in 17 transfers; the first at disk address 1050112, sector 2051."
    assert told.detail["kinds"] == {"flipped": 1}
    assert told.detail["disk_address_bytes"] == 1050112


def test_what_cannot_be_read_or_written_did_not_come_back_wrong():
    """Each is told as that, with what the system said."""
    soak = night()
    wrong(soak, 100, {"unreadable": 1}, [("unreadable", 512, 512)], errno=errno.EIO)
    wrong(soak, 200, {"not written": 2}, [("not written", 8192, 1024)], errno=errno.EIO)
    wrong(soak, 300, {"failed once": 1}, [], errno=errno.EIO, damaged_bytes=512)
    soak.readings["transfer.stick.damaged"][1][300] = 512.0
    told = found(soak)
    assert told.because == (
        "1 place could not be read, 2 places could not be written, 1 transfer failed and went "
        "well when it was repeated; 5.76 GB were written."
    )
    assert "the first at byte 512 of the data" in told.aside
    assert "input or output error (errno 5)" in told.aside
    assert "came back wrong" not in told.because + told.aside
    assert [str(one.text).partition(";")[0] for one in wrong_data(course_of(soak))] == [
        "1 place could not be read",
        "2 places could not be written",
        "1 transfer failed and went well when it was repeated",
    ]


def test_transfers_that_failed_once_are_counted_each():
    """They have no place that could be the same one: two failures of one chunk are two."""
    soak = night()
    for number in (100, 200):
        wrong(soak, number, {"failed once": 1}, [], errno=errno.EIO, damaged_bytes=512)
        soak.readings["transfer.stick.damaged"][1][number] = 512.0
    told = found(soak)
    assert told.because.startswith("2 transfers failed and went well when they were repeated;")
    assert told.value == 1024.0
    assert "the first at" not in told.aside


def test_kinds_and_places_add_up_over_reads_and_chunks():
    """Other places of one chunk in another read are further places; so are those of others."""
    soak = night()
    wrong(soak, 100, {"flipped": 1}, [("flipped", 512, 1)])
    wrong(soak, 101, {"flipped": 1}, [("flipped", 1024, 3)])
    both = [("zeros", 4096, 500), ("wrong address", 8192, 510)]
    wrong(soak, 102, {"zeros": 1, "wrong address": 1}, both, offset_bytes=4096)
    many = {"earlier pass": 100}
    wrong(soak, 103, many, [("earlier pass", 1 << 22, 512)], offset_bytes=1 << 22)
    told = found(soak)
    assert told.detail["kinds"] == {
        "flipped": 2,
        "zeros": 1,
        "wrong address": 1,
        "earlier pass": 100,
    }
    assert told.value == 1 + 3 + 500 + 510 + 512


def test_chunks_that_are_described_together_add_no_places():
    """After many chunks only their number is said: what is known of places stands."""
    soak = night()
    wrong(soak, 100, {"flipped": 1}, [("flipped", 512, 1)])
    soak.readings["transfer.stick.damaged"][1][101] = 1.0
    t_s = soak.readings["transfer.stick.damaged"][0][101]
    soak.mark(t_s + 0.1, "chunk", "hot run", "transfer", kinds={"flipped": 1}, chunks=1)
    assert found(soak).detail["kinds"] == {"flipped": 1}
    assert found(soak).detail["wrong_transfers"] == 2
    assert found(soak).value == 1.0


def test_a_search_that_was_cut_short_adds_no_places():
    """Where the stretch ended, a piece has one bad place at least; a whole search knows better."""
    soak = night()
    place, piece = [("unreadable", 1536, 512)], [("unreadable", 0, 512)]
    wrong(soak, 100, {"unreadable": 1}, place, errno=errno.EIO)
    wrong(soak, 101, {"unreadable": 1}, piece, errno=errno.EIO, cut_short=True)
    assert found(soak).because == "1 place could not be read; 5.76 GB were written."
    assert found(soak).detail["data_address_bytes"] == 1536
    assert found(soak).detail["wrong_transfers"] == 2
    alone = night()
    wrong(alone, 101, {"unreadable": 1}, piece, errno=errno.EIO, cut_short=True)
    assert found(alone).verdict.value == "not met"


def test_what_nobody_described_is_counted_as_it_was():
    """Of an old journal, or another program's, the bytes are all that is known."""
    soak = night()
    soak.readings["transfer.stick.damaged"][1][100:103] = 7.0
    assert found(soak).value == 21.0
    assert found(soak).because == "21 B came back wrong; 5.76 GB were written."


def test_what_the_size_of_a_stick_explains_is_not_charged_besides():
    """A description without wrong bytes beside it belongs to filling the stick."""
    soak = night()
    soak.mark(STARTS_S + 100.5, "chunk", "hot run", "transfer", kinds={"zeros": 8}, offset_bytes=0)
    assert found(soak).verdict.value == "met"


@pytest.mark.parametrize(
    ("number", "says"),
    [
        (errno.EROFS, "the port, the cable and the stick are under suspicion"),
        (errno.EPERM, "the port, the cable and the stick are under suspicion"),
        (errno.ENOSPC, "was full and took no more data"),
        (errno.EDQUOT, "was full and took no more data"),
    ],
)
def test_a_stick_that_takes_no_more_data_is_not_shown(number, says):
    """Whatever went on being read right: the unit is not ready, and the reason is said."""
    soak = night()
    refuse(soak, number)
    told = found(soak)
    assert told.verdict.value == "not shown"
    assert says in told.why
    assert not judge([soak]).ready
    assert says in judge([soak]).reason


def test_a_stick_that_was_refused_once_is_shown_by_another_soak():
    """A full stick is emptied and soaked again: that soak shows what it saw."""
    soak, again = night(), night()
    refuse(soak, errno.ENOSPC)
    again = again.with_header(soak_id="S2")
    told = next(one for one in judge([soak, again]).findings if one.requirement == RIGHT)
    assert told.verdict.value == "met"


def test_read_only_after_errors_of_the_medium_is_told_beside_them():
    """The errors speak against the port, and what the system then did stands beside them."""
    soak = night()
    wrong(soak, 100, {"unreadable": 1}, [("unreadable", 512, 512)], errno=errno.EIO)
    refuse(soak, errno.EROFS)
    told = found(soak)
    assert told.verdict.value == "not met"
    assert "The stick became read-only while it was in use" in told.aside


def test_a_stick_that_could_not_be_filled_is_not_said_to_hold_what_it_claims():
    """What was tried came back right, and was not all that it claims."""
    soak = night(HOLDS)
    sizes = {"claims_bytes": 64 * 10**9, "tried_bytes": 10**9, "holds_bytes": 10**9}
    soak.mark(STARTS_S + 600, "capacity", "hot run", "transfer", **sizes)
    assert found(soak, "holds what it claims").verdict.value == "met"
    refuse(soak, errno.ENOSPC, STARTS_S + 500)
    assert found(soak, "holds what it claims").verdict.value == "not shown"


def test_a_stick_in_the_benchs_own_computer_puts_no_port_under_suspicion():
    """What it does says nothing of the unit."""
    stick = {"driver": "simulated", "port": "", "path": "bench_only"}
    soak = night(replace(RIGHT, params={"path": "bench_only"}))
    soak = soak.with_header(fixture={**FIXTURE, "stick": stick})
    refuse(soak, errno.EROFS)
    assert found(soak).verdict.value == "not tested"
    assert probable_causes([soak]) == []


def test_causes_name_the_kind_and_tell_a_worn_stick_from_a_port():
    """Bits that flip here and there point at the port; one place again and again at the stick."""
    flips, worn = night(), night()
    for number in range(4):
        at = 512 * (1 + number)
        wrong(flips, 100 + number, {"flipped": 1}, [("flipped", at, 1)])
        wrong(worn, 100 + number, {"unreadable": 1}, [("unreadable", 512, 512)], errno=errno.EIO)
    [cause] = probable_causes([flips])
    assert "4 transfers went wrong (bits flipped at 4 places)" in cause.text
    assert "try another stick" not in cause.text
    [cause] = probable_causes([worn])
    assert "4 transfers went wrong (1 place could not be read)" in cause.text
    assert "as a worn stick does: try another stick" in cause.text


def test_a_stick_that_becomes_read_only_points_at_the_port():
    """It is a clue even where nothing else happened."""
    soak = night()
    refuse(soak, errno.EROFS)
    [cause] = probable_causes([soak])
    assert cause.key == "usb port"
    assert "became read-only while it was in use" in cause.text


def test_a_data_line_that_stands_still_is_told():
    """All flips on one place in the byte: a wire, not a medium."""
    soak = night()
    wrong(soak, 100, {"flipped": 9}, [("flipped", 512, 9)], stuck="bit 3 stands at 1")
    assert "all flips lie on one data line" in found(soak).aside


def test_a_transfer_is_told_by_kind_place_and_reason():
    """One chunk was wrong: what, where on the disk, and what the system said."""
    where = [{"kind": "unreadable", "offset_bytes": 512, "damaged_bytes": 512}]
    detail = {
        "kinds": {"unreadable": 1},
        "offset_bytes": 0,
        "where": where,
        "errno": errno.EIO,
        "disk_address_bytes": LABEL + 512,
    }
    assert transfer_words(WrongTransfer(HOT_S, 0.0, (WrongChunk(**detail),))) == (
        "1 place could not be read; the first at disk address 1049088, sector 2049; the system "
        "said input or output error (errno 5)"
    )
