"""What `soak show` tells of the bench: holes in order of time, clock steps, what came garbled."""

from made_up_soak import clean_night

from soak.derive.course import course_of
from soak.desk.morning.bench_told import bench_as_data, bench_lines
from soak.records import State


def disturbed():
    """Return a night with a note of the operator, a blind capture before it, and odd counts."""
    soak = clean_night()
    soak.state_list += [State(3000.0, "capture", "blind", 0.0, {"why": "the card was pulled"})]
    soak.state_list += [State(3040.0, "capture", "picture")]
    soak.mark(5000.0, "note", text="moved the table", was_me=True, from_s=4970.0, to_s=5000.0)
    soak.mark(6000.0, "clock stepped", by_s=-3600.0)
    for t_s, unread in [(100.0, 1), (160.0, 7), (7000.0, 2)]:  # opened anew before the last
        told = {"unread": unread, "last": "the line 'T=#' does not match the pattern"}
        soak.state_list.append(State(t_s, "probe.outside.lines", "learned", 0.0, told))
    soak.state_list.sort(key=lambda one: one.t_s)
    return course_of(soak)


def test_holes_come_in_order_with_length_what_they_cover_and_why():
    """Whatever tells of them: a mark, or what a source was seen to be."""
    holes = [line for line in bench_lines(disturbed()) if "hole of" in line]
    assert "0:50:00  hole of 40 s, capture: the card was pulled" in holes
    assert "1:22:50  hole of 30 s, the whole bench: the operator: that was me" in holes
    begins = [one["from_s"] for one in bench_as_data(disturbed())["holes"]]
    assert begins == sorted(begins)


def test_a_step_of_the_wall_clock_is_told():
    """Summer time ended: an hour back."""
    assert "1:40:00  the wall clock was set back by 1 h" in bench_lines(disturbed())
    assert bench_as_data(disturbed())["clock_steps"] == [{"t_s": 6000.0, "by_s": -3600.0}]


def test_lines_that_could_not_be_read_add_up_over_the_times_an_instrument_was_opened():
    """Seven before it was opened anew, and two after."""
    said = "outside: 9 lines could not be read; the last: the line 'T=#' does not match"
    assert any(line.startswith(said) for line in bench_lines(disturbed()))
    assert bench_as_data(disturbed())["unread"] == {"probe.outside": 9}
