import string

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from soak.ledger.returning.likeness import likeness, skeleton

SERIALS = st.text(alphabet=string.ascii_letters + string.digits + " -./", max_size=14)
SIGNED = st.builds("{}{}{}".format, SERIALS, st.sampled_from("AQ7"), SERIALS)  # never without signs
LONG = st.text(alphabet=string.ascii_uppercase + string.digits, min_size=6, max_size=14)

# How fast the machine is just now is not what is tested.
unhurried = settings(suppress_health_check=[HealthCheck.too_slow])


@unhurried
@given(SERIALS, SERIALS)
def test_likeness_goes_both_ways(one, other):
    """Which of two serials was there first makes no difference."""
    assert likeness(one, other) == likeness(other, one)


@unhurried
@given(SIGNED, st.sampled_from([str.lower, str.upper, lambda text: text.replace("-", " ")]))
def test_case_spaces_and_dashes_make_no_difference(serial, respelt):
    """A serial read off the label in another spelling is the same serial."""
    assert likeness(serial, respelt(serial)) == "the same serial"


@unhurried
@given(SERIALS, st.sampled_from([("O", "0"), ("I", "1"), ("S", "5"), ("B", "8")]), SERIALS)
def test_confusable_signs_read_alike(before, pair, after):
    """The four pairs that labels confuse never hide a unit."""
    letter, digit = pair
    assert likeness(before + letter + after, before + digit + after) == "reads alike"


@unhurried
@given(LONG, st.data())
def test_one_wrong_character_is_noticed_wherever_it_is(serial, data):
    """Put in, left out, replaced or swapped: one slip in a long serial is found."""
    at = data.draw(st.integers(0, len(serial) - 2))
    sign = data.draw(st.sampled_from("QXZ3"))
    slips = [
        serial[:at] + sign + serial[at:],
        serial[:at] + serial[at + 1 :],
        serial[:at] + sign + serial[at + 1 :],
        serial[:at] + serial[at + 1] + serial[at] + serial[at + 2 :],
    ]
    assert all(likeness(serial, slip) is not None for slip in slips)


def edited(serial, edits):
    for kind, at, sign in edits:
        at %= len(serial)
        pieces = {
            "put in": serial[:at] + sign + serial[at:],
            "left out": serial[:at] + serial[at + 1 :],
            "replaced": serial[:at] + sign + serial[at + 1 :],
            "swapped": serial[:at] + serial[at : at + 2][::-1] + serial[at + 2 :],
        }
        serial = pieces[kind]
    return serial


EDIT = st.tuples(
    st.sampled_from(["put in", "left out", "replaced", "swapped"]),
    st.integers(0, 13),
    st.sampled_from("0OQ7"),
)


@unhurried
@given(LONG, st.lists(EDIT, min_size=1, max_size=3))
def test_alike_means_a_distance_of_at_most_one(one, edits):
    """Against the distance by the textbook table (optimal string alignment)."""
    other = edited(one, edits)
    alike = likeness(one, other) is not None
    assert alike == (distance(skeleton(one), skeleton(other)) <= 1)


@unhurried
@given(st.text(alphabet=string.digits, min_size=1, max_size=5), st.integers(0, 4))
def test_short_serials_are_not_alike_by_one_character(serial, at):
    """0017 and 0018 are two units of one box, not one unit typed wrong."""
    at %= len(serial)
    other = serial[:at] + str((int(serial[at]) + 1) % 10) + serial[at + 1 :]
    assert likeness(serial, other) is None


def test_an_empty_serial_is_like_nothing():
    """Two units without a label are not one unit."""
    assert likeness("", "") is None
    assert likeness("- -", "") is None
    assert likeness("", "A1") is None


def test_full_width_signs_read_as_plain_ones():
    """A serial pasted from an East Asian listing is the same serial (Unicode UAX 15, NFKC)."""
    assert likeness("ＳＰ４０－７", "SP40-7") == "the same serial"


def distance(one: str, other: str) -> int:
    """Optimal string alignment distance: Levenshtein's table with swaps of neighbours."""
    table = [[max(i, j) for j in range(len(other) + 1)] for i in range(len(one) + 1)]
    for i in range(1, len(one) + 1):
        for j in range(1, len(other) + 1):
            differs = one[i - 1] != other[j - 1]
            best = min(table[i - 1][j] + 1, table[i][j - 1] + 1, table[i - 1][j - 1] + differs)
            if i > 1 and j > 1 and one[i - 2 : i] == other[j - 2 : j][::-1]:
                best = min(best, table[i - 2][j - 2] + 1)
            table[i][j] = best
    return table[-1][-1]
